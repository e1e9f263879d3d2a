from bandwright.documents.brief import KINDS, keys_of_table
from bandwright.service import brief_words
from bandwright.service.brief_words import difference_lines, matters_for_plan, matters_on_sheet
from bandwright.service.differences import Difference


def link(**value):
    return {"kind": "link", "id": value.get("id"), "position": 1, "value": value}


def test_what_is_passed_over_are_keys_that_there_are():
    for table in (brief_words._NOT_FOR_PLANS, brief_words._NOT_ON_SHEETS):
        for kind, keys in table.items():
            assert kind in KINDS
            assert keys <= set(keys_of_table(kind)), kind


def test_a_new_key_of_the_brief_matters_until_somebody_says_that_it_does_not():
    found = Difference(noun="entry", uid="u", before=link(id="L1"), after=link(id="L1", brand_new=1))
    assert matters_for_plan(found)
    assert matters_on_sheet(found)


def test_a_name_matters_on_paper_and_not_for_carriers():
    found = Difference(noun="entry", uid="u", before=link(id="L1", name="Mara"), after=link(id="L1", name="Ida"))
    assert not matters_for_plan(found)
    assert matters_on_sheet(found)


def test_a_table_that_came_or_went_matters():
    assert matters_for_plan(Difference(noun="entry", uid="u", before=None, after=link(id="L1")))
    assert matters_for_plan(Difference(noun="entry", uid="u", before=link(id="L1"), after=None))


def test_dates_and_lists_stand_as_a_brief_writes_them():
    before = link(id="L1", on_air=[{"start": "19:30", "end": "23:00"}])
    after = link(id="L1", on_air=[{"start": "2027-05-14T19:30:00", "end": "2027-05-14T23:00:00"}])
    (line,) = difference_lines([Difference(noun="entry", uid="u", before=before, after=after)])
    assert line.text.startswith('link L1: on_air was [{ start = "19:30", end = "23:00" }] and is [{ start = 2027-05-14')

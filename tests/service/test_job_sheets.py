import csv
import io

import pymupdf
import pytest
from brief_examples import SAMPLE, job_of
from desks import desk_of, entry_named, planned_desk, sweep_csv

from bandwright.documents.brief import read_brief
from bandwright.errors import InputError
from bandwright.service.entries import add_entry, edit_entry
from bandwright.service.job_plans import plan_in_force
from bandwright.service.job_sheets import sheet_file
from bandwright.service.job_sweeps import add_sweep, remove_sweep, sweep_lines

BRIEF = SAMPLE.replace('name = "Mara"', 'name = "Mara"\nrack = "B"\non_air = [{ start = "20:00", end = "21:00" }]') + (
    '[[link]]\nid = "Z1"\nname = "Zoe"\nradio = "heron"\nrack = "A"\non_air = [{ start = "21:00", end = "22:00" }]\n'
    '[[link]]\nid = "A1"\nname = "=HYPERLINK(1)"\nradio = "heron"\non_air = [{ start = "09:00", end = "10:00" }]\n'
)


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    with planned_desk(tmp_path_factory.mktemp("job"), BRIEF) as found:
        yield found


def rows(desk, **more):
    text = sheet_file(desk, "carriers.csv", **more).data.decode("utf-8-sig")
    return [row for row in csv.DictReader(io.StringIO(text)) if row["kind"] == "link"]


def text_of(desk, **more):
    data = sheet_file(desk, "sheet.pdf", **more).data
    with pymupdf.open(stream=data, filetype="pdf") as document:
        return "\n".join(page.get_text() for page in document)


def test_the_sheets_show_the_plan_in_force(desk):
    plan = plan_in_force(desk)
    html = sheet_file(desk, "sheet.html").data.decode()
    for shown in (plan.row.check_phrase, f"{plan.carriers()['L01'] / 1e6:.3f}", "Plan 1"):
        assert shown in html
        assert shown in text_of(desk)
    assert {row["id"] for row in rows(desk)} == {"L01", "Z1", "A1"}


@pytest.mark.parametrize(
    ("order", "ids"), [("list", ["L01", "Z1", "A1"]), ("rack", ["Z1", "L01", "A1"]), ("running", ["A1", "L01", "Z1"])]
)
def test_links_stand_by_the_list_by_the_rack_or_in_running_order(desk, order, ids):
    text = text_of(desk, order=order)
    assert sorted(ids, key=text.index) == ids


def test_names_can_be_left_off(desk):
    assert "Mara" in text_of(desk)
    assert "Mara" not in text_of(desk, names="roles")


def test_a_name_that_a_spreadsheet_would_run_is_defused(desk):
    assert {row["name"] for row in rows(desk)} == {"Mara", "Zoe", "'=HYPERLINK(1)"}


def test_the_brief_as_text_is_the_same_job(desk):
    from brief_examples import library

    text = sheet_file(desk, "brief.toml").data.decode()
    assert read_brief(text, file="brief.toml", library=library()) == job_of(BRIEF)


@pytest.mark.parametrize(
    ("keys", "code", "text"),
    [
        ({"name": "sheet.doc"}, "no-such-sheet", 'there is no "sheet.doc" here; known: sheet.html, sheet.pdf, '),
        (
            {"name": "sheet.pdf", "names": "first"},
            "unknown-word",
            'there is no "first" here; known: full, initials, roles.',
        ),
        ({"name": "sheet.pdf", "paper": "a3"}, "unknown-word", 'there is no "a3" here; known: a4, letter.'),
        ({"name": "sheet.pdf", "order": "age"}, "unknown-word", 'there is no "age" here; known: list, rack, running.'),
    ],
)
def test_unknown_words_are_refused(desk, keys, code, text):
    with pytest.raises(InputError) as caught:
        sheet_file(desk, **keys)
    assert caught.value.faults[0].code == code
    assert caught.value.faults[0].text.startswith(text)


def test_there_is_no_sheet_without_a_plan(tmp_path):
    with desk_of(tmp_path) as bare, pytest.raises(InputError, match="There is no plan in force, so there is no sheet"):
        sheet_file(bare, "sheet.pdf")


def test_a_plan_that_the_brief_outgrew_says_so_and_knows_the_names_of_today(tmp_path):
    with planned_desk(tmp_path) as desk:
        phrase = plan_in_force(desk).row.check_phrase
        entry = entry_named(desk, "L01")
        edit_entry(desk, entry.uid, who="Ines", base=entry.revision, changes={"id": "A7", "name": "Ida"})
        add_entry(desk, who="Ines", kind="link", value={"id": "N1", "name": "Noor", "radio": "heron"})
        text = " ".join(text_of(desk).split())
        for shown in (
            phrase,
            "A7",
            "Ida",
            "N1",
            "It is new since plan 1; plan again.",
            "The brief changed since (N1).",
        ):
            assert shown in text
        assert "L01" not in text


def test_the_sheet_tells_of_the_sweep_that_the_plan_stands_on_and_of_no_later_one(tmp_path):
    from bandwright.service.job_runs import run_plan

    with planned_desk(tmp_path) as desk:
        add_sweep(desk, who="Ines", name="base.csv", data=sweep_csv(), stated={"own_transmitters": "off"})
        run_plan(desk, who="Ines")
        remove_sweep(desk, sweep_lines(desk)[0].uid, who="Ines")
        add_sweep(desk, who="Ines", name="later.csv", data=sweep_csv(loud_mhz=612))
        text = text_of(desk)
        assert "base.csv" in text
        assert "later.csv" not in text

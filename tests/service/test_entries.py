from decimal import Decimal

import pytest
from brief_examples import SAMPLE
from desks import desk_of, entry_named, fault_at, revision

from bandwright.errors import InputError
from bandwright.service.entries import (
    EditConflict,
    add_entry,
    copy_entry,
    edit_entry,
    order_entries,
    remove_entry,
)
from bandwright.service.job_brief import CellFaults


@pytest.fixture
def desk(tmp_path):
    with desk_of(tmp_path) as found:
        yield found


def edit(desk, name, changes, *, base=None, who="Ines"):
    entry = entry_named(desk, name)
    return edit_entry(desk, entry.uid, who=who, base=entry.revision if base is None else base, changes=changes)


def refused(call, *args, **keys):
    with pytest.raises(InputError) as caught:
        call(*args, **keys)
    return caught.value


# -------------------------------------------------------------------------------------------------------- editing


def test_a_cell_takes_what_was_typed_and_the_job_follows(desk):
    done = edit(desk, "L01", {"hold_mhz": "606,7 MHz"})
    assert done.what == "link L01 (Mara): hold_mhz is 606.7"
    assert entry_named(desk, "L01").value["hold_mhz"] == Decimal("606.7")
    assert desk.job().links[0].hold_hz == 606_700_000
    assert done.faults == ()


def test_a_field_that_is_emptied_says_nothing_any_more(desk):
    done = edit(desk, "L01", {"worn": None, "name": "  "})
    assert done.what == "link L01 (Mara): changed name, worn"
    assert set(entry_named(desk, "L01").value) == {"id", "radio"}


def test_a_value_that_its_field_cannot_hold_is_refused_at_the_cell_and_nothing_changes(desk):
    before = desk.seq
    error = refused(edit, desk, "L01", {"hold_mhz": "soon", "name": "Ida"})
    assert isinstance(error, CellFaults)
    assert [fault_at(cell) for cell in error.cells] == [("not-a-number", "hold_mhz")]
    assert error.cells[0].uid == entry_named(desk, "L01").uid
    assert str(error) == 'quay.bwjob: link "L01": hold_mhz is "soon", but must be a number of MHz.'
    assert desk.seq == before


def test_an_unknown_field_is_refused_with_the_nearest_one(desk):
    (cell,) = refused(edit, desk, "L01", {"desc_input": "7"}).cells
    assert (cell.fault.code, cell.fault.hint) == ("unknown-key", 'Did you mean "desk_input"?')


def test_what_other_tables_say_is_told_as_a_fault_at_its_cell_and_kept(desk):
    done = edit(desk, "L01", {"radio": "hawk"})
    (cell,) = done.faults
    assert (cell.uid, cell.field, cell.fault.code) == (entry_named(desk, "L01").uid, "radio", "unknown-radio")
    assert cell.fault.text == 'link "L01": there is no radio type "hawk"; known: heron.'
    assert refused(desk.job).cells == done.faults
    assert edit(desk, "L01", {"radio": "heron"}).faults == ()


def test_a_fault_that_was_there_before_keeps_nobody_from_changing_something_else(desk):
    entry = entry_named(desk, "L01")
    desk.file.change(lambda draft: draft.set(entry.uid, {**entry.value, "count": 0}, id="L01"), who="x", what="broken")
    assert edit(desk, "L01", {"name": "Ida"}).faults[0].field == "count"
    assert entry_named(desk, "L01").value["name"] == "Ida"


def test_faults_of_a_brief_as_a_whole_stand_at_no_cell(desk):
    done = remove_entry(desk, entry_named(desk, "shared").uid, who="Ines")
    (cell,) = done.faults
    assert (cell.uid, cell.field, cell.fault.text) == (
        None,
        "permit",
        "[[permit]] is missing (what may be used).",
    )


# ------------------------------------------------------------------------------------------------------- conflicts


def test_two_people_at_one_cell_see_both_values_and_the_first_stays(desk):
    base = revision(desk, "L01")
    edit(desk, "L01", {"name": "Ida"}, who="Ines")
    error = refused(edit, desk, "L01", {"name": "Ada"}, base=base, who="Tom")
    assert isinstance(error, EditConflict)
    assert (error.yours, error.theirs, error.by) == ({"name": "Ada"}, {"name": "Ida"}, "Ines")
    assert error.entry.value["name"] == "Ida"
    assert str(error) == (
        'link L01 (Ida): name was changed by Ines while you were editing; it is "Ida" now. '
        "Keep theirs, or write yours once more."
    )
    assert edit(desk, "L01", {"name": "Ada"}, who="Tom").entries[0].value["name"] == "Ada"


def test_two_people_at_two_cells_of_one_row_do_not_meet(desk):
    base = revision(desk, "L01")
    edit(desk, "L01", {"name": "Ida"})
    edit(desk, "L01", {"desk_input": "7"}, base=base, who="Tom")
    assert entry_named(desk, "L01").value["name"] == "Ida"
    assert entry_named(desk, "L01").value["desk_input"] == "7"


def test_two_people_who_write_the_same_agree(desk):
    base = revision(desk, "L01")
    edit(desk, "L01", {"hold_mhz": "606.7"})
    assert edit(desk, "L01", {"hold_mhz": Decimal("606.7")}, base=base, who="Tom").entries == ()


def test_a_row_that_somebody_removed_is_told(desk):
    uid, base = entry_named(desk, "L01").uid, revision(desk, "L01")
    remove_entry(desk, uid, who="Tom")
    error = refused(edit_entry, desk, uid, who="Ines", base=base, changes={"name": "Ida"})
    assert (error.faults[0].code, error.faults[0].text) == (
        "no-such-entry",
        "This entry is not there any more; somebody removed it.",
    )


def test_the_same_request_sent_twice_is_done_once(desk):
    entry = entry_named(desk, "L01")
    keys = {"who": "Ines", "base": entry.revision, "changes": {"name": "Ida"}, "client_key": "tap-1"}
    first = edit_entry(desk, entry.uid, **keys)
    again = edit_entry(desk, entry.uid, **keys)
    assert (again.repeated, again.seq, again.what) == (True, first.seq, first.what)


# -------------------------------------------------------------------------------------------------------- renaming


def test_a_new_id_is_written_wherever_the_old_one_was_named_in_the_same_change(desk):
    done = edit(desk, "heron", {"id": "hawk"})
    assert done.what == "radio heron is hawk now"
    assert {entry.kind for entry in done.entries} == {"radio", "link", "plan"}
    assert done.faults == ()
    assert desk.job().links[0].radio.id == "hawk"
    assert desk.job().wishes.spares == (("hawk", 2),)
    assert desk.file.undo(who="Ines").what == "Took back: radio heron is hawk now"
    assert desk.job().links[0].radio.id == "heron"


def test_an_id_that_is_taken_is_refused_at_its_cell(desk):
    (cell,) = refused(edit, desk, "L01", {"id": "quay"}).cells
    assert fault_at(cell) == ("id-twice", "id")
    assert (
        cell.fault.text == 'link L01 (Mara): the id "quay" is taken by place quay (Quay stage); an id may be used once.'
    )


def test_a_table_cannot_lose_its_id(desk):
    (cell,) = refused(edit, desk, "L01", {"id": None}).cells
    assert fault_at(cell) == ("missing", "id")


# ------------------------------------------------------------------------------------------- adding and the like


def test_a_new_row_gets_the_next_id_and_tells_what_it_still_lacks(desk):
    done = add_entry(desk, who="Ines", kind="link", value={"name": "Ida"})
    (entry,) = done.entries
    assert (entry.id, done.what) == ("L02", "Added link L02")
    assert [fault_at(cell) for cell in done.faults] == [("missing", "radio")]
    assert done.faults[0].uid == entry.uid


def test_a_first_row_of_a_kind_gets_an_id_too_and_an_isolation_needs_none(desk):
    assert add_entry(desk, who="Ines", kind="unit", value={"radio": "heron"}).entries[0].id == "R1"
    assert add_entry(desk, who="Ines", kind="earshot", value={}).entries[0].id == "earshot-1"
    assert add_entry(desk, who="Ines", kind="isolation", value={"between": ["a", "b"]}).entries[0].id is None


def test_a_row_can_be_added_behind_another_and_rows_put_in_order(desk):
    first = entry_named(desk, "L01").uid
    last = add_entry(desk, who="Ines", kind="link", value={"radio": "heron"}).entries[0].uid
    middle = add_entry(desk, who="Ines", kind="link", value={"radio": "heron"}, after=first).entries[0].uid
    assert [e.uid for e in desk.file.entries("link")] == [first, middle, last]
    order_entries(desk, who="Ines", kind="link", uids=[last, first])
    assert [link.id for link in desk.job().links] == ["L02", "L01", "L03"]


def test_copies_have_ids_and_names_of_their_own_and_no_held_carrier(desk):
    edit(desk, "L01", {"hold_mhz": "606.7", "desk_input": "7", "priority": 5})
    done = copy_entry(desk, entry_named(desk, "L01").uid, who="Ines", count=2)
    assert done.what == "Copied link L01 (Mara) 2 times"
    assert [(e.value["id"], e.value["name"], e.value["priority"]) for e in done.entries] == [
        ("L02", "Mara 2", 5),
        ("L03", "Mara 3", 5),
    ]
    assert all("hold_mhz" not in e.value and "desk_input" not in e.value for e in done.entries)


@pytest.mark.parametrize("count", [0, 501])
def test_no_more_copies_are_made_than_anybody_means(desk, count):
    error = refused(copy_entry, desk, entry_named(desk, "L01").uid, who="Ines", count=count)
    assert error.faults[0].text == f"{count} copies were asked for; 1 to 500 can be made at once."


def test_what_a_brief_has_once_is_neither_added_nor_removed(desk):
    plan = desk.file.entries("plan")[0]
    for error in (
        refused(remove_entry, desk, plan.uid, who="Ines"),
        refused(copy_entry, desk, plan.uid, who="Ines"),
        refused(add_entry, desk, who="Ines", kind="plan", value={}),
    ):
        assert error.faults[0].text == "A brief has one [plan]; it can be changed, and neither added nor removed."


def test_an_unknown_kind_of_table_is_refused(desk):
    error = refused(add_entry, desk, who="Ines", kind="links", value={})
    assert error.faults[0].hint == 'Did you mean "link"?'


def test_what_json_cannot_hold_is_refused(desk):
    error = refused(edit, desk, "L01", {"hold_mhz": Decimal("NaN")})
    assert error.faults[0].code == "unstorable"


def test_listeners_are_told_what_a_change_touches(desk):
    told = []
    stop = desk.listen(told.append)
    edit(desk, "L01", {"name": "Ida"}, who="Tom")
    stop()
    edit(desk, "L01", {"name": "Ada"}, who="Tom")
    (one,) = told
    assert (one.who, one.what, one.uids) == ("Tom", 'link L01 (Mara): name is "Ida"', (entry_named(desk, "L01").uid,))
    assert one.topics == ("brief", "plan", "readiness")


def test_a_brief_of_a_job_is_the_same_job_as_its_text(desk):
    from brief_examples import job_of

    assert desk.job() == job_of(SAMPLE)


# ----------------------------------------------------------------------------------------- what may be there once


AREA = {"width_m": 24, "depth_m": 16, "zones": [{"id": "stage", "corners_m": [[2, 2], [14, 2], [14, 9]]}]}


def test_a_job_may_have_the_plan_of_its_place_or_none(desk):
    assert desk.job().area is None
    added = add_entry(desk, who="Ines", kind="area", value=AREA)
    assert added.what == "Added area"
    assert "id" not in desk.file.entries("area")[0].value
    assert desk.job().area.box_m == (0, 0, 24, 16)
    error = refused(add_entry, desk, who="Ines", kind="area", value=AREA)
    assert error.faults[0].text == "A brief has one [area] at most, and it is there already."
    assert len(desk.file.entries("area")) == 1
    remove_entry(desk, desk.file.entries("area")[0].uid, who="Ines")
    assert desk.job().area is None


def test_a_zone_that_is_renamed_is_written_anew_at_its_links(desk):
    add_entry(desk, who="Ines", kind="area", value=AREA)
    edit(desk, "L01", {"zone": "stage"})
    (area,) = desk.file.entries("area")
    zones = [{**AREA["zones"][0], "id": "deck"}]
    edit_entry(desk, area.uid, who="Ines", base=area.revision, changes={"zones": zones})
    assert entry_named(desk, "L01").value["zone"] == "deck"
    assert desk.job().links[0].zone == "deck"

"""One of the links that a count makes is held, renamed or removed like any other, and keeps its plan and its ticks."""

from decimal import Decimal

import pytest
from brief_examples import SAMPLE
from desks import desk_of, entry_named, planned_desk

from bandwright.errors import InputError
from bandwright.service.entries import EditConflict, add_entry, edit_entry, remove_entry, single_out
from bandwright.service.history import undo
from bandwright.service.job_plans import plan_in_force
from bandwright.service.job_runs import run_plan
from bandwright.service.notes import add_note, notes_of
from bandwright.service.readiness import readiness_of
from bandwright.service.statements import standing, state_something
from bandwright.service.versions import keep_version, restore_version, version_difference

CREW = """
[[link]]
id = "M"
name = "Chorus"
radio = "heron"
worn = "hand"
count = 3
[[link]]
id = "Z"
radio = "heron"
apart_from = ["L01", "M"]
[[pair]]
id = "two"
one = "M.2"
two = "L01"
spacing_khz = 800
"""


@pytest.fixture
def desk(tmp_path):
    with planned_desk(tmp_path, SAMPLE + CREW) as found:
        yield found


def hold(desk, seat, mhz="608.6", **more):
    row = desk.file.entry(seat.rpartition(".")[0])
    return edit_entry(desk, seat, who="Ines", base=row.revision, changes={"hold_mhz": mhz}, **more)


def links(desk):
    return [(entry.id, entry.value.get("name")) for entry in desk.file.entries("link")]


def facts(desk):
    """Return everything of the job's links that a plan stands on."""
    return {link.id: (link.name, link.radio.id, link.worn, frozenset(link.apart_from)) for link in desk.job().links}


def test_holding_one_takes_the_row_apart_in_the_same_change(desk):
    uid, before, jobs = entry_named(desk, "M").uid, links(desk), facts(desk)
    done = hold(desk, f"{uid}.2")
    assert done.what == "link M.2 (Chorus 2): hold_mhz is 608.6, in a row of its own now"
    assert links(desk) == [
        ("L01", "Mara"),
        ("M.1", "Chorus 1"),
        ("M.2", "Chorus 2"),
        ("M.3", "Chorus 3"),
        ("Z", None),
    ]
    assert [entry_named(desk, f"M.{number}").uid for number in (1, 2, 3)] == [f"{uid}.{number}" for number in (1, 2, 3)]
    assert done.removed == (uid,)
    assert facts(desk) == jobs
    assert entry_named(desk, "Z").value["apart_from"] == ["L01", "M.1", "M.2", "M.3"]
    held = {link.id: link.hold_hz for link in desk.job().links}
    assert held == {"L01": None, "M.1": None, "M.2": 608_600_000, "M.3": None, "Z": None}
    undo(desk, who="Ines")
    assert links(desk) == before
    assert entry_named(desk, "Z").value["apart_from"] == ["L01", "M"]


def ticks_of(desk):
    """Return what is ticked of each link on which anything is, by its uid."""
    found = {link.uid: link.ticks for link in readiness_of(desk).links.all}
    return {uid: ticks for uid, ticks in found.items() if ticks.set or ticks.heard or ticks.walked}


def test_plan_ticks_and_notes_stay_with_each(desk):
    uid = entry_named(desk, "M").uid
    state_something(desk, who="Tom", what="set", about=f"{uid}.3")
    add_note(desk, who="Tom", text="tight costume", about=f"{uid}.3")
    add_note(desk, who="Tom", text="they share a rail", about=uid)
    state_something(desk, who="Tom", what="printed")
    carriers, ticks = plan_in_force(desk).carriers(), ticks_of(desk)
    single_out(desk, uid, who="Ines")
    plan = plan_in_force(desk)
    assert plan.carriers() == carriers
    assert plan.without() == []
    assert plan.stale is None
    assert ticks_of(desk) == ticks
    assert readiness_of(desk).since_print == ()
    assert [(note.subject, note.gone) for note in notes_of(desk)] == [
        ("link M.3 (Chorus 3)", False),
        ("link M.1 (Chorus 1)", False),
    ]
    single = entry_named(desk, "M.3")
    edit_entry(desk, single.uid, who="Ines", base=single.revision, changes={"id": "Solo"})
    assert plan_in_force(desk).carriers()["Solo"] == carriers["M.3"]
    undo(desk, who="Ines")
    undo(desk, who="Ines")
    assert plan_in_force(desk).carriers() == carriers
    assert plan_in_force(desk).stale is None


def test_a_plan_made_of_single_rows_is_that_of_the_count_again_after_undo(desk):
    uid = entry_named(desk, "M").uid
    single_out(desk, uid, who="Ines")
    run_plan(desk, who="Tom", seed=5)
    carriers = plan_in_force(desk).carriers()
    undo(desk, who="Ines")
    assert (plan_in_force(desk).number, plan_in_force(desk).stale) == (2, None)
    assert plan_in_force(desk).carriers() == carriers


def test_only_what_really_changed_makes_a_plan_stale(desk):
    uid = entry_named(desk, "M").uid
    hold(desk, f"{uid}.2")
    assert plan_in_force(desk).stale == "The brief changed since (M.2)."


def test_a_version_before_and_after_differs_in_nothing_but_the_edit(desk):
    uid = entry_named(desk, "M").uid
    keep_version(desk, who="Ines", name="as rehearsed")
    hold(desk, f"{uid}.2")
    lines = [line.text for line in version_difference(desk, 1).lines]
    assert lines[0] == "link M.2: hold_mhz is 608.6, and said nothing before."
    assert not any(line.startswith(("link M.1", "link M.3", "link M ")) for line in lines)
    state_something(desk, who="Tom", what="set", about=f"{uid}.1")
    restore_version(desk, 1, who="Ines")
    assert desk.file.entry(uid).value["count"] == 3
    assert [item.about for item in standing(desk)] == [f"{uid}.1"]


def test_one_can_be_removed(desk):
    uid = entry_named(desk, "M").uid
    remove_entry(desk, f"{uid}.1", who="Ines")
    assert [name for name, _ in links(desk)] == ["L01", "M.2", "M.3", "Z"]
    undo(desk, who="Ines")
    assert [name for name, _ in links(desk)] == ["L01", "M", "Z"]


def test_what_somebody_else_said_of_the_row_meanwhile_is_told(desk):
    row = entry_named(desk, "M")
    edit_entry(desk, row.uid, who="Tom", base=row.revision, changes={"worn": "body"})
    with pytest.raises(EditConflict):
        edit_entry(desk, f"{row.uid}.2", who="Ines", base=row.revision, changes={"worn": "rack"})
    assert links(desk)[1] == ("M", "Chorus")
    edit_entry(desk, f"{row.uid}.2", who="Ines", base=row.revision, changes={"hold_mhz": "608.6"})
    assert entry_named(desk, "M.2").value["hold_mhz"] == Decimal("608.6")


def test_a_row_without_a_name_keeps_the_names_that_its_links_had(tmp_path):
    brief = SAMPLE + '[[link]]\nid = "P"\nradio = "heron"\ncount = 2\n'
    with desk_of(tmp_path, brief) as desk:
        before = facts(desk)
        single_out(desk, entry_named(desk, "P").uid, who="Ines")
        assert facts(desk) == before


def test_what_cannot_be_taken_apart_says_why_and_stays(desk):
    with pytest.raises(InputError, match=r"link L01 \(Mara\) is one link already"):
        single_out(desk, entry_named(desk, "L01").uid, who="Ines")
    row = entry_named(desk, "M")
    with pytest.raises(InputError, match="somebody removed it"):
        edit_entry(desk, f"{row.uid}.4", who="Ines", base=row.revision, changes={"hold_mhz": "608.6"})
    add_entry(desk, who="Tom", kind="link", value={"id": "M.2", "radio": "heron"})
    with pytest.raises(InputError, match=r'the id "M\.2" is taken by another link'):
        single_out(desk, row.uid, who="Ines")
    assert entry_named(desk, "M").value["count"] == 3

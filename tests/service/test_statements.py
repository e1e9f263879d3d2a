from datetime import UTC, datetime

import pytest
from brief_examples import SAMPLE
from desks import desk_of, entry_named, planned_desk

from bandwright.errors import InputError
from bandwright.service.entries import edit_entry
from bandwright.service.history import redo, undo
from bandwright.service.job_hand import move_link
from bandwright.service.job_plans import Overtaken, plan_in_force, use_plan
from bandwright.service.readiness import readiness_of
from bandwright.service.statements import standing, state_something, take_back

BRIEF = SAMPLE + '[[link]]\nid = "M"\nname = "Ensemble"\nradio = "heron"\ncount = 2\n'


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    with planned_desk(tmp_path_factory.mktemp("job"), BRIEF) as found:
        found.close()
        return found.path


@pytest.fixture
def desk(whole, tmp_path):
    from bandwright.service.desk import Desk

    path = tmp_path / whole.name
    path.write_bytes(whole.read_bytes())
    with Desk.open(path) as found:
        yield found


def tick(desk, what, uid, **more):
    return state_something(desk, who="Tom", what=what, about=uid, **more)


def seat(desk, name):
    return next(item for item in plan_in_force(desk).seats if item.id == name)


def move(desk, name, by_hz):
    plan, uid = plan_in_force(desk), seat(desk, name).uid
    return move_link(desk, uid, plan.tuned()[uid][0] + by_hz, base=plan.number, who="Ines")


def open_links(desk, what):
    return [link.id for link in getattr(readiness_of(desk).links, what)]


def refused(call, *args, **keys):
    with pytest.raises(InputError) as caught:
        call(*args, **keys)
    return caught.value


def test_a_tick_is_told_by_link_also_of_links_that_a_count_makes(desk):
    tick(desk, "set", seat(desk, "L01").uid)
    tick(desk, "set", seat(desk, "M.2").uid)
    assert open_links(desk, "not_set") == ["M.1"]
    assert [item.plan_number for item in standing(desk)] == [1, 1]


def test_a_tick_given_twice_stands_once(desk):
    first = tick(desk, "heard", seat(desk, "L01").uid)
    again = tick(desk, "heard", seat(desk, "L01").uid)
    assert (again.uid, again.changed) == (first.uid, None)
    assert len(standing(desk)) == 1


def test_a_tap_sent_twice_is_one_tick(desk):
    keys = {"client_key": "tap-7", "at": datetime(2027, 5, 14, 11, 40, tzinfo=UTC)}
    first = tick(desk, "walked", seat(desk, "L01").uid, **keys)
    take_back(desk, first.uid, who="Tom")
    assert tick(desk, "walked", seat(desk, "L01").uid, **keys).uid == first.uid
    assert standing(desk) == ()


def test_a_tick_keeps_the_time_at_which_it_was_tapped(desk):
    tapped = datetime(2027, 5, 14, 11, 40, tzinfo=UTC)
    tick(desk, "walked", seat(desk, "L01").uid, at=tapped)
    assert datetime.fromisoformat(standing(desk)[0].at) == tapped


def test_moving_a_link_takes_back_its_ticks_and_no_others(desk):
    for name in ("L01", "M.1"):
        for what in ("set", "heard", "walked"):
            tick(desk, what, seat(desk, name).uid)
    move(desk, "L01", 25_000)
    assert {item.about for item in standing(desk)} == {seat(desk, "M.1").uid}
    assert open_links(desk, "not_walked") == ["L01", "M.2"]


def test_a_link_that_is_moved_back_is_not_set_again_by_itself_but_undo_gives_it_back(desk):
    tick(desk, "set", seat(desk, "L01").uid)
    move(desk, "L01", 25_000)
    use_plan(desk, 1, who="Ines")
    assert "L01" in open_links(desk, "not_set")
    undo(desk, who="Ines")
    undo(desk, who="Ines")
    assert plan_in_force(desk).number == 1
    assert "L01" not in open_links(desk, "not_set")
    redo(desk, who="Ines")
    assert "L01" in open_links(desk, "not_set")


def test_a_tap_of_a_phone_that_did_not_see_the_move_is_refused_in_words(desk):
    uid = seat(desk, "L01").uid
    move(desk, "L01", 25_000)
    error = refused(tick, desk, "set", uid, plan=1)
    assert isinstance(error, Overtaken)
    assert str(error) == (
        "L01 has another carrier in plan 2 than in plan 1; it is not set there yet. "
        "Set it to its carrier in plan 2, and state it then."
    )
    tick(desk, "set", seat(desk, "M.1").uid, plan=1)
    assert [item.about for item in standing(desk)] == [seat(desk, "M.1").uid]


def test_a_link_that_is_renamed_keeps_its_ticks(desk):
    tick(desk, "set", seat(desk, "L01").uid)
    entry = entry_named(desk, "L01")
    edit_entry(desk, entry.uid, who="Ines", base=entry.revision, changes={"id": "A1"})
    assert open_links(desk, "not_set") == ["M.1", "M.2"]
    assert plan_in_force(desk).stale is None
    assert "A1" in plan_in_force(desk).carriers()


def test_a_printed_sheet_tells_what_it_does_not_know(desk):
    state_something(desk, who="Ines", what="printed")
    assert readiness_of(desk).since_print == ()
    entry = entry_named(desk, "L01")
    edit_entry(desk, entry.uid, who="Ines", base=entry.revision, changes={"name": "Ida"})
    before = plan_in_force(desk).carriers()["L01"]
    move(desk, "L01", 25_000)
    assert readiness_of(desk).since_print == (
        f"L01 moved from {before / 1e6:.3f} to {(before + 25_000) / 1e6:.3f} MHz.",
        'link L01: name was "Mara" and is "Ida".',
    )
    state_something(desk, who="Ines", what="printed")
    assert readiness_of(desk).since_print == ()


def test_points_are_stated_with_a_remark_and_taken_back(desk):
    uid = state_something(desk, who="Tom", what="powered", note="change  at the interval").uid
    point = next(item for item in readiness_of(desk).points if item.point == "powered")
    assert (point.state, point.statement.note) == ("stated", "change at the interval")
    assert take_back(desk, uid, who="Ines").what == "Took back: powered, stated by Tom"
    assert standing(desk) == ()


@pytest.mark.parametrize(
    ("what", "about", "code", "text"),
    [
        ("tuned", None, "unknown-word", '"tuned" is nothing that can be stated; known: set, heard, walked, printed, '),
        ("set", "nobody", "no-such-link", '"set" is stated of a link, and there is none with this uid.'),
        ("set", None, "no-such-link", '"set" is stated of a link, and there is none with this uid.'),
    ],
)
def test_what_cannot_be_stated_is_refused(desk, what, about, code, text):
    fault = refused(state_something, desk, who="Tom", what=what, about=about).faults[0]
    assert fault.code == code
    assert fault.text.startswith(text)


def test_a_link_without_a_carrier_cannot_be_set(desk):
    entry = entry_named(desk, "M")
    edit_entry(desk, entry.uid, who="Ines", base=entry.revision, changes={"count": 3})
    error = refused(tick, desk, "set", f"{entry.uid}.3")
    assert error.faults[0].text == "M.3 has no carrier in plan 1, so it cannot be set."


def test_nothing_is_set_before_there_is_a_plan(tmp_path):
    with desk_of(tmp_path) as desk:
        for what in ("set", "printed"):
            error = refused(state_something, desk, who="Tom", what=what, about=entry_named(desk, "L01").uid)
            assert error.faults[0].text == f"There is no plan yet, so nothing can be {what}."


def test_an_unknown_statement_and_an_endless_remark_are_refused(desk):
    assert refused(take_back, desk, "x", who="Tom").faults[0].code == "no-such-statement"
    assert refused(state_something, desk, who="Tom", what="strong", note="x" * 501).faults[0].code == "not-one-line"

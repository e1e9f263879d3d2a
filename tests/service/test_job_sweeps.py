import gzip
import struct

import pytest
from desks import desk_of, planned_desk, sweep_csv

from bandwright.errors import InputError
from bandwright.service import job_sweeps
from bandwright.service.history import undo
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.job_air import air_of, compare_here, spectrum_of
from bandwright.service.job_sweeps import (
    add_sweep,
    change_sweep,
    levels_of,
    plain_name,
    remove_sweep,
    sweep_lines,
    sweeps_in_use,
)


@pytest.fixture
def desk(tmp_path):
    with desk_of(tmp_path) as found:
        yield found


def add(desk, name="base.csv", data=None, **stated):
    return add_sweep(desk, who="Ines", name=name, data=sweep_csv() if data is None else data, stated=stated)[1]


def refused(call, *args, **keys):
    with pytest.raises(InputError) as caught:
        call(*args, **keys)
    return caught.value


def test_a_sweep_is_kept_as_it_was_given_with_what_is_stated_of_it(desk):
    uid = add(desk, own_transmitters="off", place="quay", gain_ahead_db=-3)
    (line,) = sweep_lines(desk)
    assert (line.uid, line.name, line.points, line.in_use, line.removed) == (uid, "base.csv", 320, True, None)
    assert (line.facts["unit"], line.facts["own_transmitters"], line.facts["gain_ahead_db"]) == ("dBm", "off", -3)
    assert desk.file.blob(desk.file.sweeps()[0].sha256) == sweep_csv()
    (sweep,), _ = sweeps_in_use(desk)
    assert (sweep.place, sweep.gain_ahead_db) == ("quay", -3)


def test_a_command_takes_the_sweeps_of_the_job(desk):
    add(desk, own_transmitters="off")
    uid = add(desk, "later.csv")
    change_sweep(desk, uid, who="Ines", changes={"in_use": False})
    desk.close()
    brought = load_brief(desk.context, desk.path)
    sweeps, inputs = load_sweeps(desk.context, brought.sweeps_or(()), brought.job)
    assert [(sweep.name, sweep.own_transmitters) for sweep in sweeps] == [("base.csv", "off")]
    assert inputs[0].name == "base.csv"


def test_what_is_stated_can_be_stated_otherwise_and_put_aside_and_taken_back(desk):
    uid = add(desk)
    change_sweep(
        desk,
        uid,
        who="Ines",
        changes={"own_transmitters": "off", "name": "morning.csv", "started": "2027-05-14T08:10:00"},
    )
    (line,) = sweep_lines(desk)
    assert (line.name, line.facts["own_transmitters"], line.facts["started"]) == (
        "morning.csv",
        "off",
        "2027-05-14T08:10:00",
    )
    remove_sweep(desk, uid, who="Ines")
    assert sweep_lines(desk)[0].removed is not None
    assert sweeps_in_use(desk) == ((), ())
    change_sweep(desk, uid, who="Ines", changes={"removed": False})
    assert sweep_lines(desk)[0].removed is None
    assert undo(desk, who="Ines").what == "Took back: Stated of the sweep morning.csv: removed false"
    assert sweep_lines(desk)[0].removed is not None


def test_two_who_state_something_of_one_sweep_at_once_lose_nothing(desk, monkeypatch):
    uid = add(desk)
    true, others = job_sweeps.read_facts, [{"antenna": "log-periodic"}]

    def read_facts(*given):
        if others:  # while the first is reading the file, the second states something else
            change_sweep(desk, uid, who="Ana", changes=others.pop())
        return true(*given)

    monkeypatch.setattr(job_sweeps, "read_facts", read_facts)
    change_sweep(desk, uid, who="Ines", changes={"gain_ahead_db": -3})
    facts = desk.file.sweep(uid).facts
    assert (facts["antenna"], facts["gain_ahead_db"]) == ("log-periodic", -3)


def test_levels_come_packed_for_drawing(desk):
    packed = levels_of(desk, add(desk))
    levels = struct.unpack(f"<{3 * packed.count}h", packed.data)
    assert (packed.count, packed.unit) == (320, "dBm")
    assert -10_300 < levels[0] < -9_700


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\Users\\x\\sweep.csv", "sweep.csv"),
        (".hidden", "hidden"),
        ("a\x00b\n.csv", "a_b_.csv"),
        ("<script>.csv", "_script_.csv"),
        ("", "sweep"),
        ("..", "sweep"),
        ("ä" * 300 + ".csv", "_" * 116 + ".csv"),
    ],
)
def test_a_name_is_never_a_path(given, name):
    assert plain_name(given) == name


def test_a_bomb_and_what_is_no_sweep_are_refused_and_nothing_is_kept(desk):
    bomb = gzip.compress(sweep_csv() + b" " * 40_000_000)
    assert refused(add, desk, "bomb.csv.gz", bomb).faults[0].code in ("bad-gzip", "too-large")
    assert refused(add, desk, "x.csv", b"hello").faults[0].code == "unknown-format"
    assert refused(add, desk, "x.csv", b"").faults[0].text == "The file is empty."
    assert sweep_lines(desk) == ()


@pytest.mark.parametrize(
    ("stated", "code", "text"),
    [
        ({"place": "barge"}, "unknown-place", 'there is no place "barge" in this job; places: quay.'),
        (
            {"own_transmitters": "perhaps"},
            "wrong-value",
            'own_transmitters is "perhaps", but must be one of "off", "on", "unknown".',
        ),
        (
            {"started": "morning"},
            "wrong-value",
            'started is "morning", but must be a date with a time, such as 2027-05-14T09:30:00.',
        ),
    ],
)
def test_what_makes_no_sense_of_a_sweep_is_refused(desk, stated, code, text):
    fault = refused(add, desk, **stated).faults[0]
    assert (fault.code, fault.text) == (code, text)


def test_unknown_sweeps_and_unknown_facts_are_refused(desk):
    uid = add(desk)
    assert refused(remove_sweep, desk, "x", who="Ines").faults[0].code == "no-such-sweep"
    fault = refused(change_sweep, desk, uid, who="Ines", changes={"antena": "x"}).faults[0]
    assert (fault.code, fault.hint) == ("unknown-key", 'Did you mean "antenna"?')


# ---------------------------------------------------------------------------------------------------- the air here


def test_a_sweep_is_told_as_the_command_tells_it(desk):
    found = air_of(desk, add(desk, data=sweep_csv(loud_mhz=612), own_transmitters="off"))
    assert found.schema_ == "bandwright.sweep/1"
    assert found.carriers[0].centre_mhz == pytest.approx(612, abs=0.05)
    assert any(warning.code == "carriers-not-listed" for warning in found.warnings)


def test_an_unfinished_brief_does_not_hide_the_air(desk):
    from bandwright.service.entries import edit_entry

    uid = add(desk)
    entry = desk.file.entry_named("L01")
    edit_entry(desk, entry.uid, who="Ines", base=entry.revision, changes={"radio": "hawk"})
    assert air_of(desk, uid).points == 320


def test_two_sweeps_are_compared_for_the_links_of_the_plan(tmp_path):
    with planned_desk(tmp_path) as desk:
        from bandwright.service.job_plans import plan_in_force

        mhz = plan_in_force(desk).carriers()["L01"] / 1e6
        one, two = add(desk), add(desk, "later.csv", sweep_csv(loud_mhz=mhz), own_transmitters="off")
        found = compare_here(desk, one, two)
        assert [item.link for item in found.touched] == ["L01"]


def test_sweeps_of_two_places_are_not_compared(desk):
    from bandwright.service.entries import add_entry

    add_entry(desk, who="Ines", kind="place", value={"id": "barge"})
    one, two = add(desk, place="quay"), add(desk, place="barge")
    assert refused(compare_here, desk, one, two).faults[0].code == "two-places"


def test_a_spectrum_has_everything_resolved_in_whole_hz(desk):
    found = spectrum_of(desk)
    assert [(item.id, item.windows_hz) for item in found.permits] == [("shared", ((606_500_000, 613_500_000),))]
    assert {item.channel for item in found.tv if item.word == "closed"} >= {"23", "26"}
    (radio,) = found.radios
    assert (radio.id, radio.kind, radio.tuning) == ("heron", "microphone", ((470_100_000, 613_900_000, 25_000),))
    assert [(item.id, item.held_hz, item.place) for item in found.links] == [("L01", None, "quay")]
    assert found.others[0].carrier_hz == 611_300_000

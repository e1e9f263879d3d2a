"""Several sweeps together: the worst counts and is named; how old each is. Authority: plain enumeration, by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.cli import run
from bandwright.core.bands import Span
from bandwright.core.fold import fold
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Emission, Link, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.carriers import examine_carriers
from bandwright.core.planning.heard import noise_of
from bandwright.core.planning.plan import NoiseState
from bandwright.core.sweep import SweepBlock
from bandwright.core.sweep_age import age_of, age_warnings, age_words

LOW, HIGH = 606_000_000, 612_000_000
RADIO = RadioType(
    id="heron",
    name="Heron (invented)",
    direction=Direction.FROM_PERSON,
    emission=Emission.FM,
    bandwidth_hz=200_000,
    spacing_hz=350_000,
    clearance_hz=(),
    tuning=(TuningRange(low_hz=LOW, high_hz=HIGH, step_hz=100_000),),
)
PERMIT = Permit(id="p", reference="p", state=PermitState.GRANTED, windows=(Span(LOW, HIGH),))
LINK = Link(id="L01", name="L01", radio=RADIO, worn=Worn.BODY)
PLACE = Place(id="quay", name="Quay", timezone="Europe/Lisbon")
JOB = Job(title="Test", places=(PLACE,), permits=(PERMIT,), radios=(RADIO,), links=(LINK,))
CARRIERS = np.arange(LOW + 100_000, HIGH - 100_000, 100_000)


def clock(text):
    """Return what a clock showed: a time without a zone, as files write it."""
    return datetime.fromisoformat(text)


def sweep(name, *, loud=(), missing=(), rise=40.0, unit="dBm", started=None):
    """Noise around -110 on bins of 25 kHz; `rise` dB more in the loud MHz, nothing in the missing ones."""
    centres = np.arange(LOW, HIGH, 25_000) + 12_500
    levels = -110 + np.arange(centres.size) % 3 / 2
    slot = (centres // 1_000_000 - LOW // 1_000_000).astype(int)
    levels = levels + rise * np.isin(slot, list(loud))
    levels[np.isin(slot, list(missing))] = np.nan
    block = SweepBlock(first_hz=float(centres[0]), bin_hz=25_000.0, levels_db=levels, unit=unit, time=started)
    return fold([block], name=name)


slots = st.sets(st.integers(0, 5), max_size=3)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(slots, slots, st.sampled_from([20.0, 40.0, 55.0])), min_size=1, max_size=3))
def test_the_worst_of_several_sweeps_counts_for_each_carrier_and_is_the_one_named(drawn):
    """Against each sweep asked alone, carrier by carrier, and the worst picked by hand."""
    sweeps = [
        sweep(f"s{number}", loud=loud - missing, missing=missing, rise=rise)
        for number, (loud, missing, rise) in enumerate(drawn)
    ]
    rank = {NoiseState.UNMEASURED: 0, NoiseState.QUIET: 1, NoiseState.SHALLOW: 2, NoiseState.NOISY: 3}
    facts = examine_carriers(JOB, LINK, CARRIERS, sweeps)
    for index, hz in enumerate(CARRIERS[::7].tolist()):
        alone = [noise_of(JOB, LINK, hz, [item]) for item in sweeps]
        worst = max(alone, key=lambda noise: (rank[noise.state], noise.value or -999.0))
        together = noise_of(JOB, LINK, hz, sweeps)
        assert together == worst
        assert facts.states()[index * 7] is worst.state
        by = int(facts.closed_by[index * 7])
        assert (facts.sweeps[by] if by >= 0 else None) == (worst.sweep if worst.state is NoiseState.NOISY else None)
        assert bool(facts.closed["noise"][index * 7]) == any(noise.state is NoiseState.NOISY for noise in alone)


def test_levels_in_different_units_do_not_compare_so_the_one_further_above_its_floor_is_the_worse():
    far = sweep("far.csv", loud={2}, rise=60.0)
    volts = sweep("volts.csv", loud={2}, rise=30.0, unit="dBuV")
    higher = replace(volts, **{name: getattr(volts, name) + 200 for name in ("highest_db", "typical_db", "floor_db")})
    assert noise_of(JOB, LINK, LOW + 2_500_000, [higher, far]).sweep == "far.csv"


BRIEF = """\
[job]
title = "Walls"
[[place]]
id = "quay"
timezone = "Europe/Lisbon"
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606, 612]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 606, high_mhz = 612, step_khz = 100 }]
emission = "fm"
bandwidth_khz = 200
defaults = "analogue-fm-wide"
[[link]]
id = "L01"
radio = "heron"
"""


@pytest.fixture
def hall(tmp_path):
    """Return the folder of a brief and a function that writes a sweep of a given hour, loud in some MHz."""

    def write(name, hour, loud):
        rows = ["MHz,dBm"]
        for number, khz in enumerate(range(606_000, 612_001, 25)):
            rows.append(f"{khz / 1000:.3f},{-110 + number % 3 / 2 + 60 * (khz // 1000 in loud):.1f}")
        (tmp_path / name).write_text("\n".join(rows) + "\n")
        (tmp_path / f"{name}.toml").write_text(f'started = 2026-05-14T{hour}:00\nown_transmitters = "off"\n')
        return tmp_path / name

    (tmp_path / "walls.toml").write_text(BRIEF)
    return tmp_path, write


def answer(capsys, code, *words):
    assert run([*map(str, words), "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_the_sweep_that_closed_a_slot_is_named_with_its_hour(hall, capsys):
    folder, write = hall
    base = write("base.csv", "09:30", loud={606, 607})
    walls = write("walls-on.csv", "14:05", loud={607, 608, 609, 610, 611})
    both = ("--sweep", base, "--sweep", walls)
    (folder / "list.csv").write_text("id,mhz\nL01,609.500\n")
    found = answer(capsys, 1, "check", folder / "walls.toml", folder / "list.csv", *both)["violations"]
    assert ["closed by walls-on.csv, 14:05" in item["text"] for item in found] == [True]
    why = answer(capsys, 1, "why", folder / "walls.toml", "606.500", "--link", "L01", *both)["findings"]
    assert "closed by base.csv, 09:30" in why[0]["text"]
    open_to = answer(capsys, 0, "why", folder / "walls.toml", "609.500", "--link", "L01", "--sweep", base)["findings"]
    assert any(item["text"].endswith("by base.csv, 09:30.") for item in open_to)
    plan = answer(capsys, 1, "plan", folder / "walls.toml", *both)
    [reason] = [item["text"] for item in plan["unplaced"][0]["reasons"] if item["code"] == "noise"]
    assert "walls-on.csv, 14:05: " in reason
    assert "base.csv, 09:30: " in reason
    quiet = answer(capsys, 0, "plan", folder / "walls.toml", "--sweep", base)
    assert quiet["links"][0]["noise"]["sweep_started"] == "2026-05-14T09:30:00"


MADE = datetime(2027, 5, 14, 17, 5, tzinfo=ZoneInfo("Europe/Lisbon"))


@pytest.mark.parametrize(
    ("started", "words", "warned"),
    [
        (clock("2027-05-14T14:05"), "3 hours before this plan", []),
        (clock("2027-05-14T16:20"), "45 minutes before this plan", []),
        (clock("2027-05-14T17:04"), "1 minute before this plan", []),
        (clock("2027-05-14T17:05"), "made within a minute of this plan", []),
        (clock("2027-05-14T00:30"), "17 hours before this plan", []),
        (clock("2027-05-13T09:00"), "made yesterday", ["sweep-old"]),
        (clock("2027-05-04T09:00"), "10 days before this plan", ["sweep-old"]),
        (clock("2027-05-14T18:00"), "dated after this plan", ["sweep-time-ahead"]),
        (None, None, ["sweep-time-unknown"]),
    ],
)
def test_the_age_of_a_sweep_in_words_and_when_it_is_a_warning(started, words, warned):
    item = sweep("base.csv", started=started)
    assert age_words(item, JOB, made=MADE) == words
    found = age_warnings(JOB, [item], made=MADE)
    assert [warning.code for warning in found] == warned
    assert all("base.csv" in warning.text for warning in found)


def test_a_clock_that_shows_an_hour_twice_gives_the_older_age():
    # Lisbon put its clocks back from 02:00 to 01:00 on 2027-10-31: 01:30 was at 00:30 and again at 01:30 UTC.
    item = sweep("night.csv", started=clock("2027-10-31T01:30"))
    made = datetime(2027, 10, 31, 3, 0, tzinfo=UTC)
    assert age_of(item, JOB, made=made) == timedelta(hours=2, minutes=30)


def test_an_invented_job_may_be_dated_ahead_without_a_word():
    item = sweep("base.csv", started=clock("2027-05-20T09:00"))
    invented = replace(JOB, invented=True)
    assert age_words(item, invented, made=MADE) is None
    assert age_warnings(invented, [item], made=MADE) == ()


def test_a_plan_tells_the_age_in_its_text_in_its_document_and_warns_when_it_is_old(hall, capsys):
    folder, write = hall
    old = write("base.csv", "09:30", loud=set())
    plan = answer(capsys, 0, "plan", folder / "walls.toml", "--sweep", old)
    [age] = plan["run"]["sweeps"]
    made = datetime.fromisoformat(plan["run"]["made"])
    began = datetime(2026, 5, 14, 9, 30, tzinfo=ZoneInfo("Europe/Lisbon"))
    assert age["sweep"] == "base.csv"
    assert age["age_s"] == round((made - began.astimezone(UTC)).total_seconds())
    assert "sweep-old" in {item["code"] for item in plan["warnings"]}
    assert run(["plan", str(folder / "walls.toml"), "--sweep", str(old)]) == 0
    assert f"2026-05-14 09:30 ({age['age']})" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("started", "words"),
    [
        (clock("2027-05-14T14:05"), "3 hours ago"),
        (clock("2027-05-14T17:05"), "made within a minute of now"),
        (clock("2027-05-13T09:00"), "made yesterday"),
        (clock("2027-05-04T09:00"), "10 days ago"),
        (clock("2027-05-14T18:00"), "dated ahead of now"),
    ],
)
def test_what_is_read_at_once_tells_the_age_of_a_sweep_as_of_now(started, words):
    item = sweep("base.csv", started=started)
    assert age_words(item, JOB, made=MADE, ago=True) == words
    assert all("this plan" not in warning.text for warning in age_warnings(JOB, [item], made=MADE, ago=True))


def test_check_why_capacity_and_replan_tell_the_age_of_each_sweep_and_warn_when_it_is_old(hall, capsys):
    folder, write = hall
    brief = folder / "walls.toml"
    both = ("--sweep", write("base.csv", "09:30", loud=set()), "--sweep", write("walls-on.csv", "14:05", loud={606}))
    (folder / "list.csv").write_text("id,mhz\nL01,609.500\n")
    asked = {
        "check": (brief, folder / "list.csv"),
        "why": (brief, "609.500", "--link", "L01"),
        "capacity": (brief, "--radio", "heron", "--time-limit", "1"),
        "replan": (brief, folder / "list.csv", "--time-limit", "1"),
    }
    for command, words in asked.items():
        found = answer(capsys, 0, command, *words, *both)
        told = found["warnings"] if command != "replan" else found["plan"]["warnings"]
        assert [item["where"] for item in told if item["code"] == "sweep-old"] == ["base.csv", "walls-on.csv"], command
        assert run([command, *map(str, words), *map(str, both)]) == 0
        text = " ".join(capsys.readouterr().out.split())
        since = "before this plan" if command == "replan" else "ago"
        for name, when in (("base.csv", "09:30"), ("walls-on.csv", "14:05")):
            days = (datetime.now(ZoneInfo("Europe/Lisbon")).date() - datetime(2026, 5, 14, tzinfo=UTC).date()).days
            assert f"{name}, 2026-05-14 {when} ({days} days {since}), own transmitters off" in text, command

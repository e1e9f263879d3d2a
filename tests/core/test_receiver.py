"""What a receiver can bear, and calibrated sweeps held against it. Authority: sums by hand, beside each test."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants

from bandwright.cli import run
from bandwright.core.bands import Span
from bandwright.core.fold import fold
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Emission, Link, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.carriers import examine_carriers
from bandwright.core.planning.heard import floor_alone_warnings, noise_of
from bandwright.core.planning.plan import NoiseState
from bandwright.core.planning.relax import relaxations
from bandwright.core.receiver import bearable, thermal_dbm
from bandwright.core.sweep import SweepBlock

LOW, HIGH = 606_000_000, 612_000_000
BARE = RadioType(
    id="heron",
    name="Heron",
    direction=Direction.FROM_PERSON,
    emission=Emission.FM,
    bandwidth_hz=200_000,
    spacing_hz=350_000,
    clearance_hz=(),
    tuning=(TuningRange(low_hz=LOW, high_hz=HIGH, step_hz=100_000),),
)
BY_FIGURE = replace(BARE, noise_figure_db=8.0)
PERMIT = Permit(id="p", reference="p", state=PermitState.GRANTED, windows=(Span(LOW, HIGH),))
PLACE = Place(id="quay", name="Quay", timezone="Europe/Lisbon")
SLOT = 608_500_000


def test_thermal_noise_of_a_perfect_receiver_in_200_khz(authority):
    authority(
        "Thermal noise in 200 kHz",
        source="k T0 B with k from scipy.constants (exact in the SI) and T0 = 290 K",
        ours=thermal_dbm(bandwidth_hz=200_000),
        theirs=10 * math.log10(constants.k * 290 * 200_000 * 1000),
        tolerance=0.005,
        kind="library",
        unit="dBm",
    )


@pytest.mark.parametrize(
    ("facts", "theirs"),
    [
        ({"noise_figure_db": 8.0}, -173.975 + 53.0103 + 8),
        ({"noise_figure_db": 8.0, "bandwidth_hz": 16_000}, -173.975 + 42.0412 + 8),
        ({"sensitivity_dbm": -92.0, "needs_cn_db": 20.0}, -112.0),
        ({"sensitivity_dbm": -92.0, "needs_cn_db": 20.0, "noise_figure_db": 3.0}, -112.0),
        ({"sensitivity_dbm": -92.0, "noise_figure_db": 3.0}, -173.975 + 53.0103 + 3),
        ({"sensitivity_dbm": -92.0}, None),
        ({"needs_cn_db": 20.0}, None),
        ({}, None),
    ],
)
def test_what_a_receiver_can_bear_is_the_noise_it_makes_itself_and_unknown_where_facts_are_missing(
    facts, theirs, authority
):
    found = bearable(replace(BARE, **facts))
    if theirs is None:
        assert found is None
        return
    name = f"Level that a receiver can bear from {', '.join(f'{key} = {value:g}' for key, value in facts.items())}"
    source = "-173.975 dBm/Hz + 10 log10(B) + NF, or S - C/N, by hand"
    authority(name, source=source, ours=found.level_dbm, theirs=theirs, tolerance=0.001, kind="arithmetic", unit="dBm")


def test_as_much_noise_from_outside_as_the_receiver_can_bear_costs_it_three_db(authority):
    own_mw = 10 ** (thermal_dbm(bandwidth_hz=200_000, noise_figure_db=8.0) / 10)
    both_mw = own_mw + 10 ** (bearable(BY_FIGURE).level_dbm / 10)
    authority(
        "Sensitivity lost to interference as high as a receiver can bear",
        source="I/N = 0 dB: 10 log10(1 + 1), by hand",
        ours=10 * math.log10(both_mw / own_mw),
        theirs=3.0103,
        tolerance=0.0001,
        kind="arithmetic",
        unit="dB",
    )


def swept(*, rise_db=0.0, bin_dbm=-121.0, **stated):
    """Noise of `bin_dbm` in bins of 25 kHz, averaged so often that it hardly scatters; 200 kHz around SLOT higher."""
    rng = np.random.default_rng(11)
    centres = np.arange(LOW, HIGH, 25_000) + 12_500
    levels = bin_dbm + 10 * np.log10(rng.gamma(4000, 1 / 4000, centres.size))
    levels[np.abs(centres - SLOT) < 100_000] += rise_db
    block = SweepBlock(first_hz=float(centres[0]), bin_hz=25_000.0, levels_db=levels, unit=stated.pop("unit", "dBm"))
    return fold([block], name=stated.pop("name", "base.csv")).described(**stated)


def asked(radio, *sweeps, **wishes):
    link = Link(id="L01", name="L01", radio=radio, worn=Worn.BODY)
    job = Job(title="T", places=(PLACE,), permits=(PERMIT,), radios=(radio,), links=(link,))
    job = replace(job, wishes=replace(job.wishes, **wishes))
    return job, noise_of(job, link, SLOT, sweeps)


# Noise of -121 dBm in 25 kHz is -121 + 10 log10(8) = -111.97 dBm in 200 kHz as the instrument reads it.
@pytest.mark.parametrize(
    ("gain_db", "rise_db", "state", "depth_dbm", "outside_dbm"),
    [
        (6.0, 0.0, NoiseState.QUIET, -117.97, None),
        # 4 dB above the floor: 10 log10(10^0.4 - 1) = 1.80 dB above it came from outside: -116.17, under -112.96.
        (6.0, 4.0, NoiseState.QUIET, -117.97, -116.17),
        # 8 dB above the floor, which the margin of 10 dB lets pass: 7.25 dB from outside: -110.72, over -112.96.
        (6.0, 8.0, NoiseState.NOISY, -117.97, -110.72),
        # A loss of 3.5 dB ahead: the instrument's noise counts 3.5 dB more, -108.47, over what the receiver can bear.
        (-3.5, 0.0, NoiseState.SHALLOW, -108.47, None),
        (-3.5, 8.0, NoiseState.SHALLOW, -108.47, -101.22),
        (-3.5, 14.0, NoiseState.NOISY, -108.47, -94.65),
    ],
)
def test_a_calibrated_sweep_is_held_against_what_the_receiver_can_bear(
    gain_db, rise_db, state, depth_dbm, outside_dbm, authority
):
    _, noise = asked(BY_FIGURE, swept(rise_db=rise_db, antenna="whip", gain_ahead_db=gain_db))
    assert noise.state is state
    there = noise.at_antenna
    pairs = [("noise of the instrument", there.depth_dbm, depth_dbm)]
    if outside_dbm is None:
        assert there.outside_dbm is None or there.outside_dbm < depth_dbm - 8  # what is left of averaged noise
    else:
        pairs.append(("level from outside", there.outside_dbm, outside_dbm))
    for what, ours, theirs in pairs:
        authority(
            f"At the antenna, {gain_db:g} dB ahead, {rise_db:g} dB above the floor: {what}",
            source="sums by hand, beside the test",
            ours=ours,
            theirs=theirs,
            tolerance=0.3,
            kind="arithmetic",
            unit="dBm",
        )
    assert there.bears_dbm == pytest.approx(-112.965, abs=0.01)


@settings(max_examples=40, deadline=None)
@given(
    rise_db=st.sampled_from([0.0, 3.0, 6.0, 9.0, 11.0, 30.0]),
    missing=st.sampled_from(["antenna", "gain_ahead_db", "unit", "facts", "half"]),
    gain_db=st.sampled_from([-20.0, 0.0, 20.0]),
)
def test_where_a_fact_is_missing_only_the_margin_over_the_floor_counts_and_it_is_said(rise_db, missing, gain_db):
    stated = {"antenna": "whip", "gain_ahead_db": gain_db}
    stated.pop(missing, None)
    radio = {"facts": BARE, "half": replace(BARE, sensitivity_dbm=-92.0)}.get(missing, BY_FIGURE)
    sweep = swept(rise_db=rise_db, unit="dB" if missing == "unit" else "dBm", **stated)
    _, noise = asked(radio, sweep)
    assert noise.state is (NoiseState.NOISY if rise_db > 10 else NoiseState.QUIET)
    assert noise.at_antenna is None or noise.at_antenna.bears_dbm is None
    [warning] = floor_alone_warnings([radio], [sweep])
    told = {
        "antenna": "nobody stated both antenna and gain_ahead_db of base.csv",
        "gain_ahead_db": "nobody stated both antenna and gain_ahead_db of base.csv",
        "unit": "base.csv is in uncalibrated dB",
        "facts": "Heron states neither noise_figure_db nor sensitivity_dbm with needs_cn_db",
        "half": "Heron states neither noise_figure_db nor sensitivity_dbm with needs_cn_db",
    }
    assert warning.text.endswith(f"{told[missing]}.")


def test_nothing_is_said_where_everything_is_known():
    assert not list(floor_alone_warnings([BY_FIGURE], [swept(antenna="whip", gain_ahead_db=0.0)]))


def test_of_two_sweeps_the_higher_level_at_the_antenna_is_the_worse_whatever_the_instruments_read():
    # -97 read behind a gain of 20 dB is -117 at the antenna; -100 behind nothing is -100.
    lifted = swept(name="lifted.csv", rise_db=25.0, bin_dbm=-131.0 + 20, antenna="whip", gain_ahead_db=20.0)
    plain = swept(name="plain.csv", rise_db=25.0, bin_dbm=-131.0 + 15, antenna="whip", gain_ahead_db=0.0)
    _, noise = asked(BARE, lifted, plain)
    assert noise.sweep == "plain.csv"


def test_opening_noisy_slots_also_opens_those_that_a_level_closed():
    sweep = swept(rise_db=8.0, antenna="whip", gain_ahead_db=6.0)
    job, _ = asked(BY_FIGURE, sweep)
    [eased] = [item for item in relaxations(job, BY_FIGURE, PLACE, [sweep]) if item.code == "noise"]
    for item, closed in ((job, True), (eased.job, False)):
        facts = examine_carriers(item, item.links[0], [SLOT], [sweep])
        assert bool(facts.closed["noise"][0]) is closed


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
name = "Heron"
tuning = [{{ low_mhz = 606, high_mhz = 612, step_khz = 100 }}]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
{facts}
[[link]]
id = "L01"
radio = "heron"
hold_mhz = 608.5
[plan]
unmeasured = "{unmeasured}"
"""


@pytest.fixture
def hall(tmp_path):
    """Return a function that writes brief, sweep and note, and returns what `command --json` answers about L01."""

    def ask(capsys, command, *, facts="noise_figure_db = 8", gain=6.0, rise=8.0, unmeasured="avoid"):
        (tmp_path / "walls.toml").write_text(BRIEF.format(facts=facts, unmeasured=unmeasured))
        sweep = swept(rise_db=rise)
        rows = [f"{hz / 1e6:.4f},{db:.2f}" for hz, db in zip(sweep.centres_hz, sweep.highest_db, strict=True)]
        (tmp_path / "base.csv").write_text("\n".join(["MHz,dBm", *rows]) + "\n")
        note = f'antenna = "whip"\ngain_ahead_db = {gain}\nrbw_khz = 25\nown_transmitters = "off"\n'
        (tmp_path / "base.csv.toml").write_text(note)
        (tmp_path / "list.csv").write_text("id,mhz\nL01,608.5\n")
        words = {"why": ["608.5", "--link", "L01"], "check": [str(tmp_path / "list.csv")], "plan": []}[command]
        run([command, str(tmp_path / "walls.toml"), *words, "--sweep", str(tmp_path / "base.csv"), "--json"])
        return json.loads(capsys.readouterr().out)

    return ask


def test_check_why_and_plan_tell_in_dbm_at_the_antenna_why_a_level_closes_a_carrier(hall, capsys):
    [found] = hall(capsys, "check")["violations"]
    assert found["rule"] == "noise"
    assert "8 dB above the floor; at the antenna that is -110." in found["text"]
    assert (
        "from outside, where Heron can bear -113.0 dBm (its own noise in 200 kHz at a noise figure of 8 dB)."
        in (found["text"])
    )
    [stop] = [item for item in hall(capsys, "why")["findings"] if item["rule"] == "noise"]
    assert stop["text"] == found["text"]
    [unplaced] = hall(capsys, "plan")["unplaced"]
    assert [(reason["code"], reason["text"]) for reason in unplaced["reasons"]] == [("noise", found["text"])]
    allowed = hall(capsys, "plan", facts="sensitivity_dbm = -85\nneeds_cn_db = 20")
    noise = allowed["links"][0]["noise"]
    assert noise["state"] == "quiet"
    assert noise["at_antenna"]["bears_dbm"] == -105.0
    assert noise["at_antenna"]["outside_dbm"] == pytest.approx(-110.72, abs=0.3)
    assert not [item for item in allowed["warnings"] if item["code"] == "floor-alone"]


def test_a_sweep_that_is_not_deep_enough_says_what_it_would_have_had_to_be(hall, capsys):
    plan = hall(capsys, "plan", gain=-3.5, rise=0.0)
    assert plan["links"][0]["noise"]["state"] == "not deep enough"
    assert plan["links"][0]["cautions"] == ["not-deep-enough"]
    [found] = hall(capsys, "check", gain=-3.5, rise=0.0, unmeasured="close")["violations"]
    assert found["rule"] == "unmeasured"
    assert "not deep enough (at the antenna that is the instrument's own noise of -108." in found["text"]


def test_figures_of_a_generic_class_count_and_those_of_the_brief_count_before_them(hall, capsys):
    by_class = 'defaults = "analogue-fm-wide"\nsensitivity_dbm = -80'
    there = hall(capsys, "plan", facts=by_class)["links"][0]["noise"]["at_antenna"]
    assert there["bears_dbm"] == -100.0  # -80 dBm less the 20 dB that the class states
    own = hall(capsys, "plan", facts=f"{by_class}\nneeds_cn_db = 12")["links"][0]["noise"]["at_antenna"]
    assert own["bears_dbm"] == -92.0

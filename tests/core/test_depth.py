"""How deep a sweep looked. Authority: sums by hand, beside each test."""

from __future__ import annotations

import json

import numpy as np
import pytest

from bandwright.cli import run
from bandwright.core.bands import Span
from bandwright.core.depth import shallow_stretches, shallow_warnings
from bandwright.core.fold import fold
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Emission, Link, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.sweep import SweepBlock

LOW, MIDDLE, HIGH = 606_000_000, 610_000_000, 614_000_000
RADIO = RadioType(
    id="heron",
    name="Heron",
    direction=Direction.FROM_PERSON,
    emission=Emission.FM,
    bandwidth_hz=200_000,
    spacing_hz=350_000,
    clearance_hz=(),
    tuning=(TuningRange(low_hz=LOW, high_hz=HIGH, step_hz=100_000),),
    noise_figure_db=8.0,  # it can bear -173.975 + 53.01 + 8 = -112.96 dBm in 200 kHz: -121.99 dBm in 25 kHz
)
JOB = Job(
    title="T",
    places=(Place(id="quay", name="Quay", timezone="Europe/Lisbon"),),
    permits=(Permit(id="p", reference="p", state=PermitState.GRANTED, windows=(Span(LOW, HIGH),)),),
    radios=(RADIO,),
    links=(Link(id="L01", name="L01", radio=RADIO, worn=Worn.BODY),),
)


def swept(*hops, **stated):
    """Noise in bins of 25 kHz that hardly scatters: one level for each hop of (first, end, dBm)."""
    rng = np.random.default_rng(11)
    blocks = []
    for first, end, level in hops:
        centres = np.arange(first, end, 25_000) + 12_500
        levels = level + 10 * np.log10(rng.gamma(4000, 1 / 4000, centres.size))
        blocks.append(SweepBlock(first_hz=float(centres[0]), bin_hz=25_000.0, levels_db=levels, unit="dBm"))
    return fold(blocks, name="base.csv").described(**stated)


# Behind a gain of 6 dB that is read as -115.99 dBm: noise of -120 is deep enough, noise of -112 is not.
@pytest.mark.parametrize(
    ("below_dbm", "above_dbm", "shallow"),
    [
        (-120.0, -120.0, ()),
        (-120.0, -112.0, ((MIDDLE, HIGH),)),
        (-112.0, -120.0, ((LOW, MIDDLE),)),
        (-112.0, -112.0, ((LOW, HIGH),)),
    ],
)
def test_noise_above_what_a_link_can_bear_is_not_deep_enough(below_dbm, above_dbm, shallow):
    sweep = swept((LOW, MIDDLE, below_dbm), (MIDDLE, HIGH, above_dbm), antenna="whip", gain_ahead_db=6.0)
    assert shallow_stretches(JOB, sweep) == shallow


def test_a_stretch_that_nobody_measured_is_in_no_shallow_one():
    gap = (LOW + 3_000_000, MIDDLE)
    sweep = swept((LOW, gap[0], -112.0), (gap[1], HIGH, -112.0), antenna="whip", gain_ahead_db=6.0)
    assert shallow_stretches(JOB, sweep) == ((LOW, gap[0]), (gap[1], HIGH))


def test_a_level_that_nobody_calibrated_is_held_against_no_need():
    assert shallow_stretches(JOB, swept((LOW, HIGH, -60.0))) == ()


def test_a_sweep_whose_noise_nobody_knows_is_not_deep_enough_and_says_what_to_do():
    sweep = swept((LOW, LOW + 500_000, -120.0))  # narrower than 1 MHz: one signal may fill it
    found = shallow_stretches(JOB, sweep)
    assert found == ((LOW, LOW + 500_000),)
    (warning,) = shallow_warnings(sweep, found)
    assert warning.text == (
        "base.csv is not deep enough for the links of the brief on 606.000-606.500 MHz: its noise floor there is not "
        "known, or above what they can bear. Sweep again with more gain, or a narrower RBW."
    )
    assert not list(shallow_warnings(sweep, ()))


def test_a_sweep_beside_a_brief_tells_what_is_shallow_and_without_one_that_nobody_said(tmp_path, capsys):
    assert run(["demo", "--out", str(tmp_path / "demo")]) == 0
    capsys.readouterr()
    narrow = tmp_path / "narrow.csv"
    narrow.write_text("".join(f"{606 + 0.025 * k:.3f}, -100.5\n" for k in range(20)), encoding="utf-8")
    brief = str(tmp_path / "demo" / "lantern-quay.toml")
    assert run(["sweep", str(narrow), "--brief", brief, "--json"]) == 0
    beside = json.loads(capsys.readouterr().out)
    assert [(item["low_mhz"], item["high_mhz"]) for item in beside["shallow"]] == [(605.9875, 606.4875)]
    assert "not-deep-enough" in [item["code"] for item in beside["warnings"]]
    assert run(["sweep", str(narrow), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["shallow"] is None

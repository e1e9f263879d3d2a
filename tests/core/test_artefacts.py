"""What a receiver adds by itself, made by a receiver that clips or has an offset."""

from __future__ import annotations

import numpy as np
import pytest

from bandwright.core.air import describe_air
from bandwright.core.artefacts import ArtefactKind, artefacts_of, without_overload
from bandwright.core.fold import fold
from bandwright.core.multiplex_signal import Multiplex
from bandwright.core.planning.plan import NoiseState
from bandwright.core.scene import AirCarrier, AirReceiver, FloorStep, Scene, render
from bandwright.core.sweep import SweepBlock, channel_levels, noise_states

LOW_HZ = 574_000_000


def heard(*, multiplexes=(), carriers=(), **receiver):
    scene = Scene(
        name="test",
        low_hz=LOW_HZ,
        high_hz=606_000_000,
        receiver=AirReceiver(
            noise_figure_db=6.0,
            sample_rate_hz=2_800_000,
            hop_hz=2_000_000,
            bin_hz=25_000,
            **{"averages": 64, **receiver},
        ),
        multiplexes=tuple(multiplexes),
        carriers=tuple(carriers),
        sweeps=2,
    )
    blocks = (
        SweepBlock(first_hz=row.low_hz + row.bin_hz / 2, bin_hz=row.bin_hz, levels_db=row.levels_dbm, unit="dBm")
        for row in render(scene, np.random.default_rng(11))
    )
    sweep = fold(blocks, name="test")
    assert sweep is not None
    return sweep


MULTIPLEX = Multiplex(label="35", centre_hz=586_000_000, slot_hz=8_000_000, level_dbm=-60.0)


def kinds(sweep):
    return {item.kind for item in artefacts_of(sweep)}


def test_an_honest_receiver_makes_nothing():
    assert artefacts_of(heard(multiplexes=[MULTIPLEX])) == ()


def test_the_offset_of_a_converter_is_named_and_is_no_carrier():
    sweep = heard(dc_spike_dbm=-90.0)
    spikes = [item for item in artefacts_of(sweep) if item.kind is ArtefactKind.SPIKE]
    assert len(spikes) == 16  # one a hop of 2 MHz
    for hop, item in enumerate(spikes):
        assert item.low_hz <= LOW_HZ + 2_000_000 * hop + 1_012_500 <= item.high_hz  # the transform's middle bin
    assert describe_air(sweep).carriers == ()


def test_a_signal_in_the_middle_of_one_hop_stays_a_carrier_beside_the_spikes_of_the_others():
    carrier = AirCarrier(label="a", carrier_hz=591_012_500, level_dbm=-60.0, peak_deviation_hz=2_500, audio_hz=3_000)
    found = describe_air(heard(dc_spike_dbm=-90.0, carriers=[carrier])).carriers
    assert [item.centre_hz for item in found] == pytest.approx([591_012_500], abs=12_500)


def test_levels_at_the_top_of_the_scale_are_named():
    sweep = heard(multiplexes=[MULTIPLEX], top_dbm=-86.0)
    [top] = [item for item in artefacts_of(sweep) if item.kind is ArtefactKind.FLAT_TOP][:1]
    assert 582_000_000 < top.low_hz < top.high_hz < 590_000_000


def test_what_a_clipping_receiver_fills_never_reads_quiet():
    # A multiplex 7 dB into clipping, its edges in the middle of hops: products fill the other halves.
    multiplex = Multiplex(label="x", centre_hz=585_000_000, slot_hz=8_000_000, level_dbm=-45.0)
    raw = heard(multiplexes=[multiplex], full_scale_dbm=-52.0)
    sweep = without_overload(raw)
    assert ArtefactKind.RAISED_FLOOR in kinds(raw)
    assert [fault.code for fault in sweep.problems] == ["overload"]
    assert "less gain" in sweep.problems[0].text
    levels = channel_levels(sweep, carriers_hz=[589_600_000, 594_300_000], bandwidth_hz=200_000)
    states = noise_states(levels, above_floor_db=10.0)
    assert states[0] in (NoiseState.SHALLOW, NoiseState.NOISY)
    assert states[1] is NoiseState.QUIET


def test_a_sweep_without_overload_is_left_as_it_is():
    sweep = heard(multiplexes=[MULTIPLEX])
    assert without_overload(sweep) is sweep


def test_a_signal_at_the_top_of_the_scale_is_still_a_signal():
    levels = 10 * np.log10(np.random.default_rng(1).gamma(64, 1 / 64, size=1000)) - 100
    levels[400:420] = -40.0
    sweep = fold([SweepBlock(first_hz=600e6, bin_hz=10_000.0, levels_db=levels)], name="x")
    assert sweep is not None
    found = without_overload(sweep)
    assert [fault.code for fault in found.problems] == ["overload"]
    [state] = noise_states(channel_levels(found, carriers_hz=[604_100_000], bandwidth_hz=200_000), above_floor_db=10.0)
    assert state is NoiseState.NOISY


@pytest.mark.parametrize("averages", [4, 64])
def test_both_halves_beside_an_overloading_multiplex_are_named(averages):
    multiplex = Multiplex(label="x", centre_hz=585_000_000, slot_hz=8_000_000, level_dbm=-55.0)
    raised = [
        item
        for item in artefacts_of(heard(multiplexes=[multiplex], full_scale_dbm=-62.0, averages=averages))
        if item.kind is ArtefactKind.RAISED_FLOOR
    ]
    # The multiplex covers 581.2 to 588.8 MHz: the hops of 580 to 582 and 588 to 590 MHz are filled in part.
    assert [(item.low_hz, item.high_hz) for item in raised] == [(580e6, 582e6), (588e6, 590e6)]


@pytest.mark.parametrize("averages", [4, 64])
def test_a_floor_that_steps_in_the_hop_where_a_multiplex_begins_is_no_overload(averages):
    multiplex = Multiplex(label="x", centre_hz=585_000_000, slot_hz=8_000_000, level_dbm=-80.0)
    steps = (FloorStep(from_hz=580_000_000, noise_figure_db=16.0),)
    assert artefacts_of(heard(multiplexes=[multiplex], floor_steps=steps, averages=averages)) == ()


def test_a_single_shot_of_a_strong_multiplex_is_no_overload():
    assert artefacts_of(heard(multiplexes=[MULTIPLEX], averages=1)) == ()

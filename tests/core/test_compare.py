"""Two sweeps of generated air whose differences are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.compare import AlignedBy, ChangeKind, ChangeOf, compare_air
from bandwright.core.fold import fold
from bandwright.core.multiplex_signal import Multiplex
from bandwright.core.scene import AirCarrier, AirReceiver, Scene, render
from bandwright.core.sweep import SweepBlock
from bandwright.sheets.compare_text import compare_text

LOW_HZ = 574_000_000
RASTER = TvRaster(
    id="test",
    name="8 MHz raster",
    source="GE06 Agreement, from memory",
    channels=tuple(
        TvChannel(
            label=str(n), span=Span(306_000_000 + 8_000_000 * n - 4_000_000, 306_000_000 + 8_000_000 * n + 4_000_000)
        )
        for n in range(34, 38)
    ),
)


def carrier(mhz, level_dbm, label="x"):
    return AirCarrier(
        label=label, carrier_hz=round(mhz * 1e6), level_dbm=level_dbm, peak_deviation_hz=30_000, audio_hz=10_000
    )


def multiplex(number, level_dbm):
    return Multiplex(
        label=str(number), centre_hz=306_000_000 + 8_000_000 * number, slot_hz=8_000_000, level_dbm=level_dbm
    )


def heard(*, multiplexes=(), carriers=(), gain_db=0.0, figure_db=6.0, seed=1, first_hz=LOW_HZ, last_hz=606_000_000):
    scene = Scene(
        name="test",
        low_hz=first_hz,
        high_hz=last_hz,
        receiver=AirReceiver(
            noise_figure_db=figure_db, sample_rate_hz=2_800_000, hop_hz=2_000_000, bin_hz=25_000, averages=64
        ),
        multiplexes=tuple(multiplexes),
        carriers=tuple(carriers),
        sweeps=4,
    )
    blocks = (
        SweepBlock(
            first_hz=row.low_hz + row.bin_hz / 2, bin_hz=row.bin_hz, levels_db=row.levels_dbm + gain_db, unit="dBm"
        )
        for row in render(scene, np.random.default_rng(seed))
    )
    sweep = fold(blocks, name="test")
    assert sweep is not None
    return sweep


def told(comparison):
    return [(change.kind, change.of, round(change.centre_hz / 1e6, 1)) for change in comparison.changes]


def test_the_same_air_through_another_gain_has_not_changed(authority):
    air = {"multiplexes": [multiplex(35, -60)], "carriers": [carrier(596.3, -85)]}
    comparison = compare_air(heard(**air), heard(**air, gain_db=7.0, seed=2), raster=RASTER)
    assert comparison.changes == ()
    assert comparison.alignment.by is AlignedBy.SIGNALS
    authority(
        "Gain between two sweeps of the same generated air",
        source="the gain the levels were generated with",
        ours=comparison.alignment.offset_db,
        theirs=7.0,
        tolerance=0.3,  # slices of eight bins over 256 averages: 4.34 / sqrt(2048) = 0.1 dB each
        kind="arithmetic",
        unit="dB",
    )


def test_what_is_new_went_and_got_louder_is_told_with_its_levels():
    old = heard(multiplexes=[multiplex(35, -60)], carriers=[carrier(596.3, -85), carrier(599.1, -95)])
    new = heard(
        multiplexes=[multiplex(35, -60), multiplex(37, -80)],
        carriers=[carrier(592.7, -90), carrier(596.3, -75)],
        gain_db=-4.0,
        seed=3,
    )
    # 599.1 lies in TV channel 37 (598-606), which a multiplex fills now: that is the change there.
    changes = compare_air(old, new, raster=RASTER).changes
    assert [(c.kind, c.of, round(c.centre_hz / 1e6, 1)) for c in changes] == [
        (ChangeKind.NEW, ChangeOf.CARRIER, 592.7),
        (ChangeKind.NOISIER, ChangeOf.CARRIER, 596.3),
        (ChangeKind.NEW, ChangeOf.MULTIPLEX, 602.0),
    ]
    assert changes[0].old_db is None
    assert changes[0].new_db == pytest.approx(-94, abs=1.5)
    assert changes[1].rise_db == pytest.approx(10, abs=1.5)


def test_what_went_is_told_the_other_way_round():
    old = heard(multiplexes=[multiplex(35, -60), multiplex(37, -80)], carriers=[carrier(592.7, -90)])
    new = heard(multiplexes=[multiplex(35, -60)], seed=2)
    assert told(compare_air(old, new, raster=RASTER)) == [
        (ChangeKind.GONE, ChangeOf.CARRIER, 592.7),
        (ChangeKind.GONE, ChangeOf.MULTIPLEX, 602.0),
    ]


def test_a_carrier_below_the_old_floor_or_outside_the_old_sweep_is_not_called_new():
    shared = [multiplex(35, -60)]
    deaf = heard(multiplexes=shared, figure_db=30.0)
    new = heard(multiplexes=shared, carriers=[carrier(596.3, -100)], seed=2)
    assert told(compare_air(deaf, new, raster=RASTER)) == [(ChangeKind.UNKNOWN_BEFORE, ChangeOf.CARRIER, 596.3)]
    short = heard(multiplexes=shared, last_hz=594_000_000)
    assert told(compare_air(short, new, raster=RASTER)) == [(ChangeKind.UNKNOWN_BEFORE, ChangeOf.CARRIER, 596.3)]


def test_without_signals_in_both_the_floors_align_and_a_rise_of_noise_is_a_stretch():
    old = heard()
    rng = np.random.default_rng(5)
    power = 10 ** (old.typical_db / 10)
    inside = (old.centres_hz > 590_000_000) & (old.centres_hz < 591_000_000)
    power[inside] *= 10 ** (5 / 10) * rng.gamma(256, 1 / 256, size=int(inside.sum()))
    new = fold(
        [SweepBlock(first_hz=old.centres_hz[0], bin_hz=25_000, levels_db=10 * np.log10(power), unit="dBm")], name="new"
    )
    assert new is not None
    comparison = compare_air(old, new)
    assert comparison.alignment.by is AlignedBy.FLOORS
    assert comparison.alignment.offset_db == pytest.approx(0, abs=0.2)
    [change] = comparison.changes
    assert change.low_hz < 590_500_000 < change.high_hz
    assert change.kind in (ChangeKind.NOISIER, ChangeKind.NEW)


def test_sweeps_that_share_nothing_are_not_aligned():
    one, two = heard(last_hz=584_000_000), heard(first_hz=590_000_000)
    alignment = compare_air(one, two).alignment
    assert alignment.by is AlignedBy.NOTHING
    assert alignment.offset_db is None


def test_what_nothing_aligns_is_compared_as_read_in_one_unit_and_not_at_all_in_two():
    narrow = {"first_hz": 590_000_000, "last_hz": 593_000_000}  # 15 slices of 200 kHz: 20 would align
    old = heard(carriers=[carrier(591, -90), carrier(592.5, -80, "went")], **narrow)
    new = heard(carriers=[carrier(591, -70), carrier(590.3, -80, "came")], seed=2, **narrow)
    comparison = compare_air(old, new)
    assert comparison.alignment.offset_db is None
    assert [change.kind for change in comparison.changes] == [ChangeKind.NEW, ChangeKind.NOISIER, ChangeKind.GONE]
    assert comparison.changes[1].rise_db == pytest.approx(20, abs=1)
    said = compare_text(comparison, [None] * 3, (), links=0)
    assert "dB as read" in said
    assert "aligned" not in said
    apart = compare_air(old, replace(new, unit="dB"))
    assert [change.kind for change in apart.changes] == [ChangeKind.UNKNOWN_BEFORE]
    assert "no rise is known" in compare_text(apart, [None], (), links=0)


def test_each_level_is_told_in_the_unit_of_its_own_sweep():
    old = heard(carriers=[carrier(591, -90)])
    comparison = compare_air(old, replace(heard(carriers=[carrier(591, -70)], seed=2), unit="dB"))
    [change] = comparison.changes
    said = compare_text(comparison, [None], (), links=0)
    assert f"{change.old_db:.1f} dBm -> {change.new_db:.1f} dB, " in said


def test_a_deaf_new_sweep_says_by_how_much_its_floor_is_higher():
    shared = [multiplex(35, -50)]
    comparison = compare_air(
        heard(multiplexes=shared), heard(multiplexes=shared, figure_db=16.0, seed=2), raster=RASTER
    )
    assert comparison.alignment.floor_rise_db == pytest.approx(10, abs=0.7)
    assert comparison.changes == ()

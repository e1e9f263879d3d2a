"""What is in generated air of known truth, and what a report says of it."""

from __future__ import annotations

import numpy as np
import pytest

from bandwright.core.air import describe_air
from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.fold import fold
from bandwright.core.multiplex import SIGNAL_WIDTH_HZ, TvVerdict, tv_findings
from bandwright.core.scene import AirCarrier, AirReceiver, Multiplex, Scene, render
from bandwright.core.sweep import SweepBlock

LOW_HZ = 574_000_000
RASTER = TvRaster(
    id="test",
    name="8 MHz raster",
    source="REFERENCES 4",
    channels=tuple(
        TvChannel(
            label=str(number),
            span=Span(306_000_000 + 8_000_000 * number - 4_000_000, 306_000_000 + 8_000_000 * number + 4_000_000),
        )
        for number in range(30, 49)
    ),
)


def heard(*, multiplexes=(), carriers=(), sweeps=6, high_hz=606_000_000):
    scene = Scene(
        name="test",
        low_hz=LOW_HZ,
        high_hz=high_hz,
        receiver=AirReceiver(
            noise_figure_db=6.0, sample_rate_hz=2_800_000, hop_hz=2_000_000, bin_hz=25_000, averages=64
        ),
        multiplexes=tuple(multiplexes),
        carriers=tuple(carriers),
        sweeps=sweeps,
    )
    blocks = (
        SweepBlock(
            first_hz=row.low_hz + row.bin_hz / 2, bin_hz=row.bin_hz, levels_db=np.asarray(row.levels_dbm), unit="dBm"
        )
        for row in render(scene, np.random.default_rng(11))
    )
    sweep = fold(blocks, name="test")
    assert sweep is not None
    return sweep


def verdicts(sweep):
    return {finding.channel.label: finding.verdict for finding in tv_findings(sweep, RASTER)}


@pytest.fixture(scope="module")
def air():
    return heard(
        multiplexes=[Multiplex(label="35", centre_hz=586_000_000, slot_hz=8_000_000, level_dbm=-60.0)],
        carriers=[
            AirCarrier(label="a", carrier_hz=596_300_000, level_dbm=-75.0, peak_deviation_hz=30_000, audio_hz=10_000),
            AirCarrier(label="b", carrier_hz=603_712_500, level_dbm=-88.0, peak_deviation_hz=2_500, audio_hz=3_000),
        ],
    )


def test_signal_widths_follow_from_the_ofdm_parameters(authority):
    for channel_hz, microseconds in ((8_000_000, 896), (7_000_000, 1024), (6_000_000, 7168 / 6)):
        authority(
            f"width of an OFDM multiplex in a TV channel of {channel_hz // 1_000_000} MHz",
            source="EN 300 744: 6816 carrier spacings of one over the useful symbol (REFERENCES 4)",
            ours=SIGNAL_WIDTH_HZ[channel_hz],
            theirs=6816 / (microseconds * 1e-6),
            tolerance=1,
            unit="Hz",
        )


def test_a_multiplex_is_taken_at_its_true_level_and_the_neighbours_are_not(air, authority):
    found = {finding.channel.label: finding for finding in tv_findings(air, RASTER)}
    assert {label: finding.verdict for label, finding in found.items()} == {
        "34": TvVerdict.NOTHING_SEEN,
        "35": TvVerdict.TAKEN,
        "36": TvVerdict.SHARED,
        "37": TvVerdict.SHARED,
    }
    authority(
        "level of a generated multiplex of -60 dBm",
        source="the scene that made it",
        ours=found["35"].level_db,
        theirs=-60.0,
        tolerance=0.3,
        kind="common practice",
        unit="dBm",
    )


def test_the_floor_is_thermal_noise_and_the_noise_figure(air, authority):
    authority(
        "noise floor of a generated sweep in 25 kHz with a noise figure of 6 dB",
        source="-173.975 dBm/Hz at 290 K (REFERENCES 6)",
        ours=float(np.median(air.floor_db)),
        theirs=-173.975 + 10 * np.log10(25_000) + 6,
        tolerance=0.7,
        unit="dBm",
    )


def test_carriers_are_found_where_they_are_and_nothing_else_is(air):
    carriers = describe_air(air, raster=RASTER).carriers
    assert [round(carrier.centre_hz / 25_000) for carrier in carriers] == [
        round(596_300_000 / 25_000),
        round(603_712_500 / 25_000),
    ]
    assert [carrier.level_db for carrier in carriers] == pytest.approx([-75, -88], abs=1.5)


def test_quiet_parts_hold_neither_multiplex_nor_carrier(air):
    for stretch in describe_air(air, raster=RASTER).quiet:
        for low, high in ((582_300_000, 589_700_000), (596_290_000, 596_310_000)):
            assert stretch.high_hz <= low or high <= stretch.low_hz


def test_noise_alone_holds_nothing():
    report = describe_air(heard(sweeps=2), raster=RASTER)
    assert report.carriers == ()
    assert {finding.verdict for finding in report.tv} == {TvVerdict.NOTHING_SEEN}
    assert len(report.quiet) == 1


def test_a_single_shot_of_noise_holds_no_carriers():
    power = np.random.default_rng(5).exponential(size=20_000)
    block = SweepBlock(first_hz=470_000_500.0, bin_hz=1_000.0, levels_db=10 * np.log10(power) - 110)
    sweep = fold([block], name="one shot")
    assert sweep is not None
    assert describe_air(sweep).carriers == ()


def test_a_faint_multiplex_four_decibels_above_the_floor_is_taken_with_less_confidence():
    strong = heard(multiplexes=[Multiplex(label="35", centre_hz=586_000_000, slot_hz=8_000_000, level_dbm=-60.0)])
    faint = heard(multiplexes=[Multiplex(label="35", centre_hz=586_000_000, slot_hz=8_000_000, level_dbm=-95.0)])
    one, two = (
        next(finding for finding in tv_findings(sweep, RASTER) if finding.channel.label == "35")
        for sweep in (strong, faint)
    )
    assert one.verdict is two.verdict is TvVerdict.TAKEN
    assert one.confidence > two.confidence


def test_a_tv_channel_that_was_half_swept_is_not_called_empty():
    assert verdicts(heard(high_hz=594_000_000))["35"] is TvVerdict.NOTHING_SEEN
    assert verdicts(heard(high_hz=586_000_000))["35"] is TvVerdict.UNMEASURED


def test_a_sweep_without_a_floor_judges_no_tv_channel():
    sweep = fold([SweepBlock(first_hz=586e6, bin_hz=1e3, levels_db=np.full(500, -50.0))], name="narrow")
    assert sweep is not None
    report = describe_air(sweep, raster=RASTER)
    assert [finding.verdict for finding in report.tv] == [TvVerdict.UNMEASURED]
    assert report.quiet == ()

"""Generated air obeys physics. Authorities: scipy.signal.welch, EN 300 744, k T0 B, chi-square statistics."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

import numpy as np
import pytest
from benchmarks.scene_draw import draw_scene, drawn_blocks
from scipy import constants, stats
from scipy import signal as scipy_signal

from bandwright.core.bands import Span
from bandwright.core.multiplex_signal import ATSC_PILOT_HZ, Echo, Multiplex, multiplex_baseband
from bandwright.core.receiver import thermal_dbm
from bandwright.core.scene import (
    AirCarrier,
    AirReceiver,
    AirRow,
    FloorStep,
    Scene,
    fm_baseband,
    render,
    welch_density,
)
from bandwright.units import mw_from_dbm

RECEIVER = AirReceiver(noise_figure_db=6.0, sample_rate_hz=2_800_000, hop_hz=2_000_000, bin_hz=25_000)


def scene(**changes: object) -> Scene:
    fields: dict[str, object] = {
        "name": "test air",
        "low_hz": 598_000_000,
        "high_hz": 618_000_000,
        "receiver": RECEIVER,
        "sweeps": 12,
    }
    return Scene(**{**fields, **changes})  # type: ignore[arg-type]


def power_dbm(rows: Iterable[AirRow], span: Span) -> float:
    """Power in a stretch, averaged over all sweeps."""
    total, sweeps = 0.0, set()
    for row in rows:
        sweeps.add(row.sweep)
        centre = row.low_hz + row.bin_hz * (np.arange(len(row.levels_dbm)) + 0.5)
        inside = (centre > span.low_hz) & (centre < span.high_hz)
        total += float(np.sum(10 ** (row.levels_dbm[inside] / 10)))
    return 10 * math.log10(total / len(sweeps))


@pytest.mark.parametrize("window", ["hann", "rectangular"])
def test_welch_gives_what_scipy_gives(window, authority):
    rng = np.random.default_rng(7)
    air = rng.standard_normal(4096) + 1j * rng.standard_normal(4096)
    _, theirs = scipy_signal.welch(
        air,
        fs=2.8e6,
        window={"hann": "hann", "rectangular": "boxcar"}[window],
        nperseg=112,
        noverlap=56,
        detrend=False,
        return_onesided=False,
        scaling="density",
    )
    ours = welch_density(air, rate_hz=2.8e6, size=112, window=window)
    ratio = ours / np.fft.fftshift(theirs)
    authority(
        f"Welch power density, {window} window, as a ratio",
        source="scipy.signal.welch",
        ours=float(np.max(np.abs(ratio - 1))),
        theirs=0.0,
        tolerance=1e-12,
        kind="library",
    )


def test_density_times_rate_is_the_mean_power_of_white_noise():
    # Parseval's theorem; 400 half-overlapping segments leave about 0.5 % of statistical error over 64 bins.
    rng = np.random.default_rng(3)
    air = rng.standard_normal(64 * 200) * 3.0 + 0j
    density = welch_density(air, rate_hz=1e6, size=64)
    assert np.sum(density) * 1e6 / 64 == pytest.approx(np.mean(np.abs(air) ** 2), rel=0.02)


def test_a_single_rectangular_segment_keeps_the_power_exactly():
    # Parseval's theorem without any overlap or window.
    rng = np.random.default_rng(3)
    air = rng.standard_normal(64) + 1j * rng.standard_normal(64)
    density = welch_density(air, rate_hz=64.0, size=64, window="rectangular")
    assert np.sum(density) == pytest.approx(np.mean(np.abs(air) ** 2), rel=1e-12)


@pytest.mark.parametrize(
    ("slot_hz", "width_hz", "useful_us"),
    [(8_000_000, 7.607e6, 896.0), (7_000_000, 6.656e6, 1024.0), (6_000_000, 5.705e6, 1194.667)],
)
def test_multiplexes_have_the_standard_width_and_symbol(slot_hz, width_hz, useful_us, authority):
    multiplex = Multiplex(label="x", centre_hz=610_000_000, slot_hz=slot_hz, level_dbm=-60)
    source = "EN 300 744, 8k mode: 6817 carriers, useful symbol 896 us in 8 MHz; from memory"
    for computation, ours, theirs, tolerance, unit in (
        ("Width of an OFDM multiplex", multiplex.width_hz, width_hz, 500, "Hz"),
        ("Useful OFDM symbol", multiplex.useful_s * 1e6, useful_us, 0.001, "us"),
    ):
        name = f"{computation} in a TV channel of {slot_hz // 1_000_000} MHz"
        authority(name, source=source, ours=ours, theirs=theirs, tolerance=tolerance, kind="memory", unit=unit)


@pytest.mark.parametrize("slot_hz", [8_000_000, 7_000_000, 6_000_000])
def test_the_spectrum_of_a_generated_multiplex_is_as_wide_as_the_standard_says(slot_hz, authority):
    multiplex = Multiplex(label="x", centre_hz=610_000_000, slot_hz=slot_hz, level_dbm=-60)
    air = multiplex_baseband(multiplex, symbols=20, rng=np.random.default_rng(1))
    rate_hz = float(multiplex.rate_hz)
    frequency, density = scipy_signal.welch(air, fs=rate_hz, nperseg=2048, return_onesided=False, detrend=False)
    inside = np.abs(frequency) < 2_500_000
    above_half = np.sort(frequency[density > 0.5 * np.median(density[inside])])
    # Two bins of the estimate: one on each edge.
    authority(
        f"Half-power width of a generated multiplex in a TV channel of {slot_hz // 1_000_000} MHz",
        source="EN 300 744, 8k mode, from memory; the width measured with scipy.signal.welch",
        ours=float(above_half[-1] - above_half[0]),
        theirs={8: 7.607e6, 7: 6.656e6, 6: 5.705e6}[slot_hz // 1_000_000],
        tolerance=2 * rate_hz / 2048,
        kind="memory",
        unit="Hz",
    )


def test_the_guard_interval_repeats_the_end_of_the_symbol():
    multiplex = Multiplex(label="x", centre_hz=0, slot_hz=8_000_000, level_dbm=0, guard_divisor=8)
    air = multiplex_baseband(multiplex, symbols=2, rng=np.random.default_rng(1))
    # EN 300 744: the useful symbol lasts 896 us, a guard interval of 1/8 is 112 us.
    guard, useful = (round(seconds * float(multiplex.rate_hz)) for seconds in (112e-6, 896e-6))
    assert len(air) == 2 * (guard + useful)
    np.testing.assert_allclose(air[:guard], air[useful : useful + guard])


def test_the_generated_floor_is_thermal_noise_plus_the_noise_figure(authority):
    rows = list(render(scene(), np.random.default_rng(5)))
    # 12 sweeps x 8 bins x about 50 independent segments: the mean is sure to 0.06 dB; three times that is allowed.
    authority(
        "Generated noise floor in 200 kHz with a noise figure of 6 dB",
        source="k T0 B with k from scipy.constants (exact in the SI) and T0 = 290 K, plus the noise figure",
        ours=power_dbm(rows, Span(603_000_000, 603_200_000)),
        theirs=10 * math.log10(constants.k * 290 * 200_000 * 1000) + 6.0,
        tolerance=0.2,
        kind="library",
        unit="dBm",
    )


def test_single_shot_levels_scatter_as_chi_square_says(authority):
    receiver = AirReceiver(
        noise_figure_db=6.0, sample_rate_hz=2_800_000, hop_hz=2_000_000, bin_hz=25_000, averages=1, window="rectangular"
    )
    levels = np.concatenate(
        [row.levels_dbm for row in render(scene(receiver=receiver, sweeps=20), np.random.default_rng(5))]
    )
    # Power of complex Gaussian noise in one bin is exponential (chi-square with 2 degrees of freedom).
    authority(
        "Median below mean of single-shot noise, dB",
        source="scipy.stats.chi2 with 2 degrees of freedom",
        ours=float(np.median(levels) - 10 * np.log10(np.mean(10 ** (levels / 10)))),
        theirs=10 * math.log10(float(stats.chi2.median(2)) / 2),
        tolerance=0.15,
        kind="library",
    )


def test_a_multiplex_arrives_at_its_stated_level():
    multiplex = Multiplex(label="38", centre_hz=610_000_000, slot_hz=8_000_000, level_dbm=-62.0)
    rows = list(render(scene(multiplexes=(multiplex,)), np.random.default_rng(5)))
    assert power_dbm(rows, Span(606_000_000, 614_000_000)) == pytest.approx(-62.0, abs=0.1)


def test_a_part_of_a_multiplex_holds_its_share_of_the_level():
    multiplex = Multiplex(label="38", centre_hz=610_000_000, slot_hz=8_000_000, level_dbm=-62.0)
    rows = list(render(scene(multiplexes=(multiplex,)), np.random.default_rng(5)))
    # 1 MHz of 7.607 MHz.
    assert power_dbm(rows, Span(609_000_000, 610_000_000)) == pytest.approx(-62.0 - 10 * math.log10(7.607), abs=0.2)


def test_a_multiplex_leaves_the_air_beside_it_alone():
    multiplex = Multiplex(label="38", centre_hz=610_000_000, slot_hz=8_000_000, level_dbm=-62.0)
    quiet = power_dbm(render(scene(), np.random.default_rng(5)), Span(600_000_000, 602_000_000))
    beside = power_dbm(
        render(scene(multiplexes=(multiplex,)), np.random.default_rng(5)), Span(600_000_000, 602_000_000)
    )
    assert beside == pytest.approx(quiet, abs=0.5)


@pytest.mark.parametrize("carrier_hz", [611_300_000, 609_996_337, 608_000_000])
def test_an_fm_carrier_arrives_at_its_stated_level_wherever_it_falls_in_a_hop(carrier_hz):
    carrier = AirCarrier(label="c", carrier_hz=carrier_hz, level_dbm=-70.0, peak_deviation_hz=40_000)
    rows = list(render(scene(carriers=(carrier,)), np.random.default_rng(5)))
    around = Span(carrier_hz - 300_000, carrier_hz + 300_000)
    assert power_dbm(rows, around) == pytest.approx(-70.0, abs=0.2)


def test_most_of_an_fm_carrier_lies_inside_carsons_bandwidth():
    # Carson's rule holds about 98 % of the power (common practice; Haykin, Communication Systems).
    carrier = AirCarrier(label="c", carrier_hz=0, level_dbm=0.0, peak_deviation_hz=40_000)
    air = fm_baseband(size=65_536, rate_hz=1e6, peak_deviation_hz=40_000, audio_hz=15_000, rng=np.random.default_rng(2))
    power = np.abs(np.fft.fft(air)) ** 2
    inside = np.abs(np.fft.fftfreq(len(air), 1e-6)) <= carrier.width_hz / 2
    assert carrier.width_hz == 110_000
    assert np.sum(power[inside]) / np.sum(power) > 0.98


def test_the_peak_deviation_is_reached_and_not_passed():
    air = fm_baseband(size=65_536, rate_hz=1e6, peak_deviation_hz=40_000, audio_hz=15_000, rng=np.random.default_rng(2))
    deviation_hz = np.diff(np.unwrap(np.angle(air))) / (2 * np.pi) * 1e6
    assert np.max(np.abs(deviation_hz)) == pytest.approx(40_000, rel=1e-6)


def test_a_carrier_that_is_seldom_on_the_air_is_seen_in_some_sweeps_only():
    carrier = AirCarrier(label="c", carrier_hz=611_300_000, level_dbm=-70.0, peak_deviation_hz=2_500, duty=0.5)
    rows = list(render(scene(carriers=(carrier,), sweeps=20), np.random.default_rng(5)))
    seen = [row.levels_dbm.max() > -80 for row in rows if row.low_hz == 610_000_000]
    assert 0 < sum(seen) < len(seen)


def test_the_floor_steps_at_the_hop_border():
    receiver = AirReceiver(
        noise_figure_db=6.0,
        sample_rate_hz=2_800_000,
        hop_hz=2_000_000,
        bin_hz=25_000,
        floor_steps=(FloorStep(from_hz=608_000_000, noise_figure_db=10.0),),
    )
    rows = list(render(scene(receiver=receiver), np.random.default_rng(5)))
    below = power_dbm(rows, Span(607_000_000, 608_000_000))
    above = power_dbm(rows, Span(608_000_000, 609_000_000))
    assert above - below == pytest.approx(4.0, abs=0.3)


def test_the_dc_spike_stands_in_the_middle_of_each_hop():
    receiver = AirReceiver(
        noise_figure_db=6.0, sample_rate_hz=2_800_000, hop_hz=2_000_000, bin_hz=25_000, dc_spike_dbm=-80.0
    )
    for row in render(scene(receiver=receiver, sweeps=1), np.random.default_rng(5)):
        assert int(np.argmax(row.levels_dbm)) == 40


def test_a_receiver_driven_beyond_full_scale_makes_products_that_are_not_on_the_air():
    # Two tones 400 kHz apart in a clipped converter: third-order products 400 kHz outside them.
    carriers = tuple(
        AirCarrier(label=str(hz), carrier_hz=hz, level_dbm=-20.0, peak_deviation_hz=1_000, audio_hz=3_000)
        for hz in (610_800_000, 611_200_000)
    )
    product = Span(611_500_000, 611_700_000)
    clipped = AirReceiver(
        noise_figure_db=6.0, sample_rate_hz=2_800_000, hop_hz=2_000_000, bin_hz=25_000, full_scale_dbm=-21.0
    )
    clean_dbm = power_dbm(render(scene(carriers=carriers), np.random.default_rng(5)), product)
    clipped_dbm = power_dbm(render(scene(carriers=carriers, receiver=clipped), np.random.default_rng(5)), product)
    assert clipped_dbm > clean_dbm + 30


def expected_level_dbm(scene: Scene, span: Span) -> float:
    """Return the power that truly is in a stretch: noise, the share of each multiplex, and carriers inside by duty.

    A carrier counts whole where its frequency is inside, so the stretch should hold its bandwidth or none of it.
    """
    receiver = scene.receiver
    low_hz = scene.low_hz + (span.low_hz - scene.low_hz) // receiver.hop_hz * receiver.hop_hz
    figure = receiver.noise_figure_at(low_hz)
    total_mw = mw_from_dbm(thermal_dbm(bandwidth_hz=span.width_hz, noise_figure_db=figure))
    for multiplex in scene.multiplexes:
        overlap = min(span.high_hz, multiplex.span.high_hz) - max(span.low_hz, multiplex.span.low_hz)
        total_mw += mw_from_dbm(multiplex.level_dbm) * max(0.0, overlap) / multiplex.width_hz
    for carrier in scene.carriers:
        if span.holds_hz(carrier.carrier_hz):
            total_mw += mw_from_dbm(carrier.level_dbm) * carrier.duty
    return 10 * math.log10(total_mw)


def test_the_stated_truth_and_the_generated_air_agree():
    air = scene(
        multiplexes=(Multiplex(label="37", centre_hz=602_000_000, slot_hz=8_000_000, level_dbm=-75.0),),
        carriers=(AirCarrier(label="c", carrier_hz=612_000_000, level_dbm=-85.0, peak_deviation_hz=30_000),),
    )
    rows = list(render(air, np.random.default_rng(5)))
    for span in (Span(600_000_000, 601_000_000), Span(611_700_000, 612_300_000), Span(615_000_000, 616_000_000)):
        assert power_dbm(rows, span) == pytest.approx(expected_level_dbm(air, span), abs=0.25)


def test_the_same_seed_gives_the_same_air_and_another_seed_another():
    first = [row.levels_dbm for row in render(scene(sweeps=1), np.random.default_rng(5))]
    again = [row.levels_dbm for row in render(scene(sweeps=1), np.random.default_rng(5))]
    other = [row.levels_dbm for row in render(scene(sweeps=1), np.random.default_rng(6))]
    np.testing.assert_array_equal(first, again)
    assert not np.array_equal(first, other)


def test_rows_tile_the_scene_and_the_last_hop_may_be_shorter():
    rows = list(render(scene(high_hz=617_000_000, sweeps=2), np.random.default_rng(5)))
    for row, following in itertools.pairwise(rows[:10]):
        assert row.high_hz == following.low_hz
    assert rows[9].high_hz == 617_000_000
    assert rows[10].seconds == 10.0
    assert rows[10].low_hz == 598_000_000


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"averages": 0}, "1 segment or more; given 0"),
        ({"window": "flat"}, "unknown window 'flat'; known: hann, rectangular"),
        ({"hop_hz": 3_000_000}, "at most the sample rate; given 3000000 of 2800000 Hz"),
        ({"bin_hz": 30_000}, "in bins of 30000 Hz"),
    ],
)
def test_an_impossible_receiver_is_refused_in_words(changes, words):
    fields = {"noise_figure_db": 6.0, "sample_rate_hz": 2_800_000, "hop_hz": 2_000_000, "bin_hz": 25_000}
    with pytest.raises(ValueError, match=words):
        AirReceiver(**{**fields, **changes})


def test_a_scene_that_runs_downwards_is_refused_in_words():
    with pytest.raises(ValueError, match=r"upwards; given 598\.000 to 597\.000 MHz"):
        scene(high_hz=597_000_000)


def test_an_unknown_guard_interval_is_refused_in_words():
    with pytest.raises(ValueError, match=r"1/4, 1/8, 1/16 or 1/32; given 1/5"):
        Multiplex(label="x", centre_hz=0, slot_hz=8_000_000, level_dbm=0, guard_divisor=5)


def test_a_sample_rate_that_no_number_of_symbols_fills_is_refused_in_words():
    receiver = AirReceiver(
        noise_figure_db=6.0, sample_rate_hz=2_048_026, hop_hz=1_024_013, bin_hz=1_024_013, averages=2
    )
    multiplex = Multiplex(label="38", centre_hz=598_000_000, slot_hz=8_000_000, level_dbm=-60.0, guard_divisor=32)
    air = scene(receiver=receiver, high_hz=598_000_000 + 1_024_013, multiplexes=(multiplex,))
    with pytest.raises(ValueError, match=r"multiplex 38 never make a whole number of samples"):
        list(render(air, np.random.default_rng(5)))


def density_of(multiplex, symbols):
    air = multiplex_baseband(multiplex, symbols=symbols, rng=np.random.default_rng(1))
    frequency, density = scipy_signal.welch(
        air, fs=float(multiplex.rate_hz), nperseg=4096, return_onesided=False, detrend=False
    )
    order = np.argsort(frequency)
    return frequency[order], density[order]


@pytest.mark.parametrize(
    ("standard", "theirs", "source"),
    [
        ("isdb-t", 13 * 6e6 / 14, "ARIB STD-B31: 13 segments of 6/14 MHz; from memory"),
        ("atsc", 4.5e6 / 286 * 684 / 2, "ATSC A/53: half of the symbol rate of 4.5/286 x 684 MHz; from memory"),
    ],
)
def test_other_standards_are_as_wide_as_they_say(standard, theirs, source, authority):
    multiplex = Multiplex(label="x", centre_hz=0, slot_hz=6_000_000, level_dbm=0, standard=standard)
    frequency, density = density_of(multiplex, 40 if standard == "isdb-t" else 400)
    above_half = frequency[density > 0.5 * np.median(density[np.abs(frequency) < 2_000_000])]
    # Two bins of the estimate, one on each edge.
    authority(
        f"Half-power width of a generated multiplex, {standard}",
        source=source,
        ours=float(above_half[-1] - above_half[0]),
        theirs=theirs,
        tolerance=2 * float(multiplex.rate_hz) / 4096,
        kind="memory",
        unit="Hz",
    )


def test_the_pilot_stands_where_the_standard_has_it(authority):
    multiplex = Multiplex(label="x", centre_hz=0, slot_hz=6_000_000, level_dbm=0, standard="atsc")
    frequency, density = density_of(multiplex, 400)
    authority(
        "Pilot above the lower edge of the TV channel",
        source="ATSC A/53, from memory",
        ours=float(frequency[np.argmax(density)]) + 3_000_000,
        theirs=309_440.559,
        tolerance=float(multiplex.rate_hz) / 4096,  # one bin of the estimate
        kind="memory",
        unit="Hz",
    )
    assert pytest.approx(309_440.559) == ATSC_PILOT_HZ


def test_an_echo_cuts_a_notch_where_it_is_asked_for():
    # Two paths of amplitudes 1 and a in antiphase leave (1 - a) of the amplitude, in phase (1 + a).
    echo = Echo(delay_ns=250.0, amplitude=0.8, notch_hz=1_000_000)
    multiplex = Multiplex(label="x", centre_hz=0, slot_hz=8_000_000, level_dbm=0, echo=echo)
    frequency, density = density_of(multiplex, 60)
    notch, peak = (float(np.mean(density[np.abs(frequency - hz) < 40_000])) for hz in (1_000_000, -1_000_000))
    assert 10 * math.log10(peak / notch) == pytest.approx(20 * math.log10(1.8 / 0.2), abs=1.0)


def test_levels_stop_at_the_top_of_the_scale():
    multiplex = Multiplex(label="38", centre_hz=610_000_000, slot_hz=8_000_000, level_dbm=-62.0)
    receiver = AirReceiver(
        noise_figure_db=6.0, sample_rate_hz=2_800_000, hop_hz=2_000_000, bin_hz=25_000, top_dbm=-88.0
    )
    rows = list(render(scene(multiplexes=(multiplex,), receiver=receiver, sweeps=1), np.random.default_rng(1)))
    levels = np.concatenate([row.levels_dbm for row in rows])
    assert levels.max() == -88.0
    assert np.count_nonzero(levels == -88.0) > 100


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"standard": "pal"}, "known: atsc, dvb-t, isdb-t"), ({"standard": "atsc", "slot_hz": 8_000_000}, "6 MHz")],
)
def test_an_unknown_standard_is_refused_in_words(changes, words):
    with pytest.raises(ValueError, match=words):
        Multiplex(**{"label": "x", "centre_hz": 0, "slot_hz": 6_000_000, "level_dbm": 0, **changes})


def test_drawn_scenes_are_the_same_for_a_seed_and_hold_every_kind():
    drawn = [draw_scene(seed) for seed in range(60)]
    assert draw_scene(7) == drawn[7]
    assert {channel.span.width_hz for one in drawn for channel in one.raster.channels} == {6e6, 7e6, 8e6}
    assert {m.standard for one in drawn for m in one.scene.multiplexes} == {"dvb-t", "isdb-t", "atsc"}
    assert {one.overloaded for one in drawn} == {True, False}
    assert {bool(one.scene.receiver.floor_steps) for one in drawn} == {True, False}


def test_the_truth_of_a_drawn_scene_is_what_its_receiver_hears():
    drawn = next(d for d in map(draw_scene, range(100)) if not d.overloaded and max([0, *d.multiplex_db.values()]) > 30)
    strongest = max(drawn.scene.multiplexes, key=lambda m: drawn.multiplex_db[m.label])
    seed = int(drawn.scene.name.split()[1])
    power = 0.0
    for block in drawn_blocks(drawn, seed):
        inside = np.abs(block.frequencies_hz() - strongest.centre_hz) < strongest.width_hz / 2
        power += float(np.sum(10 ** (block.levels_db[inside] / 10))) / drawn.scene.sweeps
    # Half a bin of 50 kHz at each edge is 1 % of the width, and an echo over a finite stretch a few per cent more.
    assert 10 * math.log10(power) == pytest.approx(strongest.level_dbm, abs=0.6)

"""The noise floor on noise of known statistics."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from bandwright.core.floor import floor_of, noise_level

# 4,000 bins of exponential noise: the mean itself is known to 4.34 / sqrt(4000) = 0.07 dB; the cube root is normal to
# about 0.1 dB. A quarter of a dB holds both.
TOLERANCE_DB = 0.25
BINS = 4000


def db(power):
    return 10 * np.log10(power)


def held_mean(sweeps, shape):
    """Mean of the highest of `sweeps` gamma values of mean 1, by integrating the quantile function."""
    return integrate.quad(lambda q: stats.gamma.ppf(q ** (1 / sweeps), shape, scale=1 / shape), 0, 1)[0]


@pytest.mark.parametrize("averages", [1, 2, 8, 64])
@pytest.mark.parametrize("occupied", [0.0, 0.3])
def test_the_floor_of_averaged_noise_is_its_mean_whatever_the_number_of_averages(authority, averages, occupied):
    # n averages of a power spectrum: chi-square with 2n degrees of freedom, divided by 2n.
    power = stats.chi2.rvs(2 * averages, scale=1 / (2 * averages), size=BINS, random_state=averages)
    power[: int(occupied * BINS)] *= 1000
    authority(
        f"noise floor from {averages} averages, {occupied:.0%} occupied",
        source="scipy.stats.chi2 with 2n degrees of freedom: mean 2n",
        ours=db(noise_level(power).power),
        theirs=db(stats.chi2.mean(2 * averages, scale=1 / (2 * averages))),
        tolerance=TOLERANCE_DB,
        kind="library",
        unit="dB",
    )


@pytest.mark.parametrize(("sweeps", "averages"), [(20, 1), (100, 1), (50, 8)])
def test_the_floor_of_held_noise_is_the_mean_of_the_held_noise(authority, sweeps, averages):
    rows = stats.gamma.rvs(averages, scale=1 / averages, size=(sweeps, BINS), random_state=sweeps)
    authority(
        f"noise floor of the highest of {sweeps} sweeps of {averages} averages",
        source="scipy.stats.gamma, mean of the highest value by integrating its quantile function",
        ours=db(noise_level(rows.max(axis=0)).power),
        theirs=db(held_mean(sweeps, averages)),
        tolerance=TOLERANCE_DB,
        kind="library",
        unit="dB",
    )


def test_a_crowded_band_still_shows_its_floor_between_flat_multiplexes():
    rng = np.random.default_rng(4)
    power = rng.gamma(30, 1 / 30, size=BINS)
    power[: int(0.9 * BINS)] *= 1000
    assert db(noise_level(power).power) == pytest.approx(0, abs=0.5)


def test_levels_in_whole_decibels_give_the_floor_to_a_fraction_of_one():
    power = np.random.default_rng(5).gamma(8, 1 / 8, size=BINS)
    assert db(noise_level(10 ** (np.round(db(power)) / 10)).power) == pytest.approx(0, abs=0.3)


def test_eleven_values_give_no_floor():
    assert noise_level(np.ones(11)) is None


@given(st.lists(st.floats(min_value=1e-30, max_value=1e30) | st.just(float("nan")), max_size=200))
def test_a_floor_is_never_above_the_highest_or_below_the_lowest_value_by_more_than_its_correction(values):
    power = np.array(values, dtype=np.float64)
    level = noise_level(power)
    if level is not None:
        assert np.nanmin(power) * 0.99 <= level.power <= np.nanmax(power) * 1.6


HOP = 240
BIN_HZ = 10_000.0


def band(hops, *, floor_db, signal, averages=20, seed=7):
    """Noise over hops of 2.4 MHz, with the floor of each hop; `signal` = (first bin, last bin, dB)."""
    power = np.random.default_rng(seed).gamma(averages, 1 / averages, size=hops * HOP)
    power *= np.repeat(10 ** (np.asarray(floor_db) / 10), HOP)
    if signal is not None:
        first, last, level = signal
        power[first:last] += 10 ** (level / 10) * np.random.default_rng(seed + 1).gamma(
            averages, 1 / averages, size=last - first
        )
    starts = np.zeros(power.size, dtype=bool)
    starts[::HOP] = True
    centres = 600e6 + BIN_HZ * np.arange(power.size)
    return db(
        floor_of(power=power, centres_hz=centres, widths_hz=np.full(power.size, BIN_HZ), hop_starts=starts)
    ).reshape(hops, HOP)[:, HOP // 2]


def test_the_floor_steps_with_the_instrument_at_a_hop_border():
    truth = [0, 0, 0, 4, 4, 4, 4, 4]
    assert band(8, floor_db=truth, signal=None) == pytest.approx(truth, abs=0.5)


def test_one_hop_that_stands_above_both_neighbours_is_the_instrument():
    truth = [0, 0, 0, 5, 0, 0, 0, 0]
    assert band(8, floor_db=truth, signal=None) == pytest.approx(truth, abs=0.5)


@pytest.mark.parametrize("level_db", [4, 10, 30, 60])
def test_a_multiplex_that_fills_whole_hops_does_not_raise_the_floor(level_db):
    # 7.6 MHz from the middle of hop 1 to the middle of hop 4: hops 2 and 3 hold nothing but signal.
    found = band(8, floor_db=[0] * 8, signal=(370, 1130, level_db))
    assert found == pytest.approx([0] * 8, abs=0.6)


def test_a_slow_drift_is_followed():
    truth = np.linspace(0, 8, 40)
    assert band(40, floor_db=truth, signal=None) == pytest.approx(truth, abs=1.0)


def test_a_raised_floor_over_forty_megahertz_is_the_instrument_even_without_hop_borders():
    power = np.random.default_rng(9).gamma(20, 1 / 20, size=8000)
    power[4000:] *= 10 ** (6 / 10)
    centres = 500e6 + BIN_HZ * np.arange(power.size)
    starts = np.zeros(power.size, dtype=bool)
    found = db(floor_of(power=power, centres_hz=centres, widths_hz=np.full(power.size, BIN_HZ), hop_starts=starts))
    assert found[1000] == pytest.approx(0, abs=0.3)
    assert found[7000] == pytest.approx(6, abs=0.3)


def test_a_sweep_narrower_than_a_megahertz_has_no_floor():
    power = np.ones(90)
    found = floor_of(
        power=power,
        centres_hz=600e6 + BIN_HZ * np.arange(90),
        widths_hz=np.full(90, BIN_HZ),
        hop_starts=np.zeros(90, dtype=bool),
    )
    assert np.isnan(found).all()


@pytest.mark.parametrize("step_db", [4, 10, 14])
def test_a_floor_that_steps_at_hop_borders_and_back_is_followed(step_db):
    truth = [0, 0, 0, step_db, step_db, step_db, 0, 0]
    assert band(8, floor_db=truth, signal=None) == pytest.approx(truth, abs=0.5)


def test_a_large_step_that_lasts_to_the_end_is_followed():
    truth = [0, 0, 0, 12, 12, 12, 12, 12]
    assert band(8, floor_db=truth, signal=None) == pytest.approx(truth, abs=0.5)


def test_a_multiplex_that_begins_at_a_hop_border_and_is_cut_off_by_the_end_of_the_sweep_is_no_step():
    # Bins 1200 to 1920 are hops 5 to 7, 7.2 MHz up to the end: as wide as a part of a multiplex.
    assert band(8, floor_db=[0] * 8, signal=(1200, 1920, 12)) == pytest.approx([0] * 8, abs=0.6)


def test_a_single_shot_in_coarse_bins_has_one_floor():
    # 40 bins of 50 kHz a hop: the level of one hop alone is known to 0.75 dB, and by chance off by 2 dB.
    power = np.random.default_rng(3).exponential(size=800)
    starts = np.zeros(800, dtype=bool)
    starts[::40] = True
    found = db(
        floor_of(
            power=power,
            centres_hz=500e6 + 50e3 * np.arange(800),
            widths_hz=np.full(800, 50e3),
            hop_starts=starts,
        )
    )
    assert found == pytest.approx(np.zeros(800), abs=1.5)


def test_a_step_under_a_multiplex_is_seen_by_the_floor_beside_it():
    # The floor steps where the multiplex is (hop 3 of 12): no jump shows, but no signal goes on for 20 MHz either.
    truth = [0, 0, 0, 7, 7, 7, 7, 7, 7, 7, 7, 7]
    found = band(12, floor_db=truth, signal=(530, 1290, 25), averages=40)
    assert found[6:] == pytest.approx(truth[6:], abs=0.5)
    assert found[:2] == pytest.approx(truth[:2], abs=0.5)


def test_a_multiplex_beside_a_step_is_no_part_of_the_floor():
    truth = [0, 0, 0, 6, 6, 6, 6, 6, 6, 6]
    found = band(10, floor_db=truth, signal=(850, 1610, 14), averages=40)
    assert found == pytest.approx(truth, abs=0.6)


def test_a_single_raised_hop_near_the_end_of_the_band_is_the_instrument():
    truth = [0, 0, 0, 0, 0, 0, 8, 0]
    assert band(8, floor_db=truth, signal=None) == pytest.approx(truth, abs=0.5)


@pytest.mark.parametrize("averages", [1, 4])
def test_few_coarse_bins_of_noise_never_read_as_signals_with_a_floor_far_below(averages):
    # 40 bins of 50 kHz a hop: a crowd of 12 of them lies 3 dB low somewhere; over 19 hops the mean is known to 0.2 dB.
    starts = np.zeros(760, dtype=bool)
    starts[::40] = True
    for seed in range(10):
        power = np.random.default_rng(seed).gamma(averages, 1 / averages, size=760)
        found = db(
            floor_of(
                power=power, centres_hz=500e6 + 50e3 * np.arange(760), widths_hz=np.full(760, 50e3), hop_starts=starts
            )
        )
        assert np.median(found) == pytest.approx(0, abs=0.75), seed

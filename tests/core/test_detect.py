"""Detection at a constant rate of false alarms, on noise of known statistics."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from bandwright.core.detect import Noise, noise_of, signal_runs
from bandwright.core.gamma import gamma_excess, gamma_shape, gamma_tail

BIN_HZ = 5_000.0


def runs(mean, **changes):
    given = {"mean": mean, "held": mean, "sweeps": 1, "bin_hz": BIN_HZ, "sections": np.zeros(mean.size), **changes}
    return list(signal_runs(**given))


def windowed_noise(bins, averages, seed):
    """Averaged power spectra through a Hann window: each line takes in half of its neighbours' amplitude."""
    rng = np.random.default_rng(seed)
    power = np.zeros(bins)
    for _ in range(averages):
        lines = rng.standard_normal(bins) + 1j * rng.standard_normal(bins)
        power += np.abs(lines - (np.roll(lines, 1) + np.roll(lines, -1)) / 2) ** 2
    return power / (averages * 3)  # E|x|^2 = 2 (1 + 1/4 + 1/4)


@pytest.mark.parametrize("shape", [1, 3.7, 64, 2000])
@pytest.mark.parametrize("tail", [0.3, 1e-3, 1e-8])
def test_tails_of_the_gamma_distribution_are_those_of_scipy(authority, shape, tail):
    theirs = stats.gamma.isf(tail, shape) / shape
    authority(
        f"Multiple of its mean that {shape:g} averages exceed once in {1 / tail:g}",
        source="scipy.stats.gamma.isf (chi-square with 2n degrees of freedom)",
        ours=gamma_excess(shape=shape, tail=tail),
        theirs=float(theirs),
        tolerance=float(2e-6 * theirs),
        kind="library",
    )
    assert gamma_tail(shape=shape, value=shape * theirs) == pytest.approx(tail, rel=1e-6)


def test_a_tail_outside_zero_and_one_is_refused_in_words():
    with pytest.raises(ValueError, match="between 0 and 1"):
        gamma_excess(shape=1, tail=0)


@pytest.mark.parametrize("shape", [1.0, 6.0, 100.0])
def test_the_shape_is_read_from_the_values(shape):
    # 1.5 % of the closed form and four standard errors of about sqrt(2 / 40,000).
    values = stats.gamma.rvs(shape, size=40_000, random_state=2)
    assert gamma_shape(values) == pytest.approx(shape, rel=0.015 + 4 * math.sqrt(2 / 40_000))


def test_noise_is_known_through_signals_and_a_window(authority):
    power = windowed_noise(20_000, 4, seed=1)
    power[500:560] += 100
    power[9_000:9_004] += 1_000
    noise = noise_of(power)
    assert noise is not None
    assert noise.mean == pytest.approx(1, abs=0.02)  # four standard errors of 0.5 / sqrt(20,000) and the cut of 0.1 %
    assert noise.shape == pytest.approx(4, rel=0.1)
    authority(
        "Correlation of neighbouring bins through a Hann window",
        source="F. J. Harris, Proc. IEEE 66, 1978: 2/3 of the amplitude, so 4/9 of the power",
        ours=noise.correlations[0],
        theirs=4 / 9,
        tolerance=0.04,  # four standard errors of 1 / sqrt(20,000), and values beyond 1 in 1000 are left out
        kind="memory",
    )


@pytest.mark.parametrize("averages", [1, 4, 16, 64])
@pytest.mark.parametrize("window", ["none", "hann"])
def test_false_alarms_come_at_the_stated_rate_within_a_factor_of_two(authority, averages, window):
    bins, rate = 200_000, 1e-3
    if window == "hann":
        power = windowed_noise(bins, averages, seed=averages)
    else:
        power = stats.chi2.rvs(2 * averages, scale=1 / (2 * averages), size=bins, random_state=averages)
    found = len(runs(power, false_alarms=rate, least_db=-math.inf)) / bins
    # 200 are expected: chance alone is 7 %.
    authority(
        f"False signals a bin of noise, {averages} averages, window {window}, as a part of the stated rate",
        source="scipy.stats.chi2 with 2n degrees of freedom; counted",
        ours=math.log2(found / rate),
        theirs=0.0,
        tolerance=1.0,
        kind="library",
        unit="octaves",
    )


@pytest.mark.parametrize("least_bins", [1, 4, 24])
def test_a_signal_is_found_at_its_place_with_its_width(least_bins):
    rng = np.random.default_rng(7)
    power = rng.gamma(16, 1 / 16, size=4_000)
    power[2_000 : 2_000 + least_bins] += 10 * rng.gamma(16, 1 / 16, size=least_bins)
    [(first, last)] = runs(power)
    # The smoothing over five bins reaches two beyond each side.
    assert 1_997 <= first <= 2_000
    assert 2_000 + least_bins - 1 <= last <= 2_000 + least_bins + 2


def test_a_wide_faint_signal_that_shows_in_no_single_bin_is_found():
    # 40 bins at twice the floor in a single shot: the chance that one of 40 passes ln(1e6 x 8 / 2.5) = 15 is 2 %.
    rng = np.random.default_rng(3)
    power = rng.exponential(size=4_000)
    power[1_000:1_040] *= 4
    found = runs(power)
    assert len(found) == 1
    assert 980 <= found[0][0] <= found[0][1] <= 1_060


def test_a_signal_in_one_sweep_of_many_is_found_in_the_held_trace():
    rng = np.random.default_rng(4)
    rows = rng.gamma(16, 1 / 16, size=(40, 3_000))
    rows[7, 1_500] = 30
    assert runs(rows.mean(axis=0), held=rows.max(axis=0), sweeps=40) != []
    assert runs(np.delete(rows, 7, 0).mean(axis=0), held=np.delete(rows, 7, 0).max(axis=0), sweeps=39) == []


def test_signals_do_not_reach_over_a_gap_or_into_what_must_not_be_looked_at():
    power = np.random.default_rng(5).gamma(64, 1 / 64, size=2_000)
    power[1_000:1_010] += 100
    sections = np.repeat([0.0, 1.0], [1_005, 995])
    assert len(runs(power, sections=sections)) == 2
    power[990:1_020] = np.nan
    assert runs(power) == []


def test_thirty_one_bins_tell_nothing():
    assert runs(np.ones(31)) == []


@pytest.mark.parametrize(("averages", "level_db"), [(1, 13.0), (4, 8.0), (16, 4.5)])
def test_tones_in_noise_are_found_as_often_as_theory_says(authority, averages, level_db):
    # Every 500th bin holds a tone; what a tone and noise read together is non-central chi-square.
    bins, step, rate = 200_000, 500, 1e-4
    degrees, snr = 2 * averages, 10 ** (level_db / 10)
    rng = np.random.default_rng(averages)
    power = stats.chi2.rvs(degrees, scale=1 / degrees, size=bins, random_state=rng)
    tones = np.arange(step // 2, bins, step)
    power[tones] = stats.ncx2.rvs(degrees, degrees * snr, scale=1 / degrees, size=tones.size, random_state=rng)
    hits = np.zeros(bins, dtype=bool)
    for first, last in runs(power, false_alarms=rate, least_db=-math.inf, bin_hz=50_000.0):
        hits[first : last + 1] = True
    ours = float(np.mean(hits[tones]))
    # Single bins have a quarter of the rate, or all of it that is left where widths exceed together: between these.
    low, high = (
        float(stats.ncx2.sf(stats.chi2.isf(tail, degrees), degrees, degrees * snr)) for tail in (rate / 6, 2 * rate)
    )
    authority(
        f"Share of tones {level_db:g} dB above the noise in a bin that are found, {averages} averages",
        source="scipy.stats.ncx2 with 2n degrees of freedom, at 1/6 to 2 times the stated rate for a single bin",
        ours=ours,
        theirs=(low + high) / 2,
        tolerance=(high - low) / 2 + 3 * math.sqrt(0.25 / tones.size),
        kind="library",
    )


@pytest.mark.parametrize("rate", [1e-2, 1e-4])
def test_false_alarms_come_at_other_stated_rates_too(authority, rate):
    bins = 400_000
    found = len(runs(windowed_noise(bins, 4, seed=2), false_alarms=rate, least_db=-math.inf)) / bins
    # 40 are expected at the lower rate: chance alone is 16 %.
    authority(
        f"False signals a bin of noise at a stated rate of {rate:g}, as a part of it",
        source="scipy.stats.chi2 with 2n degrees of freedom; counted",
        ours=math.log2(found / rate),
        theirs=0.0,
        tolerance=1.0,
        kind="library",
        unit="octaves",
    )


@pytest.mark.parametrize(("bins", "tail"), [(2, 1e-3), (8, 1e-4), (40, 1e-4)])
def test_means_of_correlated_bins_exceed_their_limit_as_often_as_counted(authority, bins, tail):
    noise = Noise(shape=1.0, mean=1.0, correlations=(4 / 9, 1 / 36))
    power = np.concatenate([windowed_noise(1_000_000, 1, seed=seed) for seed in range(4)])
    means = np.convolve(power, np.ones(bins) / bins, mode="valid")
    authority(
        f"Chance that the mean of {bins} bins through a Hann window exceeds its limit, in octaves of {tail:g}",
        source="counted in 4,000,000 bins of simulated noise",
        ours=math.log2(float(np.mean(means > noise.limit(bins, tail))) / tail),
        theirs=0.0,
        tolerance=0.3,  # of the three moments, and of chance: 400 are expected at the least, in clusters
        kind="arithmetic",
        unit="octaves",
    )

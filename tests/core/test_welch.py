"""Welch's method against scipy, and against the power of the samples themselves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from bandwright.core.welch import Welch, hann, noise_bandwidth_bins


def samples(size=50_000, seed=1):
    rng = np.random.default_rng(seed)
    noise = rng.normal(size=size) + 1j * rng.normal(size=size)
    return 0.01 * noise + 0.5 * np.exp(2j * np.pi * 0.1237 * np.arange(size))


def averaged(values, size, step=None):
    welch = Welch(size=size)
    for start in range(0, len(values), step or len(values)):
        welch.add(values[start : start + (step or len(values))])
    total, count = welch.take()
    return total / count


@pytest.mark.parametrize("size", [16, 256, 1024])
@pytest.mark.parametrize("step", [None, 1, 777])
def test_power_in_each_bin_is_that_of_scipy(authority, size, step):
    values = samples(6000 if step == 1 else 50_000)
    _, theirs = signal.welch(
        values, fs=1.0, window="hann", nperseg=size, noverlap=size // 2, detrend=False, scaling="spectrum",
        return_onesided=False,
    )  # fmt: skip
    authority(
        "power spectrum by Welch's method, Hann window, half overlap",
        source="scipy.signal.welch, scaling='spectrum'",
        ours=averaged(values, size, step).tolist(),
        theirs=np.fft.fftshift(theirs).tolist(),
        tolerance=1e-12,
        kind="library",
    )


def test_divided_by_the_noise_bandwidth_it_is_scipys_density(authority):
    values, rate_hz, size = samples(), 2_400_000.0, 512
    _, density = signal.welch(
        values, fs=rate_hz, window="hann", nperseg=size, noverlap=size // 2, detrend=False, scaling="density",
        return_onesided=False,
    )  # fmt: skip
    noise_hz = noise_bandwidth_bins(hann(size)) * rate_hz / size
    authority(
        "power density: power in a bin divided by the window's equivalent noise bandwidth",
        source="scipy.signal.welch, scaling='density'",
        ours=(averaged(values, size) / noise_hz).tolist(),
        theirs=np.fft.fftshift(density).tolist(),
        tolerance=1e-12,
        kind="library",
    )


def test_density_summed_over_all_bins_is_the_power_of_the_samples(authority):
    rng = np.random.default_rng(5)
    values = rng.normal(size=400_000) + 1j * rng.normal(size=400_000)
    size = 512
    power = averaged(values, size)
    authority(
        "power over the whole band",
        source="Parseval's theorem: the mean square of the samples",
        ours=float(power.sum() / noise_bandwidth_bins(hann(size))),
        theirs=float(np.mean(np.abs(values) ** 2)),
        tolerance=0.005,  # samples at both ends of the recording weigh less
        kind="arithmetic",
    )


def test_the_noise_bandwidth_of_the_hann_window_is_one_and_a_half_bins(authority):
    authority(
        "equivalent noise bandwidth of the Hann window",
        source="F. J. Harris, Proc. IEEE 66 (1978), table I (from memory)",
        ours=noise_bandwidth_bins(hann(4096)),
        theirs=1.50,
        tolerance=1e-9,
        kind="memory",
        unit="bins",
    )
    np.testing.assert_allclose(hann(64), signal.get_window("hann", 64), atol=1e-15)


def test_segments_with_a_value_that_is_no_number_are_left_out_and_counted():
    values = samples(4096)
    values[2000] = np.nan
    welch = Welch(size=256)
    welch.add(values)
    total, count = welch.take()
    assert (count, welch.spoiled) == (31 - 2, 2)
    assert np.isfinite(total).all()


def test_what_comes_after_a_break_does_not_follow_on_what_was_before():
    values = samples(1000)
    broken = Welch(size=256)
    broken.add(values[:400])
    broken.break_off()
    broken.add(values[400:])
    total, count = broken.take()
    one, two = (Welch(size=256) for _ in range(2))
    one.add(values[:400])
    two.add(values[400:])
    (first, few), (second, more) = one.take(), two.take()
    assert count == few + more
    np.testing.assert_allclose(total, first + second)

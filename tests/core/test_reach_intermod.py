"""Levels and widths of intermodulation products."""

import math

import numpy as np
import pytest

from bandwright.core.products import FAMILIES
from bandwright.core.reach.intermod import (
    UNDER_TONE_DB,
    fifth_order_dbm,
    product_rms_hz,
    rms_deviation_hz,
    third_order_dbm,
    transmitter_product_dbm,
)

_OHM = 50.0
_SAMPLES = 4096


def _volts(dbm):
    return math.sqrt(2 * _OHM * 10 ** (dbm / 10) / 1000)


def _through(tones, *, cubic=0.0, quintic=0.0):
    """Return dBm by bin of x + cubic x^3 + quintic x^5 for tones {bin: dBm}, in the time domain and by FFT."""
    t = np.arange(_SAMPLES) / _SAMPLES
    x = sum(_volts(dbm) * np.cos(2 * np.pi * tone * t + tone) for tone, dbm in tones.items())
    spectrum = np.abs(np.fft.rfft(x + cubic * x**3 + quintic * x**5)) * 2 / _SAMPLES
    return lambda tone: 10 * math.log10(spectrum[tone] ** 2 / (2 * _OHM) * 1000)


def _cubic_for(iip3_dbm):
    """At the intercept point 3/4 a3 A^3 = A."""
    return 4 / (3 * _volts(iip3_dbm) ** 2)


def test_three_tones_at_minus_30_dbm_with_an_intercept_of_10_dbm(authority):
    two = third_order_dbm("2A-B", [-30, -30], iip3_dbm=10)
    three = third_order_dbm("A+B-C", [-30, -30, -30], iip3_dbm=10)
    source = "power series of a memoryless nonlinearity; D. M. Pozar, Microwave Engineering, 10.3"
    authority("2A-B of tones at -30 dBm, IIP3 +10 dBm", source=source, ours=two, theirs=-110.0, tolerance=0.005)
    authority("A+B-C of tones at -30 dBm, IIP3 +10 dBm", source=source, ours=three, theirs=-103.98, tolerance=0.005)


def test_a_cubic_in_the_time_domain_gives_the_same_levels(authority):
    # Tones whose products fall on bins of their own: 401, 417, 461.
    level = _through({401: -30, 417: -30, 461: -30}, cubic=_cubic_for(10))
    for family, bin_, tones in (("2A-B", 2 * 401 - 417, 2), ("A+B-C", 401 + 417 - 461, 3)):
        authority(
            f"{family} by a cubic in the time domain and FFT",
            source="numpy FFT of x + a3 x^3",
            ours=third_order_dbm(family, [-30] * tones, iip3_dbm=10),
            theirs=level(bin_),
            tolerance=0.01,
            kind="library",
        )


def test_unequal_tones_move_a_product_as_their_coefficients_say():
    level = _through({401: -28, 417: -41, 461: -35}, cubic=_cubic_for(5))
    assert third_order_dbm("2A-B", [-28, -41], iip3_dbm=5) == pytest.approx(level(385), abs=0.02)
    assert third_order_dbm("A+B-C", [-28, -41, -35], iip3_dbm=5) == pytest.approx(level(357), abs=0.02)


@pytest.mark.parametrize(
    ("family", "bin_", "dbm"),
    [("3A-2B", 3 * 401 - 2 * 417, (-10, -13)), ("2A+B-2C", 2 * 401 + 417 - 2 * 461, (-10, -13, -12)),
     ("3A-B-C", 3 * 401 - 417 - 461, (-10, -13, -12))],
)  # fmt: skip
def test_a_fifth_power_in_the_time_domain_gives_the_same_levels(family, bin_, dbm, authority):
    # At the intercept point 10/16 a5 A^5 = A.
    level = _through(dict(zip((401, 417, 461), dbm, strict=False)), quintic=16 / (10 * _volts(10) ** 4))
    authority(
        f"{family} by a fifth power in the time domain and FFT",
        source="numpy FFT of x + a5 x^5",
        ours=fifth_order_dbm(family, dbm, iip5_dbm=10),
        theirs=level(bin_),
        tolerance=0.02,
        kind="library",
    )


def _amplitudes(through, amplitudes):
    """Return amplitudes by bin of what a device leaves of tones {bin: amplitude}, in the time domain and by FFT."""
    samples = 1 << 16
    t = np.arange(samples) / samples
    x = sum(amplitude * np.cos(2 * np.pi * tone * t + tone) for tone, amplitude in amplitudes.items())
    return np.abs(np.fft.rfft(through(x))) * 2 / samples


@pytest.mark.parametrize(("order", "bin_", "part"), [(3, 2 * 5003 - 6007, 1 / 3), (5, 3 * 5003 - 2 * 6007, 1 / 5)])
def test_a_hard_limiter_leaves_products_of_two_equal_tones_at_the_bound(order, bin_, part, authority):
    spectrum = _amplitudes(np.sign, {5003: 1.0, 6007: 1.0})
    authority(
        f"Product of order {order} under two equal tones behind a hard limiter, in dB",
        source="sign of the sum of two tones in the time domain, numpy FFT",
        ours=UNDER_TONE_DB[order],
        theirs=20 * math.log10(spectrum[5003] / spectrum[bin_]),
        tolerance=0.05,
        kind="library",
    )
    authority(
        f"Amplitude of a product of order {order} against a tone behind a hard limiter",
        source="integral of J_m J_n / u by Weber and Schafheitlin, (2 / pi) / (m^2 - n^2): 1/3 and 1/5 (from memory)",
        ours=10 ** (-UNDER_TONE_DB[order] / 20),
        theirs=part,
        tolerance=1e-12,
        kind="memory",
    )


_LIMITERS = {
    "hard clipping": lambda x: np.clip(x, -1.0, 1.0),
    "a soft limiter": np.tanh,
    "a limiter that clips late": lambda x: x / (1 + x**4) ** 0.25,
}


@pytest.mark.parametrize("name", _LIMITERS)
@pytest.mark.parametrize("second", [1.0, 0.9, 0.7, 0.3])
def test_no_limiter_leaves_more_of_a_product_than_the_bound_says(name, second):
    # All three have a gain of 1 for small signals, so that what comes out is what it is at the input.
    for drive_db in range(-20, 61, 4):
        tones = {5003: 10 ** (drive_db / 20), 6007: second * 10 ** (drive_db / 20)}
        spectrum = _amplitudes(_LIMITERS[name], tones)
        for order, bin_ in ((3, 2 * 5003 - 6007), (5, 3 * 5003 - 2 * 6007)):
            left_db = 20 * math.log10(max(spectrum[bin_], 1e-15))
            assert left_db <= drive_db - UNDER_TONE_DB[order] + 0.01, (drive_db, order)


@pytest.mark.parametrize("drive_db", [-60, -40, -20, -10, 0, 20, 40])
def test_a_prediction_is_never_below_what_a_soft_limiter_leaves(drive_db):
    # tanh x = x - x^3 / 3: by 3/4 a3 A^2 = 1 it meets its intercept point at an amplitude of 2, 6.02 dB over 1.
    spectrum = _amplitudes(np.tanh, dict.fromkeys((5003, 6007, 6521), 10 ** (drive_db / 20)))
    for family, bin_ in (("2A-B", 2 * 5003 - 6007), ("A+B-C", 5003 + 6007 - 6521)):
        tones = [float(drive_db)] * (2 if family == "2A-B" else 3)
        told = third_order_dbm(family, tones, iip3_dbm=20 * math.log10(2))
        assert told >= 20 * math.log10(spectrum[bin_]) - 0.01
        if drive_db <= -40:
            assert told == pytest.approx(20 * math.log10(spectrum[bin_]), abs=0.05)


def test_a_product_of_another_order_is_refused():
    with pytest.raises(ValueError, match="3A-2B is a product of order 5; one of order 3 is asked for"):
        third_order_dbm("3A-2B", [0, 0], iip3_dbm=0)


def test_a_transmitter_gives_back_what_comes_in_less_its_conversion_loss():
    assert transmitter_product_dbm(own_dbm=-45, isolation_db=22, conversion_loss_db=10) == -77


def _rms_width_hz(phase, rate_hz):
    """Return the rms of the instantaneous frequency of exp(j phase)."""
    return float(np.std(np.diff(np.unwrap(np.angle(np.exp(1j * phase)))) * rate_hz / (2 * np.pi)))


@pytest.mark.parametrize(("family", "factor"), [("2A-B", 5), ("A+B-C", 3), ("3A-2B", 13)])
def test_products_are_as_wide_as_simulated_fm_says(family, factor, authority):
    rate_hz, rms_hz, seconds = 2_000_000.0, 24_000.0, 0.25
    random = np.random.default_rng(5)
    phases = []
    for _ in FAMILIES[family].coefficients:
        # Audio of 15 kHz: noise, low-pass by FFT, scaled to the deviation.
        noise = np.fft.rfft(random.standard_normal(int(rate_hz * seconds)))
        noise[np.fft.rfftfreq(int(rate_hz * seconds), 1 / rate_hz) > 15_000] = 0
        audio = np.fft.irfft(noise)
        phases.append(2 * np.pi * np.cumsum(audio * rms_hz / np.std(audio)) / rate_hz)
    product = sum(k * phase for k, phase in zip(FAMILIES[family].coefficients, phases, strict=True))
    authority(
        f"RMS width of {family} of FM carriers: sqrt {factor}",
        source="simulated FM with independent noise of 15 kHz",
        ours=product_rms_hz(family, [rms_hz] * len(phases)) / rms_hz,
        theirs=_rms_width_hz(product, rate_hz) / rms_hz,
        tolerance=0.04 * math.sqrt(factor),
        kind="arithmetic",
    )
    assert product_rms_hz(family, [1.0] * len(phases)) == pytest.approx(math.sqrt(factor))


def test_a_width_follows_from_deviation_bandwidth_or_a_flat_spectrum():
    assert rms_deviation_hz(bandwidth_hz=200_000, peak_deviation_hz=40_000, digital=False) == 20_000
    assert rms_deviation_hz(bandwidth_hz=200_000, peak_deviation_hz=None, digital=False) == 42_500
    assert rms_deviation_hz(bandwidth_hz=12_500, peak_deviation_hz=None, digital=False) == pytest.approx(1562.5)
    flat = np.random.default_rng(1).uniform(-100_000, 100_000, 200_000)
    assert rms_deviation_hz(bandwidth_hz=200_000, peak_deviation_hz=40_000, digital=True) == pytest.approx(
        flat.std(), rel=0.01
    )

"""How loud a disturbance is: frequency weightings of noise, and levels of samples under them."""

from __future__ import annotations

import math
from enum import StrEnum

import numpy as np
import numpy.typing as npt

__all__ = ["Weighting", "a_weighting_db", "bs468_weighting_db", "power_of", "weighted", "weighting_db"]

Floats = npt.NDArray[np.float64]

_LOWEST_HZ, _HIGHEST_HZ = 20.0, 20_000.0


class Weighting(StrEnum):
    """What of a signal counts: 20 Hz to 20 kHz alike, Rec. ITU-R BS.468, or the A curve of IEC 61672-1."""

    FLAT = "flat"
    BS468 = "bs468"
    A = "a"


def bs468_weighting_db(frequency_hz: npt.ArrayLike) -> Floats:
    """Return the noise weighting of Rec. ITU-R BS.468-4 in dB, 0 dB at 1 kHz and 12.2 dB at 6.3 kHz.

    ::

        h1 = -4.7373e-24 f^6 + 2.0438e-15 f^4 - 1.3639e-7 f^2 + 1
        h2 = 1.3066e-19 f^5 - 2.1182e-11 f^3 + 5.5595e-4 f
        R = 1.2463e-4 f / sqrt(h1^2 + h2^2),   18.246 dB + 20 log10 R

    the network of the recommendation as a polynomial; within 0.1 dB of its table. -inf at 0 Hz.

    References
    ----------
    Rec. ITU-R BS.468-4, table 1 and figure 1.

    Examples
    --------
    >>> round(float(bs468_weighting_db(6300.0)), 1)
    12.2
    """
    f = np.asarray(frequency_hz, np.float64)
    h1 = -4.737338981378384e-24 * f**6 + 2.043828333606125e-15 * f**4 - 1.363894795463638e-7 * f**2 + 1
    h2 = 1.306612257412824e-19 * f**5 - 2.118150887518656e-11 * f**3 + 5.559488023498642e-4 * f
    with np.errstate(divide="ignore"):
        return np.asarray(18.2462651 + 20 * np.log10(1.246332637532143e-4 * f / np.hypot(h1, h2)), np.float64)


def a_weighting_db(frequency_hz: npt.ArrayLike) -> Floats:
    """Return frequency weighting A in dB, 0 dB at 1 kHz; -inf at 0 Hz.

    Poles at 20.598997 Hz (two), 107.65265 Hz, 737.86223 Hz and 12194.217 Hz (two).

    References
    ----------
    IEC 61672-1:2013, equation for A and table 3 (its values agree within 0.05 dB).

    Examples
    --------
    >>> round(float(a_weighting_db(100.0)), 1)
    -19.1
    """
    f2 = np.asarray(frequency_hz, np.float64) ** 2
    low, second, third, high = 20.598997**2, 107.65265**2, 737.86223**2, 12194.217**2
    ratio = high * f2**2 / ((f2 + low) * np.sqrt((f2 + second) * (f2 + third)) * (f2 + high))
    with np.errstate(divide="ignore"):
        return np.asarray(20 * np.log10(ratio) + 2.0, np.float64)


def weighting_db(weighting: Weighting, frequency_hz: npt.ArrayLike) -> Floats:
    """Return a weighting in dB; -inf where it lets nothing through."""
    f = np.asarray(frequency_hz, np.float64)
    if weighting is Weighting.BS468:
        return bs468_weighting_db(f)
    if weighting is Weighting.A:
        return a_weighting_db(f)
    return np.where((f >= _LOWEST_HZ) & (f <= _HIGHEST_HZ), 0.0, -math.inf)


def weighted(signal: Floats, weighting: Weighting, *, rate_hz: int) -> Floats:
    """Return a signal under a weighting, without phase shift; what lies beyond its ends counts as silence."""
    size = _comfortable(2 * len(signal))
    spectrum = np.fft.rfft(signal, size)
    spectrum *= 10 ** (weighting_db(weighting, np.fft.rfftfreq(size, 1 / rate_hz)) / 20)
    return np.fft.irfft(spectrum, size)[: len(signal)]


def power_of(signal: Floats, weighting: Weighting, *, rate_hz: int) -> float:
    """Return the mean square of a signal under a weighting."""
    if len(signal) == 0:
        return 0.0
    found = weighted(signal, weighting, rate_hz=rate_hz)
    return float(found @ found) / len(found)


def _comfortable(size: int) -> int:
    """Return the next size that is a power of two, or three quarters of one."""
    whole = 1 << max(size - 1, 3).bit_length()
    return whole * 3 // 4 if whole * 3 // 4 >= size else whole

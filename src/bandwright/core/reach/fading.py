"""Fading while somebody walks: how often a signal drops out, for how long, and what a second antenna brings.

Levels are stated as a margin: the mean power over what is needed, in dB. A branch is one antenna with its receiver.
Without a direct wave fading is Rayleigh, with one K times as strong as all that is scattered it is Rice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bandwright.core.kit import Diversity

__all__ = [
    "Fading",
    "dropouts_per_s",
    "fade_duration_s",
    "margin_needed_db",
    "outage",
    "spatial_correlation",
]

_TERMS = 1024
_LOG_FACTORIAL = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, _TERMS)))])
_MOST_CORRELATED = 0.98  # closer than that two branches count as this close: hardly better than one
_MOST_K = 300.0
_MOST_MARGIN_DB = 300.0
_MOST_EVENTS = 800.0  # beyond it a mean of at most _MOST_K is surely exceeded


@dataclass(frozen=True, slots=True, kw_only=True)
class Fading:
    """The branches of a link: how many, what is done with them, how alike they fade, and the Rice factor.

    `correlation` is that of the complex amplitudes of two branches (0 to 1); it counts for two Rayleigh branches.
    """

    branches: int = 1
    diversity: Diversity = Diversity.NONE
    correlation: float = 0.0
    rice_k: float = 0.0

    @property
    def alone(self) -> bool:
        """Whether there is nothing to choose from."""
        return self.branches < 2 or self.diversity is Diversity.NONE

    def one(self) -> Fading:
        """Return the same with one branch."""
        return Fading(rice_k=self.rice_k)


def outage(margin_db: float, fading: Fading) -> float:
    """Return the part of the time that a link is below what it needs.

    ::

        one branch   P = 1 - exp(-x)                                    (Rayleigh; Rice: 1 - Q1)
        selection    P = (1 - exp(-x))^M
        combining    P = 1 - exp(-x) sum_{k < M} x^k / k!               (maximum ratio)

    with x = 1 / mean power over what is needed. Switching (leave a branch when it gets too weak, and stay) is as good
    as selection where it switches at the level that is needed. Two correlated branches: selection by Q1, maximum ratio
    by the eigenvalues 1 + r and 1 - r. With a Rice factor branches count as independent.

    References
    ----------
    W. C. Jakes, Microwave Mobile Communications, chapter 5; M. Schwartz, W. R. Bennett and S. Stein, Communication
    Systems and Techniques, chapter 10 (correlated branches); M. K. Simon and M.-S. Alouini, Digital Communication over
    Fading Channels, 2nd ed., chapters 2 and 9 (Rice, switching).

    Examples
    --------
    >>> from bandwright.core.kit import Diversity
    >>> round(outage(10, Fading()), 5)
    0.09516
    >>> four = outage(10, Fading(branches=4, diversity=Diversity.SELECTION))
    >>> round(four * 1e6)
    82
    """
    x = 10 ** (-_held_db(margin_db) / 10)
    if fading.alone:
        return _one_branch(x, fading.rice_k)
    if fading.diversity is Diversity.COMBINING:
        return _combined(x, fading)
    if fading.branches == 2 and fading.correlation > 0 and fading.rice_k == 0:
        return _correlated_selection(x, _held(fading.correlation))
    return _one_branch(x, fading.rice_k) ** fading.branches


def dropouts_per_s(margin_db: float, fading: Fading, *, doppler_hz: float) -> float:
    """Return how often a second the signal drops below what is needed.

    ::

        one branch   N = sqrt(2 pi (K + 1)) fd r exp(-K - (K + 1) r^2) I0(2 r sqrt(K (K + 1)))
        Rayleigh     N = sqrt(2 pi) fd r exp(-r^2),   r = needed / rms amplitude,   fd = speed / wavelength
        several      N = P / T,   P the outage, T the mean length of a fade of one branch over the number of branches

    For independent branches the last line is exact with selection; correlated ones fade together for longer, so it
    tells at most as many dropouts as there are. With maximum ratio it is exact too for independent Rayleigh branches
    at fades that are deep.

    Parameters
    ----------
    margin_db
        Mean power of a branch over what is needed.
    doppler_hz
        Largest Doppler shift: walking speed over wavelength.

    References
    ----------
    T. S. Rappaport, Wireless Communications, 2nd ed., section 5.7.3 (level crossing rate, average fade duration);
    W. C. Jakes, Microwave Mobile Communications, chapters 1 and 6; Rice: S. O. Rice, Bell System Technical Journal 27,
    1948.

    Examples
    --------
    >>> round(dropouts_per_s(0, Fading(), doppler_hz=20), 2)
    18.44
    """
    if fading.alone:
        return _crossings(margin_db, fading.rice_k, doppler_hz)
    return outage(margin_db, fading) / fade_duration_s(margin_db, fading, doppler_hz=doppler_hz)


def fade_duration_s(margin_db: float, fading: Fading, *, doppler_hz: float) -> float:
    """Return how long a dropout lasts in the mean, in s: outage over crossings; with M branches the M-th part.

    ::

        T = (exp(r^2) - 1) / (r fd sqrt(2 pi))           (one Rayleigh branch)

    References
    ----------
    As `dropouts_per_s`.

    Examples
    --------
    >>> round(fade_duration_s(20, Fading(), doppler_hz=200) * 1e6)
    200
    """
    one = fading.one()
    rate = _crossings(margin_db, one.rice_k, doppler_hz)
    whole = outage(margin_db, one) / rate if rate > 0 else math.inf
    return whole if fading.alone else whole / fading.branches


def margin_needed_db(fading: Fading, *, doppler_hz: float, at_most_every_s: float) -> float:
    """Return the margin from which on there is no more than one dropout in so many seconds, in dB.

    Found by halving between 0 and 100 dB, where dropouts get rarer as the margin grows; to a hundredth of a dB.

    >>> round(margin_needed_db(Fading(), doppler_hz=2.83, at_most_every_s=600))
    73
    """
    return _margin_needed_db(fading, doppler_hz, at_most_every_s)


@lru_cache(maxsize=4096)
def _margin_needed_db(fading: Fading, doppler_hz: float, at_most_every_s: float) -> float:
    low, high = 0.0, 100.0
    while high - low > 0.01:
        middle = (low + high) / 2
        if dropouts_per_s(middle, fading, doppler_hz=doppler_hz) * at_most_every_s > 1:
            low = middle
        else:
            high = middle
    return high


def spatial_correlation(*, spacing_m: float, wavelength_m: float) -> float:
    """Return how alike two antennas fade: |J0(2 pi d / lambda)|, waves coming from all around on one level.

    0.38 wavelengths apart it is 0 for the first time. At a mast that looks one way waves come from a narrow sector and
    it takes several wavelengths.

    References
    ----------
    R. H. Clarke, "A Statistical Theory of Mobile-Radio Reception", Bell System Technical Journal 47, 1968.

    Examples
    --------
    >>> round(spatial_correlation(spacing_m=0.05, wavelength_m=0.5), 3)
    0.904
    """
    z = 2 * math.pi * spacing_m / wavelength_m
    if z > 1000:
        return abs(math.sqrt(2 / (math.pi * z)) * math.cos(z - math.pi / 4))
    # J0(z) = 1/pi integral over 0..pi of cos(z sin t): the midpoint rule converges at once, as it is periodic.
    points = max(64, math.ceil(z) * 4)
    angles = (np.arange(points) + 0.5) * math.pi / points
    return abs(float(np.mean(np.cos(z * np.sin(angles)))))


def _one_branch(x: float, rice_k: float) -> float:
    if rice_k == 0:
        return -math.expm1(-x)
    return _mixture(rice_k, (1 + rice_k) * x, start=1)


def _combined(x: float, fading: Fading) -> float:
    """Maximum ratio: the powers of the branches add up."""
    if fading.branches == 2 and fading.correlation > 0 and fading.rice_k == 0:
        r = _held(fading.correlation)
        strong, weak = 1 + r, 1 - r
        return (-strong * math.expm1(-x / strong) + weak * math.expm1(-x / weak)) / (strong - weak)
    return _mixture(fading.branches * fading.rice_k, (1 + fading.rice_k) * x, start=fading.branches)


def _correlated_selection(x: float, r: float) -> float:
    if x > 10:  # far below what is needed: within 1e-4 of always
        return _one_branch(x, 0.0)
    a = 2 * x / (1 - r * r)
    above = _marcum(a, r * r * a) - _marcum(r * r * a, a)
    return max(0.0, 1 - math.exp(-x) * (1 + above))


def _marcum(a_squared: float, b_squared: float) -> float:
    """Return Marcum's Q1(a, b) as a mixture of Poisson probabilities."""
    return 1 - _mixture(a_squared / 2, b_squared / 2, start=1)


def _mixture(mean: float, y: float, *, start: int) -> float:
    """Return sum over k of Poisson(k; mean) times the probability that a gamma of order start + k is below y."""
    if y > _MOST_EVENTS:
        return 1.0
    tail = _poisson(y)[::-1].cumsum()[::-1]  # P(at least j events)
    return min(1.0, float(np.dot(_poisson(min(mean, _MOST_K))[: _TERMS - start], tail[start:])))


def _poisson(mean: float) -> NDArray[np.float64]:
    """Return the probabilities of 0, 1, 2, ... events."""
    if mean <= 0:
        only = np.zeros(_TERMS)
        only[0] = 1.0
        return only
    counts = np.arange(_TERMS)
    return np.asarray(np.exp(counts * math.log(mean) - mean - _LOG_FACTORIAL))


def _crossings(margin_db: float, rice_k: float, doppler_hz: float) -> float:
    r = 10 ** (-_held_db(margin_db) / 20)
    k = min(rice_k, _MOST_K)
    z = 2 * r * math.sqrt(k * (k + 1))
    # I0(z) exp(-z), by its limit where I0 itself is too large for a float
    bend = float(np.i0(z)) * math.exp(-z) if z < 500 else 1 / math.sqrt(2 * math.pi * z)
    return math.sqrt(2 * math.pi * (k + 1)) * doppler_hz * r * math.exp(z - k - (k + 1) * r * r) * bend


def _held_db(margin_db: float) -> float:
    """Return a margin that a float can hold as a ratio."""
    return min(max(margin_db, -_MOST_MARGIN_DB), _MOST_MARGIN_DB)


def _held(correlation: float) -> float:
    return min(correlation, _MOST_CORRELATED)

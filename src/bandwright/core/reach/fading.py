"""Fading while somebody walks: how often a signal drops out, for how long, and what a second antenna brings.

Levels are stated as a margin: the mean power over what is needed, in dB. A branch is one antenna with its receiver.
Without a direct wave fading is Rayleigh, with one K times as strong as all that is scattered it is Rice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.kit import Diversity

__all__ = [
    "MOSTLY_GONE",
    "Fading",
    "dropouts_per_s",
    "fade_duration_s",
    "outage",
    "spatial_correlation",
]

MOSTLY_GONE = 0.5
"""Where more of the time than that is lost, dropouts are nothing to count."""

_TERMS = 1024
_LOG_FACTORIAL = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, _TERMS)))])
_MOST_CORRELATED = 0.98  # closer than that two branches count as this close: hardly better than one
_LEAST_CORRELATED = 1e-4
_MOST_K = 300.0
_MOST_MARGIN_DB = 300.0
_MIDDLES = (np.arange(64) + 0.5) / 64
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
    as selection where it switches at the level that is needed. Two correlated branches: selection by a series of
    products of Poisson probabilities, maximum ratio by the eigenvalues 1 + r and 1 - r. With a Rice factor branches
    count as independent.

    References
    ----------
    W. C. Jakes, Microwave Mobile Communications, chapter 5; M. Schwartz, W. R. Bennett and S. Stein, Communication
    Systems and Techniques, chapter 10 (correlated branches); C. C. Tan and N. C. Beaulieu, "Infinite series
    representations of the bivariate Rayleigh and Nakagami-m distributions", IEEE Trans. Commun. 45(10), 1997; M. K.
    Simon and M.-S. Alouini, Digital Communication over Fading Channels, 2nd ed., chapters 2 and 9 (Rice, switching).

    Examples
    --------
    >>> from bandwright.core.kit import Diversity
    >>> round(outage(10, Fading()), 5)
    0.09516
    >>> four = outage(10, Fading(branches=4, diversity=Diversity.SELECTION))
    >>> round(four * 1e6)
    82
    """
    x = _needed(margin_db) ** 2
    if fading.alone:
        return _one_branch(x, fading.rice_k)
    if fading.diversity is Diversity.COMBINING:
        return _combined(x, fading)
    if alike := _alike(fading):
        return _correlated_selection(x, alike)
    return _one_branch(x, fading.rice_k) ** fading.branches


def dropouts_per_s(margin_db: float, fading: Fading, *, doppler_hz: float) -> float:
    """Return how often a second the signal drops below what is needed, however shortly.

    ::

        one branch   N = sqrt(2 pi (K + 1)) fd r exp(-K - (K + 1) r^2) I0(2 r sqrt(K (K + 1)))
        Rayleigh     N = sqrt(2 pi) fd r exp(-r^2),   r = needed / rms amplitude,   fd = speed / wavelength
        selection    N = M N1 P(all others are below | one is at what is needed)
        combining    N = sqrt(2 pi (K + 1)) fd r g((K + 1) r^2)
                     N = sqrt(2 pi) fd r^3 / (a b) integral over s from 0 to 1 of
                         exp(-r^2 (s / a + (1 - s) / b)) sqrt(a s + b (1 - s))

    with g the density of what adds up in a combiner, and for two Rayleigh branches alike by c the mean powers
    a = 1 + c and b = 1 - c. Others are below with the outage of each, and where two fade alike with the
    Rice distribution around c times what one is at.

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
    1948; correlated branches: F. Adachi, M. T. Feeney and J. D. Parsons, "Effects of correlated fading on level
    crossing rates and average fade durations with predetection diversity reception", IEE Proc. F 135(1), 1988 (from
    memory).

    Examples
    --------
    >>> round(dropouts_per_s(0, Fading(), doppler_hz=20), 2)
    18.44
    """
    r = _needed(margin_db)
    if fading.alone:
        return doppler_hz * _crossings(r, fading.rice_k)
    if fading.diversity is Diversity.COMBINING:
        return doppler_hz * _combined_crossings(r, fading)
    if alike := _alike(fading):
        y = r * r / (1 - alike**2)
        others = _mixture(alike**2 * y, y, start=1)
    else:
        others = _one_branch(r * r, fading.rice_k) ** (fading.branches - 1)
    return doppler_hz * fading.branches * _crossings(r, fading.rice_k) * others


def fade_duration_s(margin_db: float, fading: Fading, *, doppler_hz: float) -> float:
    """Return how long a dropout lasts in the mean, in s: outage over crossings; infinite where there are none.

    ::

        T = (exp(r^2) - 1) / (r fd sqrt(2 pi))           (one Rayleigh branch; independent ones: the M-th part)

    References
    ----------
    As `dropouts_per_s`.

    Examples
    --------
    >>> round(fade_duration_s(20, Fading(), doppler_hz=200) * 1e6)
    200
    """
    rate = dropouts_per_s(margin_db, fading, doppler_hz=doppler_hz)
    return outage(margin_db, fading) / rate if rate > 0 else math.inf


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
    if alike := _alike(fading):
        return (_above_none(x / (1 - alike)) - _above_none(x / (1 + alike))) * x / (2 * alike)
    return _mixture(fading.branches * fading.rice_k, (1 + fading.rice_k) * x, start=fading.branches)


def _above_none(t: float) -> float:
    """Return 1 - (1 - exp(-t)) / t, without loss where t is small."""
    return t / 2 - t * t / 6 + t**3 / 24 if t < 1e-3 else 1 + math.expm1(-t) / t


def _combined_crossings(r: float, fading: Fading) -> float:
    """Return how often a second, for a Doppler shift of 1 Hz, a combiner drops below what is needed."""
    k, alike = fading.rice_k, _alike(fading)
    if not alike:
        density = _mixture_density(fading.branches * k, (1 + k) * r * r, start=fading.branches)
        return math.sqrt(2 * math.pi * (k + 1)) * r * density
    strong, weak = 1 + alike, 1 - alike
    falls = max(r * r * (1 / weak - 1 / strong), 1e-12)  # the exponential, over the part that is the weak one's
    parts = -np.log1p(_MIDDLES * math.expm1(-falls)) / falls
    speed = float(np.sqrt(strong * (1 - parts) + weak * parts).mean())
    weight = -math.expm1(-falls) / falls * math.exp(-r * r / strong)
    return math.sqrt(2 * math.pi) * r**3 / (strong * weak) * weight * speed


def _correlated_selection(x: float, alike: float) -> float:
    if x > 10:  # far below what is needed: within 1e-4 of always
        return _one_branch(x, 0.0)
    tail = _tail(x / (1 - alike**2))[1:]
    return float((1 - alike**2) * np.dot(alike ** (2.0 * np.arange(len(tail))), tail**2))


def _mixture(mean: float, y: float, *, start: int) -> float:
    """Return sum over k of Poisson(k; mean) times the probability that a gamma of order start + k is below y."""
    if y > _MOST_EVENTS:
        return 1.0
    return min(1.0, float(np.dot(_poisson(min(mean, _MOST_K))[: _TERMS - start], _tail(y)[start:])))


def _mixture_density(mean: float, y: float, *, start: int) -> float:
    """Return the density of that mixture at y: a gamma of order n has the Poisson probability of n - 1 there."""
    if y > _MOST_EVENTS:
        return 0.0
    return float(np.dot(_poisson(min(mean, _MOST_K))[: _TERMS - start], _poisson(y)[start - 1 : -1]))


def _tail(mean: float) -> NDArray[np.float64]:
    """Return the probabilities of at least 0, 1, 2, ... events."""
    return np.asarray(_poisson(mean)[::-1].cumsum()[::-1])


def _poisson(mean: float) -> NDArray[np.float64]:
    """Return the probabilities of 0, 1, 2, ... events."""
    if mean <= 0:
        only = np.zeros(_TERMS)
        only[0] = 1.0
        return only
    counts = np.arange(_TERMS)
    return np.asarray(np.exp(counts * math.log(mean) - mean - _LOG_FACTORIAL))


def _crossings(r: float, rice_k: float) -> float:
    """Return how often a second, for a Doppler shift of 1 Hz, one branch drops below what is needed."""
    if rice_k == 0:
        return math.sqrt(2 * math.pi) * r * math.exp(-r * r)
    k = min(rice_k, _MOST_K)
    z = 2 * r * math.sqrt(k * (k + 1))
    # I0(z) exp(-z), by its limit where I0 itself is too large for a float
    bend = float(np.i0(z)) * math.exp(-z) if z < 500 else 1 / math.sqrt(2 * math.pi * z)
    return math.sqrt(2 * math.pi * (k + 1)) * r * math.exp(z - k - (k + 1) * r * r) * bend


def _needed(margin_db: float) -> float:
    """Return what is needed over the rms amplitude, of a margin that a float can hold as a ratio."""
    return float(10 ** (-min(max(margin_db, -_MOST_MARGIN_DB), _MOST_MARGIN_DB) / 20))


def _alike(fading: Fading) -> float:
    """Return how alike branches fade, 0 where that does not count: two Rayleigh branches alone."""
    alike = min(fading.correlation, _MOST_CORRELATED)
    return alike if fading.branches == 2 and fading.rice_k == 0 and alike > _LEAST_CORRELATED else 0.0

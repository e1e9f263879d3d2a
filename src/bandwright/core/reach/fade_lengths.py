"""How long fades last: which part of them is longer than a stated time, told in mean durations of one branch.

In a deep fade the phasor of a signal crosses a small disc around nothing on a nearly straight line: the chord, over a
speed that is Gaussian both ways, is how long the fade lasts. That holds with and without a direct wave.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["counted_shares", "share_left_longer", "share_longer", "share_of_several"]

Floats = NDArray[np.float64]

_SHORTEST = 0.04  # mean durations: below it the series in them is within 1e-7
_LONGEST = 1e4  # mean durations: no fade that anybody waits for is longer
_COSINES = np.cos((np.arange(128) + 0.5) * math.pi / 128)
_FALLS = 1 - _COSINES
_SHALLOW = 1.3


def share_longer(durations: Floats) -> Floats:
    """Return the part of the deep fades of one branch that last longer than so many mean durations u.

    ::

        S(u) = (2 / u) I1(x) exp(-x),   x = 2 / (pi u^2)

    It falls as 2 / (pi u^3), more slowly than fades that are not deep do. For those see `counted_shares`.

    Parameters
    ----------
    durations
        u, 0 and more, any shape.

    References
    ----------
    S. O. Rice, "Distribution of the Duration of Fades in Radio Transmission: Gaussian Noise Model", Bell System
    Technical Journal 37, 1958 (from memory). The Bessel function by its integral, (x / pi) times that of
    exp(x cos t) sin(t)^2 over 0 to pi (Abramowitz and Stegun, 9.6.18), by the midpoint rule.

    Examples
    --------
    >>> [round(float(part), 3) for part in share_longer(np.array([0.0, 0.5, 1.0, 3.0]))]
    [1.0, 0.823, 0.354, 0.022]
    """
    u, x = _held(durations)
    terms = (1 - _COSINES**2) * np.exp(-x[..., None] * _FALLS)
    return np.where(durations < _SHORTEST, 1 - 3 * math.pi * durations**2 / 16, 2 / u * x * terms.mean(axis=-1))


def share_left_longer(durations: Floats) -> Floats:
    """Return which part of the time in deep fades of one branch has more than so many mean durations u before it.

    ::

        R(u) = integral of S over u and more = 1 - exp(-x) (I0(x) + I1(x)),   x = 2 / (pi u^2)

    What is left of a fade into which one looks at any moment lasts longer than that with this probability.

    Parameters
    ----------
    durations
        u, 0 and more, any shape.

    References
    ----------
    That what is left of a stationary process has the integral of the survival function: D. R. Cox, Renewal Theory,
    1962, section 5.2. The integral of I1(x) exp(-x) / x: Abramowitz and Stegun, 9.6.26 (by differentiating).

    Examples
    --------
    >>> [round(float(part), 3) for part in share_left_longer(np.array([0.0, 0.5, 1.0, 3.0]))]
    [1.0, 0.527, 0.239, 0.034]
    """
    _, x = _held(durations)
    terms = -(1 + _COSINES) * np.expm1(-x[..., None] * _FALLS)
    return np.where(durations < _SHORTEST, 1 - durations + math.pi * durations**3 / 16, terms.mean(axis=-1))


def counted_shares(durations: Floats, depth: Floats) -> tuple[Floats, Floats]:
    """Return both parts as they are counted, with an allowance for fades that are not deep.

    In those more last two to four mean durations than the law says: with one branch 1.3 to 1.6 times as many at 10 dB,
    2.3 times as many at 0 dB, found by simulation with Doppler spectra of waves from all around. Both parts are
    therefore taken times 1 + 1.3 sqrt(r) min(1, u)^3, up to 1, so that no fewer fades are counted than there are; of
    those that are longer still too many are.

    Parameters
    ----------
    durations
        u, as in `share_longer`.
    depth
        r, needed over rms amplitude of one branch, at each u.
    """
    more = 1 + _SHALLOW * np.sqrt(depth) * np.minimum(durations, 1.0) ** 3
    return np.minimum(share_longer(durations) * more, 1.0), np.minimum(share_left_longer(durations) * more, 1.0)


def share_of_several(durations: Floats, depth: Floats, *, like: Floats, summed: int = 1) -> Floats:
    """Return the part of fades of several branches together that last longer than u mean durations of one.

    ::

        S(u) R(u)^(m - 1),   m = mean duration of one branch over that of all together

    With independent branches and selection, the weak moment begins with a fade of one while all others are in theirs,
    and ends with the first of them that ends: m is their number, and for deep fades this is exact. Branches that fade
    alike have a smaller m. Adding up (maximum ratio) M branches has about the same m; where fades are short, a straight
    way through a ball of 2 M dimensions tells that more than 1 - (4 M^2 - 1) pi u^2 / 16 are longer.

    Parameters
    ----------
    durations
        u, as in `share_longer`.
    depth
        As in `counted_shares`.
    like
        m, at least 1, at each u.
    summed
        M, how many branches are added up; 1 where they are not.
    """
    longer, left = counted_shares(durations, depth)
    found = longer * left ** (like - 1)
    if summed > 1:
        found = np.maximum(found, 1 - (4 * summed**2 - 1) * math.pi * durations**2 / 16)
    return np.asarray(found)


def _held(durations: Floats) -> tuple[Floats, Floats]:
    """Return durations within what the integrals are good for, and x of each."""
    u = np.clip(durations, _SHORTEST, _LONGEST)
    return u, 2 / (math.pi * u * u)

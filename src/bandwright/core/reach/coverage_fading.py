"""Dropout probability of many points at once, with antennas that hear each of them differently well.

The same closed forms as in `fading`, for branches whose mean powers differ, on arrays.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from bandwright.core.kit import Diversity
from bandwright.core.reach.audible import audible_dropouts_per_s
from bandwright.core.reach.fade_lengths import counted_shares
from bandwright.core.reach.fading import MOSTLY_GONE, Fading, dropouts_per_s, outage
from bandwright.core.reach.path import chance_above

__all__ = ["audible_dropouts", "chances_above", "outages"]

Floats = NDArray[np.float64]

_MOST_DB = 150.0  # a margin beyond it is as good as certain
_LEAST_DB = -18.0  # a branch so far below what is needed brings less than 0.1 dB to a sum
_MOST_CORRELATED = 0.98  # beyond it the series takes ever more terms
_SURE = 10.0  # needed over mean power: such a branch is within 1e-4 of always below
_LEAST_TERM = 1e-10  # where a series ends
_FADES_DB = np.arange(-30, 120.25, 0.25)  # margins at which the lengths of fades are looked up
_COMPARED_DB = (0.0, 60.0)  # means of margins between which kinds of diversity are compared
_STEPS_PER_DB = 10  # of the table that integrals are looked up in


def outages(margins_db: Floats, fading: Fading) -> Floats:
    """Return the part of the time that each point is below what it needs, with all branches together.

    ::

        one branch   P_b = 1 - exp(-x_b),  x_b = needed / mean power of branch b       (Rayleigh; Rice: 1 - Q1)
        selection    P = product of P_b;   two alike by r:
                     P = (1 - r^2) sum_k r^(2k) G(k + 1, x_1 / (1 - r^2)) G(k + 1, x_2 / (1 - r^2))
        combining    the chance that a sum of exponential powers stays below what is needed; two alike by r have the
                     mean powers that are the eigenvalues of their covariance matrix

    G is the regularised lower incomplete gamma function. Switching counts as selection, as in `fading`. With a direct
    wave (Rice) branches are independent, and those of a combiner count with their mean in dB, exact for deep fades.

    Parameters
    ----------
    margins_db
        Mean power over what is needed of each branch, in dB; shape (branches, ...).
    fading
        What is done with the branches; its number of branches is that of the first axis.

    Returns
    -------
    array
        Shape (...).

    References
    ----------
    M. K. Simon and M.-S. Alouini, Digital Communication over Fading Channels, 2nd ed., chapters 6 and 9; C. C. Tan and
    N. C. Beaulieu, "Infinite series representations of the bivariate Rayleigh and Nakagami-m distributions", IEEE
    Trans. Commun. 45(10), 1997; sums of exponentials: A. Jensen, "Markoff chains as an aid in the study of Markoff
    processes", Skandinavisk Aktuarietidskrift 36, 1953.
    """
    held = np.clip(margins_db, -_MOST_DB, _MOST_DB)
    if fading.alone:
        return _alone(held[0], fading.rice_k)
    alike = 0.0 if len(held) != 2 or fading.rice_k else min(fading.correlation, _MOST_CORRELATED)
    if fading.diversity is Diversity.COMBINING:
        return _summed_rice(held, fading) if fading.rice_k else _summed(_powers(held, alike))
    if alike > 0:
        return _alike(held, alike)
    return np.asarray(np.prod([_alone(one, fading.rice_k) for one in held], axis=0))


def audible_dropouts(margins_db: Floats, fading: Fading, *, doppler_hz: float, audible_s: float) -> Floats:
    """Return how often a second each point has a dropout that is longer than a stated time, with all branches together.

    ::

        N = sum over b of A_b times the product over the others c of B_c

    A_b is how often such a fade of branch b begins, B_c the part of the time in which c is in a fade that still lasts
    that long. So it is with independent branches and selection; where two fade alike, or branches are added up, it is
    taken times what that makes of equal branches with the mean of these margins in dB. Of the best antenna alone, the
    best two, and so on, that number counts with which there are fewest; as elsewhere a branch with less than 0 dB
    brings nothing beside a better one. NaN where the signal is gone more often than it is there.

    Parameters
    ----------
    margins_db
        Mean power over what is needed of each branch, in dB; shape (branches, ...).
    fading
        As in `outages`.
    doppler_hz, audible_s
        As in `audible_dropouts_per_s`.

    Returns
    -------
    array
        Shape (...).
    """
    ranked = -np.sort(-np.clip(margins_db, _FADES_DB[0], _FADES_DB[-1]), axis=0)
    begins, lasts = _lasting(fading.rice_k, doppler_hz, audible_s)
    begin = [np.exp(np.interp(one, _FADES_DB, begins)) for one in ranked]
    last = [np.exp(np.interp(one, _FADES_DB, lasts)) for one in ranked]
    found, both, covered = begin[0], begin[0], last[0]
    for count in range(2, 1 if fading.alone else len(ranked) + 1):
        both, covered = both * last[count - 1] + covered * begin[count - 1], covered * last[count - 1]
        several = replace(fading, branches=count)
        by = _beside_selection(ranked[:count].mean(axis=0), several, doppler_hz, audible_s)
        found = np.where(ranked[count - 1] >= 0, np.minimum(found, both * by), found)
    return np.where(outages(margins_db, fading) > MOSTLY_GONE, np.nan, found)


def _beside_selection(margins_db: Floats, fading: Fading, doppler_hz: float, audible_s: float) -> Floats:
    """Return audible dropouts of equal branches over those of independent ones with selection."""
    combined = fading.diversity is Diversity.COMBINING
    if not combined and (fading.branches > 2 or fading.rice_k or not fading.correlation):
        return np.ones_like(margins_db)
    independent = Fading(branches=fading.branches, diversity=Diversity.SELECTION, rice_k=fading.rice_k)
    means = np.clip(margins_db, *_COMPARED_DB)
    at = np.arange(math.floor(means.min()), math.ceil(means.max()) + 1)
    rates = [
        [audible_dropouts_per_s(float(db), one, doppler_hz=doppler_hz, audible_s=audible_s) for db in at]
        for one in (fading, independent)
    ]
    logs = np.log(np.maximum(rates, 1e-300))
    return np.asarray(np.exp(np.interp(means, at, logs[0] - logs[1])))


@lru_cache(maxsize=256)
def _lasting(rice_k: float, doppler_hz: float, audible_s: float) -> tuple[Floats, Floats]:
    """Return logarithms of A and B of one branch at the margins of the table."""
    gone, falls = _fades(rice_k)
    rates = falls * doppler_hz
    longer, left = counted_shares(audible_s * rates / gone, 10 ** (-_FADES_DB / 20))
    return np.log(np.maximum(rates * longer, 1e-300)), np.log(np.maximum(gone * left, 1e-300))


@cache
def _fades(rice_k: float) -> tuple[Floats, Floats]:
    """Return at the margins of the table how much of the time one branch is gone, and how often at 1 Hz of Doppler."""
    one = Fading(rice_k=rice_k)
    gone = np.array([outage(float(db), one) for db in _FADES_DB])
    return gone, np.array([dropouts_per_s(float(db), one, doppler_hz=1.0) for db in _FADES_DB])


def chances_above(margins_db: Floats, *, sigma_db: float) -> Floats:
    """Return the probability at each point that a level stays above what is needed under log-normal shadowing.

    As `chance_above`; the normal distribution is taken from a fine table, within 1e-5.
    """
    if sigma_db == 0:
        return np.where(margins_db >= 0, 1.0, 0.0)
    at, known = _normal()
    return np.asarray(np.interp(margins_db / sigma_db, at, known))


@cache
def _normal() -> tuple[Floats, Floats]:
    at = np.linspace(-8, 8, 1601)
    return at, np.array([chance_above(margin_db=float(z), sigma_db=1.0) for z in at])


def _alone(margins_db: Floats, rice_k: float) -> Floats:
    """Return the outage of one branch; with a direct wave from a table, whose logarithm runs nearly straight in dB."""
    if rice_k == 0:
        return np.asarray(-np.expm1(-(10 ** (-margins_db / 10))))
    return _from_table(margins_db, Fading(rice_k=rice_k))


def _from_table(margins_db: Floats, fading: Fading) -> Floats:
    at, known = _table(fading)
    return np.asarray(np.exp(np.interp(margins_db, at, known)))


@cache
def _table(fading: Fading) -> tuple[Floats, Floats]:
    at = np.linspace(-20, 100, 120 * _STEPS_PER_DB + 1)
    return at, np.log(np.maximum([outage(float(db), fading) for db in at], 1e-300))


def _summed_rice(margins_db: Floats, fading: Fading) -> Floats:
    """Return combining with a direct wave: so many of the best branches, at their mean in dB, as are best together."""
    ranked = -np.sort(-margins_db, axis=0)
    found = _alone(ranked[0], fading.rice_k)
    for count in range(2, len(ranked) + 1):
        several = Fading(branches=count, diversity=Diversity.COMBINING, rice_k=fading.rice_k)
        found = np.minimum(found, _from_table(ranked[:count].mean(axis=0), several))
    return found


def _powers(margins_db: Floats, alike: float) -> Floats:
    """Return mean powers over what is needed of independent branches that sum up like these."""
    powers = 10 ** (margins_db / 10)
    if not alike:
        return np.asarray(powers)
    one, two = powers
    middle = (one + two) / 2
    apart = np.sqrt(((one - two) / 2) ** 2 + alike**2 * one * two)
    return np.stack([middle + apart, (1 - alike**2) * one * two / (middle + apart)])


def _summed(powers: Floats) -> Floats:
    """Return the probability that exponential powers with these means sum up to less than 1.

    Waits in a row are watched at the steps of one fast clock (uniformisation): all terms are positive, so that nothing
    is lost where the probability is small. Mean powers below -18 dB count as that much.
    """
    rates = 1 / np.maximum(powers, 10 ** (_LEAST_DB / 10))
    clock = rates.max(axis=0)
    moves = rates / clock
    waiting = np.zeros_like(rates)
    waiting[0] = 1.0
    done, found = np.zeros_like(clock), np.zeros_like(clock)
    ticks = np.exp(-clock)
    highest = float(clock.max(initial=0.0))
    for tick in range(1, int(highest + 9 * highest**0.5) + 14 + len(rates)):
        on = waiting * moves
        waiting -= on
        waiting[1:] += on[:-1]
        done += on[-1]
        ticks = ticks * clock / tick
        found += ticks * done
    return np.asarray(np.minimum(found, 1.0))


def _alike(margins_db: Floats, r: float) -> Floats:
    """Return selection from two branches that fade alike; where one is far too weak the other one alone counts."""
    square = r * r
    x = 10 ** (-margins_db / 10)
    events = np.minimum(x, _SURE) / (1 - square)
    exactly, tail = np.exp(-events), -np.expm1(-events)
    found = np.zeros(x.shape[1:])
    for k in range(1, math.ceil(math.log(_LEAST_TERM) / math.log(square)) + 2):
        found += square ** (k - 1) * tail[0] * tail[1]
        exactly *= events / k
        tail = np.maximum(tail - exactly, 0.0)
    found *= 1 - square
    alone = -np.expm1(-x)
    return np.asarray(np.where(x.max(axis=0) > _SURE, alone.min(axis=0), np.minimum(found, alone.min(axis=0))))

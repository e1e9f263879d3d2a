"""What fading asks for at many points: margins needed by so many antennas, what is left over them, what is heard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.audible import audible_of, margin_needed_db
from bandwright.core.reach.coverage_fading import audible_dropouts
from bandwright.core.reach.facts import LinkFacts
from bandwright.core.reach.fading import Fading
from bandwright.core.reach.link import WALKING_M_PER_S
from bandwright.core.reach.path import wavelength_m

__all__ = ["dropouts_per_min", "needed_db", "reserves_db"]

Floats = NDArray[np.float64]


def reserves_db(margins_db: Floats, needed_db: Sequence[float]) -> Floats:
    """Return what margins have over what fading asks for, with the best antennas at each point.

    Of so many antennas taken the mean of their margins counts (exact for deep fades, where outage is the product of
    theirs), against what so many antennas need; the number that gives the most is taken, as antennas that hear nothing
    must not count against those that do. One whose own margin is negative brings nothing beside a better one.

    Parameters
    ----------
    margins_db
        Shape (antennas, ...).
    needed_db
        The margin asked for with one antenna, two, and so on.

    Returns
    -------
    array
        Shape (...), in dB.
    """
    best, *more = _ranked(margins_db)
    found, total = best - needed_db[0], best
    for number, (margin, needed) in enumerate(zip(more, needed_db[1:], strict=False), start=2):
        total = total + margin
        found = np.maximum(found, np.where(margin >= 0, total / number - needed, -np.inf))
    return np.asarray(found)


def _ranked(values: Floats) -> list[Floats]:
    """Return rows so that at each point the largest is in the first one; antennas are few, so neighbours change."""
    rows = list(values)
    for last in range(len(rows) - 1, 0, -1):
        for k in range(last):
            rows[k], rows[k + 1] = np.maximum(rows[k], rows[k + 1]), np.minimum(rows[k], rows[k + 1])
    return rows


def dropouts_per_min(facts: LinkFacts, margins_db: Floats, fading: Fading) -> Floats:
    """Return how many audible dropouts a minute a link has, by the margins of its antennas; as `audible_dropouts`."""
    return 60 * audible_dropouts(
        margins_db,
        fading,
        doppler_hz=WALKING_M_PER_S / wavelength_m(facts.carrier_hz),
        audible_s=audible_of(facts.link.radio).s,
    )


def needed_db(facts: LinkFacts, fading: Fading, *, every_s: float) -> tuple[float, ...]:
    """Return the margin that is asked for with one antenna, two, and so on, up to those of the fading."""
    doppler_hz = WALKING_M_PER_S / wavelength_m(facts.carrier_hz)
    steps = [fading.one()]
    if not fading.alone:
        steps += [replace(fading, branches=count) for count in range(2, fading.branches + 1)]
    audible_s = audible_of(facts.link.radio).s
    return tuple(
        margin_needed_db(one, doppler_hz=doppler_hz, audible_s=audible_s, at_most_every_s=every_s) for one in steps
    )

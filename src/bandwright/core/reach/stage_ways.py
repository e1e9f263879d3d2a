"""What lies on the straight ways of a stage: walls of the plan, and what patterns of antennas make of directions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.area import Metres
from bandwright.core.reach.area_antenna import bearing_deg, pattern_db
from bandwright.core.reach.area_geometry import walls_crossed
from bandwright.core.rig import AntennaPattern

__all__ = ["Look", "walls_on_ways_db"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """An antenna that stands somewhere and looks somewhere."""

    at_m: Metres
    pattern: AntennaPattern
    facing_deg: float

    def gain_db(self, points_m: Floats) -> Floats:
        """Return what it has towards points against its gain, in dB, 0 at most where it looks."""
        return pattern_db(self.pattern, bearing_deg(self.at_m, points_m) - self.facing_deg)


def walls_on_ways_db(
    walls: Sequence[tuple[Metres, Metres]], costs_db: Sequence[float], from_m: Floats, to_m: Floats
) -> Floats:
    """Return what walls take away on each of many straight ways, each wall once; shape (ways,), in dB.

    Parameters
    ----------
    walls
        Both ends of each.
    costs_db
        What each takes away at the frequency of the signal.
    from_m, to_m
        Both ends of each way; shape (ways, 2).
    """
    low = np.minimum(from_m.min(axis=0), to_m.min(axis=0))
    high = np.maximum(from_m.max(axis=0), to_m.max(axis=0))
    met = [k for k, ends in enumerate(walls) if costs_db[k] and _in_box(ends, low, high)]
    if not met:
        return np.zeros(len(to_m))
    crossed = walls_crossed(from_m, to_m, [walls[k] for k in met])
    return np.asarray(np.array([costs_db[k] for k in met]) @ crossed)


def _in_box(ends: tuple[Metres, Metres], low: Floats, high: Floats) -> bool:
    """Whether a wall may have a point in a box: its own box meets it."""
    both = np.array(ends)
    return bool(np.all(both.max(axis=0) >= low) and np.all(both.min(axis=0) <= high))

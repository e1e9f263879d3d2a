"""What an antenna receives from each direction of a plan, against its gain."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.area import Metres
from bandwright.core.rig import AntennaPattern

__all__ = ["BEAMWIDTH_DEG", "FRONT_TO_BACK_DB", "bearing_deg", "facing_towards_deg", "pattern_db"]

Floats = NDArray[np.float64]

BEAMWIDTH_DEG = 100.0
FRONT_TO_BACK_DB = 14.0
"""What a directional antenna for radio microphones has about, where nobody stated it; common practice."""


def bearing_deg(from_m: Metres, points_m: Floats) -> Floats:
    """Return the direction of points from one of them: 0 up the plan, 90 to the right; shape (points,).

    >>> bearing_deg((0, 0), np.array([[0.0, 5.0], [5.0, 0.0]])).tolist()
    [0.0, 90.0]
    """
    across, up = points_m[:, 0] - from_m[0], points_m[:, 1] - from_m[1]
    return np.asarray(np.degrees(np.arctan2(across, up)))


def pattern_db(pattern: AntennaPattern, off_deg: Floats) -> Floats:
    """Return what an antenna has towards each direction against its gain, in dB.

    ::

        directional   -min(12 (theta / beamwidth)^2, front to back)

    with theta off where it looks, so that it is 3 dB down at half its beamwidth. A table is followed in straight lines
    of dB; one that ends at 180 degrees at most holds for both sides, and beyond its end its last figure counts. Height
    does not enter: directions are those of the plan.

    References
    ----------
    The horizontal pattern of sectors in 3GPP TR 36.814, table A.2.1.1-2, and Report ITU-R M.2412.

    Examples
    --------
    >>> both = AntennaPattern(name="directional", beamwidth_deg=90, front_to_back_db=20)
    >>> pattern_db(both, np.array([0.0, 45.0, -45.0, 180.0])).tolist()
    [0.0, -3.0, -3.0, -20.0]
    """
    turn = (off_deg + 180) % 360 - 180
    if pattern.points:
        return _from_table(pattern.points, turn)
    if pattern.name == "omni":
        return np.zeros_like(turn)
    wide = pattern.beamwidth_deg or BEAMWIDTH_DEG
    most = FRONT_TO_BACK_DB if pattern.front_to_back_db is None else pattern.front_to_back_db
    return 0.0 - np.minimum(12 * (turn / wide) ** 2, most)


def _from_table(points: tuple[tuple[float, float], ...], turn: Floats) -> Floats:
    degrees, db = np.array(points).T
    if degrees[-1] <= 180:
        return np.asarray(np.interp(np.abs(turn), degrees, db))
    return np.asarray(np.interp(turn % 360, [*degrees, 360.0], [*db, db[0]]))


def facing_towards_deg(from_m: Metres, to_m: Metres) -> float:
    """Return the direction from one point to another; 0 where they are the same.

    >>> facing_towards_deg((0, 0), (3, 0))
    90.0
    """
    return math.degrees(math.atan2(to_m[0] - from_m[0], to_m[1] - from_m[1]))

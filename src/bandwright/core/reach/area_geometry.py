"""Points, polygons and walls on a plan: what lies inside, what a straight line crosses, where lines are sound."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.area import Metres

__all__ = ["along", "crosses_itself", "encloses", "inside", "lie_in_line", "walls_crossed"]

Floats = NDArray[np.float64]
_NEAR_M = 1e-9  # closer than a nanometre is: on it


def inside(points_m: Floats, corners_m: Sequence[Metres]) -> NDArray[np.bool_]:
    """Return for each point whether it lies inside a polygon, by counting crossings of a ray to the right.

    Parameters
    ----------
    points_m
        Shape (points, 2), in m. What lies on an edge may come out either way; `encloses` counts it in.
    corners_m
        Corners in order; the last one is joined to the first one.
    """
    x, y = points_m[:, 0], points_m[:, 1]
    found = np.zeros(len(points_m), dtype=np.bool_)
    for (x1, y1), (x2, y2) in _edges(corners_m):
        if y1 != y2:
            found ^= ((y1 > y) != (y2 > y)) & (x < x1 + (y - y1) * ((x2 - x1) / (y2 - y1)))
    return found


def encloses(corners_m: Sequence[Metres], point_m: Metres) -> bool:
    """Whether a polygon holds a point, its edges included.

    >>> encloses([(0, 0), (4, 0), (4, 3)], (4, 1.5))
    True
    """
    if any(_distance_m(point_m, one, two) <= _NEAR_M for one, two in _edges(corners_m)):
        return True
    return bool(inside(np.array([point_m], dtype=np.float64), corners_m)[0])


def lie_in_line(points_m: Sequence[Metres]) -> bool:
    """Whether all points lie on one straight line, so that a polygon of them has no area.

    >>> lie_in_line([(0, 0), (4, 0), (2, 0)])
    True
    """
    first = max(points_m, key=lambda point: math.dist(points_m[0], point))
    far = max(points_m, key=lambda point: math.dist(first, point))
    return all(_distance_m(point, first, far) <= _NEAR_M for point in points_m)


def crosses_itself(corners_m: Sequence[Metres]) -> bool:
    """Whether two edges of a polygon meet anywhere but at a corner that they share.

    >>> crosses_itself([(0, 0), (2, 2), (2, 0), (0, 2)])
    True
    """
    edges = list(_edges(corners_m))
    last = len(edges) - 1
    for (i, one), (k, two) in itertools.combinations(enumerate(edges), 2):
        neighbours = k == i + 1 or (i == 0 and k == last)
        if _folds_back(one, two, shared=one[1] if k == i + 1 else one[0]) if neighbours else _meet(one, two):
            return True
    return False


def along(points_m: Sequence[Metres], *, step_m: float) -> Floats:
    """Return points along a line no farther apart than a step, its corners among them; shape (points, 2)."""
    parts: list[Floats] = [np.array([points_m[0]], dtype=np.float64)]
    for one, two in itertools.pairwise(points_m):
        count = max(1, math.ceil(math.dist(one, two) / step_m))
        part = (np.arange(1, count + 1) / count)[:, None]
        parts.append(np.array(one) + part * (np.array(two) - np.array(one)))
    return np.concatenate(parts)


def walls_crossed(
    from_m: Metres | Floats, points_m: Floats, walls: Sequence[tuple[Metres, Metres]]
) -> NDArray[np.bool_]:
    """Return which walls the straight way from one point to each of many goes through.

    A wall counts once, also where the way goes exactly through its end; where it goes through an end that two walls
    share, the one listed first counts. A way that only begins or ends at a wall, or runs along it, does not go through
    it.

    Parameters
    ----------
    from_m
        Where all ways begin (an antenna), or where each does; shape (points, 2).
    points_m
        Where they end; shape (points, 2).
    walls
        Both ends of each wall.

    Returns
    -------
    array of bool
        Shape (walls, points).
    """
    found = np.zeros((len(walls), len(points_m)), dtype=np.bool_)
    ends: list[dict[Metres, NDArray[np.bool_]]] = []
    way = points_m - np.array(from_m)
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), _NEAR_M)
    for row, (one, two) in enumerate(walls):
        found[row], through = _crossed(from_m, way, length, one, two)
        for before, known in enumerate(ends):
            for end, hit in through.items():
                if end in known:
                    found[row] &= ~(hit & known[end] & found[before])
        ends.append(through)
    return found


def _crossed(
    from_m: Metres | Floats, way: Floats, length: Floats, one: Metres, two: Metres
) -> tuple[NDArray[np.bool_], dict[Metres, NDArray[np.bool_]]]:
    """Return which ways go through one wall, and which of them through either of its ends.

    Distances (in m) of the wall's ends from the way, and of the way's ends from the wall, tell sides apart.
    """
    (ax, ay), wall = np.transpose(from_m), (two[0] - one[0], two[1] - one[1])
    long = math.hypot(*wall)
    first = (way[:, 0] * (one[1] - ay) - way[:, 1] * (one[0] - ax)) / length
    second = (way[:, 0] * (two[1] - ay) - way[:, 1] * (two[0] - ax)) / length
    begin = (wall[0] * (ay - one[1]) - wall[1] * (ax - one[0])) / long
    end = begin + (wall[0] * way[:, 1] - wall[1] * way[:, 0]) / long
    apart = (np.abs(begin) > _NEAR_M) & (np.abs(end) > _NEAR_M) & ((begin > 0) != (end > 0))
    at_first, at_second = np.abs(first) <= _NEAR_M, np.abs(second) <= _NEAR_M
    spans = at_first | at_second | ((first > 0) != (second > 0))
    return apart & spans, {one: at_first, two: at_second}


def _edges(corners_m: Sequence[Metres]) -> zip[tuple[Metres, Metres]]:
    return zip(corners_m, [*corners_m[1:], corners_m[0]], strict=True)


def _distance_m(point: Metres, one: Metres, two: Metres) -> float:
    """Return how far a point is from a piece of a line."""
    along_x, along_y = two[0] - one[0], two[1] - one[1]
    square = along_x**2 + along_y**2
    part = ((point[0] - one[0]) * along_x + (point[1] - one[1]) * along_y) / square if square else 0.0
    part = min(max(part, 0.0), 1.0)
    return math.dist(point, (one[0] + part * along_x, one[1] + part * along_y))


def _side(one: Metres, two: Metres, point: Metres) -> float:
    return (two[0] - one[0]) * (point[1] - one[1]) - (two[1] - one[1]) * (point[0] - one[0])


def _meet(one: tuple[Metres, Metres], two: tuple[Metres, Metres]) -> bool:
    """Whether two pieces of lines share a point."""
    if any(_distance_m(end, *other) <= _NEAR_M for ends, other in ((one, two), (two, one)) for end in ends):
        return True
    across_two = _side(*two, one[0]) * _side(*two, one[1]) < 0
    return across_two and _side(*one, two[0]) * _side(*one, two[1]) < 0


def _folds_back(one: tuple[Metres, Metres], two: tuple[Metres, Metres], *, shared: Metres) -> bool:
    """Whether two edges that share a corner lie on each other."""
    far_one = one[0] if one[1] == shared else one[1]
    far_two = two[1] if two[0] == shared else two[0]
    return _distance_m(far_one, shared, far_two) <= _NEAR_M or _distance_m(far_two, shared, far_one) <= _NEAR_M

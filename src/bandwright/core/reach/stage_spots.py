"""Where somebody or something may be on a stage: a point, a disc round an antenna, or a polygon."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.area import Metres
from bandwright.core.reach.area_geometry import along, inside

__all__ = ["Spot", "distances_m"]

Floats = NDArray[np.float64]
_THIN = 0.01  # a polygon that fills less of its box is drawn by its edges


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """All points where something may be: a polygon where corners are given, else a disc (a point without radius)."""

    middle_m: Metres = (0.0, 0.0)
    radius_m: float = 0.0
    corners_m: tuple[Metres, ...] = ()

    @property
    def fixed(self) -> bool:
        """Whether it is a single point."""
        return not self.corners_m and self.radius_m == 0

    @property
    def rim_m(self) -> Floats:
        """The corners of a polygon, or the middle of a disc; shape (points, 2)."""
        return np.array(self.corners_m or (self.middle_m,), np.float64)

    def holds(self, points_m: Floats) -> NDArray[np.bool_]:
        """Return which points lie inside."""
        if self.corners_m:
            return inside(points_m, self.corners_m)
        away = points_m - np.array(self.middle_m)
        within: NDArray[np.bool_] = np.hypot(away[:, 0], away[:, 1]) <= self.radius_m
        return within

    def spread(self, count: int = 24) -> Floats:
        """Return points all over it: along its edges, corners among them, and so many each way inside.

        Where something is farthest, in the shade of a wall or beside where an antenna looks, is among them or near one.
        """
        if not self.corners_m:
            return np.array([self.middle_m], np.float64)
        corners = np.array(self.corners_m)
        low, size = corners.min(axis=0), np.ptp(corners, axis=0)
        x, y = (low[k] + size[k] * (np.arange(count) + 0.5) / count for k in (0, 1))
        inner = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        edge = along([*self.corners_m, self.corners_m[0]], step_m=max(float(size.max()) / (4 * count), 1e-3))
        return np.concatenate([edge, inner[inside(inner, self.corners_m)]])

    def draw(self, random: np.random.Generator, count: int) -> Floats:
        """Return so many points, each as likely as any other; shape (count, 2), in m."""
        if self.fixed:
            return np.broadcast_to(np.array(self.middle_m, np.float64), (count, 2))
        if not self.corners_m:
            turn, away = random.random(count) * (2 * math.pi), self.radius_m * np.sqrt(random.random(count))
            return np.array(self.middle_m) + np.stack([away * np.cos(turn), away * np.sin(turn)], axis=1)
        corners = np.array(self.corners_m)
        low, size = corners.min(axis=0), np.ptp(corners, axis=0)
        if _area_m2(corners) < _THIN * float(np.prod(size)):
            return _on_edges(corners, random, count)
        kept = np.empty((0, 2))
        while len(kept) < count:
            tried = low + size * random.random((4 * count + 64, 2))
            kept = np.concatenate([kept, tried[inside(tried, self.corners_m)]])
        return kept[:count]


@functools.lru_cache(maxsize=4096)
def distances_m(one: Spot, two: Spot) -> tuple[float, float]:
    """Return how close and how far apart two things may be that are each somewhere in their spot, in m.

    >>> distances_m(Spot(), Spot(middle_m=(3.0, 4.0)))
    (5.0, 5.0)
    >>> distances_m(Spot(), Spot(middle_m=(3.0, 4.0), radius_m=5.0))[0]
    0.0
    """
    if not one.corners_m and not two.corners_m:
        between, reach = math.dist(one.middle_m, two.middle_m), one.radius_m + two.radius_m
        return max(0.0, between - reach), between + reach
    first, second, reach = one.rim_m, two.rim_m, one.radius_m + two.radius_m
    far = np.hypot(*(first[:, None] - second[None, :]).transpose(2, 0, 1)).max() + reach
    if one.holds(second).any() or two.holds(first).any() or _cross(first, second):
        return 0.0, float(far)
    near = min(_from_edges_m(first, second), _from_edges_m(second, first)) - reach
    return max(0.0, near), float(far)


def _on_edges(corners: Floats, random: np.random.Generator, count: int) -> Floats:
    """Return points drawn evenly along all edges, which is as good as all of it where a polygon is that thin."""
    way = np.roll(corners, -1, axis=0) - corners
    ends = np.cumsum(np.hypot(way[:, 0], way[:, 1]))
    at = random.random(count) * ends[-1]
    edge = np.minimum(np.searchsorted(ends, at, side="right"), len(ends) - 1)
    length = np.hypot(way[edge, 0], way[edge, 1])
    part = (at - (ends[edge] - length)) / np.maximum(length, np.finfo(float).tiny)
    return np.asarray(corners[edge] + part[:, None] * way[edge])


def _area_m2(corners: Floats) -> float:
    x, y = (corners - corners[0]).T
    return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2


def _from_edges_m(points: Floats, corners: Floats) -> float:
    """Return how near the nearest of some points comes to the edges of a polygon (or to its only corner)."""
    way = np.roll(corners, -1, axis=0) - corners
    square = np.maximum((way**2).sum(axis=1), np.finfo(float).tiny)
    off = points[:, None] - corners[None, :]
    part = np.clip((off * way).sum(axis=2) / square, 0.0, 1.0)
    short = off - part[:, :, None] * way
    return float(np.hypot(short[:, :, 0], short[:, :, 1]).min())


def _cross(one: Floats, two: Floats) -> bool:
    """Whether an edge of one polygon crosses an edge of another."""
    return bool((_splits(one, two) & _splits(two, one).T).any())


def _splits(one: Floats, two: Floats) -> NDArray[np.bool_]:
    """Return for each edge of one and each edge of two whether the line of the first has the second's ends apart."""
    way = np.roll(one, -1, axis=0) - one
    off = two[None, :] - one[:, None]
    side = way[:, None, 0] * off[:, :, 1] - way[:, None, 1] * off[:, :, 0]
    return np.asarray(side * np.roll(side, -1, axis=1) < 0)

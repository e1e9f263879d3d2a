"""A curve of straight lines with fewer points that stays as near to the first one as was asked."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["thinned"]


def thinned(points: Sequence[tuple[float, float]], *, within: float) -> tuple[tuple[float, float], ...]:
    """Return points of a curve, rising in x, from which it departs by `within` at most, in y.

    The ends stay. Between two kept points the farthest one is kept too, for as long as it lies too far off.

    References
    ----------
    D. H. Douglas, T. K. Peucker, "Algorithms for the reduction of the number of points required to represent a
    digitized line or its caricature", Cartographica 10 (1973) 112-122; the distance here is the one in y.

    >>> thinned([(0, 0.0), (1, 1.0), (2, 2.0), (3, 5.0)], within=0.1)
    ((0, 0.0), (2, 2.0), (3, 5.0))
    """
    kept = {0, len(points) - 1}
    open_stretches = [(0, len(points) - 1)]
    while open_stretches:
        first, last = open_stretches.pop()
        off, at = max(((_off(points, first, last, i), i) for i in range(first + 1, last)), default=(0.0, first))
        if off > within:
            kept.add(at)
            open_stretches += [(first, at), (at, last)]
    return tuple(points[index] for index in sorted(kept))


def _off(points: Sequence[tuple[float, float]], first: int, last: int, index: int) -> float:
    (low_x, low_y), (high_x, high_y), (x, y) = points[first], points[last], points[index]
    return abs(low_y + (high_y - low_y) * (x - low_x) / (high_x - low_x) - y)

"""Lines of equal value on a grid: marching squares, with pieces joined to lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["contour_lines"]

Floats = NDArray[np.float64]
Point = tuple[float, float]
_Edge = tuple[int, int, int]  # row, column, and 0 for the edge towards the next column, 1 towards the next row

# Which edges of a cell a line goes in and out by, for the corners that lie above it: bit 0 low left, 1 low right,
# 2 high right, 3 high left. Edges: 0 low, 1 right, 2 high, 3 left. Two opposite corners: by the mean of the cell.
_PIECES: dict[int, tuple[tuple[int, int], ...]] = {
    1: ((3, 0),),
    2: ((0, 1),),
    3: ((3, 1),),
    4: ((1, 2),),
    6: ((0, 2),),
    7: ((3, 2),),
    8: ((2, 3),),
    9: ((2, 0),),
    11: ((2, 1),),
    12: ((1, 3),),
    13: ((1, 0),),
    14: ((0, 3),),
}
_SADDLES = {
    (5, True): ((3, 2), (1, 0)),
    (5, False): ((3, 0), (1, 2)),
    (10, True): ((0, 3), (2, 1)),
    (10, False): ((0, 1), (2, 3)),
}


def contour_lines(values: Floats, level: float) -> tuple[tuple[Point, ...], ...]:
    """Return the lines along which a grid has a value, in units of columns and rows.

    Each line is a row of points (column, row), closed ones with their first point at both ends; between points of the
    grid values follow straight lines. Cells with a value that is not finite have no line.

    Parameters
    ----------
    values
        Shape (rows, columns).
    level
        The value.

    References
    ----------
    W. E. Lorensen and H. E. Cline, "Marching cubes", Computer Graphics 21(4), 1987, in two dimensions.

    Examples
    --------
    >>> contour_lines(np.array([[0.0, 1.0], [0.0, 1.0]]), 0.25)
    (((0.25, 0.0), (0.25, 1.0)),)
    """
    pieces = list(_pieces(values, level))
    return tuple(tuple(_at(values, level, edge) for edge in line) for line in _joined(pieces))


def _pieces(values: Floats, level: float) -> Iterator[tuple[_Edge, _Edge]]:
    above = values > level
    corners = above[:-1, :-1] + 2 * above[:-1, 1:] + 4 * above[1:, 1:] + 8 * above[1:, :-1]
    known = np.isfinite(values)
    whole = known[:-1, :-1] & known[:-1, 1:] & known[1:, 1:] & known[1:, :-1]
    for row, column in np.argwhere((corners > 0) & (corners < 15) & whole).tolist():
        case = int(corners[row, column])
        if case in _PIECES:
            found: Sequence[tuple[int, int]] = _PIECES[case]
        else:
            found = _SADDLES[case, bool(values[row : row + 2, column : column + 2].mean() > level)]
        for one, two in found:
            yield _edge(row, column, one), _edge(row, column, two)


def _edge(row: int, column: int, side: int) -> _Edge:
    return ((row, column, 0), (row, column + 1, 1), (row + 1, column, 0), (row, column, 1))[side]


def _at(values: Floats, level: float, edge: _Edge) -> Point:
    row, column, up = edge
    one = values[row, column]
    two = values[row + up, column + 1 - up]
    part = float((level - one) / (two - one))
    return (float(column), row + part) if up else (column + part, float(row))


def _joined(pieces: Sequence[tuple[_Edge, _Edge]]) -> Iterator[list[_Edge]]:
    """Yield lines of pieces that share an edge; open ones first, so that none begins in its middle."""
    ends: dict[_Edge, list[int]] = defaultdict(list)
    for number, piece in enumerate(pieces):
        for end in piece:
            ends[end].append(number)
    used = [False] * len(pieces)
    lone = [end for end, numbers in ends.items() if len(numbers) == 1]
    for start in (*lone, *ends):
        line = [start]
        while (ahead := next((n for n in ends[line[-1]] if not used[n]), None)) is not None:
            used[ahead] = True
            one, two = pieces[ahead]
            line.append(two if one == line[-1] else one)
        if len(line) > 1:
            yield line

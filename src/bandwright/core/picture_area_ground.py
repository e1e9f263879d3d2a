"""The ground of a plan: bands of margin, patterns where it is not enough, lines of equal dB, and metres."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bandwright.core.contours import contour_lines
from bandwright.core.drawing import Anchor, Area, Ink, Item, Line, Point, Polyline, Raster, Rect, Text
from bandwright.core.picture_area_labels import PlanFrame, is_clear, on_paper, text_box
from bandwright.core.picture_area_legend import BANDS, CONTOURS, HATCHED
from bandwright.core.picture_content import SMALL
from bandwright.core.picture_layout import round_step
from bandwright.core.reach.area_geometry import encloses
from bandwright.core.reach.area_kinds import KindMap
from bandwright.core.reach.area_reach import AreaReach

__all__ = ["axis_items", "grid_lines", "margin_items", "outside_items"]

Floats = NDArray[np.float64]

_FINER = 3  # cells of the picture for each one of the grid, so that bands have smooth edges
_LONG_ENOUGH = 60.0  # units of the drawing from which on a contour line gets its figure


def margin_items(reach: AreaReach, kind: KindMap | None, frame: PlanFrame) -> Iterator[Item]:
    """Yield the bands of the map, patterns where it is not enough, and lines of equal dB."""
    if kind is None or kind.reserve_db is None:
        return
    grid = reach.grid
    values = kind.reserve_db.reshape(grid.rows, grid.columns)
    fine = _finer(values)
    x, top = frame.at((grid.left_m, grid.low_m + grid.rows * grid.step_m))
    side = grid.step_m * frame.scale
    steps = np.zeros(fine.shape, dtype=np.uint8)
    for band in BANDS:
        steps[(fine >= band.low_db) & (fine < band.high_db)] = band.step
    flipped = steps[::-1]
    yield Raster(
        x=x,
        y=top,
        width=side * grid.columns,
        height=side * grid.rows,
        columns=fine.shape[1],
        rows=fine.shape[0],
        steps=flipped.tobytes(),
    )
    for band in HATCHED:
        hit = (values >= band.low_db) & (values < band.high_db)
        for first, end, row, rows in _blocks(hit):
            yield Rect(
                x=x + first * side,
                y=top + (grid.rows - row - rows) * side,
                width=(end - first) * side,
                height=rows * side,
                fill=Ink.TAKEN,
                pattern=band.pattern,
                opacity=0.8,
            )
    outline = frame.line(reach.area.outline_m)
    yield from _contours(values, (x + side / 2, top + (grid.rows - 0.5) * side), side, frame, outline)


def _finer(values: Floats) -> Floats:
    """Return a grid with more cells, values between them following straight lines."""
    for axis in (0, 1):
        count = values.shape[axis]
        at = np.clip((np.arange(count * _FINER) + 0.5) / _FINER - 0.5, 0, count - 1)
        low = np.minimum(at.astype(np.int64), max(count - 2, 0))
        high = np.minimum(low + 1, count - 1)
        part = (at - low).reshape((-1, 1) if axis == 0 else (1, -1))
        values = np.take(values, low, axis) * (1 - part) + np.take(values, high, axis) * part
    return values


def _blocks(hit: NDArray[np.bool_]) -> Iterator[tuple[int, int, int, int]]:
    """Yield rectangles that cover a mask: first and last column (behind it), lowest row and number of rows."""
    going: dict[tuple[int, int], int] = {}
    for row in range(len(hit) + 1):
        padded = np.concatenate([[False], hit[row] if row < len(hit) else np.zeros(hit.shape[1], np.bool_), [False]])
        edges = np.flatnonzero(np.diff(padded.astype(np.int8))).reshape(-1, 2)
        here = {(int(first), int(end)) for first, end in edges}
        for span in [span for span in going if span not in here]:
            start = going.pop(span)
            yield (*span, start, row - start)
        for span in here:
            going.setdefault(span, row)


def _contours(values: Floats, origin: Point, side: float, frame: PlanFrame, outline: Sequence[Point]) -> Iterator[Item]:
    """Yield lines of equal dB with their figures; that of 0 dB is the heavy one."""
    labels: list[Item] = []
    for level in CONTOURS:
        for line in contour_lines(values, level):
            points = tuple((origin[0] + column * side, origin[1] - row * side) for column, row in line)
            heavy = level == 0
            dash = () if level >= 0 else (5.0, 3.0)
            yield Polyline(points=points, ink=Ink.TEXT, width=2.2 if heavy else 0.8, dash=dash)
            if sum(math.dist(one, two) for one, two in pairwise(points)) >= _LONG_ENOUGH:
                labels += _figure(
                    points, f"{level:+.0f} dB".replace("+0", "0").replace("-", "\u2212"), frame, outline, heavy=heavy
                )
    yield from labels


def _figure(
    points: Sequence[Point], text: str, frame: PlanFrame, outline: Sequence[Point], *, heavy: bool
) -> Iterator[Item]:
    """Yield a figure on a line, at the first of some places along it where nothing else stands."""
    for part in (0.5, 0.3, 0.7, 0.15, 0.85):
        x, y = points[int(part * (len(points) - 1))]
        box = text_box((x, y + SMALL / 3), text, SMALL, Anchor.MIDDLE, bold=heavy)
        if encloses(outline, (x, y)) and is_clear(frame, box):
            frame.taken.append(box)
            yield from on_paper((x, y + SMALL / 3), text, SMALL, Anchor.MIDDLE, bold=heavy)
            return


def outside_items(reach: AreaReach, frame: PlanFrame) -> Iterator[Item]:
    """Yield grey over all that lies outside the outline, as one ring: around the box, then back along the outline."""
    outline = list(frame.line(reach.area.outline_m))
    if _turns_left(outline):
        outline.reverse()
    left, top, right, low = frame.left - 1, frame.top - 1, frame.left + frame.width + 1, frame.top + frame.height + 1
    start = min(range(len(outline)), key=lambda k: math.dist(outline[k], (left, top)))
    ring = [*outline[start:], *outline[: start + 1]]
    corners = [(left, top), (left, low), (right, low), (right, top), (left, top)]
    yield Area(points=(*corners, *ring), ink=Ink.OUTSIDE)


def _turns_left(points: Sequence[Point]) -> bool:
    closed = [*points, points[0]]
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(closed)) < 0


def grid_lines(frame: PlanFrame) -> Iterator[Item]:
    """Yield faint lines at whole steps of metres."""
    step, _ = _metre_step(frame)
    for x, y in _ticks(frame, step):
        if x is not None:
            (at, _) = frame.at((x, 0))
            yield Line(start=(at, frame.top), end=(at, frame.top + frame.height), ink=Ink.GRID, width=0.5)
        if y is not None:
            (_, at) = frame.at((0, y))
            yield Line(start=(frame.left, at), end=(frame.left + frame.width, at), ink=Ink.GRID, width=0.5)


def _metre_step(frame: PlanFrame) -> tuple[float, int]:
    step = round_step(length=frame.box_m[2] - frame.box_m[0], pixels=frame.width, least_pixels=64)
    return step, max(0, -math.floor(math.log10(step)))


def _ticks(frame: PlanFrame, step: float) -> Iterator[tuple[float | None, float | None]]:
    left, low, right, high = frame.box_m
    for k in range(math.ceil(left / step), math.floor(right / step) + 1):
        yield k * step, None
    for k in range(math.ceil(low / step), math.floor(high / step) + 1):
        yield None, k * step


def axis_items(frame: PlanFrame) -> Iterator[Item]:
    """Yield metres along the lower and the left side."""
    step, decimals = _metre_step(frame)
    bottom = frame.top + frame.height
    yield Rect(x=frame.left, y=frame.top, width=frame.width, height=frame.height, outline=Ink.MUTED, line_width=0.75)
    for x, y in _ticks(frame, step):
        if x is not None:
            (at, _), text = frame.at((x, 0)), f"{x:.{decimals}f}".replace("-", "\u2212")
            yield Line(start=(at, bottom), end=(at, bottom + 4), ink=Ink.MUTED)
            yield Text(at=(at, bottom + 17), text=text, size=SMALL, ink=Ink.MUTED, anchor=Anchor.MIDDLE)
        if y is not None:
            (_, at), text = frame.at((0, y)), f"{y:.{decimals}f}".replace("-", "\u2212")
            yield Line(start=(frame.left - 4, at), end=(frame.left, at), ink=Ink.MUTED)
            yield Text(at=(frame.left - 7, at + 4), text=text, size=SMALL, ink=Ink.MUTED, anchor=Anchor.END)
    yield Text(at=(frame.left + frame.width, bottom + 31), text="m", size=SMALL, ink=Ink.MUTED, anchor=Anchor.END)

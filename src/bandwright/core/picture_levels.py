"""The level diagram of one way of sound: from the source to the reading, with noise below and clipping above.

Every point has its own unit, so heights are dB against what reaches full deviation there, and the figures are those of
the point. Through controls that fit, the levels run level; what moves is the noise below and the ceiling above.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import TypeAlias

from bandwright.core.drawing import Anchor, Group, Ink, Item, Line, Mark, Polyline, Shape, Text
from bandwright.core.picture_words import cut, folded
from bandwright.core.sound.lineup import LineUp, Point
from bandwright.core.words import one_line

__all__ = ["PANEL_HEIGHT", "level_items"]

PANEL_HEIGHT = 178.0
_NAMES, _FOOT, _AXIS, _LAST = 30.0, 4.0, 34.0, 64.0
_STEP_DB, _SIZE = 20, 7.5
_UNITS = {"dB": "dB full"}
_Style: TypeAlias = tuple[str, Ink, float, tuple[float, ...]]  # which level, its ink, how thick, its dash
_LINES: tuple[_Style, ...] = (
    ("peak", Ink.OURS, 1.6, ()),
    ("loudest", Ink.OURS, 0.9, ()),
    ("quietest", Ink.OURS, 0.9, (1, 2)),
    ("noise", Ink.FLOOR, 1.0, (3, 2)),
)

Scale: TypeAlias = Callable[[float], float]
Column: TypeAlias = tuple[Point, float, float]  # the point, its left edge, and what reaches full deviation there


def level_items(item: LineUp, *, top: float, width: float) -> Iterator[Item]:
    """Yield the diagram of one way from `top` on; nothing where gain or levels are not known."""
    columns = _columns(item, width)
    if not columns:
        return
    low, high = _limits(columns)
    plot_top, bottom = top + _NAMES, top + PANEL_HEIGHT - _FOOT

    def y_of(db: float) -> float:
        return plot_top + (high - db) / (high - low) * (bottom - plot_top)

    wide = (width - _AXIS - _LAST) / len(columns)
    items: list[Item] = list(_grid(low, high, width, y_of))
    for column in columns:
        items += _name(column, wide, top)
    for style in _LINES:
        items += _line(columns, style, wide, y_of)
    items += _ceilings(columns, wide, y_of)
    items += _tones(columns, wide, y_of)
    items += _words(columns[-1], width, y_of)
    yield Group(items=tuple(items), title=_summary(item))


def _columns(item: LineUp, width: float) -> list[Column]:
    transmitter = item.point("transmitter")
    if transmitter is None or transmitter.peak is None:
        return []
    wide = (width - _AXIS - _LAST) / len(item.points)
    found = []
    for number, point in enumerate(item.points):
        if point.peak is None:
            break
        full = point.full if point.full is not None else point.peak - transmitter.peak
        found.append((point, _AXIS + number * wide, full))
    return found


def _of(column: Column, what: str) -> float | None:
    """Return one level of a point against full deviation."""
    value = getattr(column[0], what)
    return None if value is None else float(value) - column[2]


def _limits(columns: Sequence[Column]) -> tuple[float, float]:
    known = [value for column in columns for what, *_ in _LINES if (value := _of(column, what)) is not None]
    ceilings = [value for column in columns if (value := _of(column, "clip")) is not None]
    low = math.floor((min(known) - 4) / _STEP_DB) * _STEP_DB
    high = math.ceil((max([0.0, *known, *(min(one, 20.0) for one in ceilings)]) + 4) / _STEP_DB) * _STEP_DB
    return float(low), float(high)


def _grid(low: float, high: float, width: float, y_of: Scale) -> Iterator[Item]:
    for db in range(int(low), int(high) + 1, _STEP_DB):
        y = y_of(db)
        yield Line(start=(_AXIS, y), end=(width - _LAST, y), ink=Ink.GRID, width=0.8 if db == 0 else 0.4)
        yield Text(at=(_AXIS - 4, y + 2.5), text=str(db), size=7, ink=Ink.MUTED, anchor=Anchor.END)


def _name(column: Column, wide: float, top: float) -> Iterator[Item]:
    point, left, _ = column
    lines = folded(one_line(point.name), size=_SIZE, width=wide - 4)
    if len(lines) > 2:
        lines = [lines[0], cut(" ".join(lines[1:]), size=_SIZE, width=wide - 4)]
    lines.append(_UNITS.get(point.unit, point.unit))
    for number, line in enumerate(lines):
        ink = Ink.MUTED if number == len(lines) - 1 else Ink.TEXT
        yield Text(at=(left + wide / 2, top + 7 + number * 8), text=line, size=_SIZE, ink=ink, anchor=Anchor.MIDDLE)


def _line(columns: Sequence[Column], style: _Style, wide: float, y_of: Scale) -> Iterator[Item]:
    what, ink, thick, dash = style
    known = [(column, db) for column in columns if (db := _of(column, what)) is not None]
    points = [at for (_, left, _), db in known for at in ((left, y_of(db)), (left + wide, y_of(db)))]
    if points:
        yield Polyline(points=tuple(points), ink=ink, width=thick, dash=dash)
    for (point, left, _), db in known:
        text = f"{getattr(point, what):.1f}"
        muted = Ink.MUTED if what == "noise" else Ink.TEXT
        yield Text(at=(left + wide / 2, y_of(db) - 2.5), text=text, size=7, ink=muted, anchor=Anchor.MIDDLE)


def _ceilings(columns: Sequence[Column], wide: float, y_of: Scale) -> Iterator[Item]:
    """Yield where each point clips, at the upper edge where that is far above."""
    for column in columns:
        point, left, _ = column
        db = _of(column, "clip")
        if db is None:
            continue
        y = max(y_of(db), y_of(24.0))
        peak = _of(column, "peak")
        for start, end in _beside_figure(left + 3, left + wide - 3, None if peak is None else y - y_of(peak)):
            yield Line(start=(start, y), end=(end, y), ink=Ink.TEXT, width=2.0)
        below = 8 if peak is not None and peak > db else -2.5
        yield Text(at=(left + 4, y + below), text=f"clips {point.clip:.1f}", size=7, bold=True)


def _beside_figure(left: float, right: float, below_peak: float | None) -> Iterator[tuple[float, float]]:
    """Yield a ceiling's ends; in two pieces where it would strike through the figure of the peak in the middle."""
    if below_peak is None or not -10 < below_peak < -1:
        yield left, right
        return
    middle = (left + right) / 2
    yield left, middle - 13
    yield middle + 13, right


def _tones(columns: Sequence[Column], wide: float, y_of: Scale) -> Iterator[Item]:
    for column in columns:
        point, left, _ = column
        db = _of(column, "tone")
        if db is not None:
            yield Mark(at=(left + wide - 34, y_of(db)), shape=Shape.DIAMOND, ink=Ink.TEXT, size=6)
            yield Text(at=(left + wide - 29, y_of(db) + 2.5), text=f"{point.tone:.1f}", size=7, bold=True)


def _words(last: Column, width: float, y_of: Scale) -> Iterator[Item]:
    labels = [(y_of(db), what) for what, *_ in _LINES if (db := _of(last, what)) is not None]
    if (tone := _of(last, "tone")) is not None:
        labels.append((y_of(tone), "tone"))
    before = -100.0
    for y, words in sorted(labels):
        before = max(y, before + 9)
        yield Text(at=(width - _LAST + 6, before + 2.5), text=words, size=8)


def _summary(item: LineUp) -> str:
    parts = [
        f"{point.name}: peak {point.peak:.1f} {_UNITS.get(point.unit, point.unit)}"
        for point in item.points
        if point.peak is not None
    ]
    return "; ".join(parts)

"""The plot: ground, traces and axes of each panel."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from bandwright.core.bands import TvChannel
from bandwright.core.drawing import Anchor, Area, Group, Ink, Item, Line, Pattern, Polyline, Rect, Text, width_of
from bandwright.core.picture_content import PANEL_GAP, SMALL, Content, Frame
from bandwright.core.picture_layout import (
    Column,
    Panel,
    Trace,
    columns_of,
    round_step,
    runs,
    shallow_spans,
    unmeasured_spans,
)

__all__ = [
    "LIMIT_DASHES",
    "SHALLOW_STRIP",
    "channels_in",
    "filled",
    "frequency_axis",
    "ground",
    "level_range",
    "panel_items",
    "unmeasured",
]


LIMIT_DASHES = ((1.5, 3.0), (9.0, 3.0, 1.5, 3.0), (9.0, 3.0, 1.5, 3.0, 1.5, 3.0))
"""How the limits of a trace are told apart: dots, dash and dot, dash and two dots."""
SHALLOW_STRIP = 18.0


def level_range(content: Content, panels: Sequence[Panel]) -> tuple[float, float]:
    """Return a range of whole tens of dB around what the panels show."""
    trace = content.trace
    shown = np.zeros(len(trace.highest_db), dtype=bool)
    for panel in panels:
        shown |= (trace.high_edges_hz > panel.span.low_hz) & (trace.low_edges_hz < panel.span.high_hz)
    arrays = (trace.highest_db, trace.typical_db, trace.floor_db, *(limit.db for limit in trace.limits))
    levels = np.concatenate([array[shown] for array in arrays])
    levels = levels[np.isfinite(levels)]
    if len(levels) == 0:
        return -130.0, -60.0
    low = float(np.floor((np.min(levels) - 4) / 10) * 10)
    high = float(np.ceil((np.max(levels) + 3) / 10) * 10)
    return low, max(high, low + 40)


def panel_items(content: Content, frame: Frame) -> Iterator[Item]:
    """Return every panel: ground, traces, frame and axes."""
    yield from _unit(content.trace, frame)
    for index, panel in enumerate(frame.panels):
        yield Group(
            clip=frame.box(panel),
            items=(
                *ground(content, frame, panel),
                *_level_lines(frame, panel),
                *_traces(content.trace, frame, panel),
                *_not_deep_enough(content.trace, frame, panel),
                *unmeasured(content.trace, frame, panel),
            ),
        )
        yield Rect(
            x=panel.left,
            y=frame.top,
            width=panel.width,
            height=frame.bottom - frame.top,
            outline=Ink.MUTED,
            line_width=0.75,
        )
        yield from frequency_axis(frame, panel)
        if index == 0:
            yield from _level_axis(frame, panel)


def _unit(trace: Trace, frame: Frame) -> Iterator[Item]:
    """Return what the levels are in, over the level axis: the unit, and below it the bandwidth."""
    unit, _, bandwidth = trace.level_words.partition(" ")
    x = frame.panels[0].left - 7
    for text, y in ((unit, frame.top - 26), (bandwidth, frame.top - 12)):
        yield Text(at=(x, y), text=text, size=SMALL, ink=Ink.MUTED, anchor=Anchor.END)


def ground(content: Content, frame: Frame, panel: Panel) -> Iterator[Item]:
    """Return what may be used as paper, the rest grey, and what is taken or closed as a pattern."""
    height = frame.bottom - frame.top
    yield Rect(x=panel.left, y=frame.top, width=panel.width, height=height, fill=Ink.OUTSIDE)
    for window in content.usable(panel):
        edges = panel.cut(window)
        if edges is not None:
            yield Rect(x=edges[0], y=frame.top, width=edges[1] - edges[0], height=height, fill=Ink.PAPER)
    blocked = [(c.span, Pattern.HATCH) for c in channels_in(content, panel) if content.word_for(c) is not None]
    blocked += [(span, Pattern.CROSS) for permit in content.permits for span in permit.closed]
    for span, pattern in blocked:
        edges = panel.cut(span)
        if edges is not None:
            yield Rect(
                x=edges[0],
                y=frame.top,
                width=edges[1] - edges[0],
                height=height,
                fill=Ink.TAKEN,
                pattern=pattern,
                opacity=0.45,
            )
            if pattern is Pattern.CROSS:
                yield from _word_on_pattern("closed", *edges, frame.top + 20)


def channels_in(content: Content, panel: Panel) -> tuple[TvChannel, ...]:
    """Return the TV channels that reach into a panel."""
    return content.raster.touched_by(panel.span) if content.raster is not None else ()


def _level_ticks(frame: Frame) -> list[float]:
    step = round_step(length=frame.high_db - frame.low_db, pixels=frame.bottom - frame.top, least_pixels=30)
    first = int(np.ceil(frame.low_db / step))
    return [k * step for k in range(first, int(np.floor(frame.high_db / step)) + 1)]


def _level_lines(frame: Frame, panel: Panel) -> Iterator[Item]:
    for level in _level_ticks(frame):
        y = frame.y_of(level)
        yield Line(start=(panel.left, y), end=(panel.right, y), ink=Ink.GRID)


def _level_axis(frame: Frame, panel: Panel) -> Iterator[Item]:
    for level in _level_ticks(frame):
        text = f"{level:.0f}".replace("-", "−")
        y = frame.y_of(level) + 4
        yield Text(at=(panel.left - 7, y), text=text, size=SMALL, ink=Ink.MUTED, anchor=Anchor.END)


def frequency_axis(frame: Frame, panel: Panel) -> Iterator[Item]:
    """Return marks and MHz under a panel."""
    step = round_step(length=panel.span.width_hz, pixels=panel.width, least_pixels=54)
    decimals = max(0, 6 - len(f"{step:.0f}") + 1)
    for k in range(int(np.ceil(panel.span.low_hz / step)), int(np.floor(panel.span.high_hz / step)) + 1):
        x = panel.x_of(k * step)
        yield Line(start=(x, frame.bottom), end=(x, frame.bottom + 4), ink=Ink.MUTED)
        text = f"{k * step / 1e6:.{decimals}f}"
        half = width_of(text, size=SMALL) / 2
        if panel.left - PANEL_GAP / 3 <= x - half and x + half <= panel.right + PANEL_GAP / 3:
            yield Text(at=(x, frame.bottom + 17), text=text, size=SMALL, ink=Ink.MUTED, anchor=Anchor.MIDDLE)


def _traces(trace: Trace, frame: Frame, panel: Panel) -> Iterator[Item]:
    for part in columns_of(panel, trace, trace.typical_db):
        yield filled(part, frame, Ink.TYPICAL)
    for part in columns_of(panel, trace, trace.highest_db):
        yield from _line(part, frame, Ink.TRACE, 1.1)
    for part in columns_of(panel, trace, trace.floor_db):
        yield from _line(part, frame, Ink.FLOOR, 1.25, (7.0, 4.0))
    for limit, dash in zip(trace.limits, LIMIT_DASHES, strict=False):
        for part in columns_of(panel, trace, limit.db):
            yield from _line(part, frame, Ink.TEXT, 1.0, dash)


def filled(part: Sequence[Column], frame: Frame, ink: Ink) -> Area:
    """Return a run of columns filled down to the bottom."""
    upper = [(c.x, frame.y_of(c.high)) for c in _at_least_two(part)]
    return Area(points=((upper[0][0], frame.bottom), *upper, (upper[-1][0], frame.bottom)), ink=ink)


def _at_least_two(part: Sequence[Column]) -> Sequence[Column]:
    """Return columns that make a visible line: a single one is drawn one unit wide."""
    if len(part) > 1:
        return part
    only = part[0]
    return (
        Column(x=only.x - 0.5, low=only.low, high=only.high),
        Column(x=only.x + 0.5, low=only.low, high=only.high),
    )


def _line(
    part: Sequence[Column], frame: Frame, ink: Ink, width: float, dash: tuple[float, ...] = ()
) -> Iterator[Polyline]:
    points: list[tuple[float, float]] = []
    for column in _at_least_two(part):
        points.append((column.x, frame.y_of(column.high)))
        if column.low < column.high:
            points.append((column.x, frame.y_of(column.low)))
    for piece in runs(points):
        yield Polyline(points=piece, ink=ink, width=width, dash=dash)


def unmeasured(trace: Trace, frame: Frame, panel: Panel) -> Iterator[Item]:
    """Return the stretches that nobody measured, dotted and named."""
    middle = (frame.top + frame.bottom) / 2
    for span in unmeasured_spans(panel, trace):
        left, right = panel.x_of(span.low_hz), panel.x_of(span.high_hz)
        yield Rect(
            x=left,
            y=frame.top,
            width=right - left,
            height=frame.bottom - frame.top,
            fill=Ink.UNMEASURED,
            pattern=Pattern.DOTS,
        )
        yield from _word_on_pattern("not measured", left, right, middle)


def _not_deep_enough(trace: Trace, frame: Frame, panel: Panel) -> Iterator[Item]:
    """Return a dotted strip along the bottom where a measured stretch may be less quiet than it looks, and its name."""
    for span in shallow_spans(panel, trace):
        left, right = panel.x_of(span.low_hz), panel.x_of(span.high_hz)
        top = frame.bottom - SHALLOW_STRIP
        yield Rect(x=left, y=top, width=right - left, height=SHALLOW_STRIP, fill=Ink.PAPER)
        yield Rect(x=left, y=top, width=right - left, height=SHALLOW_STRIP, fill=Ink.UNMEASURED, pattern=Pattern.DOTS)
        yield Line(start=(left, top), end=(right, top), ink=Ink.MUTED, width=0.75)
        yield from _word_on_pattern("not deep enough", left, right, frame.bottom - 5)


def _word_on_pattern(word: str, left: float, right: float, y: float) -> Iterator[Item]:
    """Return a word on a patch of paper, where it fits between two edges."""
    width = width_of(word, size=SMALL) + 8
    if width > right - left:
        return
    middle = (left + right) / 2
    yield Rect(x=middle - width / 2, y=y - 13, width=width, height=18, fill=Ink.PAPER)
    yield Text(at=(middle, y), text=word, size=SMALL, ink=Ink.TEXT, anchor=Anchor.MIDDLE)

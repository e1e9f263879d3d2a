"""The picture of a waterfall: frequency across, time downwards, level as a step of the scale.

Rows are consecutive sweeps and as high as each other; the times at the side are those at which a row began. A stretch
or a row that nobody measured is dotted, as in the picture of a sweep, and never looks quiet.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import Span, TvRaster
from bandwright.core.drawing import Anchor, Drawing, Group, Ink, Item, Line, Pattern, Raster, Rect, Text, width_of
from bandwright.core.picture_content import AXIS_ROOM, LABEL, MARGIN, ROW, SMALL, TICK_ROOM, TITLE, Frame
from bandwright.core.picture_layout import Panel, round_step
from bandwright.core.picture_plot import frequency_axis
from bandwright.core.waterfall import Moments, Waterfall

__all__ = ["level_steps", "waterfall_picture"]

_HEAD, _LEAST_PLOT, _MOST_PLOT = 70.0, 120.0, 512.0
_HIGHEST_ROW = 12.0
_SCALE_WIDTH, _SCALE_HEIGHT = 320.0, 14.0
_BETWEEN_TIMES = 34.0
_LEAST_SLOT = 3.0
_LEAST_RANGE_DB = 20.0


def waterfall_picture(
    *,
    title: str,
    subtitle: str,
    waterfall: Waterfall,
    unit: str,
    zone: str | None = None,
    raster: TvRaster | None = None,
    right: float | None = None,
    width: float = 1200.0,
) -> Drawing:
    """Return the picture of a waterfall.

    Parameters
    ----------
    title, subtitle
        What stands on top: which sweep this is, with its time and state.
    waterfall
        The rows; at least one column.
    unit
        What its levels are in.
    zone
        The time zone of the times at the side, where somebody knows it.
    raster
        TV channels to be named under the MHz.
    right
        Right edge of the plot, so that it can stand under another one on the same axis; None: at the margin.
    width
        In units of the drawing.
    """
    if not waterfall.low_hz.size or not waterfall.sweeps:
        raise ValueError("a waterfall without rows or columns cannot be drawn")
    left = MARGIN + AXIS_ROOM
    span = Span(int(waterfall.low_hz[0]), int(np.ceil(waterfall.high_hz[-1])))
    panel = Panel(span=span, left=left, width=(width - MARGIN if right is None else right) - left)
    rows = len(waterfall.sweeps)
    height = max(_LEAST_PLOT, min(_MOST_PLOT, rows * _HIGHEST_ROW))
    low_db, high_db = _range(waterfall.highest_db)
    frame = Frame(panels=(panel,), top=_HEAD, bottom=_HEAD + height, low_db=low_db, high_db=high_db)
    items: list[Item] = [
        Text(at=(MARGIN, 34), text=title, size=TITLE, bold=True),
        Text(at=(MARGIN, 54), text=subtitle, size=LABEL, ink=Ink.MUTED),
        Group(title="levels over time and frequency", clip=frame.box(panel), items=tuple(_cells(waterfall, frame))),
        Rect(x=left, y=frame.top, width=panel.width, height=height, outline=Ink.MUTED, line_width=0.75),
        *_times(waterfall.moments, frame),
        *frequency_axis(frame, panel),
        Text(at=(MARGIN, frame.bottom + 17), text="MHz", size=SMALL, ink=Ink.MUTED),
    ]
    y = frame.bottom + TICK_ROOM
    if raster is not None and raster.touched_by(span):
        items += _tv_labels(raster, panel, y)
        y += ROW
    items += _legend(frame, unit=unit, zone=zone, y=y + 22)
    return Drawing(
        width=width,
        height=y + 22 + _SCALE_HEIGHT + 34,
        items=tuple(items),
        title=title,
        description=(
            f"{subtitle}. Waterfall of {rows} rows from {span}, levels from {low_db:.0f} to {high_db:.0f} {unit}; "
            "dotted where nobody measured."
        ),
    )


def _range(levels: npt.NDArray[np.float32]) -> tuple[float, float]:
    """Return whole tens of dB around all levels but the lowest hundredth, which noise scatters far down."""
    known = levels[np.isfinite(levels)]
    if not known.size:
        return -120.0, -120.0 + _LEAST_RANGE_DB
    low = float(np.floor(np.quantile(known, 0.01) / 10) * 10)
    return low, max(float(np.ceil(np.max(known) / 10) * 10), low + _LEAST_RANGE_DB)


def level_steps(waterfall: Waterfall, frame: Frame, panel: Panel) -> npt.NDArray[np.uint8]:
    """Return a step of the level scale for each row and each unit of width; 0 where nothing was measured.

    A cell shows the highest of the columns that reach into it, so that nothing narrow is lost; every column covers at
    least the cell in which it lies.
    """
    cells = int(panel.width)
    edges = panel.span.low_hz + np.arange(cells + 1) * (panel.span.width_hz / cells)
    first = np.searchsorted(waterfall.high_hz, edges[:-1], side="right")
    end = np.searchsorted(waterfall.low_hz, edges[1:], side="left")
    found = np.full((len(waterfall.sweeps), cells), np.nan, dtype=np.float32)
    for reach in range(int(np.max(end - first, initial=0))):
        there = first + reach < end
        found[:, there] = np.fmax(found[:, there], waterfall.highest_db[:, first[there] + reach])
    part = (found - frame.low_db) / (frame.high_db - frame.low_db)
    return np.where(np.isfinite(part), 1 + np.rint(254 * np.clip(np.nan_to_num(part), 0, 1)), 0).astype(np.uint8)


def _cells(waterfall: Waterfall, frame: Frame) -> Iterator[Item]:
    panel = frame.panels[0]
    steps = level_steps(waterfall, frame, panel)
    box = frame.box(panel)
    if not steps.all():
        yield Rect(x=box.x, y=box.y, width=box.width, height=box.height, fill=Ink.UNMEASURED, pattern=Pattern.DOTS)
    yield Raster(
        x=box.x,
        y=box.y,
        width=box.width,
        height=box.height,
        columns=steps.shape[1],
        rows=steps.shape[0],
        steps=steps.tobytes(),
    )


def _times(moments: tuple[Moments, ...], frame: Frame) -> Iterator[Item]:
    """Return when rows began, at the side: the date where it is another one than above, seconds where they tell."""
    height = (frame.bottom - frame.top) / len(moments)
    every = max(1, int(np.ceil(_BETWEEN_TIMES / height)))
    before: datetime | None = None
    known = [begun for begun, _ in moments if begun is not None]
    seconds = len(known) > 1 and (known[-1] - known[0]).total_seconds() < 60 * len(moments) / every * 2
    for number in range(0, len(moments), every):
        begun = moments[number][0]
        if begun is None:
            continue
        y = frame.top + number * height
        right = frame.panels[0].left
        yield Line(start=(right - 4, y), end=(right, y), ink=Ink.MUTED)
        clock = f"{begun:%H:%M:%S}" if seconds else f"{begun:%H:%M}"
        yield Text(at=(right - 7, y + 4), text=clock, size=SMALL, ink=Ink.TEXT, anchor=Anchor.END)
        if before is None or before.date() != begun.date():
            yield Text(at=(right - 7, y + 17), text=f"{begun:%m-%d}", size=SMALL, ink=Ink.MUTED, anchor=Anchor.END)
        before = begun


def _tv_labels(raster: TvRaster, panel: Panel, y: float) -> Iterator[Item]:
    yield Text(at=(MARGIN, y + 12.5), text="TV", size=SMALL, ink=Ink.MUTED)
    for channel in raster.touched_by(panel.span):
        edges = panel.cut(channel.span)
        if edges is None or edges[1] - edges[0] < _LEAST_SLOT:
            continue
        left, right = edges
        yield Rect(x=left, y=y, width=right - left, height=16, outline=Ink.MUTED, line_width=0.75)
        if width_of(channel.label, size=SMALL) + 4 <= right - left:
            yield Text(at=((left + right) / 2, y + 12.5), text=channel.label, size=SMALL, anchor=Anchor.MIDDLE)


def _legend(frame: Frame, *, unit: str, zone: str | None, y: float) -> Iterator[Item]:
    """Return the level scale with its figures, what the dots mean, and whose clock the times are of."""
    left = frame.panels[0].left
    yield Text(at=(MARGIN, y + 11), text=unit, size=SMALL, ink=Ink.MUTED)
    yield Raster(x=left, y=y, width=_SCALE_WIDTH, height=_SCALE_HEIGHT, columns=255, rows=1, steps=bytes(range(1, 256)))
    yield Rect(x=left, y=y, width=_SCALE_WIDTH, height=_SCALE_HEIGHT, outline=Ink.MUTED, line_width=0.75)
    length = frame.high_db - frame.low_db
    step = round_step(length=length, pixels=_SCALE_WIDTH, least_pixels=40)
    for k in range(int(length / step) + 1):
        x = left + k * step / length * _SCALE_WIDTH
        yield Line(start=(x, y + _SCALE_HEIGHT), end=(x, y + _SCALE_HEIGHT + 4), ink=Ink.MUTED)
        text = f"{frame.low_db + k * step:.0f}".replace("-", "\u2212")
        yield Text(at=(x, y + _SCALE_HEIGHT + 17), text=text, size=SMALL, ink=Ink.MUTED, anchor=Anchor.MIDDLE)
    x = left + _SCALE_WIDTH + 36
    yield Rect(
        x=x, y=y, width=22, height=14, fill=Ink.UNMEASURED, pattern=Pattern.DOTS, outline=Ink.MUTED, line_width=0.75
    )
    yield Text(at=(x + 28, y + 11), text="not measured", size=SMALL)
    clock = f"times of {zone}" if zone else "times as the file writes them"
    words = f"each cell: the highest level; each row: when it began, {clock}"
    yield Text(at=(x + 28 + width_of("not measured", size=SMALL) + 24, y + 11), text=words, size=SMALL, ink=Ink.MUTED)

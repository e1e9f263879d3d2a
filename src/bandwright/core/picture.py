"""The picture of a sweep: what was heard, where the permits are, what is taken, and where the carriers stand.

One panel for each group of permit windows on a shared level axis, and the whole sweep small underneath where the
panels show only parts of it. The ground says what may be used: paper inside the permits, grey outside. What is taken
is hatched and says so in a word; what nobody measured is dotted and never looks quiet. Carriers are told apart by the
shape of their mark and by their label.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

import numpy as np

from bandwright.core.bands import Span, TvChannel, TvRaster, occupied
from bandwright.core.drawing import (
    Anchor,
    Area,
    Drawing,
    Group,
    Ink,
    Item,
    Line,
    Mark,
    Pattern,
    Polyline,
    Rect,
    Shape,
    Text,
    width_of,
)
from bandwright.core.job import Job
from bandwright.core.kit import Direction
from bandwright.core.permits import Permit, PermitState
from bandwright.core.picture_layout import (
    Column,
    Flag,
    Panel,
    Trace,
    columns_of,
    lanes_of,
    panels_for,
    round_step,
    runs,
    unmeasured_spans,
)
from bandwright.core.planning.plan import Plan
from bandwright.units import mhz_text

__all__ = ["CarrierKind", "PictureCarrier", "carriers_of", "sweep_picture"]


class CarrierKind(StrEnum):
    """What a carrier is for; the value is the word in the legend."""

    MICROPHONE = "microphone"
    IN_EAR = "in-ear"
    TALKBACK = "talkback"
    SPARE = "spare carrier"
    OTHER = "other user"


_SHAPES: dict[CarrierKind, Shape] = {
    CarrierKind.MICROPHONE: Shape.DISC,
    CarrierKind.IN_EAR: Shape.TRIANGLE,
    CarrierKind.TALKBACK: Shape.SQUARE,
    CarrierKind.SPARE: Shape.RING,
    CarrierKind.OTHER: Shape.DIAMOND,
}

_KIND_OF = {
    Direction.FROM_PERSON: CarrierKind.MICROPHONE,
    Direction.TO_PERSON: CarrierKind.IN_EAR,
    Direction.BOTH: CarrierKind.TALKBACK,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureCarrier:
    """A carrier to be drawn; `name` is read out and shown on hovering, `label` stands at the stem."""

    label: str
    name: str
    carrier_hz: int
    bandwidth_hz: int
    kind: CarrierKind

    @property
    def ink(self) -> Ink:
        """Ours in the accent, everybody else's in plain ink."""
        return Ink.OTHER if self.kind is CarrierKind.OTHER else Ink.OURS


def carriers_of(job: Job, plan: Plan | None = None, *, named: bool = True) -> tuple[PictureCarrier, ...]:
    """Return the carriers of a plan and of the other users of a job; without `named`, links go by their id alone."""
    links = {link.id: link for link in job.links}
    found = [
        PictureCarrier(
            label=item.id,
            name=f"{item.id} {item.name}" if named else item.id,
            carrier_hz=item.carrier_hz,
            bandwidth_hz=links[item.id].radio.bandwidth_hz,
            kind=_KIND_OF[links[item.id].radio.direction],
        )
        for item in (plan.links if plan else ())
    ]
    found += [
        PictureCarrier(
            label=spare.id,
            name=f"spare carrier {spare.id}",
            carrier_hz=spare.carrier_hz,
            bandwidth_hz=job.radio(spare.radio).bandwidth_hz,
            kind=CarrierKind.SPARE,
        )
        for spare in (plan.spares if plan else ())
    ]
    found += [
        PictureCarrier(
            label=other.name,
            name=f"other user: {other.name}",
            carrier_hz=other.carrier_hz,
            bandwidth_hz=other.bandwidth_hz,
            kind=CarrierKind.OTHER,
        )
        for other in job.others
    ]
    return tuple(found)


_TITLE, _LABEL, _SMALL = 21.0, 13.0, 12.0
_MARGIN, _AXIS_ROOM, _PANEL_GAP, _LEAST_PANEL = 20.0, 58.0, 14.0, 96.0
_HEAD, _LANE, _MARK, _UNIT_ROOM = 66.0, 17.0, 9.0, 36.0
_PLOT, _OVERVIEW = 290.0, 74.0
_TICK_ROOM, _ROW = 24.0, 19.0
_LONGEST_LABEL = 18
_MOST_LANES = 12
_LEAST_SLOT = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Content:
    """Everything to be shown."""

    trace: Trace
    permits: tuple[Permit, ...]
    raster: TvRaster | None
    taken: frozenset[str]
    closed: frozenset[str]
    carriers: tuple[PictureCarrier, ...]

    def word_for(self, channel: TvChannel) -> str | None:
        """Return why a TV channel is not ours: taken (the sweep hears it) or closed (the brief says so)."""
        if channel.label in self.taken:
            return "taken"
        if channel.label in self.closed:
            return "closed"
        return None

    def usable(self, panel: Panel) -> tuple[Span, ...]:
        """Return the permit windows that reach into a panel; without any permit the whole panel."""
        if not self.permits:
            return (panel.span,)
        return tuple(w for permit in self.permits for w in permit.windows if w.overlaps(panel.span))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """Panels between two heights on one level axis."""

    panels: tuple[Panel, ...]
    top: float
    bottom: float
    low_db: float
    high_db: float

    def y_of(self, db: float) -> float:
        part = (db - self.low_db) / (self.high_db - self.low_db)
        return min(max(self.bottom - part * (self.bottom - self.top), self.top), self.bottom)

    def box(self, panel: Panel) -> Rect:
        return Rect(x=panel.left, y=self.top, width=panel.width, height=self.bottom - self.top)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """Items, and where they end."""

    items: tuple[Item, ...]
    bottom: float


def sweep_picture(
    *,
    title: str,
    subtitle: str,
    trace: Trace,
    permits: Sequence[Permit] = (),
    raster: TvRaster | None = None,
    taken: Sequence[str] = (),
    closed: Sequence[str] = (),
    carriers: Sequence[PictureCarrier] = (),
    width: float = 1200.0,
) -> Drawing:
    """Return the picture of a sweep.

    Parameters
    ----------
    title, subtitle
        What stands on top: the job, and which sweep this is with its time and state.
    trace
        The sweep.
    permits
        Windows that may be used; without any, the whole sweep is one panel on clear ground.
    raster, taken, closed
        TV channels, the labels of those the sweep found on the air, and of those the brief closes.
    carriers
        Ours and other users' (`carriers_of`).
    width
        In units of the drawing; 1200 reads well at 1440 pixels and across a landscape page of A4.
    """
    content = _Content(
        trace=trace,
        permits=tuple(permits),
        raster=raster,
        taken=frozenset(taken),
        closed=frozenset(closed),
        carriers=tuple(sorted(carriers, key=lambda c: (c.carrier_hz, c.label))),
    )
    panels, stems = _panels_and_stems(content, width)
    lanes = max((stem.lane for stem in stems), default=-1) + 1
    top = _HEAD + max(lanes * _LANE + 12, _UNIT_ROOM)
    low_db, high_db = _level_range(content, panels)
    frame = _Frame(panels=panels, top=top, bottom=top + _PLOT, low_db=low_db, high_db=high_db)
    items: list[Item] = [*_head(title, subtitle), *_panel_items(content, frame)]
    items += _stems(stems, frame)
    y = frame.bottom + _TICK_ROOM
    for make_row in (_tv_row, _permit_row):
        row = make_row(content, frame, y)
        items += row.items
        y = row.bottom
    overview = _overview(content, frame, top=y + 26, right=width - _MARGIN)
    items += overview.items
    legend, height = _legend(content, top=overview.bottom + 26, width=width)
    items += legend
    return Drawing(
        width=width, height=height, items=tuple(items), title=title, description=_description(content, subtitle)
    )


def _head(title: str, subtitle: str) -> tuple[Item, ...]:
    return (
        Text(at=(_MARGIN, 34), text=title, size=_TITLE, bold=True),
        Text(at=(_MARGIN, 54), text=subtitle, size=_LABEL, ink=Ink.MUTED),
    )


# ------------------------------------------------------------------------------------------------- panels and stems


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stem:
    carrier: PictureCarrier
    panel: Panel
    x: float
    lane: int
    label: str
    figures: str


def _windows(content: _Content) -> list[Span]:
    """Return what the panels must show: the permits (or the whole sweep) and every carrier of ours."""
    windows = [window for permit in content.permits for window in permit.windows]
    if not windows:
        trace = content.trace
        windows = [Span(int(np.min(trace.low_edges_hz)), int(np.max(trace.high_edges_hz)))]
    windows += [occupied(c.carrier_hz, c.bandwidth_hz) for c in content.carriers if c.kind is not CarrierKind.OTHER]
    return windows


def _panels_and_stems(content: _Content, width: float) -> tuple[tuple[Panel, ...], tuple[_Stem, ...]]:
    """Return panels and stems; labels shrink before lanes pile up, and panels make room for the last labels."""
    left, right = _MARGIN + _AXIS_ROOM, width - _MARGIN
    windows = _windows(content)
    pad = bool(content.permits or content.carriers)
    stems: tuple[_Stem, ...] = ()
    panels: tuple[Panel, ...] = ()
    for with_figures in (True, False):
        panels = panels_for(windows, left=left, width=right - left, gap=_PANEL_GAP, least=_LEAST_PANEL, pad=pad)
        over = max((_label_end(stem) - right for stem in _stems_in(panels, content, with_figures)), default=0.0)
        if over > 0:
            panels = panels_for(
                windows, left=left, width=right - left - over, gap=_PANEL_GAP, least=_LEAST_PANEL, pad=pad
            )
        stems = _in_lanes(_stems_in(panels, content, with_figures))
        if max((stem.lane for stem in stems), default=0) < _MOST_LANES:
            break
    return panels, stems


def _stems_in(panels: Sequence[Panel], content: _Content, with_figures: bool) -> list[_Stem]:
    return [
        _Stem(
            carrier=carrier,
            panel=panel,
            x=panel.x_of(carrier.carrier_hz),
            lane=0,
            label=_cut(carrier.label, _LONGEST_LABEL),
            figures=mhz_text(carrier.carrier_hz) if with_figures else "",
        )
        for panel in panels
        for carrier in content.carriers
        if panel.span.holds_hz(carrier.carrier_hz)
    ]


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def _figures_at(stem: _Stem) -> float:
    return stem.x + _MARK / 2 + 4 + width_of(stem.label, size=_LABEL, bold=True) + 5


def _label_end(stem: _Stem) -> float:
    return _figures_at(stem) + width_of(stem.figures, size=_LABEL)


def _in_lanes(stems: Sequence[_Stem]) -> tuple[_Stem, ...]:
    lanes = lanes_of([Flag(x=stem.x, left=stem.x, right=_label_end(stem) + 6) for stem in stems])
    return tuple(
        _Stem(carrier=stem.carrier, panel=stem.panel, x=stem.x, lane=lane, label=stem.label, figures=stem.figures)
        for stem, lane in zip(stems, lanes, strict=True)
    )


def _stems(stems: Sequence[_Stem], frame: _Frame) -> Iterator[Item]:
    for stem in stems:
        carrier = stem.carrier
        y = frame.top - 12 - stem.lane * _LANE
        dash = {CarrierKind.OTHER: (5.0, 3.0), CarrierKind.SPARE: (2.0, 3.0)}.get(carrier.kind, ())
        edges = stem.panel.cut(occupied(carrier.carrier_hz, carrier.bandwidth_hz))
        band = (
            ()
            if edges is None
            else (
                Rect(
                    x=edges[0],
                    y=frame.top,
                    width=edges[1] - edges[0],
                    height=frame.bottom - frame.top,
                    fill=carrier.ink,
                    opacity=0.16,
                ),
            )
        )
        yield Group(
            title=f"{carrier.name}, {mhz_text(carrier.carrier_hz)} MHz",
            items=(
                *band,
                Line(start=(stem.x, y), end=(stem.x, frame.bottom), ink=carrier.ink, width=1.25, dash=dash),
                Mark(at=(stem.x, y), shape=_SHAPES[carrier.kind], ink=carrier.ink, size=_MARK),
                Text(at=(stem.x + _MARK / 2 + 4, y + 4.5), text=stem.label, size=_LABEL, ink=carrier.ink, bold=True),
                *(
                    (Text(at=(_figures_at(stem), y + 4.5), text=stem.figures, size=_LABEL, ink=Ink.TEXT),)
                    if stem.figures
                    else ()
                ),
            ),
        )


# ------------------------------------------------------------------------------------------------- the plot


def _level_range(content: _Content, panels: Sequence[Panel]) -> tuple[float, float]:
    """Return a range of whole tens of dB around what the panels show."""
    trace = content.trace
    shown = np.zeros(len(trace.highest_db), dtype=bool)
    for panel in panels:
        shown |= (trace.high_edges_hz > panel.span.low_hz) & (trace.low_edges_hz < panel.span.high_hz)
    levels = np.concatenate([trace.highest_db[shown], trace.typical_db[shown], trace.floor_db[shown]])
    levels = levels[np.isfinite(levels)]
    if len(levels) == 0:
        return -130.0, -60.0
    low = float(np.floor((np.min(levels) - 4) / 10) * 10)
    high = float(np.ceil((np.max(levels) + 3) / 10) * 10)
    return low, max(high, low + 40)


def _panel_items(content: _Content, frame: _Frame) -> Iterator[Item]:
    yield from _unit(content.trace, frame)
    for index, panel in enumerate(frame.panels):
        yield Group(
            clip=frame.box(panel),
            items=(
                *_ground(content, frame, panel),
                *_level_lines(frame, panel),
                *_traces(content.trace, frame, panel),
                *_unmeasured(content.trace, frame, panel),
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
        yield from _frequency_axis(frame, panel)
        if index == 0:
            yield from _level_axis(frame, panel)


def _unit(trace: Trace, frame: _Frame) -> Iterator[Item]:
    """Return what the levels are in, over the level axis: the unit, and below it the bandwidth."""
    unit, _, bandwidth = trace.level_words.partition(" ")
    x = frame.panels[0].left - 7
    for text, y in ((unit, frame.top - 26), (bandwidth, frame.top - 12)):
        yield Text(at=(x, y), text=text, size=_SMALL, ink=Ink.MUTED, anchor=Anchor.END)


def _ground(content: _Content, frame: _Frame, panel: Panel) -> Iterator[Item]:
    height = frame.bottom - frame.top
    yield Rect(x=panel.left, y=frame.top, width=panel.width, height=height, fill=Ink.OUTSIDE)
    for window in content.usable(panel):
        edges = panel.cut(window)
        if edges is not None:
            yield Rect(x=edges[0], y=frame.top, width=edges[1] - edges[0], height=height, fill=Ink.PAPER)
    blocked = [(c.span, Pattern.HATCH) for c in _channels(content, panel) if content.word_for(c) is not None]
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


def _channels(content: _Content, panel: Panel) -> tuple[TvChannel, ...]:
    return content.raster.touched_by(panel.span) if content.raster is not None else ()


def _level_ticks(frame: _Frame) -> list[float]:
    step = round_step(length=frame.high_db - frame.low_db, pixels=frame.bottom - frame.top, least_pixels=30)
    first = int(np.ceil(frame.low_db / step))
    return [k * step for k in range(first, int(np.floor(frame.high_db / step)) + 1)]


def _level_lines(frame: _Frame, panel: Panel) -> Iterator[Item]:
    for level in _level_ticks(frame):
        y = frame.y_of(level)
        yield Line(start=(panel.left, y), end=(panel.right, y), ink=Ink.GRID)


def _level_axis(frame: _Frame, panel: Panel) -> Iterator[Item]:
    for level in _level_ticks(frame):
        text = f"{level:.0f}".replace("-", "−")
        y = frame.y_of(level) + 4
        yield Text(at=(panel.left - 7, y), text=text, size=_SMALL, ink=Ink.MUTED, anchor=Anchor.END)


def _frequency_axis(frame: _Frame, panel: Panel) -> Iterator[Item]:
    step = round_step(length=panel.span.width_hz, pixels=panel.width, least_pixels=54)
    decimals = max(0, 6 - len(f"{step:.0f}") + 1)
    for k in range(int(np.ceil(panel.span.low_hz / step)), int(np.floor(panel.span.high_hz / step)) + 1):
        x = panel.x_of(k * step)
        yield Line(start=(x, frame.bottom), end=(x, frame.bottom + 4), ink=Ink.MUTED)
        text = f"{k * step / 1e6:.{decimals}f}"
        half = width_of(text, size=_SMALL) / 2
        if panel.left - _PANEL_GAP / 3 <= x - half and x + half <= panel.right + _PANEL_GAP / 3:
            yield Text(at=(x, frame.bottom + 17), text=text, size=_SMALL, ink=Ink.MUTED, anchor=Anchor.MIDDLE)


def _traces(trace: Trace, frame: _Frame, panel: Panel) -> Iterator[Item]:
    for part in columns_of(panel, trace, trace.typical_db):
        yield _filled(part, frame, Ink.TYPICAL)
    for part in columns_of(panel, trace, trace.highest_db):
        yield from _line(part, frame, Ink.TRACE, 1.1)
    for part in columns_of(panel, trace, trace.floor_db):
        yield from _line(part, frame, Ink.FLOOR, 1.25, (7.0, 4.0))


def _filled(part: Sequence[Column], frame: _Frame, ink: Ink) -> Area:
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
    part: Sequence[Column], frame: _Frame, ink: Ink, width: float, dash: tuple[float, ...] = ()
) -> Iterator[Polyline]:
    points: list[tuple[float, float]] = []
    for column in _at_least_two(part):
        points.append((column.x, frame.y_of(column.high)))
        if column.low < column.high:
            points.append((column.x, frame.y_of(column.low)))
    for piece in runs(points):
        yield Polyline(points=piece, ink=ink, width=width, dash=dash)


def _unmeasured(trace: Trace, frame: _Frame, panel: Panel) -> Iterator[Item]:
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


def _word_on_pattern(word: str, left: float, right: float, y: float) -> Iterator[Item]:
    """Return a word on a patch of paper, where it fits between two edges."""
    width = width_of(word, size=_SMALL) + 8
    if width > right - left:
        return
    middle = (left + right) / 2
    yield Rect(x=middle - width / 2, y=y - 13, width=width, height=18, fill=Ink.PAPER)
    yield Text(at=(middle, y), text=word, size=_SMALL, ink=Ink.TEXT, anchor=Anchor.MIDDLE)


# ------------------------------------------------------------------------------------------------- rows underneath


def _tv_row(content: _Content, frame: _Frame, y: float) -> _Part:
    """Return the TV channels under the panels; where their words do not fit inside, all words stand below."""
    slots = [
        (channel, edges)
        for panel in frame.panels
        for channel in _channels(content, panel)
        if (edges := panel.cut(channel.span)) is not None and edges[1] - edges[0] >= _LEAST_SLOT
    ]
    if not slots:
        return _Part(items=(), bottom=y)
    below = any(
        (word := content.word_for(channel)) is not None
        and edges[1] - edges[0] < width_of(f"{channel.label} {word}", size=_SMALL, bold=True) + 6
        for channel, edges in slots
        if edges[1] - edges[0] > _ROW
    )
    items: list[Item] = [Text(at=(_MARGIN, y + 12.5), text="TV", size=_SMALL, ink=Ink.MUTED)]
    for channel, edges in slots:
        items += _tv_slot(channel.label, content.word_for(channel), edges, y, below=below)
    return _Part(items=tuple(items), bottom=y + _ROW + (12 if below else 0))


def _tv_slot(label: str, word: str | None, edges: tuple[float, float], y: float, *, below: bool) -> Iterator[Item]:
    """Return one TV channel: its label, hatched and with the word where it is not ours."""
    left, right = edges
    if word is not None:
        yield Rect(x=left, y=y, width=right - left, height=16, fill=Ink.TAKEN, pattern=Pattern.HATCH)
    yield Rect(x=left, y=y, width=right - left, height=16, outline=Ink.MUTED, line_width=0.75)
    if word is not None and below:
        yield from _fitting([word], left - 4, right + 4, y + 28, on_paper=False, bold=False)
    inside = f" {word}" if word is not None and not below else ""
    wanted = [f"TV {label}{inside}", f"{label}{inside}", label]
    taken = word is not None
    yield from _fitting(wanted[2 if below else 0 :], left, right, y + 12.5, on_paper=taken, bold=taken)


def _permit_row(content: _Content, frame: _Frame, y: float) -> _Part:
    """Return a bar under each permit window with its reference, or its id where that is all that fits."""
    bars = [
        (permit, edges)
        for panel in frame.panels
        for permit in content.permits
        for window in permit.windows
        if (edges := panel.cut(window)) is not None
    ]
    if not bars:
        return _Part(items=(), bottom=y)
    items: list[Item] = [Text(at=(_MARGIN, y + 14), text="Permit", size=_SMALL, ink=Ink.MUTED)]
    for permit, (left, right) in bars:
        state = " (applied for)" if permit.state is PermitState.APPLIED else ""
        items.append(Rect(x=left, y=y + 1, width=right - left, height=3, fill=Ink.TEXT))
        wanted = [f"{permit.reference}{state}", f"{permit.id}{state}", permit.id]
        items += _fitting(wanted, left, right, y + 17, on_paper=False, bold=False)
    return _Part(items=tuple(items), bottom=y + _ROW)


def _fitting(
    wanted: Sequence[str], left: float, right: float, y: float, *, on_paper: bool, bold: bool
) -> Iterator[Item]:
    """Return the first text that fits between two edges, if any does."""
    middle = (left + right) / 2
    for text in wanted:
        width = width_of(text, size=_SMALL, bold=bold) + 6
        if width <= right - left:
            if on_paper:
                yield Rect(x=middle - width / 2, y=y - 11, width=width, height=14, fill=Ink.PAPER)
            yield Text(at=(middle, y), text=text, size=_SMALL, ink=Ink.TEXT, anchor=Anchor.MIDDLE, bold=bold)
            return


# ------------------------------------------------------------------------------------------------- overview


def _overview(content: _Content, main: _Frame, *, top: float, right: float) -> _Part:
    """Return the whole sweep, small, where the panels show less than two thirds of it."""
    trace = content.trace
    whole = Span(int(np.min(trace.low_edges_hz)), int(np.max(trace.high_edges_hz)))
    shown = sum(panel.span.width_hz for panel in main.panels)
    if shown * 3 > whole.width_hz * 2:
        return _Part(items=(), bottom=top - 26)
    panel = Panel(span=whole, left=main.panels[0].left, width=right - main.panels[0].left)
    low_db, high_db = _level_range(content, [panel])
    top += 10
    frame = _Frame(panels=(panel,), top=top, bottom=top + _OVERVIEW, low_db=low_db, high_db=high_db)
    bars = [
        Rect(x=edges[0], y=top - 6, width=edges[1] - edges[0], height=3, fill=Ink.TEXT)
        for permit in content.permits
        for window in permit.windows
        if (edges := panel.cut(window)) is not None
    ]
    row = _tv_row(content, frame, frame.bottom + _TICK_ROOM)
    items = (
        Text(at=(_MARGIN, top - 12), text="The whole sweep", size=_SMALL, ink=Ink.MUTED),
        *bars,
        Group(
            clip=frame.box(panel),
            items=(
                *_ground(content, frame, panel),
                *(_filled(part, frame, Ink.TRACE) for part in columns_of(panel, trace, trace.highest_db)),
                *_unmeasured(trace, frame, panel),
            ),
        ),
        Rect(x=panel.left, y=top, width=panel.width, height=_OVERVIEW, outline=Ink.MUTED, line_width=0.75),
        *_frequency_axis(frame, panel),
        *row.items,
    )
    return _Part(items=items, bottom=row.bottom)


# ------------------------------------------------------------------------------------------------- legend and words

_SAMPLE, _BETWEEN = 22.0, 20.0
_Sample: TypeAlias = Callable[[float, float], Item]


def _legend(content: _Content, *, top: float, width: float) -> tuple[list[Item], float]:
    """Return the legend, flowing over as many lines as it takes, and where the drawing ends."""
    items: list[Item] = []
    x, y = _MARGIN, top + 8
    for word, sample in _legend_entries(content):
        length = _SAMPLE + 6 + width_of(word, size=_SMALL)
        if x + length > width - _MARGIN:
            x, y = _MARGIN, y + 20
        items.append(sample(x, y))
        items.append(Text(at=(x + _SAMPLE + 6, y + 4), text=word, size=_SMALL, ink=Ink.TEXT))
        x += length + _BETWEEN
    return items, y + 20


def _line_sample(ink: Ink, dash: tuple[float, ...] = ()) -> _Sample:
    return lambda x, y: Line(start=(x, y), end=(x + _SAMPLE, y), ink=ink, width=1.5, dash=dash)


def _mark_sample(kind: CarrierKind) -> _Sample:
    ink = Ink.OTHER if kind is CarrierKind.OTHER else Ink.OURS
    return lambda x, y: Mark(at=(x + _SAMPLE / 2, y), shape=_SHAPES[kind], ink=ink, size=_MARK)


def _patch_sample(ink: Ink, pattern: Pattern = Pattern.SOLID) -> _Sample:
    return lambda x, y: Rect(
        x=x, y=y - 7, width=_SAMPLE, height=14, fill=ink, pattern=pattern, outline=Ink.MUTED, line_width=0.75
    )


def _legend_entries(content: _Content) -> Iterator[tuple[str, _Sample]]:
    kinds = {carrier.kind for carrier in content.carriers}
    yield from ((kind.value, _mark_sample(kind)) for kind in CarrierKind if kind in kinds)
    yield content.trace.highest_words, _line_sample(Ink.TRACE)
    yield "typical", _patch_sample(Ink.TYPICAL)
    yield "noise floor", _line_sample(Ink.FLOOR, (7.0, 4.0))
    if content.taken or content.closed:
        yield "TV channel taken or closed", _patch_sample(Ink.TAKEN, Pattern.HATCH)
    if any(permit.closed for permit in content.permits):
        yield "closed by the permit", _patch_sample(Ink.TAKEN, Pattern.CROSS)
    yield "not measured", _patch_sample(Ink.UNMEASURED, Pattern.DOTS)
    if content.permits:
        yield "outside the permits", _patch_sample(Ink.OUTSIDE)


def _description(content: _Content, subtitle: str) -> str:
    trace = content.trace
    parts = [
        f"{subtitle}. Levels in {trace.level_words} from {np.min(trace.low_edges_hz) / 1e6:.3f} "
        f"to {np.max(trace.high_edges_hz) / 1e6:.3f} MHz."
    ]
    if content.permits:
        windows = "; ".join(
            f"{permit.reference}: {', '.join(str(window) for window in permit.windows)}" for permit in content.permits
        )
        parts.append(f"Permits: {windows}.")
    channels = content.raster.channels if content.raster is not None else ()
    blocked = [f"{c.label} ({content.word_for(c)})" for c in channels if content.word_for(c) is not None]
    if blocked:
        parts.append(f"TV channels not to be used: {', '.join(blocked)}.")
    for kind in CarrierKind:
        named = [f"{c.label} {mhz_text(c.carrier_hz)}" for c in content.carriers if c.kind is kind]
        if named:
            parts.append(f"{kind.value.capitalize()}, MHz: {', '.join(named)}.")
    return " ".join(parts)

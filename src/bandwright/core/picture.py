"""The picture of a sweep: what was heard, where the permits are, what is taken, and where the carriers stand.

One panel for each group of permit windows on a shared level axis, and the whole sweep small underneath where the
panels show only parts of it. The ground says what may be used: paper inside the permits, grey outside. What is taken
is hatched and says so in a word; what nobody measured is dotted and never looks quiet. Carriers are told apart by the
shape of their mark and by their label.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from bandwright.core.bands import Span, TvRaster, occupied
from bandwright.core.drawing import Drawing, Group, Ink, Item, Line, Mark, Rect, Text, width_of
from bandwright.core.permits import Permit
from bandwright.core.picture_content import (
    AXIS_ROOM,
    HEAD,
    LABEL,
    LANE,
    LEAST_PANEL,
    MARGIN,
    MARK,
    OVERVIEW,
    PANEL_GAP,
    PLOT,
    SHAPES,
    SMALL,
    TICK_ROOM,
    TITLE,
    UNIT_ROOM,
    CarrierKind,
    Content,
    Frame,
    Part,
    PictureCarrier,
    carriers_of,
)
from bandwright.core.picture_layout import Flag, Panel, Trace, columns_of, lanes_of, panels_for
from bandwright.core.picture_plot import filled, frequency_axis, ground, level_range, panel_items, unmeasured
from bandwright.core.picture_rows import legend, permit_row, tv_row
from bandwright.units import mhz_text

__all__ = ["CarrierKind", "PictureCarrier", "Trace", "carriers_of", "plot_right", "sweep_picture"]


_MOST_LANES = 12
_LONGEST_LABEL = 18


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
        Ours and other users' (`carriers_of`), and what the sweep found.
    width
        In units of the drawing; 1200 reads well at 1440 pixels and across a landscape page of A4.
    """
    content = Content(
        trace=trace,
        permits=tuple(permits),
        raster=raster,
        taken=frozenset(taken),
        closed=frozenset(closed),
        carriers=tuple(sorted(carriers, key=lambda c: (c.carrier_hz, c.label))),
    )
    panels, stems = _panels_and_stems(content, width)
    lanes = max((stem.lane for stem in stems), default=-1) + 1
    top = HEAD + max(lanes * LANE + 12, UNIT_ROOM)
    low_db, high_db = level_range(content, panels)
    frame = Frame(panels=panels, top=top, bottom=top + PLOT, low_db=low_db, high_db=high_db)
    items: list[Item] = [*_head(title, subtitle), *panel_items(content, frame)]
    items += _stems(stems, frame)
    y = frame.bottom + TICK_ROOM
    for make_row in (tv_row, permit_row):
        row = make_row(content, frame, y)
        items += row.items
        y = row.bottom
    overview = _overview(content, frame, top=y + 26)
    items += overview.items
    entries, height = legend(content, top=overview.bottom + 26, width=width)
    items += entries
    return Drawing(
        width=width, height=height, items=tuple(items), title=title, description=_description(content, subtitle)
    )


def plot_right(drawing: Drawing) -> float:
    """Return the right edge of the plots of a drawing: labels of carriers may take room beside them."""
    clips = [item.clip for item in drawing.items if isinstance(item, Group) and item.clip is not None]
    return max(clip.x + clip.width for clip in clips)


def _head(title: str, subtitle: str) -> tuple[Item, ...]:
    return (
        Text(at=(MARGIN, 34), text=title, size=TITLE, bold=True),
        Text(at=(MARGIN, 54), text=subtitle, size=LABEL, ink=Ink.MUTED),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stem:
    carrier: PictureCarrier
    panel: Panel
    x: float
    lane: int
    label: str
    figures: str


def _windows(content: Content) -> list[Span]:
    """Return what the panels must show: the permits (or the whole sweep) and every carrier of ours."""
    windows = [window for permit in content.permits for window in permit.windows]
    if not windows:
        trace = content.trace
        windows = [Span(int(np.min(trace.low_edges_hz)), int(np.max(trace.high_edges_hz)))]
    windows += [occupied(c.carrier_hz, c.bandwidth_hz) for c in content.carriers if c.ours]
    return windows


def _panels_and_stems(content: Content, width: float) -> tuple[tuple[Panel, ...], tuple[_Stem, ...]]:
    """Return panels and stems; labels shrink before lanes pile up, and panels make room for the last labels."""
    left, right = MARGIN + AXIS_ROOM, width - MARGIN
    windows = _windows(content)
    pad = bool(content.permits) or any(carrier.ours for carrier in content.carriers)
    stems: tuple[_Stem, ...] = ()
    panels: tuple[Panel, ...] = ()
    for with_figures in (True, False):
        panels = panels_for(windows, left=left, width=right - left, gap=PANEL_GAP, least=LEAST_PANEL, pad=pad)
        over = max((_label_end(stem) - right for stem in _stems_in(panels, content, with_figures)), default=0.0)
        if over > 0:
            panels = panels_for(
                windows, left=left, width=right - left - over, gap=PANEL_GAP, least=LEAST_PANEL, pad=pad
            )
        stems = _in_lanes(_stems_in(panels, content, with_figures))
        if max((stem.lane for stem in stems), default=0) < _MOST_LANES:
            break
    return panels, stems


def _stems_in(panels: Sequence[Panel], content: Content, with_figures: bool) -> list[_Stem]:
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
    return stem.x + MARK / 2 + 4 + width_of(stem.label, size=LABEL, bold=True) + 5


def _label_end(stem: _Stem) -> float:
    return _figures_at(stem) + width_of(stem.figures, size=LABEL)


def _in_lanes(stems: Sequence[_Stem]) -> tuple[_Stem, ...]:
    lanes = lanes_of([Flag(x=stem.x, left=stem.x, right=_label_end(stem) + 6) for stem in stems])
    return tuple(
        _Stem(carrier=stem.carrier, panel=stem.panel, x=stem.x, lane=lane, label=stem.label, figures=stem.figures)
        for stem, lane in zip(stems, lanes, strict=True)
    )


def _stems(stems: Sequence[_Stem], frame: Frame) -> Iterator[Item]:
    for stem in stems:
        carrier = stem.carrier
        y = frame.top - 12 - stem.lane * LANE
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
                Mark(at=(stem.x, y), shape=SHAPES[carrier.kind], ink=carrier.ink, size=MARK),
                Text(at=(stem.x + MARK / 2 + 4, y + 4.5), text=stem.label, size=LABEL, ink=carrier.ink, bold=True),
                *(
                    (Text(at=(_figures_at(stem), y + 4.5), text=stem.figures, size=LABEL, ink=Ink.TEXT),)
                    if stem.figures
                    else ()
                ),
            ),
        )


def _overview(content: Content, main: Frame, *, top: float) -> Part:
    """Return the whole sweep, small, where the panels show less than two thirds of it."""
    trace = content.trace
    whole = Span(int(np.min(trace.low_edges_hz)), int(np.max(trace.high_edges_hz)))
    shown = sum(panel.span.width_hz for panel in main.panels)
    if shown * 3 > whole.width_hz * 2:
        return Part(items=(), bottom=top - 26)
    panel = Panel(span=whole, left=main.panels[0].left, width=main.panels[-1].right - main.panels[0].left)
    low_db, high_db = level_range(content, [panel])
    top += 10
    frame = Frame(panels=(panel,), top=top, bottom=top + OVERVIEW, low_db=low_db, high_db=high_db)
    bars = [
        Rect(x=edges[0], y=top - 6, width=edges[1] - edges[0], height=3, fill=Ink.TEXT)
        for permit in content.permits
        for window in permit.windows
        if (edges := panel.cut(window)) is not None
    ]
    row = tv_row(content, frame, frame.bottom + TICK_ROOM)
    items = (
        Text(at=(MARGIN, top - 12), text="The whole sweep", size=SMALL, ink=Ink.MUTED),
        *bars,
        Group(
            clip=frame.box(panel),
            items=(
                *ground(content, frame, panel),
                *(filled(part, frame, Ink.TRACE) for part in columns_of(panel, trace, trace.highest_db)),
                *unmeasured(trace, frame, panel),
            ),
        ),
        Rect(x=panel.left, y=top, width=panel.width, height=OVERVIEW, outline=Ink.MUTED, line_width=0.75),
        *frequency_axis(frame, panel),
        *row.items,
    )
    return Part(items=items, bottom=row.bottom)


def _description(content: Content, subtitle: str) -> str:
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

"""The rows under the plot: TV channels, permits, and the legend."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeAlias

from bandwright.core.drawing import Anchor, Ink, Item, Line, Mark, Pattern, Rect, Text, width_of
from bandwright.core.permits import PermitState
from bandwright.core.picture_content import MARGIN, MARK, ROW, SHAPES, SMALL, CarrierKind, Content, Frame, Part
from bandwright.core.picture_plot import LIMIT_DASHES, channels_in

__all__ = ["legend", "permit_row", "tv_row"]


_LEAST_SLOT = 3.0


def tv_row(content: Content, frame: Frame, y: float) -> Part:
    """Return the TV channels under the panels; where their words do not fit inside, all words stand below."""
    slots = [
        (channel, edges)
        for panel in frame.panels
        for channel in channels_in(content, panel)
        if (edges := panel.cut(channel.span)) is not None and edges[1] - edges[0] >= _LEAST_SLOT
    ]
    if not slots:
        return Part(items=(), bottom=y)
    below = any(
        (word := content.word_for(channel)) is not None
        and edges[1] - edges[0] < width_of(f"{channel.label} {word}", size=SMALL, bold=True) + 6
        for channel, edges in slots
        if edges[1] - edges[0] > ROW
    )
    items: list[Item] = [Text(at=(MARGIN, y + 12.5), text="TV", size=SMALL, ink=Ink.MUTED)]
    for channel, edges in slots:
        items += _tv_slot(channel.label, content.word_for(channel), edges, y, below=below)
    return Part(items=tuple(items), bottom=y + ROW + (12 if below else 0))


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


def permit_row(content: Content, frame: Frame, y: float) -> Part:
    """Return a bar under each permit window with its reference, or its id where that is all that fits."""
    bars = [
        (permit, edges)
        for panel in frame.panels
        for permit in content.permits
        for window in permit.windows
        if (edges := panel.cut(window)) is not None
    ]
    if not bars:
        return Part(items=(), bottom=y)
    items: list[Item] = [Text(at=(MARGIN, y + 14), text="Permit", size=SMALL, ink=Ink.MUTED)]
    for permit, (left, right) in bars:
        state = " (applied for)" if permit.state is PermitState.APPLIED else ""
        items.append(Rect(x=left, y=y + 1, width=right - left, height=3, fill=Ink.TEXT))
        wanted = [f"{permit.reference}{state}", f"{permit.id}{state}", permit.id]
        items += _fitting(wanted, left, right, y + 17, on_paper=False, bold=False)
    return Part(items=tuple(items), bottom=y + ROW)


def _fitting(
    wanted: Sequence[str], left: float, right: float, y: float, *, on_paper: bool, bold: bool
) -> Iterator[Item]:
    """Return the first text that fits between two edges, if any does."""
    middle = (left + right) / 2
    for text in wanted:
        width = width_of(text, size=SMALL, bold=bold) + 6
        if width <= right - left:
            if on_paper:
                yield Rect(x=middle - width / 2, y=y - 11, width=width, height=14, fill=Ink.PAPER)
            yield Text(at=(middle, y), text=text, size=SMALL, ink=Ink.TEXT, anchor=Anchor.MIDDLE, bold=bold)
            return


_SAMPLE, _BETWEEN = 22.0, 20.0
_Sample: TypeAlias = Callable[[float, float], Item]


def legend(content: Content, *, top: float, width: float) -> tuple[list[Item], float]:
    """Return the legend, flowing over as many lines as it takes, and where the drawing ends."""
    items: list[Item] = []
    x, y = MARGIN, top + 8
    for word, sample in _legend_entries(content):
        length = _SAMPLE + 6 + width_of(word, size=SMALL)
        if x + length > width - MARGIN:
            x, y = MARGIN, y + 20
        items.append(sample(x, y))
        items.append(Text(at=(x + _SAMPLE + 6, y + 4), text=word, size=SMALL, ink=Ink.TEXT))
        x += length + _BETWEEN
    return items, y + 20


def _line_sample(ink: Ink, dash: tuple[float, ...] = ()) -> _Sample:
    return lambda x, y: Line(start=(x, y), end=(x + _SAMPLE, y), ink=ink, width=1.5, dash=dash)


def _mark_sample(kind: CarrierKind) -> _Sample:
    ink = Ink.OTHER if kind in (CarrierKind.OTHER, CarrierKind.FOUND) else Ink.OURS
    return lambda x, y: Mark(at=(x + _SAMPLE / 2, y), shape=SHAPES[kind], ink=ink, size=MARK)


def _patch_sample(ink: Ink, pattern: Pattern = Pattern.SOLID) -> _Sample:
    return lambda x, y: Rect(
        x=x, y=y - 7, width=_SAMPLE, height=14, fill=ink, pattern=pattern, outline=Ink.MUTED, line_width=0.75
    )


def _legend_entries(content: Content) -> Iterator[tuple[str, _Sample]]:
    kinds = {carrier.kind for carrier in content.carriers}
    yield from ((kind.value, _mark_sample(kind)) for kind in CarrierKind if kind in kinds)
    yield content.trace.highest_words, _line_sample(Ink.TRACE)
    yield "typical", _patch_sample(Ink.TYPICAL)
    yield "noise floor", _line_sample(Ink.FLOOR, (7.0, 4.0))
    for limit, dash in zip(content.trace.limits, LIMIT_DASHES, strict=False):
        yield limit.words, _line_sample(Ink.TEXT, dash)
    if content.taken or content.closed:
        yield "TV channel taken or closed", _patch_sample(Ink.TAKEN, Pattern.HATCH)
    if any(permit.closed for permit in content.permits):
        yield "closed by the permit", _patch_sample(Ink.TAKEN, Pattern.CROSS)
    yield "not measured", _patch_sample(Ink.UNMEASURED, Pattern.DOTS)
    if content.permits:
        yield "outside the permits", _patch_sample(Ink.OUTSIDE)

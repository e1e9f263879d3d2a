"""Reach as drawings for paper and screen: margins with bars, and the way of each kind of signal in decibels."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from bandwright.core.drawing import Anchor, Drawing, Ink, Item, Line, Mark, Pattern, Rect, Shape, Text
from bandwright.core.picture_chain import PANEL_HEIGHT, chain_items
from bandwright.core.picture_words import cut, folded
from bandwright.core.reach.advice import Advice
from bandwright.core.reach.alike import links_on_one_way
from bandwright.core.reach.audible import counted_words
from bandwright.core.reach.facts import gap_lines
from bandwright.core.reach.link import LinkReach, State
from bandwright.core.words import one_line
from bandwright.units import mhz_text

__all__ = ["margin_pictures", "way_pictures"]

WIDTH, HEIGHT = 806.0, 486.0
_ROW, _HEAD, _SMALL, _TEXT = 15.0, 34.0, 8.0, 9.5
_BAR_LEFT, _BAR_WIDTH = 520.0, 216.0
_COLUMNS = ((0.0, "Link"), (64.0, "Name"), (272.0, "MHz"), (330.0, "dBm"), (382.0, "C/N dB"), (440.0, "margin dB"))
_STATES = {State.ENOUGH: "enough", State.SHORT: "short", State.OPEN: "open"}
_LEADING = 11.5


# ---------------------------------------------------------------------------------------------------------- margins


def margin_pictures(links: Sequence[LinkReach], names: Mapping[str, str]) -> tuple[Drawing, ...]:
    """Return tables of margins against what is needed; what is to be filled in stands below the last one.

    `names` says what each link (by id) is called.
    """
    rows = int((HEIGHT - _HEAD - 30) // _ROW)
    pages = [links[start : start + rows] for start in range(0, len(links), rows)]
    gaps = gap_lines([gap for item in links for gap in item.gaps])
    most_db = _most_db(links)
    return tuple(_margins(page, gaps if page is pages[-1] else (), most_db, names) for page in pages)


def _margins(links: Sequence[LinkReach], gaps: Sequence[str], most_db: float, names: Mapping[str, str]) -> Drawing:
    items = [
        *_heading(),
        *(item for row, link in enumerate(links) for item in _row(link, names[link.link.id], row, most_db)),
    ]
    bottom = _HEAD + len(links) * _ROW
    items += _scale(bottom, most_db)
    items += _asked(links, bottom + 20)
    items += _to_fill_in(gaps, bottom + 34)
    return Drawing(
        width=WIDTH,
        height=HEIGHT,
        items=tuple(items),
        title="Margins of links",
        description="For each link its level, carrier to noise, margin, and what margin is needed.",
    )


def _heading() -> Iterator[Item]:
    yield Text(at=(0, 11), text="Margin at the farthest point of each link's area", size=12, bold=True)
    for left, words in _COLUMNS:
        anchor = Anchor.START if left < 270 else Anchor.END
        x = left if anchor is Anchor.START else left + 36
        yield Text(at=(x, 27), text=words, size=_SMALL, ink=Ink.MUTED, anchor=anchor)
    words = "margin (bar) and what is needed (mark), dB"
    yield Text(at=(_BAR_LEFT, 27), text=words, size=_SMALL, ink=Ink.MUTED)
    yield Text(at=(WIDTH, 27), text="state", size=_SMALL, ink=Ink.MUTED, anchor=Anchor.END)
    yield Line(start=(0, _HEAD - 3), end=(WIDTH, _HEAD - 3), ink=Ink.TEXT, width=0.8)


def _row(link: LinkReach, name: str, row: int, most_db: float) -> Iterator[Item]:
    base = _HEAD + row * _ROW + 10.5
    yield Text(at=(0, base), text=cut(link.link.id, size=_TEXT, width=58, bold=True), size=_TEXT, bold=True)
    yield Text(at=(64, base), text=cut(one_line(name), size=_TEXT, width=190), size=_TEXT)
    figures = (mhz_text(link.facts.carrier_hz), _db(link.best.level_dbm), _db(link.best.cn_db), _db(link.margin_db))
    for (left, _), words in zip(_COLUMNS[2:], figures, strict=True):
        yield Text(at=(left + 36, base), text=words, size=_TEXT, anchor=Anchor.END)
    yield from _bar(link, base, most_db)
    bold = link.state is not State.ENOUGH
    yield Text(at=(WIDTH, base), text=_STATES[link.state], size=_TEXT, anchor=Anchor.END, bold=bold)
    yield Line(start=(0, base + 4), end=(WIDTH, base + 4), ink=Ink.GRID, width=0.4)


def _bar(link: LinkReach, base: float, most_db: float) -> Iterator[Item]:
    """Yield the margin as a bar, hatched where it is short, and what is needed as a mark."""
    walk = link.walk
    if walk is None:
        return
    pattern = Pattern.SOLID if link.state is State.ENOUGH else Pattern.HATCH
    width = _along(walk.margin_db, most_db)
    yield Rect(
        x=_BAR_LEFT, y=base - 5, width=width, height=6, fill=Ink.OURS, pattern=pattern, outline=Ink.OURS, line_width=0.6
    )
    yield Mark(at=(_BAR_LEFT + _along(walk.needed_db, most_db), base - 8), shape=Shape.TRIANGLE, ink=Ink.TEXT, size=5.5)


def _along(db: float, most_db: float) -> float:
    return min(max(db, 0.0), most_db) / most_db * _BAR_WIDTH


def _most_db(links: Sequence[LinkReach]) -> float:
    """Return where the scale ends: at what the largest margin or need takes, 40 dB at least, in tens."""
    walks = [item.walk for item in links if item.walk is not None]
    most = max((max(walk.margin_db, walk.needed_db) for walk in walks), default=0.0)
    return float(max(40, math.ceil(most / 10) * 10))


def _scale(bottom: float, most_db: float) -> Iterator[Item]:
    for db in range(0, int(most_db) + 1, 10):
        x = _BAR_LEFT + _along(db, most_db)
        yield Line(start=(x, _HEAD - 2), end=(x, bottom), ink=Ink.GRID, width=0.4)
        yield Text(at=(x, bottom + 9), text=str(db), size=7, ink=Ink.MUTED, anchor=Anchor.MIDDLE)


def _asked(links: Sequence[LinkReach], base: float) -> Iterator[Item]:
    """Yield what the margin that is needed keeps, and which dropouts count for that."""
    walks = [item.walk for item in links if item.walk is not None]
    if walks:
        counted = counted_words(walk.audible for walk in walks)
        text = f"Needed: no more than one audible dropout in {walks[0].every_s / 60:g} min of walking there. {counted}"
        yield Text(at=(0, base), text=cut(text, size=_SMALL, width=WIDTH), size=_SMALL, ink=Ink.MUTED)


def _to_fill_in(gaps: Sequence[str], top: float) -> Iterator[Item]:
    if not gaps:
        return
    room = int((HEIGHT - top) // _LEADING) - 1
    lines = [line for gap in gaps for line in folded(gap, size=_SMALL, width=WIDTH)]
    if room < 1:
        return
    kept = lines if len(lines) <= room else [*lines[: room - 1], f"and {len(lines) - room + 1} lines more"]
    yield Text(at=(0, top), text="To fill in", size=_TEXT, bold=True)
    for number, line in enumerate(kept, start=1):
        yield Text(at=(0, top + number * _LEADING), text=line, size=_SMALL)


def _db(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}"


# -------------------------------------------------------------------------------------------------------- the ways


def way_pictures(links: Sequence[LinkReach], advice: Mapping[str, Sequence[Advice]]) -> tuple[Drawing, ...]:
    """Return the way of each kind of signal, two runs to a page, with what there is to do about it."""
    return tuple(page for group in links_on_one_way(links) for page in _ways(group, advice[group[0].link.id]))


def _ways(group: Sequence[LinkReach], advice: Sequence[Advice]) -> Iterator[Drawing]:
    item = group[0]
    branches = [branch for branch in item.branches if branch.steps]
    if not branches:
        return
    ids = ", ".join(one.link.id for one in group)
    title = ids if len(group) == 1 else f"{item.link.id}, the least margin of {ids}"
    lines = [line for one in advice for line in folded(f"- {one.text}", size=_SMALL, width=WIDTH)]
    for start in range(0, len(branches), 2):
        shown = branches[start : start + 2]
        items: list[Item] = [
            Text(at=(0, 11), text=cut(title, size=12, width=WIDTH, bold=True), size=12, bold=True),
            Text(at=(0, 24), text=cut(_about(item), size=_SMALL, width=WIDTH), size=_SMALL, ink=Ink.MUTED),
        ]
        top = 32.0
        for branch in shown:
            items += chain_items(branch, top=top, width=WIDTH)
            top += PANEL_HEIGHT + 6
        room = int((HEIGHT - top) // 10)
        kept = lines[:room] if len(lines) <= room else [*lines[: room - 1], "- and more than there is room for"]
        items += [Text(at=(0, top + 8 + n * 10), text=line, size=_SMALL) for n, line in enumerate(kept)]
        lines = lines[room:] if len(lines) > room and start + 2 < len(branches) else []
        yield Drawing(
            width=WIDTH,
            height=HEIGHT,
            items=tuple(items),
            title=f"The way of {title}",
            description="Level and noise after each step from transmitter to receiver.",
        )


def _about(item: LinkReach) -> str:
    walk = item.walk
    margin = "" if walk is None else f", margin {walk.margin_db:.1f} dB, {walk.needed_db:.0f} dB needed"
    return f"{item.facts.words}{margin}"

"""What the marks of a plan mean: the scale of margins, signs, and the figures that matter, beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from bandwright.core.drawing import Area, Ink, Item, Line, Mark, Pattern, Polyline, Raster, Rect, Shape, Text, width_of
from bandwright.core.picture_content import SMALL

__all__ = ["BANDS", "CONTOURS", "HATCHED", "Band", "Sign", "legend"]

_WIDE = 236.0
_SWATCH = (34.0, 20.0)
_ROW = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A range of margin over what is needed, in words, and its filling: a step of the level scale or a pattern."""

    low_db: float
    high_db: float
    words: str
    step: int = 0
    pattern: Pattern = Pattern.SOLID


BANDS = (
    Band(low_db=20, high_db=math.inf, words="20 dB and more", step=104),
    Band(low_db=12, high_db=20, words="12 to 20 dB", step=72),
    Band(low_db=6, high_db=12, words="6 to 12 dB", step=42),
    Band(low_db=0, high_db=6, words="0 to 6 dB: just enough", step=14),
)
HATCHED = (
    Band(low_db=-10, high_db=0, words="up to 10 dB short", pattern=Pattern.HATCH),
    Band(low_db=-math.inf, high_db=-10, words="more than 10 dB short", pattern=Pattern.CROSS),
)
CONTOURS = (-20.0, -10.0, 0.0, 6.0, 12.0, 20.0, 30.0)
"""Where lines of equal dB are drawn."""


class Sign(StrEnum):
    """A mark on the plan, by what it means."""

    ANTENNA = "antenna, and where it looks"
    WORST = "the worst point"
    WALL = "wall"
    ZONE = "zone"
    WALK = "walk, with its lowest point"
    CANDIDATE = "an antenna may stand here"
    BEST = "best of these spots"
    TRANSMITTER = "transmitter that stays put"
    NEAR = "no pack may come here"


def legend(
    signs: Sequence[Sign], *, left: float, top: float, head: str | None, words: Sequence[str]
) -> tuple[list[Item], float]:
    """Return the legend beside a plan, and where it ends; `head` says what the bands are, None leaves them out."""
    items: list[Item] = []
    y = top + 4
    if head is not None:
        y = _wrapped(items, head, left, y, bold=True)
        for band in (*BANDS, *HATCHED):
            items += _swatch(band, left, y)
            items.append(Text(at=(left + _SWATCH[0] + 10, y + 14), text=band.words, size=SMALL))
            y += _ROW
        y += 12
    for sign in Sign:
        if sign in signs:
            items += _sign(sign, left + _SWATCH[0] / 2, y + 9)
            items.append(Text(at=(left + _SWATCH[0] + 10, y + 13), text=sign.value, size=SMALL))
            y += 22
    y += 14
    for text in words:
        y = _wrapped(items, text, left, y) + 2
    return items, y


def _wrapped(items: list[Item], text: str, left: float, y: float, *, bold: bool = False) -> float:
    line = ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and width_of(longer, size=SMALL, bold=bold) > _WIDE:
            items.append(Text(at=(left, y + 10), text=line, size=SMALL, bold=bold))
            line, y = word, y + 16
        else:
            line = longer
    items.append(Text(at=(left, y + 10), text=line, size=SMALL, bold=bold))
    return y + 22


def _swatch(band: Band, x: float, y: float) -> Iterator[Item]:
    width, height = _SWATCH
    if band.step:
        yield Raster(x=x, y=y, width=width, height=height, columns=1, rows=1, steps=bytes([band.step]))
    else:
        yield Rect(x=x, y=y, width=width, height=height, fill=Ink.TAKEN, pattern=band.pattern, opacity=0.8)
    yield Rect(x=x, y=y, width=width, height=height, outline=Ink.MUTED, line_width=0.75)


def _sign(sign: Sign, x: float, y: float) -> tuple[Item, ...]:
    half = _SWATCH[0] / 2 - 2
    return {
        Sign.ANTENNA: (
            Line(start=(x - 8, y), end=(x + 6, y), ink=Ink.OURS, width=2.0),
            Area(points=((x + 14, y), (x + 6, y - 5), (x + 6, y + 5)), ink=Ink.OURS),
            Mark(at=(x - 8, y), shape=Shape.DISC, ink=Ink.OURS, size=12),
            Mark(at=(x - 8, y), shape=Shape.DISC, ink=Ink.PAPER, size=4),
        ),
        Sign.WORST: (
            Mark(at=(x, y), shape=Shape.DIAMOND, ink=Ink.TEXT, size=16),
            Mark(at=(x, y), shape=Shape.DIAMOND, ink=Ink.PAPER, size=7),
        ),
        Sign.WALL: (Line(start=(x - half, y), end=(x + half, y), ink=Ink.TEXT, width=4.0),),
        Sign.ZONE: (Line(start=(x - half, y), end=(x + half, y), ink=Ink.OURS, width=1.6, dash=(4.0, 3.0)),),
        Sign.WALK: (
            Line(start=(x - half, y), end=(x + half, y), ink=Ink.TEXT, width=1.8, dash=(9.0, 4.0, 2.0, 4.0)),
            Mark(at=(x, y), shape=Shape.RING, ink=Ink.TEXT, size=10),
        ),
        Sign.CANDIDATE: (Mark(at=(x, y), shape=Shape.RING, ink=Ink.OURS, size=12),),
        Sign.BEST: (
            Mark(at=(x, y), shape=Shape.RING, ink=Ink.OURS, size=12),
            Mark(at=(x, y), shape=Shape.DISC, ink=Ink.OURS, size=5),
        ),
        Sign.TRANSMITTER: (Mark(at=(x, y), shape=Shape.SQUARE, ink=Ink.OTHER, size=11),),
        Sign.NEAR: (
            Rect(x=x - 13, y=y - 8, width=26, height=16, fill=Ink.TAKEN, pattern=Pattern.DOTS, opacity=0.9),
            Polyline(
                points=((x - 13, y - 8), (x + 13, y - 8), (x + 13, y + 8), (x - 13, y + 8), (x - 13, y - 8)),
                ink=Ink.TEXT,
                width=1.4,
                dash=(2.0, 2.5),
            ),
        ),
    }[sign]

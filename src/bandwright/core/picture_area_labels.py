"""Where the plan of a place lies on a drawing, and labels on it that leave each other room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from bandwright.core.drawing import Anchor, Ink, Item, Point, Rect, Text, width_of
from bandwright.core.reach.area import Metres

__all__ = ["PlanFrame", "db_text", "is_clear", "on_paper", "placed_label", "text_box"]

_TIGHT = 0.9  # of the widest that a text may be: its ground need not reach that far

Box: TypeAlias = tuple[float, float, float, float]


@dataclass(slots=True, kw_only=True)
class PlanFrame:
    """Where the plan lies on the drawing.

    `taken` are boxes that labels have covered so far, `crowded` those where only the figures of lines may not stand.
    """

    left: float
    top: float
    scale: float
    box_m: Box
    taken: list[Box] = field(default_factory=list)
    crowded: list[Box] = field(default_factory=list)

    @property
    def width(self) -> float:
        """How wide the plan is drawn."""
        return (self.box_m[2] - self.box_m[0]) * self.scale

    @property
    def height(self) -> float:
        """How high the plan is drawn."""
        return (self.box_m[3] - self.box_m[1]) * self.scale

    def at(self, point: Metres) -> Point:
        """Return where a point of the plan is drawn."""
        x, y = point
        return self.left + (x - self.box_m[0]) * self.scale, self.top + (self.box_m[3] - y) * self.scale

    def line(self, points: Sequence[Metres]) -> tuple[Point, ...]:
        """Return where points of the plan are drawn."""
        return tuple(map(self.at, points))

    def keep_free(self, at: Point, reach: float) -> None:
        """Let no label stand on a mark."""
        self.taken.append(_around(at, reach))

    def keep_clear(self, at: Point, reach: float) -> None:
        """Let no figure of a line stand near a mark."""
        self.crowded.append(_around(at, reach))

    @property
    def rect(self) -> Rect:
        """The box of the plan on the drawing."""
        return Rect(x=self.left, y=self.top, width=self.width, height=self.height)


def _around(at: Point, reach: float) -> Box:
    return at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach


def placed_label(at: Point, text: str, size: float, frame: PlanFrame, *, bold: bool, over: bool) -> Iterator[Item]:
    """Yield a label beside a point, on the side where it covers the least of the others."""
    away = 12.0
    sides = (
        ((at[0] + away, at[1] + size / 3), Anchor.START),
        ((at[0] - away, at[1] + size / 3), Anchor.END),
        ((at[0], at[1] - away), Anchor.MIDDLE),
        ((at[0], at[1] + away + size * 0.8), Anchor.MIDDLE),
        ((at[0] + away, at[1] - away), Anchor.START),
        ((at[0] + away, at[1] + away + size / 2), Anchor.START),
        ((at[0] - away, at[1] - away), Anchor.END),
        ((at[0] - away, at[1] + away + size / 2), Anchor.END),
    )
    if over:
        sides = (*sides[3:1:-1], *sides[4:], *sides[:2])
    boxes = [(text_box(spot, text, size, anchor, bold=bold), spot, anchor) for spot, anchor in sides]
    box, spot, anchor = next((one for one in boxes if is_free(frame, one[0])), (None, *sides[0]))
    if box is None:
        box, spot, anchor = min(boxes, key=lambda one: _in_the_way(frame, one[0]))
    frame.taken.append(box)
    yield from on_paper(spot, text, size, anchor, bold=bold)


def text_box(at: Point, text: str, size: float, anchor: Anchor, *, bold: bool) -> Box:
    """Return the box that a label takes with its ground: left, top, right, bottom."""
    wide = width_of(text, size=size, bold=bold) * _TIGHT + 6
    left = at[0] - {Anchor.START: 3.0, Anchor.MIDDLE: wide / 2, Anchor.END: wide - 3}[anchor]
    return left, at[1] - size, left + wide, at[1] + size * 0.35


def is_free(frame: PlanFrame, box: Box) -> bool:
    """Whether a label may stand in a box: on the plan, and on no other label or mark."""
    within = (
        box[0] >= frame.left
        and box[2] <= frame.left + frame.width
        and box[1] >= frame.top
        and box[3] <= frame.top + frame.height
    )
    return within and _covered(frame.taken, box) == 0


def is_clear(frame: PlanFrame, box: Box) -> bool:
    """Whether the figure of a line may stand in a box: as a label, and not where marks crowd."""
    return is_free(frame, box) and _covered(frame.crowded, box) == 0


def _covered(others: Sequence[Box], box: Box) -> float:
    """Return how much of other boxes a box covers."""
    total = 0.0
    for one in others:
        wide, high = min(one[2], box[2]) - max(one[0], box[0]), min(one[3], box[3]) - max(one[1], box[1])
        total += wide * high if wide > 0 and high > 0 else 0.0
    return total


def _in_the_way(frame: PlanFrame, box: Box) -> float:
    """Return how much of other labels, and, which is worse, of what lies beside the plan, a box covers."""
    beyond = max(frame.left - box[0], 0) + max(box[2] - frame.left - frame.width, 0)
    return _covered(frame.taken, box) + 1000 * beyond


def on_paper(at: Point, text: str, size: float, anchor: Anchor, *, bold: bool) -> Iterator[Item]:
    """Yield a text on a ground of paper, so that it can be read over anything."""
    left, top, right, low = text_box(at, text, size, anchor, bold=bold)
    yield Rect(x=left, y=top, width=right - left, height=low - top, fill=Ink.PAPER, opacity=0.88)
    yield Text(at=at, text=text, size=size, anchor=anchor, bold=bold)


def db_text(value: float) -> str:
    """Return whole dB with their sign: +6 dB."""
    return f"{value:+.0f} dB".replace("-", "\u2212")

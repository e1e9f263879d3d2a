"""A drawing as frozen values: what is where and what it stands for, without a colour and without a file format.

Lengths are in units of the drawing, x to the right and y downwards. An `Ink` says what a mark means; the renderer in
`sheets` turns it into a colour for light, dark or black and white. A `Pattern` goes with every ink that fills, so
that no meaning hangs on colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

__all__ = [
    "Anchor",
    "Area",
    "Drawing",
    "Group",
    "Ink",
    "Item",
    "Line",
    "Mark",
    "Pattern",
    "Point",
    "Polyline",
    "Raster",
    "Rect",
    "Shape",
    "Text",
    "corners_of",
    "moved_down",
    "stacked",
    "texts",
    "walk",
    "width_of",
]

Point: TypeAlias = tuple[float, float]


class Ink(StrEnum):
    """What a mark means."""

    PAPER = "paper"
    TEXT = "text"
    MUTED = "muted"
    GRID = "grid"
    OUTSIDE = "outside"
    TRACE = "trace"
    TYPICAL = "typical"
    FLOOR = "floor"
    OURS = "ours"
    OTHER = "other"
    TAKEN = "taken"
    UNMEASURED = "unmeasured"


class Pattern(StrEnum):
    """How an area is filled."""

    SOLID = "solid"
    HATCH = "hatch"
    CROSS = "cross"
    DOTS = "dots"


class Anchor(StrEnum):
    """Which part of a text stands at its point."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


class Shape(StrEnum):
    """Marks that stay apart in black and white."""

    DISC = "disc"
    RING = "ring"
    SQUARE = "square"
    TRIANGLE = "triangle"
    DIAMOND = "diamond"
    PEAK = "peak"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight line; `dash` alternates drawn and empty lengths."""

    start: Point
    end: Point
    ink: Ink
    width: float = 1.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Polyline:
    """A line through points."""

    points: tuple[Point, ...]
    ink: Ink
    width: float = 1.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A filled polygon."""

    points: tuple[Point, ...]
    ink: Ink
    pattern: Pattern = Pattern.SOLID
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rect:
    """A rectangle, filled with an ink or a pattern of it, outlined, or both."""

    x: float
    y: float
    width: float
    height: float
    fill: Ink | None = None
    pattern: Pattern = Pattern.SOLID
    opacity: float = 1.0
    outline: Ink | None = None
    line_width: float = 1.0

    def __post_init__(self) -> None:
        if self.width < 0 or self.height < 0:
            raise ValueError(f"a rectangle has no negative sides; given {self.width:g} by {self.height:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Raster:
    """A rectangle of cells, row after row from the top; each byte is a step of the level scale, 0 lets the ground show.

    Step 1 stands for the lowest level and 255 for the highest one; the renderer knows the colours.
    """

    x: float
    y: float
    width: float
    height: float
    columns: int
    rows: int
    steps: bytes

    def __post_init__(self) -> None:
        if self.columns < 1 or self.rows < 1 or len(self.steps) != self.columns * self.rows:
            raise ValueError(f"{self.columns} columns and {self.rows} rows came with {len(self.steps)} cells")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A small shape around a point; `size` is its height. A triangle points down, a peak up. A ring is hollow."""

    at: Point
    shape: Shape
    ink: Ink
    size: float = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text with its baseline at `at`."""

    at: Point
    text: str
    size: float
    ink: Ink = Ink.TEXT
    anchor: Anchor = Anchor.START
    bold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Items that belong together; `title` is read out by a screen reader, `clip` cuts them to a rectangle."""

    items: tuple[Item, ...]
    title: str | None = None
    clip: Rect | None = None


Item: TypeAlias = Line | Polyline | Area | Rect | Raster | Mark | Text | Group


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A finished drawing. `title` and `description` say in words what it shows."""

    width: float
    height: float
    items: tuple[Item, ...]
    title: str
    description: str


def corners_of(mark: Mark) -> tuple[Point, ...]:
    """Return the corners of a mark with straight sides (square, triangle, diamond, peak)."""
    x, y = mark.at
    half = mark.size / 2
    return {
        Shape.SQUARE: ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)),
        Shape.TRIANGLE: ((x - half, y - half), (x + half, y - half), (x, y + half)),
        Shape.DIAMOND: ((x, y - half), (x + half, y), (x, y + half), (x - half, y)),
        Shape.PEAK: ((x - half, y + half), (x, y - half), (x + half, y + half)),
    }[mark.shape]


def walk(items: tuple[Item, ...]) -> Iterator[Item]:
    """Yield every item, the ones inside groups too."""
    for item in items:
        yield item
        if isinstance(item, Group):
            yield from walk(item.items)


def moved_down(item: Item, by: float) -> Item:
    """Return an item that stands lower by a length."""
    match item:
        case Line():
            return replace(item, start=_lower(item.start, by), end=_lower(item.end, by))
        case Polyline() | Area():
            return replace(item, points=tuple(_lower(point, by) for point in item.points))
        case Rect() | Raster():
            return replace(item, y=item.y + by)
        case Mark() | Text():
            return replace(item, at=_lower(item.at, by))
        case Group():
            clip = None if item.clip is None else replace(item.clip, y=item.clip.y + by)
            return replace(item, items=tuple(moved_down(part, by) for part in item.items), clip=clip)


def stacked(upper: Drawing, *below: Drawing) -> Drawing:
    """Return drawings as one, each below the one before."""
    if not below:
        return upper
    lower = stacked(*below)
    return Drawing(
        width=max(upper.width, lower.width),
        height=upper.height + lower.height,
        items=(*upper.items, *(moved_down(item, upper.height) for item in lower.items)),
        title=upper.title,
        description=f"{upper.description} {lower.description}",
    )


def _lower(point: Point, by: float) -> Point:
    return point[0], point[1] + by


def texts(drawing: Drawing) -> tuple[Text, ...]:
    """Return every text of a drawing."""
    return tuple(item for item in walk(drawing.items) if isinstance(item, Text))


_NARROW = frozenset("iljtfI.,:;'|!()[] ")
_WIDE = frozenset("mwMWQO@%—ễ")


def width_of(text: str, *, size: float, bold: bool = False) -> float:
    """Return a width that common sans-serif faces do not exceed, for leaving room before a face is known.

    Common practice: 0.34 em for narrow letters and blanks, 0.60 for others, 0.92 for wide ones, 6 % more for bold.
    """
    em = sum(0.34 if c in _NARROW else 0.92 if c in _WIDE else 0.6 if not c.isupper() else 0.74 for c in text)
    return em * size * (1.06 if bold else 1.0)

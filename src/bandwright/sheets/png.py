"""Drawings as PNG pictures, for messages and documents that show no SVG.

Everything is painted at twice the size it is given out at and then halved, which smooths the edges.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from itertools import pairwise
from typing import Any

from PIL import Image, ImageChops, ImageDraw, ImageFont

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
    Point,
    Polyline,
    Raster,
    Rect,
    Shape,
    Text,
    corners_of,
)
from bandwright.sheets.fonts import Face, face_data, printable
from bandwright.sheets.level_scale import raster_png
from bandwright.sheets.palette import DOT_RADIUS, DOTS, PALETTES, RING_LINE, TILE, Theme

__all__ = ["png"]

_FINER = 2
_ANCHORS = {Anchor.START: "ls", Anchor.MIDDLE: "ms", Anchor.END: "rs"}

Box = tuple[int, int, int, int]


def png(drawing: Drawing, *, theme: Theme = Theme.LIGHT, scale: int = 2) -> bytes:
    """Return the drawing as a PNG of `scale` pixels for each unit of the drawing; a theme is one, not a choice."""
    fixed = Theme.LIGHT if theme is Theme.AUTO else theme
    fine = scale * _FINER
    size = math.ceil(drawing.width) * fine, math.ceil(drawing.height) * fine
    image = Image.new("RGB", size, PALETTES[fixed][Ink.PAPER])
    _Painter(image=image, theme=fixed, scale=fine, origin=(0, 0)).items(drawing.items)
    found = BytesIO()
    image.reduce(_FINER).save(found, "PNG", optimize=True)
    return found.getvalue()


@lru_cache(maxsize=64)
def _font(face: Face, pixels: float) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(BytesIO(face_data(face)), pixels)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Painter:
    """Paints items on an image whose upper left pixel is `origin`."""

    image: Image.Image
    theme: Theme
    scale: int
    origin: tuple[int, int]

    def items(self, items: Iterable[Item]) -> None:
        for item in items:
            _PAINT[type(item)](self, item)

    @property
    def pen(self) -> ImageDraw.ImageDraw:
        return ImageDraw.Draw(self.image)

    def colour(self, ink: Ink) -> str:
        return PALETTES[self.theme][ink]

    def at(self, point: Point) -> Point:
        return point[0] * self.scale - self.origin[0], point[1] * self.scale - self.origin[1]

    def thick(self, width: float) -> int:
        return max(1, round(width * self.scale))

    def line(self, item: Line) -> None:
        self.stroke((item.start, item.end), item.ink, item.width, item.dash)

    def polyline(self, item: Polyline) -> None:
        self.stroke(item.points, item.ink, item.width, item.dash)

    def stroke(self, points: tuple[Point, ...], ink: Ink, width: float, dash: tuple[float, ...]) -> None:
        for piece in _dashed(points, dash) if dash else (points,):
            self.pen.line(
                [self.at(point) for point in piece], fill=self.colour(ink), width=self.thick(width), joint="curve"
            )

    def area(self, item: Area) -> None:
        self.fill(item.points, item.ink, item.pattern, item.opacity)

    def rect(self, item: Rect) -> None:
        right, bottom = item.x + item.width, item.y + item.height
        corners = ((item.x, item.y), (right, item.y), (right, bottom), (item.x, bottom))
        if item.fill is not None:
            self.fill(corners, item.fill, item.pattern, item.opacity)
        if item.outline is not None:
            self.stroke((*corners, corners[0]), item.outline, item.line_width, ())

    def fill(self, points: tuple[Point, ...], ink: Ink, pattern: Pattern, opacity: float) -> None:
        left, top, right, bottom = self.box(points)
        if right <= left or bottom <= top:
            return
        mask = Image.new("L", (right - left, bottom - top))
        inside = [(x - left, y - top) for x, y in map(self.at, points)]
        strength = round(255 * opacity)
        if _is_box(points):
            xs, ys = [x for x, _ in inside], [y for _, y in inside]
            last = max(round(max(xs)) - 1, round(min(xs))), max(round(max(ys)) - 1, round(min(ys)))
            ImageDraw.Draw(mask).rectangle((round(min(xs)), round(min(ys)), *last), fill=strength)
        else:
            ImageDraw.Draw(mask).polygon(inside, fill=strength)
        if pattern is not Pattern.SOLID:
            marks = Image.new("L", mask.size)
            corner = (left + self.origin[0]) / self.scale, (top + self.origin[1]) / self.scale
            _PATTERNS[pattern](ImageDraw.Draw(marks), mask.size, corner, self.scale)
            mask = ImageChops.multiply(mask, marks)
        self.image.paste(self.colour(ink), (left, top, right, bottom), mask)

    def box(self, points: Iterable[Point]) -> Box:
        """Return the pixels that hold the points, as far as they are on the image."""
        placed = [self.at(point) for point in points]
        xs, ys = [x for x, _ in placed], [y for _, y in placed]
        left, top = max(0, math.floor(min(xs))), max(0, math.floor(min(ys)))
        return left, top, min(self.image.width, math.ceil(max(xs))), min(self.image.height, math.ceil(max(ys)))

    def raster(self, item: Raster) -> None:
        left, top = map(round, self.at((item.x, item.y)))
        right, bottom = map(round, self.at((item.x + item.width, item.y + item.height)))
        with Image.open(BytesIO(raster_png(item, self.theme))) as found:
            cells = found.convert("RGBA").resize((right - left, bottom - top), Image.Resampling.NEAREST)
        self.image.paste(cells, (left, top), cells)

    def mark(self, item: Mark) -> None:
        x, y = self.at(item.at)
        if item.shape is Shape.RING:
            reach = item.size / 2 * self.scale
            circle = (x - reach, y - reach, x + reach, y + reach)
            fill, outline = self.colour(Ink.PAPER), self.colour(item.ink)
            self.pen.ellipse(circle, fill=fill, outline=outline, width=self.thick(RING_LINE))
        elif item.shape is Shape.DISC:
            reach = item.size / 2 * self.scale
            self.pen.ellipse((x - reach, y - reach, x + reach, y + reach), fill=self.colour(item.ink))
        else:
            self.fill(corners_of(item), item.ink, Pattern.SOLID, 1.0)

    def text(self, item: Text) -> None:
        face = Face.STRONG if item.bold else Face.TEXT
        text, _ = printable(item.text, face)
        font = _font(face, item.size * self.scale)
        self.pen.text(self.at(item.at), text, font=font, fill=self.colour(item.ink), anchor=_ANCHORS[item.anchor])

    def group(self, item: Group) -> None:
        if item.clip is None:
            self.items(item.items)
            return
        clip = item.clip
        left, top, right, bottom = self.box(((clip.x, clip.y), (clip.x + clip.width, clip.y + clip.height)))
        if right <= left or bottom <= top:
            return
        part = self.image.crop((left, top, right, bottom))
        origin = self.origin[0] + left, self.origin[1] + top
        _Painter(image=part, theme=self.theme, scale=self.scale, origin=origin).items(item.items)
        self.image.paste(part, (left, top))


def _is_box(points: tuple[Point, ...]) -> bool:
    return len(points) == 4 and len({x for x, _ in points}) <= 2 and len({y for _, y in points}) <= 2


def _dashed(points: tuple[Point, ...], dash: tuple[float, ...]) -> Iterator[tuple[Point, Point]]:
    """Yield the drawn pieces of a line, whose dashes run on around its corners."""
    turn, left = 0, dash[0]
    for one, two in pairwise(points):
        length, done = math.dist(one, two), 0.0
        while done < length:
            step = min(left, length - done)
            if turn % 2 == 0:
                yield _between(one, two, done / length), _between(one, two, (done + step) / length)
            done, left = done + step, left - step
            if left <= 1e-9:
                turn += 1
                left = dash[turn % len(dash)]


def _between(one: Point, two: Point, part: float) -> Point:
    return one[0] + (two[0] - one[0]) * part, one[1] + (two[1] - one[1]) * part


def _hatch(pen: ImageDraw.ImageDraw, size: tuple[int, int], corner: Point, scale: int) -> None:
    width, height = size
    tile = TILE * scale
    first = -((corner[0] + corner[1]) * scale % tile)
    for k in range(int((width + height) // tile) + 3):
        start = first + k * tile
        pen.line((start, 0, start - height, height), fill=255, width=scale)


def _cross(pen: ImageDraw.ImageDraw, size: tuple[int, int], corner: Point, scale: int) -> None:
    _hatch(pen, size, corner, scale)
    width, height = size
    tile = TILE * scale
    first = -((corner[0] - corner[1]) * scale % tile) - math.ceil(height / tile) * tile
    for k in range(int((width + height) // tile) + 3):
        start = first + k * tile
        pen.line((start, 0, start + height, height), fill=255, width=scale)


def _dots(pen: ImageDraw.ImageDraw, size: tuple[int, int], corner: Point, scale: int) -> None:
    reach = DOT_RADIUS * scale
    tile = TILE * scale
    left, top = -(corner[0] * scale % tile), -(corner[1] * scale % tile)
    for row in range(size[1] // tile + 2):
        for column in range(size[0] // tile + 2):
            for right_by, down_by in DOTS:
                x, y = left + column * tile + right_by * scale, top + row * tile + down_by * scale
                pen.ellipse((x - reach, y - reach, x + reach, y + reach), fill=255)


_PATTERNS: dict[Pattern, Callable[[ImageDraw.ImageDraw, tuple[int, int], Point, int], None]] = {
    Pattern.HATCH: _hatch,
    Pattern.CROSS: _cross,
    Pattern.DOTS: _dots,
}

_PAINT: dict[type, Callable[[_Painter, Any], None]] = {
    Area: _Painter.area,
    Group: _Painter.group,
    Line: _Painter.line,
    Mark: _Painter.mark,
    Polyline: _Painter.polyline,
    Raster: _Painter.raster,
    Rect: _Painter.rect,
    Text: _Painter.text,
}

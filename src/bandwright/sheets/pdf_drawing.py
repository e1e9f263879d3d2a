"""Drawings onto a page of a PDF, in black and white: greys, patterns and shapes carry the meaning."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

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
from bandwright.sheets.fonts import Face, printable, register_faces
from bandwright.sheets.level_scale import raster_png
from bandwright.sheets.palette import DOT_RADIUS, DOTS, PALETTES, RING_LINE, TILE, Theme

__all__ = ["draw_on", "new_canvas"]


def new_canvas(buffer: BytesIO, size: tuple[float, float], *, title: str, subject: str) -> Canvas:
    """Return a canvas for pages of a size in points, with our faces; its bytes hold no time and nobody's name."""
    register_faces()
    canvas = Canvas(buffer, pagesize=size, invariant=1, lang="en", initialFontName=Face.TEXT.value)
    canvas.setTitle(title)
    canvas.setSubject(subject)
    canvas.setAuthor("")
    canvas.setCreator("Bandwright")
    canvas.setProducer("Bandwright")
    return canvas


def draw_on(canvas: Canvas, drawing: Drawing, *, x: float, y: float, width: float, theme: Theme = Theme.PRINT) -> float:
    """Draw onto a canvas with the lower left corner at (x, y), `width` points wide; return the height in points."""
    register_faces()
    scale = width / drawing.width
    canvas.saveState()
    canvas.translate(x, y + drawing.height * scale)
    canvas.scale(scale, -scale)
    _Painter(canvas, theme).items(drawing.items)
    canvas.restoreState()
    return drawing.height * scale


@dataclass(frozen=True, slots=True)
class _Painter:
    """Paints items on a canvas whose y axis already runs downwards."""

    canvas: Canvas
    theme: Theme

    def items(self, items: Iterable[Item]) -> None:
        for item in items:
            _PAINT[type(item)](self, item)

    def colour(self, ink: Ink) -> HexColor:
        return HexColor(PALETTES[self.theme][ink])

    def stroke_with(self, ink: Ink, width: float, dash: tuple[float, ...] = ()) -> None:
        self.canvas.setStrokeColor(self.colour(ink))
        self.canvas.setLineWidth(width)
        self.canvas.setDash(list(dash))

    def fill(self, points: tuple[Point, ...], ink: Ink, pattern: Pattern, opacity: float) -> None:
        self.canvas.saveState()
        self.canvas.setFillColor(self.colour(ink), alpha=opacity)
        if pattern is Pattern.SOLID:
            self.canvas.drawPath(self.path(points, close=True), stroke=0, fill=1)
        else:
            self.canvas.clipPath(self.path(points, close=True), stroke=0, fill=0)
            self.stroke_with(ink, 1.0)
            self.canvas.setStrokeAlpha(opacity)
            _PATTERNS[pattern](self.canvas, *_box(points))
        self.canvas.restoreState()

    def path(self, points: Iterable[Point], *, close: bool = False) -> Any:
        path = self.canvas.beginPath()
        first, *rest = points
        path.moveTo(*first)
        for point in rest:
            path.lineTo(*point)
        if close:
            path.close()
        return path

    def line(self, item: Line) -> None:
        self.stroke_with(item.ink, item.width, item.dash)
        self.canvas.line(*item.start, *item.end)

    def polyline(self, item: Polyline) -> None:
        self.stroke_with(item.ink, item.width, item.dash)
        self.canvas.setLineJoin(1)
        self.canvas.drawPath(self.path(item.points), stroke=1, fill=0)

    def area(self, item: Area) -> None:
        self.fill(item.points, item.ink, item.pattern, item.opacity)

    def rect(self, item: Rect) -> None:
        right, bottom = item.x + item.width, item.y + item.height
        if item.fill is not None:
            corners = ((item.x, item.y), (right, item.y), (right, bottom), (item.x, bottom))
            self.fill(corners, item.fill, item.pattern, item.opacity)
        if item.outline is not None:
            self.stroke_with(item.outline, item.line_width)
            self.canvas.rect(item.x, item.y, item.width, item.height, stroke=1, fill=0)

    def raster(self, item: Raster) -> None:
        self.canvas.saveState()
        self.canvas.translate(item.x, item.y + item.height)
        self.canvas.scale(1, -1)
        image = ImageReader(BytesIO(raster_png(item, self.theme)))
        self.canvas.drawImage(image, 0, 0, width=item.width, height=item.height, mask="auto")
        self.canvas.restoreState()

    def mark(self, item: Mark) -> None:
        if item.shape is Shape.RING:
            self.canvas.setFillColor(self.colour(Ink.PAPER))
            self.stroke_with(item.ink, RING_LINE)
            self.canvas.circle(*item.at, item.size / 2 - RING_LINE / 2, stroke=1, fill=1)
        elif item.shape is Shape.DISC:
            self.canvas.setFillColor(self.colour(item.ink))
            self.canvas.circle(*item.at, item.size / 2, stroke=0, fill=1)
        else:
            self.fill(corners_of(item), item.ink, Pattern.SOLID, 1.0)

    def text(self, item: Text) -> None:
        face = Face.STRONG if item.bold else Face.TEXT
        text, _ = printable(item.text, face)
        self.canvas.saveState()
        self.canvas.translate(*item.at)
        self.canvas.scale(1, -1)
        self.canvas.setFont(face.value, item.size)
        self.canvas.setFillColor(self.colour(item.ink))
        _DRAW_TEXT[item.anchor](self.canvas, 0, 0, text)
        self.canvas.restoreState()

    def group(self, item: Group) -> None:
        self.canvas.saveState()
        if item.clip is not None:
            path = self.canvas.beginPath()
            path.rect(item.clip.x, item.clip.y, item.clip.width, item.clip.height)
            self.canvas.clipPath(path, stroke=0, fill=0)
        self.items(item.items)
        self.canvas.restoreState()


def _box(points: tuple[Point, ...]) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def _steps(low: float, high: float) -> list[float]:
    first = low // TILE
    return [(first + k) * TILE for k in range(int((high - low) // TILE) + 3)]


def _hatch(canvas: Canvas, left: float, top: float, right: float, bottom: float) -> None:
    for total in _steps(left + top, right + bottom):
        canvas.line(total - top, top, total - bottom, bottom)


def _cross(canvas: Canvas, left: float, top: float, right: float, bottom: float) -> None:
    _hatch(canvas, left, top, right, bottom)
    for total in _steps(left - bottom, right - top):
        canvas.line(total + top, top, total + bottom, bottom)


def _dots(canvas: Canvas, left: float, top: float, right: float, bottom: float) -> None:
    for y in _steps(top, bottom):
        for x in _steps(left, right):
            for right_by, down_by in DOTS:
                canvas.circle(x + right_by, y + down_by, DOT_RADIUS, stroke=0, fill=1)


_PATTERNS: dict[Pattern, Callable[[Canvas, float, float, float, float], None]] = {
    Pattern.HATCH: _hatch,
    Pattern.CROSS: _cross,
    Pattern.DOTS: _dots,
}

_DRAW_TEXT: dict[Anchor, Callable[[Canvas, float, float, str], None]] = {
    Anchor.START: Canvas.drawString,
    Anchor.MIDDLE: Canvas.drawCentredString,
    Anchor.END: Canvas.drawRightString,
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

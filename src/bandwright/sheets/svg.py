"""Drawings as accessible SVG: light and dark by the reader's setting, black on white in print.

Colours are custom properties (`--bw-ours` and so on) that a page around an inline drawing may set. Each item also
carries the plain colour as an attribute, for previews and editors that know no style sheets.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Iterable, Mapping
from html import escape
from typing import Any

from bandwright.core.drawing import (
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
    walk,
)
from bandwright.sheets.level_scale import raster_png
from bandwright.sheets.palette import DOT_RADIUS, DOTS, PALETTES, RING_LINE, TILE, Theme

__all__ = ["svg"]

_FACES = "system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', 'Noto Sans', 'Liberation Sans', Arial, sans-serif"

_HIDDEN = ' display="none"'

_PATTERN_MARKS: Mapping[Pattern, str] = {
    Pattern.HATCH: '<path d="M-2 2 2 -2M0 8 8 0M6 10 10 6" {stroke} fill="none"/>',
    Pattern.CROSS: '<path d="M-2 2 2 -2M0 8 8 0M6 10 10 6M-2 6 2 10M0 0 8 8M6 -2 10 2" {stroke} fill="none"/>',
    Pattern.DOTS: "".join(f'<circle cx="{x}" cy="{y}" r="{DOT_RADIUS}" {{fill}}/>' for x, y in DOTS),
}


def svg(drawing: Drawing, *, theme: Theme = Theme.AUTO, prefix: str = "bw") -> str:
    """Return the drawing as one `svg` element, for a file of its own or inside a page.

    `prefix` keeps the names of several drawings on one page apart.
    """
    writer = _Writer(prefix, theme)
    body = writer.items(drawing.items)
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="{prefix}-drawing" role="img" '
            f'aria-labelledby="{prefix}-title {prefix}-description" '
            f'viewBox="0 0 {_number(drawing.width)} {_number(drawing.height)}" '
            f'width="{_number(drawing.width)}" height="{_number(drawing.height)}" font-family="{_FACES}">',
            f'<title id="{prefix}-title">{_escaped(drawing.title)}</title>',
            f'<desc id="{prefix}-description">{_escaped(drawing.description)}</desc>',
            f"<style>{_style(prefix, theme)}</style>",
            f"<defs>{writer.definitions(drawing.items)}</defs>",
            f'<rect width="100%" height="100%" {writer.filled(Ink.PAPER)}/>',
            body,
            "</svg>\n",
        )
    )


def _style(prefix: str, theme: Theme) -> str:
    root = f".{prefix}-drawing"
    rules = [f"{root}{{font-variant-numeric:tabular-nums;max-width:100%;height:auto}}"]
    for ink, colour in _base(theme).items():
        value = f"var(--bw-{ink},{colour})"
        rules.append(f"{root} .{prefix}-{ink}-f{{fill:{value}}}")
        rules.append(f"{root} .{prefix}-{ink}-s{{stroke:{value}}}")
    if theme is Theme.AUTO:
        for medium, shown in (("(prefers-color-scheme:dark)", Theme.DARK), ("print", Theme.PRINT)):
            cells = "".join(
                f".{prefix}-{each}-cells{{display:{'inline' if each is shown else 'none'}}}"
                for each in (Theme.LIGHT, Theme.DARK, Theme.PRINT)
            )
            rules.append(f"@media {medium}{{{root}{{{_properties(shown)}}}{cells}}}")
    return "".join(rules)


def _base(theme: Theme) -> Mapping[Ink, str]:
    return PALETTES[Theme.LIGHT if theme is Theme.AUTO else theme]


def _properties(theme: Theme) -> str:
    return ";".join(f"--bw-{ink}:{colour}" for ink, colour in PALETTES[theme].items())


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"


def _escaped(text: str) -> str:
    """Escape markup, and leave out the control characters that XML 1.0 does not allow at all."""
    return escape("".join(c for c in text if c in "\t\n" or (c >= " " and c not in "\x7f\ufffe\uffff")))


def _points(points: Iterable[Point]) -> str:
    return " ".join(f"{_number(x)},{_number(y)}" for x, y in points)


class _Writer:
    """Writes items; counts the clips so that each has a name of its own."""

    def __init__(self, prefix: str, theme: Theme) -> None:
        self.prefix = prefix
        self._theme = theme
        self._palette = _base(theme)
        self._clips = 0
        self._writers: dict[type, Callable[[Any], str]] = {
            Area: self._area,
            Group: self._group,
            Line: self._line,
            Mark: self._mark,
            Polyline: self._polyline,
            Raster: self._raster,
            Rect: self._rect,
            Text: self._text,
        }

    def items(self, items: Iterable[Item]) -> str:
        return "\n".join(self._writers[type(item)](item) for item in items)

    def definitions(self, items: tuple[Item, ...]) -> str:
        used = {
            (item.pattern, item.ink if isinstance(item, Area) else item.fill)
            for item in walk(items)
            if isinstance(item, Area | Rect) and item.pattern is not Pattern.SOLID
        }
        named = sorted((pattern, ink) for pattern, ink in used if ink is not None)
        return "".join(self._pattern(pattern, ink) for pattern, ink in named)

    def _pattern(self, pattern: Pattern, ink: Ink) -> str:
        marks = _PATTERN_MARKS[pattern].format(fill=self.filled(ink), stroke=self._stroked(ink))
        return (
            f'<pattern id="{self.prefix}-{pattern}-{ink}" width="{TILE}" height="{TILE}" '
            f'patternUnits="userSpaceOnUse">{marks}</pattern>'
        )

    def filled(self, ink: Ink) -> str:
        """Return the attributes of something filled with an ink."""
        return f'class="{self.prefix}-{ink}-f" fill="{self._palette[ink]}"'

    def _stroked(self, ink: Ink) -> str:
        return f'class="{self.prefix}-{ink}-s" stroke="{self._palette[ink]}"'

    def _fill(self, ink: Ink, pattern: Pattern) -> str:
        if pattern is Pattern.SOLID:
            return self.filled(ink)
        return f'fill="url(#{self.prefix}-{pattern}-{ink})"'

    def _stroke(self, ink: Ink, width: float, dash: tuple[float, ...]) -> str:
        dashes = f' stroke-dasharray="{" ".join(_number(part) for part in dash)}"' if dash else ""
        return f'{self._stroked(ink)} stroke-width="{_number(width)}"{dashes}'

    def _line(self, item: Line) -> str:
        (x1, y1), (x2, y2) = item.start, item.end
        ends = f'x1="{_number(x1)}" y1="{_number(y1)}" x2="{_number(x2)}" y2="{_number(y2)}"'
        return f"<line {ends} {self._stroke(item.ink, item.width, item.dash)}/>"

    def _polyline(self, item: Polyline) -> str:
        stroke = self._stroke(item.ink, item.width, item.dash)
        return f'<polyline points="{_points(item.points)}" fill="none" stroke-linejoin="round" {stroke}/>'

    def _area(self, item: Area) -> str:
        faint = f' fill-opacity="{_number(item.opacity)}"' if item.opacity < 1 else ""
        return f'<polygon points="{_points(item.points)}" {self._fill(item.ink, item.pattern)}{faint}/>'

    def _rect(self, item: Rect) -> str:
        box = (
            f'x="{_number(item.x)}" y="{_number(item.y)}" width="{_number(item.width)}" height="{_number(item.height)}"'
        )
        parts = []
        if item.fill is not None:
            faint = f' fill-opacity="{_number(item.opacity)}"' if item.opacity < 1 else ""
            parts.append(f"<rect {box} {self._fill(item.fill, item.pattern)}{faint}/>")
        if item.outline is not None:
            parts.append(f'<rect {box} fill="none" {self._stroke(item.outline, item.line_width, ())}/>')
        return "".join(parts)

    def _raster(self, item: Raster) -> str:
        """Return the cells as an image; for a reader whose theme is not known yet, one for each theme."""
        themes = [Theme.LIGHT, Theme.DARK, Theme.PRINT] if self._theme is Theme.AUTO else [self._theme]
        return "".join(
            f'<image class="{self.prefix}-{theme}-cells" x="{_number(item.x)}" y="{_number(item.y)}" '
            f'width="{_number(item.width)}" height="{_number(item.height)}" preserveAspectRatio="none" '
            f'image-rendering="pixelated"{"" if theme is themes[0] else _HIDDEN} '
            f'href="data:image/png;base64,{b64encode(raster_png(item, theme)).decode()}"/>'
            for theme in themes
        )

    def _mark(self, item: Mark) -> str:
        x, y = item.at
        half = item.size / 2
        solid = self.filled(item.ink)
        if item.shape is Shape.RING:
            colours = f'fill="{self._palette[Ink.PAPER]}" stroke="{self._palette[item.ink]}"'
            ring = f'class="{self.prefix}-paper-f {self.prefix}-{item.ink}-s" {colours} stroke-width="{RING_LINE}"'
            return f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(half - RING_LINE / 2)}" {ring}/>'
        if item.shape is Shape.DISC:
            return f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(half)}" {solid}/>'
        return f'<polygon points="{_points(corners_of(item))}" {solid}/>'

    def _text(self, item: Text) -> str:
        x, y = item.at
        weight = ' font-weight="700"' if item.bold else ""
        return (
            f'<text x="{_number(x)}" y="{_number(y)}" font-size="{_number(item.size)}" text-anchor="{item.anchor}" '
            f"{self.filled(item.ink)}{weight}>{_escaped(item.text)}</text>"
        )

    def _group(self, item: Group) -> str:
        title = f"<title>{_escaped(item.title)}</title>" if item.title else ""
        if item.clip is None:
            return f"<g>{title}{self.items(item.items)}</g>"
        self._clips += 1
        name = f"{self.prefix}-clip-{self._clips}"
        box = item.clip
        rect = (
            f'<rect x="{_number(box.x)}" y="{_number(box.y)}" width="{_number(box.width)}" '
            f'height="{_number(box.height)}"/>'
        )
        return f'<clipPath id="{name}">{rect}</clipPath><g clip-path="url(#{name})">{title}{self.items(item.items)}</g>'

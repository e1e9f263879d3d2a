"""Drawings as accessible SVG: light and dark by the reader's setting, black on white in print.

Colours are custom properties (`--bw-ours` and so on) that a page around an inline drawing may set; the plain value
stands before each for programs that know no custom properties. Contrast in every theme, against the paper and against
the grey outside the permits: text at least 4.5 to 1, marks and lines that carry meaning 3 to 1 (WCAG 2.2, 1.4.3 and
1.4.11). The grid and the soft fill of the typical level are not needed to read the drawing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum
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
    Rect,
    Shape,
    Text,
    corners_of,
    walk,
)

__all__ = ["PALETTES", "Theme", "svg"]


class Theme(StrEnum):
    """Which colours: `auto` follows the reader's setting and prints in black and white."""

    AUTO = "auto"
    LIGHT = "light"
    DARK = "dark"
    PRINT = "print"


PALETTES: Mapping[Theme, Mapping[Ink, str]] = {
    Theme.LIGHT: {
        Ink.PAPER: "#ffffff",
        Ink.TEXT: "#1a2027",
        Ink.MUTED: "#56616d",
        Ink.GRID: "#dfe4e9",
        Ink.OUTSIDE: "#eef1f4",
        Ink.TRACE: "#3b4652",
        Ink.TYPICAL: "#c5cdd5",
        Ink.FLOOR: "#56616d",
        Ink.OURS: "#0b57a4",
        Ink.OTHER: "#1a2027",
        Ink.TAKEN: "#7b8793",
        Ink.UNMEASURED: "#7b8793",
    },
    Theme.DARK: {
        Ink.PAPER: "#12171c",
        Ink.TEXT: "#e8edf2",
        Ink.MUTED: "#a3afbb",
        Ink.GRID: "#2b343d",
        Ink.OUTSIDE: "#1d242b",
        Ink.TRACE: "#c3ccd5",
        Ink.TYPICAL: "#3b4651",
        Ink.FLOOR: "#a3afbb",
        Ink.OURS: "#7cb8ff",
        Ink.OTHER: "#e8edf2",
        Ink.TAKEN: "#7d8995",
        Ink.UNMEASURED: "#7d8995",
    },
    Theme.PRINT: {
        Ink.PAPER: "#ffffff",
        Ink.TEXT: "#000000",
        Ink.MUTED: "#3d3d3d",
        Ink.GRID: "#d6d6d6",
        Ink.OUTSIDE: "#ededed",
        Ink.TRACE: "#333333",
        Ink.TYPICAL: "#c8c8c8",
        Ink.FLOOR: "#3d3d3d",
        Ink.OURS: "#000000",
        Ink.OTHER: "#000000",
        Ink.TAKEN: "#6b6b6b",
        Ink.UNMEASURED: "#6b6b6b",
    },
}

_FACES = "system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', 'Noto Sans', 'Liberation Sans', Arial, sans-serif"

_TILE = 8
_PATTERN_MARKS: Mapping[Pattern, str] = {
    Pattern.HATCH: '<path d="M-2 2 2 -2M0 8 8 0M6 10 10 6" class="{stroke}" fill="none"/>',
    Pattern.CROSS: '<path d="M-2 2 2 -2M0 8 8 0M6 10 10 6M-2 6 2 10M0 0 8 8M6 -2 10 2" class="{stroke}" fill="none"/>',
    Pattern.DOTS: '<circle cx="2" cy="2" r="0.9" class="{fill}"/><circle cx="6" cy="6" r="0.9" class="{fill}"/>',
}


def svg(drawing: Drawing, *, theme: Theme = Theme.AUTO, prefix: str = "bw") -> str:
    """Return the drawing as one `svg` element, for a file of its own or inside a page.

    `prefix` keeps the names of several drawings on one page apart.
    """
    writer = _Writer(prefix)
    body = writer.items(drawing.items)
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="{prefix}-drawing" role="img" '
            f'aria-labelledby="{prefix}-title {prefix}-description" '
            f'viewBox="0 0 {_number(drawing.width)} {_number(drawing.height)}" '
            f'width="{_number(drawing.width)}" height="{_number(drawing.height)}">',
            f'<title id="{prefix}-title">{_escaped(drawing.title)}</title>',
            f'<desc id="{prefix}-description">{_escaped(drawing.description)}</desc>',
            f"<style>{_style(prefix, theme)}</style>",
            f"<defs>{writer.definitions(drawing.items)}</defs>",
            f'<rect width="100%" height="100%" class="{prefix}-paper-f"/>',
            body,
            "</svg>\n",
        )
    )


def _style(prefix: str, theme: Theme) -> str:
    root = f".{prefix}-drawing"
    base = PALETTES[Theme.LIGHT if theme is Theme.AUTO else theme]
    rules = [
        f"{root}{{font-family:{_FACES};font-variant-numeric:tabular-nums;max-width:100%;height:auto}}",
        f"{root} text{{stroke:none}}",
    ]
    for ink, colour in base.items():
        value = f"var(--bw-{ink},{colour})"
        rules.append(f"{root} .{prefix}-{ink}-f{{fill:{colour};fill:{value}}}")
        rules.append(f"{root} .{prefix}-{ink}-s{{stroke:{colour};stroke:{value}}}")
    if theme is Theme.AUTO:
        rules.append(f"@media (prefers-color-scheme:dark){{{root}{{{_properties(Theme.DARK)}}}}}")
        rules.append(f"@media print{{{root}{{{_properties(Theme.PRINT)}}}}}")
    return "".join(rules)


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

    def __init__(self, prefix: str) -> None:
        self.prefix = prefix
        self._clips = 0
        self._writers: dict[type, Callable[[Any], str]] = {
            Area: self._area,
            Group: self._group,
            Line: self._line,
            Mark: self._mark,
            Polyline: self._polyline,
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
        marks = _PATTERN_MARKS[pattern].format(fill=f"{self.prefix}-{ink}-f", stroke=f"{self.prefix}-{ink}-s")
        return (
            f'<pattern id="{self.prefix}-{pattern}-{ink}" width="{_TILE}" height="{_TILE}" '
            f'patternUnits="userSpaceOnUse">{marks}</pattern>'
        )

    def _fill(self, ink: Ink, pattern: Pattern) -> str:
        if pattern is Pattern.SOLID:
            return f'class="{self.prefix}-{ink}-f"'
        return f'fill="url(#{self.prefix}-{pattern}-{ink})"'

    def _stroke(self, ink: Ink, width: float, dash: tuple[float, ...]) -> str:
        dashes = f' stroke-dasharray="{" ".join(_number(part) for part in dash)}"' if dash else ""
        return f'class="{self.prefix}-{ink}-s" stroke-width="{_number(width)}"{dashes}'

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

    def _mark(self, item: Mark) -> str:
        x, y = item.at
        half = item.size / 2
        solid = f'class="{self.prefix}-{item.ink}-f"'
        if item.shape is Shape.RING:
            ring = f'class="{self.prefix}-paper-f {self.prefix}-{item.ink}-s" stroke-width="1.75"'
            return f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(half - 0.875)}" {ring}/>'
        if item.shape is Shape.DISC:
            return f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(half)}" {solid}/>'
        return f'<polygon points="{_points(corners_of(item))}" {solid}/>'

    def _text(self, item: Text) -> str:
        x, y = item.at
        weight = ' font-weight="700"' if item.bold else ""
        return (
            f'<text x="{_number(x)}" y="{_number(y)}" font-size="{_number(item.size)}" text-anchor="{item.anchor}" '
            f'class="{self.prefix}-{item.ink}-f"{weight}>{_escaped(item.text)}</text>'
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

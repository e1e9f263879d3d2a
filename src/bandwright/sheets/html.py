"""The sheet as one HTML file: no scripts, nothing from outside, readable on a phone, printed in black and white."""

from __future__ import annotations

from functools import cache
from importlib import resources

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from bandwright.core.drawing import Drawing
from bandwright.core.sheet import Sheet
from bandwright.core.words import CAUTIONS
from bandwright.sheets.columns import TICKS, visible_columns
from bandwright.sheets.svg import svg

__all__ = ["onepage_html"]

# How closely rows stand in print, by the most rows for which each still goes on one page.
_PRINT_DENSITY = ((14, "airy"), (26, "even"))


def onepage_html(sheet: Sheet, *, drawing: Drawing | None = None) -> str:
    """Return the sheet as a whole HTML document; the drawing of the sweep stands below the table."""
    return _template().render(
        sheet=sheet,
        head=sheet.head,
        columns=visible_columns(sheet.rows),
        ticks=TICKS,
        cautions=CAUTIONS,
        density=next((name for most, name in _PRINT_DENSITY if len(sheet.rows) <= most), "dense"),
        drawing=Markup(svg(drawing, prefix="bw-sweep")) if drawing else None,
        style=Markup(_file("onepage.css")),
    )


@cache
def _template() -> Template:
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return environment.from_string(_file("onepage.html"))


def _file(name: str) -> str:
    return (resources.files(__package__) / "templates" / name).read_text(encoding="utf-8")

"""The sheet as one HTML file: no scripts, nothing from outside, readable on a phone, printed in black and white."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from importlib import resources

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from bandwright.core.drawing import Drawing
from bandwright.core.sheet import Sheet
from bandwright.core.words import CAUTIONS
from bandwright.sheets.columns import TICKS, visible_columns
from bandwright.sheets.print_density import print_density
from bandwright.sheets.svg import svg

__all__ = ["onepage_html"]

# A ratio with its unit, and words that hold a hyphen or a slash.
_WHOLE = re.compile(r"(\bC/I (?:over )?\S+ dB|\S*\w[-/]\w\S*)")


def onepage_html(sheet: Sheet, *, drawings: Sequence[Drawing] = ()) -> str:
    """Return the sheet as a whole HTML document; drawings of the sweeps stand below the table."""
    return _template().render(
        sheet=sheet,
        head=sheet.head,
        columns=visible_columns(sheet.rows),
        ticks=TICKS,
        cautions=CAUTIONS,
        density=print_density(sheet),
        drawings=[Markup(svg(item, prefix=f"bw-sweep-{number}")) for number, item in enumerate(drawings, start=1)],
        style=Markup(_file("onepage.css")),
    )


@cache
def _template() -> Template:
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters["whole_words"] = _whole_words
    return environment.from_string(_file("onepage.html"))


def _whole_words(text: str) -> Markup:
    """Return text in which no line ends inside a word or a ratio: a browser may break them at hyphens and slashes."""
    parts = (
        Markup('<span class="whole">{}</span>').format(part) if number % 2 else Markup.escape(part)
        for number, part in enumerate(_WHOLE.split(text))
    )
    return Markup("").join(parts)


def _file(name: str) -> str:
    return (resources.files(__package__) / "templates" / name).read_text(encoding="utf-8")

"""How closely the rows of the HTML sheet stand in print, so that spare carriers and notes stay on the first page.

A browser prints in whatever sans-serif face it has, some a quarter wider than others. Heights are therefore estimated
for a wide face, in points, from what the style sheet says; the smaller side of Letter and A4 counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from bandwright.core.sheet import Sheet, SheetCell, SheetRow

__all__ = ["PrintDensity", "print_density"]

_PAGE = 540.0  # A4 landscape is 595 pt high; 7 mm of margin above and below, and a line of doubt
_HEAD, _FOOT, _COLUMNS, _GROUP = 80.0, 26.0, 18.0, 12.0
_CELL_LINE, _CELL_WIDTH, _CELL_MORE = 13.0, 110, 16
_TEXT_LINE, _TEXT_WIDTH = 8.6, 130
_MOST_NOTES = 130.0  # longer ones go on to another page, rather than make the rows of all links small
_CLOSEST_LINE, _CLOSEST_WIDTH = 8.8, 38
_LEAST_ROW, _MOST_ROW, _BETWEEN_ROWS = 8.4, 14.0, 2.3
_FIGURES = 1.04  # size of a carrier, of the height of a dense row


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintDensity:
    """A way to set rows: its name in the style sheet; `row` and `figures` are what the dense way takes, in points."""

    name: str
    row: float
    figures: float


def print_density(sheet: Sheet) -> PrintDensity:
    """Return the widest way to set the rows with which the whole sheet should go on one page."""
    room = _PAGE - _around(sheet)
    for name, height in (("airy", 27.0), ("even", 21.0)):
        if sum(max(height, _CLOSEST_LINE * _lines(row)) for row in sheet.rows) <= room:
            return PrintDensity(name=name, row=height, figures=height)
    wrapped = sum(_CLOSEST_LINE * _lines(row) + _BETWEEN_ROWS for row in sheet.rows if _lines(row) > 1)
    single = sum(_lines(row) == 1 for row in sheet.rows)
    row = min(_MOST_ROW, max(_LEAST_ROW, round((room - wrapped) / max(1, single) - _BETWEEN_ROWS, 1)))
    return PrintDensity(name="dense", row=row, figures=max(9.6, round(row * _FIGURES, 1)))


def _lines(row: SheetRow) -> int:
    told = ", ".join((*row.marks, row.closest_brief or row.why))
    return max(1, ceil(len(told) / _CLOSEST_WIDTH))


def _around(sheet: Sheet) -> float:
    """Return the height of everything but the rows."""
    cells = sum(_cell_lines(group) for group in (sheet.spares, sheet.others))
    texts = (*sheet.about_plan, *sheet.missing_spares, *sheet.warnings)
    closing = max(
        _CELL_LINE * cells + _text_height(texts, _TEXT_WIDTH),
        min(_MOST_NOTES, _text_height(sheet.notes, _TEXT_WIDTH // 3)),
    )
    return _HEAD + _FOOT + _COLUMNS + _GROUP * len(sheet.groups) + closing


def _cell_lines(cells: Sequence[SheetCell]) -> int:
    """Return on how many lines carriers side by side stand, each with room to write on."""
    lines, left = 0, 0
    for cell in cells:
        width = len(cell.label) + len(cell.mhz) + len(cell.about) + _CELL_MORE
        if width > left:
            lines, left = lines + 1, _CELL_WIDTH
        left -= width
    return lines


def _text_height(texts: Sequence[str], width: int) -> float:
    return sum(_TEXT_LINE * max(1, ceil(len(line) / width)) for text in texts for line in text.splitlines())

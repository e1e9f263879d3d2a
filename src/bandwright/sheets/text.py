"""A plan for the terminal: an aligned table within a given width, without colour codes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from bandwright.core.job import Job
from bandwright.core.planning.plan import Plan
from bandwright.core.sheet import Sheet, SheetCell, SheetFacts, SheetRow, build_sheet
from bandwright.core.words import CAUTIONS, and_list, one_line
from bandwright.sheets.terminal import NO_BREAK, cut, display_width, padded, wrapped

__all__ = ["plan_text"]

_GAP = "  "
_LONGEST_NAME = 28
_LEAST_LAST = 24
_GOOD_LAST = 40
_LEAST_WIDTH = 40


def plan_text(job: Job, plan: Plan, facts: SheetFacts, *, columns: int = 100, names: str = "full") -> str:
    """Return the plan as text no wider than `columns` where words allow it; ends with a line break.

    `names` is "full", "initials" or "roles", as on the sheets.
    """
    spoken = tuple(replace(warning, text=warning.in_terminal) for warning in plan.warnings)
    sheet = build_sheet(job, replace(plan, warnings=spoken), facts, names=names)
    width = max(columns, _LEAST_WIDTH)
    parts = (
        _head_lines(sheet, width),
        _table_lines(sheet, width),
        _unplaced_lines(sheet, width),
        _cell_lines("Spare carriers", sheet.spares),
        _end_lines(sheet, width),
    )
    return "\n\n".join("\n".join(lines) for part in parts if (lines := list(part))) + "\n"


def _head_lines(sheet: Sheet, width: int) -> Iterable[str]:
    head = sheet.head
    invented = " (invented example)" if head.invented else ""
    where = " · ".join(part for part in (head.places, head.dates, head.hours) if part)
    yield from wrapped(one_line(f"{head.title}{invented}"), width)
    yield from wrapped(one_line(where), width)
    yield from wrapped(head.stamp, width)
    facts = {
        "Permits": "; ".join(head.permits),
        "Sweep": head.sweep,
        "Do not use": ", ".join(head.do_not_use),
        "Every carrier": ", ".join(head.common),
    }
    for label, text in facts.items():
        if text:
            yield from wrapped(one_line(text), width, first=padded(label, 15))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Field:
    """One column of the table in the terminal."""

    heading: str
    text: Callable[[SheetRow], str]
    right: bool = False


_SWEEP = _Field(heading="Sweep says", text=lambda row: row.noise or "")
_FIELDS = (
    _Field(heading="Label", text=lambda row: one_line(row.label)),
    _Field(heading="Name", text=lambda row: cut(one_line(row.who), _LONGEST_NAME)),
    _Field(heading="MHz", text=lambda row: row.mhz or "", right=True),
    _Field(heading="TV", text=lambda row: row.tv_channel or ""),
    _Field(heading="Status", text=lambda row: row.status),
    _SWEEP,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """Placed links as cells of text; the closest conflict takes what is left of the line, or a line of its own.

    What the sweep says makes way for it in a narrow terminal; where it is not quiet the marks say so anyway.
    """

    fields: tuple[_Field, ...]
    cells: Mapping[str, tuple[str, ...]]
    width: int

    @classmethod
    def of(cls, rows: Sequence[SheetRow], width: int) -> _Table:
        fields = tuple(field for field in _FIELDS if any(field.text(row) for row in rows))
        table = cls._with(fields, rows, width)
        if table.room < _GOOD_LAST and _SWEEP in fields:
            return cls._with(tuple(field for field in fields if field is not _SWEEP), rows, width)
        return table

    @classmethod
    def _with(cls, fields: tuple[_Field, ...], rows: Sequence[SheetRow], width: int) -> _Table:
        most = max(len(_decimals(row.mhz)) for row in rows)
        cells = {
            row.label: tuple(
                text + " " * (most - len(_decimals(text))) if field.right else text
                for field, text in ((field, field.text(row)) for field in fields)
            )
            for row in rows
        }
        return cls(fields=fields, cells=cells, width=width)

    @property
    def sizes(self) -> list[int]:
        columns = zip(*self.cells.values(), strict=True)
        return [
            max(display_width(text) for text in (field.heading, *column))
            for field, column in zip(self.fields, columns, strict=True)
        ]

    @property
    def room(self) -> int:
        return self.width - sum(self.sizes) - len(_GAP) * len(self.fields)

    def heading(self) -> Iterable[str]:
        return self._line([field.heading for field in self.fields], "Closest conflict")

    def row(self, row: SheetRow) -> Iterable[str]:
        told = one_line(": ".join(part for part in (", ".join(row.marks), row.closest) if part))
        return self._line(self.cells[row.label], re.sub(r"(?<=\d) (?=kHz)|(?<=\(asks) |(?<=\s[-+x]) ", NO_BREAK, told))

    def _line(self, cells: Sequence[str], last: str) -> Iterable[str]:
        texts = zip(cells, self.sizes, self.fields, strict=True)
        front = _GAP.join(padded(cell, size, right=field.right) for cell, size, field in texts)
        if self.room < _LEAST_LAST:
            yield front.rstrip()
            yield from wrapped(last, self.width, first=" " * 7)
            return
        lines = wrapped(last, self.room) or [""]
        yield f"{front}{_GAP}{lines[0]}".rstrip()
        yield from (" " * (self.width - self.room) + line for line in lines[1:])


def _decimals(mhz: str | None) -> str:
    return (mhz or "").partition(".")[2]


def _table_lines(sheet: Sheet, width: int) -> Iterable[str]:
    placed = [row for row in sheet.rows if row.mhz is not None]
    if not placed:
        return
    table = _Table.of(placed, width)
    yield from table.heading()
    for group in sheet.groups:
        rows = [row for row in group.rows if row.mhz is not None]
        yield from [group.name][: len(rows)]
        for row in rows:
            yield from table.row(row)


def _unplaced_lines(sheet: Sheet, width: int) -> Iterable[str]:
    rows = [row for row in sheet.rows if row.mhz is None]
    if not rows and not sheet.missing_spares:
        return
    yield "Unplaced"
    for first in (row for row in rows if row.same_as is None):
        alike = [row for row in rows if row is first or row.same_as == first.label]
        names = and_list([row.label if row.who == row.label else f"{row.label} {row.who}" for row in alike])
        yield from wrapped(one_line(f"{names}: {first.reason}"), width)
    for text in sheet.missing_spares:
        yield from wrapped(one_line(text), width)


def _cell_lines(heading: str, cells: Sequence[SheetCell]) -> Iterable[str]:
    if not cells:
        return
    yield heading
    widest = max(display_width(cell.label) for cell in cells)
    longest = max(len(cell.mhz.partition(".")[0]) for cell in cells)
    most = max(len(cell.mhz.partition(".")[2]) for cell in cells)
    for cell in cells:
        whole, _, part = cell.mhz.partition(".")
        mhz = f"{whole.rjust(longest)}.{part.ljust(most)}"
        yield f"{padded(cell.label, widest)}{_GAP}{mhz}{_GAP}{one_line(cell.about)}".rstrip()


def _end_lines(sheet: Sheet, width: int) -> Iterable[str]:
    for text in sheet.about_plan:
        yield from wrapped(one_line(text), width)
    for text in sheet.warnings:
        yield from wrapped(one_line(text), width, first="Note: ")
    for text in CAUTIONS:
        yield from wrapped(text, width)

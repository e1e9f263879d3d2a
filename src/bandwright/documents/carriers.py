"""Lists of carriers as CSV: written for people and spreadsheets, read from any of them.

A list has a column `link` or `id`, and a column `mhz`. Separators may be commas, semicolons or tabs, decimals may
have a comma, empty lines and lines that start with # are not read.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field

from bandwright.core.job import Job
from bandwright.core.planning.plan import PlacedLink, Plan, Spare
from bandwright.core.words import closest_words, one_line
from bandwright.documents.faults import given_text, list_text, nearest_hint
from bandwright.documents.frequency import MHZ_ALLOWED, read_mhz
from bandwright.errors import Fault, InputError
from bandwright.units import mhz_text

__all__ = ["COLUMNS", "carriers_csv", "read_carriers"]

COLUMNS = (
    "kind",
    "id",
    "name",
    "radio",
    "mhz",
    "tv_channel",
    "preset",
    "permit",
    "power_mw",
    "status",
    "cautions",
    "closest",
    "notes",
)

# Spreadsheets take a cell that begins like this for a formula; they may also split a cell at another separator.
_FORMULA = re.compile(r"(^|[;,|\t])(\s*)(?=[=+\-@＝＋－＠])")
_QUOTED_FORMULA = re.compile(r"^'(?=[=+\-@＝＋－＠])")

_SEPARATORS = (",", ";", "\t")
_ID_NAMES = ("link", "id")
_NOT_READ = re.compile(r"\s*(#.*|sep=.\s*)?$", re.IGNORECASE | re.DOTALL)
_LEVEL = re.compile(r"[-+]?[0-9]+(?:[.,][0-9]+)?(?:[eE][-+]?[0-9]+)?")
_LEVEL_NAMES = {"db", "dbm", "dbuv", "dbµv", "level", "amplitude", "power (dbm)"}
_LONGEST = 60


def carriers_csv(job: Job, plan: Plan) -> str:
    """Return the carriers of a plan as CSV: links in the order of the job, then spare carriers."""
    order = {link.id: position for position, link in enumerate(job.links)}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for link in sorted(plan.links, key=lambda item: order.get(item.id, len(order))):
        writer.writerow(map(_cell, _link_row(link)))
    for spare in plan.spares:
        writer.writerow(map(_cell, _spare_row(spare)))
    return out.getvalue()


def _link_row(link: PlacedLink) -> tuple[str | None, ...]:
    return (
        "link",
        link.id,
        link.name,
        link.radio,
        mhz_text(link.carrier_hz),
        link.tv_channel,
        link.preset,
        link.permit,
        None if link.power_mw is None else f"{link.power_mw:g}",
        link.status.value,
        " ".join(link.cautions),
        None if link.closest is None else closest_words(link.closest),
        "; ".join(note.text for note in link.notes),
    )


def _spare_row(spare: Spare) -> tuple[str | None, ...]:
    facts = (spare.radio, mhz_text(spare.carrier_hz), spare.tv_channel, spare.preset, spare.permit)
    return ("spare", spare.id, "spare carrier", *facts, None, None, None, None, None)


def _cell(text: str | None) -> str:
    """Return a cell on one line that no spreadsheet takes for a formula: `=1+1` becomes `'=1+1`."""
    return _FORMULA.sub(r"\1\2'", one_line(text or ""))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A row with the line it ends on (rows with line breaks in a cell end later than they start)."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Columns:
    """Where id and carrier stand, and how they are called in this list."""

    id_at: int
    mhz_at: int
    names: tuple[str, ...]

    def text(self, row: _Row, at: int) -> str:
        return row.cells[at].strip() if at < len(row.cells) else ""


@dataclass(slots=True, kw_only=True)
class _Reading:
    """The carriers and faults found so far."""

    file: str
    known: Collection[str] | None
    carriers: dict[str, int] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def add(self, code: str, text: str, *, line: int | None = None, key: str | None = None, **more: str | None) -> None:
        self.faults.append(Fault(code=code, text=text, file=self.file, line=line, key=key, **more))


def read_carriers(text: str, *, file: str, known: Collection[str] | None) -> dict[str, int]:
    """Return the carrier of each listed link or spare carrier in Hz.

    `known` are all ids that a list may hold; with None it may hold any.

    Raises
    ------
    InputError
        With everything that is wrong with the list, line by line.
    """
    reading = _Reading(file=file, known=known)
    lines = _readable(text.removeprefix("\ufeff"))
    rows, columns = _rows(reading, lines)
    if columns is not None:
        for row in rows:
            _read_row(reading, columns, row)
        if not rows and not reading.faults:
            reading.add("no-carriers", "this list holds no carriers: nothing stands below its header.")
    if reading.faults:
        raise InputError(sorted(reading.faults, key=lambda fault: fault.line or 0))
    return reading.carriers


def _readable(text: str) -> list[str]:
    """Return the lines, those that are not to be read emptied, so that numbers of lines stay true."""
    return ["\n" if _NOT_READ.match(line) else line for line in io.StringIO(text, newline="")]


def _rows(reading: _Reading, lines: Sequence[str]) -> tuple[list[_Row], _Columns | None]:
    """Return the rows below the header, split at the separator that gives the columns asked for."""
    headers = {separator: _header(lines, separator) for separator in _SEPARATORS}
    for separator, header in headers.items():
        names = tuple(name.strip().casefold() for name in header)
        id_name = next((name for name in _ID_NAMES if name in names), None)
        if id_name is not None and "mhz" in names:
            return _under(reading, lines, separator, names, id_name)
    _no_columns(reading, lines, max(headers.values(), key=len))
    return [], None


def _header(lines: Sequence[str], separator: str) -> list[str]:
    try:
        return next((cells for cells in csv.reader(lines, delimiter=separator) if any(map(str.strip, cells))), [])
    except csv.Error:
        return []


def _no_columns(reading: _Reading, lines: Sequence[str], header: Sequence[str]) -> None:
    allowed = "a header with a column link or id, and a column mhz"
    found = [name.strip() for name in header if name.strip()]
    if not found:
        reading.add("no-columns", f"this list is empty; {allowed} is needed.", allowed=allowed)
        return
    line = next(number for number, content in enumerate(lines, start=1) if content.strip())
    if any(_like_a_sweep(_header(lines, separator)) for separator in _SEPARATORS):
        text = "this looks like a sweep, not like a list of carriers."
        what = "Name the list of carriers here, and the sweep with --sweep."
        reading.add("looks-like-a-sweep", text, line=line, allowed=allowed, hint=what)
        return
    names = list_text(given_text(name) for name in found)
    missing = " and ".join(
        what
        for what, words in (("link or id", _ID_NAMES), ("mhz", ("mhz",)))
        if not {name.casefold() for name in found} & set(words)
    )
    reading.add(
        "no-columns",
        f"a list of carriers needs a column {missing}; the columns here are {names}.",
        line=line,
        given=names,
        allowed=allowed,
        hint=next((hint for name in found if (hint := nearest_hint(name, (*_ID_NAMES, "mhz")))), None),
    )


def _like_a_sweep(cells: Sequence[str]) -> bool:
    """Whether a first line is one of levels: bare numbers, or frequencies beside a level."""
    numbers = sum(bool(_LEVEL.fullmatch(cell.strip())) for cell in cells)
    names = {name.strip().casefold() for name in cells}
    return numbers == len(cells) >= 2 or numbers >= 4 or bool(names & _LEVEL_NAMES)


def _under(
    reading: _Reading, lines: Sequence[str], separator: str, names: tuple[str, ...], id_name: str
) -> tuple[list[_Row], _Columns | None]:
    rows = list(_split(reading, lines, separator))
    for name in (id_name, "mhz"):
        if names.count(name) > 1:
            text = f'the column "{name}" stands {names.count(name)} times in the header; it must stand there once.'
            reading.add("column-twice", text, line=rows[0].line if rows else None, key=name)
    if not rows:
        return [], None
    return rows[1:], _Columns(id_at=names.index(id_name), mhz_at=names.index("mhz"), names=names)


def _split(reading: _Reading, lines: Sequence[str], separator: str) -> Iterator[_Row]:
    """Yield all rows that hold anything, the header too. A quote that never closes would hide rows: a fault."""
    reader = csv.reader(lines, delimiter=separator, strict=True)
    before = 0
    try:
        for cells in reader:
            before = reader.line_num
            if any(map(str.strip, cells)):
                yield _Row(line=reader.line_num, cells=tuple(cells))
    except csv.Error as error:
        text = f"from this line on the list cannot be read as CSV ({error})."
        hint = 'A cell in quotes ends with a quote; a quote inside is written twice: "5"" rack".'
        reading.add("not-csv", text, line=before + 1, hint=hint)


def _read_row(reading: _Reading, columns: _Columns, row: _Row) -> None:
    if any(map(str.strip, row.cells[len(columns.names) :])):
        reading.add(
            "too-many-cells",
            f"this row has {len(row.cells)} cells, the header {len(columns.names)}.",
            line=row.line,
            hint="Put a cell that holds a comma in quotes, or separate cells with semicolons.",
        )
        return
    name = _id(reading, columns.text(row, columns.id_at), columns.names[columns.id_at], row.line)
    carrier_hz = _carrier(reading, columns.text(row, columns.mhz_at), row.line)
    if name is None or carrier_hz is None:
        return
    reading.carriers[name] = carrier_hz


def _id(reading: _Reading, cell: str, column: str, line: int) -> str | None:
    name = _QUOTED_FORMULA.sub("", cell)
    if not name:
        hint = "Start the line with # when it is a note."
        reading.add("missing-id", f'"{column}" is empty in this row.', line=line, key=column, hint=hint)
        return None
    if reading.known is not None and name not in reading.known:
        reading.add(
            "unknown-id",
            f"{given_text(name)} is no link or spare carrier of the brief.",
            line=line,
            key=column,
            given=name[:_LONGEST],
            allowed=list_text(reading.known),
            hint=nearest_hint(name, reading.known) or f"Known: {list_text(reading.known)}.",
        )
        return None
    if name in reading.lines:
        text = f"{given_text(name)} stands twice, first in line {reading.lines[name]}; a link has one carrier."
        reading.add("id-twice", text, line=line, key=column, given=name[:_LONGEST])
        return None
    reading.lines[name] = line
    return name


def _carrier(reading: _Reading, cell: str, line: int) -> int | None:
    number = _QUOTED_FORMULA.sub("", cell)
    if not number:
        reading.add("missing-mhz", '"mhz" is empty in this row.', line=line, key="mhz", allowed=MHZ_ALLOWED)
        return None
    found = read_mhz(number)
    if found.hz is None:
        text = f"{given_text(cell)} {found.words}; allowed is {MHZ_ALLOWED}."
        given = cell[:_LONGEST]
        reading.add(found.code, text, line=line, key="mhz", given=given, allowed=MHZ_ALLOWED, hint=found.hint)
    return found.hz

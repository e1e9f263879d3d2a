"""The brief inside a job file: its tables, the job they describe, and every fault at its cell."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bandwright import exact_json
from bandwright.core.job import Job
from bandwright.core.library import Library
from bandwright.documents.brief import DEEPEST, KINDS, ONCE, Seen, as_toml_gives, brief_toml, read_parsed
from bandwright.documents.faults import Located
from bandwright.documents.outputs import Input
from bandwright.errors import Fault, InputError
from bandwright.store import Entry

__all__ = [
    "BriefNow",
    "CellFault",
    "CellFaults",
    "LastReading",
    "brief_input",
    "in_order",
    "plain",
    "read_entries",
    "tables_of",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellFault:
    """A fault with the entry and the field at which it stands; None where it is about the brief as a whole."""

    fault: Fault
    uid: str | None
    field: str | None


class CellFaults(InputError):  # noqa: N818 - it names what it carries
    """The input cannot be understood, and each fault stands at a cell; `cells` are in the order of `faults`."""

    def __init__(self, cells: Sequence[CellFault]) -> None:
        self.cells = tuple(cells)
        super().__init__([cell.fault for cell in cells])


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefNow:
    """The brief as an event left it: its entries, and the job they describe or what keeps them from being one."""

    seq: int
    entries: tuple[Entry, ...]
    job: Job | None
    faults: tuple[CellFault, ...]

    def whole(self) -> Job:
        """Return the job; raises CellFaults with everything that keeps the brief from being one."""
        if self.job is None:
            raise CellFaults(self.faults)
        return self.job


def in_order(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Return the entries of the brief in the order in which a brief is written."""
    rank = {kind: place for place, kind in enumerate(KINDS)}
    return tuple(sorted((e for e in entries if e.kind in rank), key=lambda e: (rank[e.kind], e.position, e.uid)))


def tables_of(entries: Iterable[Entry]) -> dict[str, Any]:
    """Return the tables that entries hold, as TOML would give them."""
    rows = in_order(entries)
    return _by_kind(rows, [as_toml_gives(entry.kind, entry.value) for entry in rows])


def _by_kind(rows: Sequence[Entry], values: Sequence[dict[str, Any]]) -> dict[str, Any]:
    tables: dict[str, Any] = {"bandwright": 1}
    for entry, value in zip(rows, values, strict=True):
        if entry.kind in ONCE:
            tables[entry.kind] = value
        else:
            tables.setdefault(entry.kind, []).append(value)
    return tables


class LastReading:
    """What the entries gave when they were read last: one that is the same object still is not read again."""

    def __init__(self) -> None:
        self.seen = Seen()
        self._tables: dict[str, tuple[Entry, dict[str, Any]]] = {}

    def tables(self, entries: Sequence[Entry]) -> list[dict[str, Any]]:
        """Return each entry as TOML would give it."""
        known, now = self._tables, {}
        for entry in entries:
            found = known.get(entry.uid)
            if found is None or found[0] is not entry:
                found = (entry, as_toml_gives(entry.kind, entry.value))
            now[entry.uid] = found
        self._tables = now
        return [table for _, table in now.values()]


def read_entries(
    entries: Iterable[Entry], *, seq: int, file: str, library: Library, last: LastReading | None = None
) -> BriefNow:
    """Return the brief that entries hold, with each fault at its cell; `last` makes the next reading a short one."""
    rows = in_order(entries)
    last = LastReading() if last is None else last
    reading = read_parsed(_by_kind(rows, last.tables(rows)), file=file, library=library, seen=last.seen)
    by_kind: dict[str, list[Entry]] = {}
    for row in rows:
        by_kind.setdefault(row.kind, []).append(row)
    return BriefNow(
        seq=seq,
        entries=rows,
        job=reading.job,
        faults=tuple(_at_cell(found, by_kind) for found in reading.faults),
    )


def brief_input(brief: BriefNow, name: str) -> Input:
    """Return the brief of a job as the input it is: with the hash of the text that it would be exported to."""
    text = brief_toml(tables_of(brief.entries))
    return Input(name=name, sha256=hashlib.sha256(text.encode()).hexdigest())


def _at_cell(found: Located, rows: Mapping[str, Sequence[Entry]]) -> CellFault:
    match found.path:
        case [str(kind), int(position), *rest] if position < len(rows.get(kind, ())):
            return CellFault(fault=found.fault, uid=rows[kind][position].uid, field=_field(rest))
        case [str(kind), *rest] if kind in ONCE and rows.get(kind):
            return CellFault(fault=found.fault, uid=rows[kind][0].uid, field=_field(rest))
    return CellFault(fault=found.fault, uid=None, field=_field(found.path))


def _field(path: Sequence[str | int]) -> str | None:
    return str(path[0]) if path else None


def plain(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table as a job file keeps it: JSON values, numbers exact, dates and times as text, nothing that is null.

    Raises
    ------
    ValueError
        When it holds what JSON cannot.
    """
    stated = {key: value for key, value in table.items() if value is not None}
    found = exact_json.loads(exact_json.dumps(stated, other=exact_json.plain), deepest=DEEPEST)
    return dict(found)

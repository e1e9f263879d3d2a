"""The brief inside a job file: its tables, the job they describe, and every fault at its cell."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bandwright import exact_json
from bandwright.core.job import Job
from bandwright.core.library import Library
from bandwright.documents.brief import DEEPEST, KINDS, ONCE, as_toml_gives, brief_toml, read_parsed
from bandwright.documents.faults import Located
from bandwright.documents.outputs import Input
from bandwright.errors import Fault, InputError
from bandwright.store import Entry

__all__ = [
    "BriefNow",
    "CellFault",
    "CellFaults",
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
    tables: dict[str, Any] = {"bandwright": 1}
    for entry in in_order(entries):
        value = as_toml_gives(entry.kind, entry.value)
        if entry.kind in ONCE:
            tables[entry.kind] = value
        else:
            tables.setdefault(entry.kind, []).append(value)
    return tables


def read_entries(entries: Iterable[Entry], *, seq: int, file: str, library: Library) -> BriefNow:
    """Return the brief that entries hold, with each fault at its cell."""
    rows = in_order(entries)
    reading = read_parsed(tables_of(rows), file=file, library=library)
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

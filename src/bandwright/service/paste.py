"""Rows from a spreadsheet into the tables of a job: all of them, or none and every cell that cannot be read."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from bandwright.documents.brief import ONCE, keys_of_table
from bandwright.errors import InputError
from bandwright.service.desk import Changed, Desk
from bandwright.service.entries import check_kind, readable, write_row
from bandwright.service.entry_names import fresh_id, taken_ids
from bandwright.service.job_brief import CellFault, CellFaults
from bandwright.store import Draft

__all__ = ["MOST_ROWS", "paste_entries"]

MOST_ROWS = 500
_MOST_LETTERS = 1_000_000
# What a spreadsheet may call a column beside the key itself.
_OTHER_WORDS = {
    "mhz": ("hold_mhz", "carrier_mhz"),
    "who": ("name",),
    "label": ("id",),
    "type": ("radio",),
    "radio type": ("radio",),
    "desk": ("desk_input",),
    "input": ("desk_input",),
    "power": ("power_mw",),
    "bandwidth": ("bandwidth_khz",),
}


@dataclass(frozen=True, slots=True)
class _Row:
    """One row that was pasted: its number among them, and its cells by key."""

    number: int
    cells: dict[str, Any]


def paste_entries(
    desk: Desk,
    *,
    who: str,
    kind: str,
    text: str,
    after: str | None = None,
    columns: Sequence[str] | None = None,
    client_key: str | None = None,
) -> Changed:
    """Add a table for each row of a text from a spreadsheet; a row with an id that is there changes that table.

    Parameters
    ----------
    text
        Cells between tabs, semicolons or commas. A first row that names keys says what the columns are.
    after
        The uid behind which new tables go; the end without it.
    columns
        The keys of the columns where no row names them; those of the reference, in its order, without it.

    Raises
    ------
    CellFaults
        With every cell that its field cannot hold; its row is told in the text. Nothing is changed then.
    """
    check_kind(kind)
    if kind in ONCE:
        raise InputError.single("only-one", f"Rows cannot be pasted into [{kind}].", key="kind", given=kind)
    rows = list(_rows(kind, text, columns))

    def make(draft: Draft) -> None:
        added, changed = _write(desk, draft, kind, rows, after)
        draft.say(f"Pasted {' and '.join(_counts(kind, added, changed))}")

    with desk.lock:
        return desk.change(make, who=who, client_key=client_key)


def _write(desk: Desk, draft: Draft, kind: str, rows: Sequence[_Row], after: str | None) -> tuple[int, int]:
    entries = desk.file.entries()
    known = {entry.id: entry for entry in entries if entry.kind == kind and entry.id is not None}
    taken, faults, changed = taken_ids(entries), [], 0
    for row in rows:
        there = known.get(row.cells.get("id", ""))
        base = there.value if there is not None else {}
        try:
            table = readable(kind, {**base, **row.cells}, uid=None, file=desk.path.name, only=row.cells)
        except CellFaults as error:
            faults += [_in_row(cell, row) for cell in error.cells]
            continue
        if there is not None:
            draft.set(there.uid, table, id=there.id)
            changed += 1
            continue
        if "id" not in table and kind != "isolation":
            table = {"id": fresh_id(kind, entries, taken), **table}
        taken.add(str(table.get("id")))
        after = write_row(draft, kind, table, after=after)
    if faults:
        raise CellFaults(faults)
    return len(rows) - changed, changed


def _in_row(cell: CellFault, row: _Row) -> CellFault:
    fault = cell.fault
    return replace(cell, fault=replace(fault, text=f"row {row.number}: {fault.text}", line=row.number))


def _counts(kind: str, added: int, changed: int) -> Iterator[str]:
    if added or not changed:
        yield f"{added} new {kind} {'entry' if added == 1 else 'entries'}"
    if changed:
        yield f"{changed} that {'was' if changed == 1 else 'were'} there"


def _rows(kind: str, text: str, columns: Sequence[str] | None) -> Iterator[_Row]:
    if len(text) > _MOST_LETTERS:
        words = f"a paste of more than {_MOST_LETTERS} letters is not read; paste fewer rows at a time."
        raise InputError.single("too-large", words, key="text")
    found = _cells(text)
    if not found:
        raise InputError.single("empty", "there is nothing to paste.", key="text", hint="Copy rows of a spreadsheet.")
    keys = keys_of_table(kind)
    named = _header(found[0], keys)
    body = found[1:] if named else found
    heads = named or list(columns or keys)
    if len(body) > MOST_ROWS:
        words = f"{len(body)} rows are more than can be pasted at once."
        raise InputError.single("too-many", words, key="text", given=str(len(body)), allowed=f"up to {MOST_ROWS}")
    widest = max((len(row) for row in body), default=0)
    if widest > len(heads):
        words = f"a row has {widest} cells, and there are {len(heads)} columns to put them into."
        hint = "Put the names of the columns above the rows."
        raise InputError.single("too-wide", words, key="text", given=str(widest), allowed=str(len(heads)), hint=hint)
    for number, row in enumerate(body, start=2 if named else 1):
        cells = {key: cell.strip() for key, cell in zip(heads, row, strict=False) if key and cell.strip()}
        yield _Row(number, cells)


def _cells(text: str) -> list[list[str]]:
    """Return the cells of each row in which there is anything."""
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=_between(text)))
    except csv.Error as error:
        words = f"this is no table that can be read: {error}."
        raise InputError.single("no-table", words, key="text", hint="Copy rows of a spreadsheet.") from error
    return [row for row in rows if any(map(str.strip, row))]


def _between(text: str) -> str:
    first = text.strip("\r\n").split("\n", 1)[0]
    return next((mark for mark in ("\t", ";") if mark in first), ",")


def _header(row: Sequence[str], keys: Sequence[str]) -> list[str] | None:
    """Return the keys that a first row names ("" for a column that is none of ours); None where it is no heading."""
    found = [_key(cell, keys) for cell in row]
    known = [key for key in found if key]
    return (
        found
        if known and len(known) == len(set(known)) and len(known) * 2 > len([c for c in row if c.strip()])
        else None
    )


def _key(cell: str, keys: Sequence[str]) -> str:
    words = re.sub(r"[\s_()/-]+", " ", cell.strip().casefold()).strip()
    plain = {key.replace("_", " "): key for key in keys}
    others = [key for key in _OTHER_WORDS.get(words, ()) if key in keys]
    return plain.get(words) or (others[0] if others else "")

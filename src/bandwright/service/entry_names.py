"""Ids and names for tables of a brief that somebody adds or copies: free ones, in the manner of those there are."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from typing import Any

from bandwright.store import Entry

__all__ = ["copied", "fresh_id", "label_of", "taken_ids"]

_FIRST = {"link": "L01", "unit": "R1"}
_NUMBERED = re.compile(r"(.*?)(\d+)")
# What only one of several can have.
_NOT_COPIED = {
    "link": ("hold_mhz", "desk_input", "receiver"),
    "unit": ("serial",),
}


def taken_ids(rows: Sequence[Entry]) -> set[str]:
    """Return every id in use, those of counted links (M.1, M.2) too."""
    taken = {row.id for row in rows if row.id is not None}
    for row in rows:
        count = row.value.get("count") if row.kind == "link" else None
        if isinstance(count, int):
            taken |= {f"{row.id}.{number}" for number in range(1, count + 1)}
    return taken


def fresh_id(kind: str, rows: Sequence[Entry], taken: Collection[str]) -> str:
    """Return a free id that goes on from the last one of its kind: L07 after L06, or KIND-1."""
    numbered = [row.id for row in rows if row.kind == kind and row.id is not None and _NUMBERED.fullmatch(row.id)]
    start = numbered[-1] if numbered else _FIRST.get(kind, f"{kind}-1")
    return start if start not in taken else _next(start, taken)


def _next(name: str, taken: Collection[str]) -> str:
    """Return the first free name that goes on from one: A3 after A2, "lead-2" after "lead"."""
    match = _NUMBERED.fullmatch(name)
    stem, digits = match.groups() if match else (f"{name}-", "1")
    number = int(digits)
    while (found := f"{stem}{number:0{len(digits)}d}") in taken or found == name:
        number += 1
    return found


def copied(entry: Entry, rows: Sequence[Entry], taken: set[str], count: int) -> Iterator[dict[str, Any]]:
    """Yield copies of a table with free ids and, where it has a name, names that count on."""
    kept = {key: value for key, value in entry.value.items() if key not in _NOT_COPIED.get(entry.kind, ())}
    names = {row.value.get("name") for row in rows if row.kind == entry.kind}
    last, name = entry.id, kept.get("name")
    for _ in range(count):
        table = dict(kept)
        if last is not None:
            last = _next(last, taken)
            taken.add(last)
            table["id"] = last
        if isinstance(name, str):
            name = _next_name(name, names)
            names.add(name)
            table["name"] = name
        yield table


def _next_name(name: str, taken: Collection[object]) -> str:
    match = re.fullmatch(r"(.*?) ?(\d+)", name)
    stem, number = (match[1], int(match[2])) if match else (name, 1)
    while (found := f"{stem} {number + 1}".strip()) in taken:
        number += 1
    return found


def label_of(entry: Entry) -> str:
    """Return a table as people call it: link L01 (Mara)."""
    name = entry.value.get("name") or entry.value.get("reference")
    called = f" ({name})" if isinstance(name, str) and name != entry.id else ""
    return f"{entry.kind} {entry.id}{called}" if entry.id is not None else f"the [{entry.kind}] table"

"""Whether a job file is whole: what SQLite says, what its blobs say, and whether tables and history agree."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator

from bandwright import exact_json
from bandwright.store.tables import TABLES, image_of

__all__ = ["problems_in"]


def problems_in(connection: sqlite3.Connection) -> tuple[str, ...]:
    """Return everything that is wrong, a sentence each."""
    structure = tuple(_structure(connection))
    return structure or (*_blobs(connection), *_history(connection))


def _structure(connection: sqlite3.Connection) -> Iterator[str]:
    for (found,) in connection.execute("PRAGMA integrity_check"):
        if found != "ok":
            yield f"The file is broken inside: {found}."
    for table, row, other, _ in connection.execute("PRAGMA foreign_key_check"):
        yield f"Row {row} of {table} names a row of {other} that is not there."


def _blobs(connection: sqlite3.Connection) -> Iterator[str]:
    for sha256, size, data in connection.execute("SELECT sha256, size, data FROM blob"):
        if len(data) != size or hashlib.sha256(data).hexdigest() != sha256:
            yield f"The bytes kept as {sha256} are not what was put in."


def _history(connection: sqlite3.Connection) -> Iterator[str]:
    told: dict[tuple[str, str], str] = {}
    for noun, uid, before, after in connection.execute("SELECT noun, uid, before, after FROM event ORDER BY seq"):
        if told.pop((noun, uid), None) != before:
            yield f"The history of {noun} {uid} has a gap."
        if after is not None:
            told[noun, uid] = after
    for noun, table in TABLES.items():
        for uid, *values in connection.execute(f"SELECT uid, {', '.join(table.columns)} FROM {noun}"):
            if told.pop((noun, uid), None) != exact_json.dumps(image_of(table, values)):
                yield f"{noun.capitalize()} {uid} is not what the history says."
    for noun, uid in told:
        yield f"{noun.capitalize()} {uid} is in the history and not in its table."

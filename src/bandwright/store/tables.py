"""The tables that events tell about: which columns their rows have, and how a row is read and written.

A row's *image* is its columns as plain values, JSON columns parsed. Events hold the image before and after, so the
tables are always what one gets by going through the events from the first.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from bandwright import exact_json
from bandwright.store.failures import Garbled
from bandwright.store.records import Device, Entry, Note, Plan, Statement, Sweep, Version

__all__ = ["TABLES", "Image", "Table", "image_of", "parsed", "read_image", "write_row"]

Image = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: its columns beside `uid` and `revision`.

    Parameters
    ----------
    columns
        Those that events tell about.
    json
        Which of them hold JSON text.
    silent
        Columns that events do not tell about: secrets, and times of no interest.
    lasting
        Its rows are facts; no undo takes them back.
    record
        The class its rows are given back as; None for plain values.
    """

    columns: tuple[str, ...]
    json: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()
    lasting: bool = False
    record: type[Any] | None = None


TABLES: dict[str, Table] = {
    "entry": Table(columns=("kind", "id", "position", "value"), json=("value",), record=Entry),
    "state": Table(columns=("value",), json=("value",)),
    "sweep": Table(
        columns=("name", "sha256", "facts", "added_at", "added_by", "removed_at"), json=("facts",), record=Sweep
    ),
    "plan": Table(
        columns=("number", "check_phrase", "stands_on", "sha256", "made_at", "made_by"), lasting=True, record=Plan
    ),
    "version": Table(columns=("number", "name", "sha256", "made_at", "made_by"), lasting=True, record=Version),
    "statement": Table(
        columns=("what", "about", "note", "plan_number", "at", "who", "taken_back_at"), record=Statement
    ),
    "note": Table(columns=("about", "text", "at", "who"), record=Note),
    "device": Table(
        columns=("name", "role", "paired_at", "expires_at", "revoked_at"),
        silent=("token_sha256", "last_seen"),
        lasting=True,
        record=Device,
    ),
}


def image_of(table: Table, values: Iterable[Any]) -> Image:
    """Return the image of a row from the values of its columns in the database."""
    pairs = zip(table.columns, values, strict=True)
    return {name: parsed(value) if name in table.json else value for name, value in pairs}


def parsed(text: str) -> Any:
    """Return the value of JSON text that the store wrote; raises Garbled where it is none any more."""
    try:
        return exact_json.loads(text)
    except ValueError as error:
        raise Garbled from error


def read_image(connection: sqlite3.Connection, noun: str, uid: str) -> Image | None:
    """Return the image of a row; None where there is no such row."""
    table = TABLES[noun]
    row = connection.execute(f"SELECT {', '.join(table.columns)} FROM {noun} WHERE uid = ?", (uid,)).fetchone()
    return None if row is None else image_of(table, row)


def write_row(
    connection: sqlite3.Connection,
    noun: str,
    uid: str,
    image: Image | None,
    *,
    revision: int,
    silent: Mapping[str, Any],
) -> None:
    """Make a row what its image says: added, changed, or gone where the image is None."""
    if image is None:
        connection.execute(f"DELETE FROM {noun} WHERE uid = ?", (uid,))
        return
    table = TABLES[noun]
    stored = {name: exact_json.dumps(image[name]) if name in table.json else image[name] for name in table.columns}
    columns = {"revision": revision, **stored, **silent}
    places = ", ".join(f"{name} = ?" for name in columns)
    changed = connection.execute(f"UPDATE {noun} SET {places} WHERE uid = ?", (*columns.values(), uid)).rowcount
    if not changed:
        names, marks = ", ".join(columns), ", ".join("?" for _ in columns)
        connection.execute(f"INSERT INTO {noun} (uid, {names}) VALUES (?, {marks})", (uid, *columns.values()))

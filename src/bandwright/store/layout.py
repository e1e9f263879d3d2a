"""The layout of a job file, as steps that only move forward.

A step is a plain function that takes a file from one layout number to the next; `STEPS[n]` makes layout n + 1. A new
job runs them all. A step that was released is never edited: a change is a new step, with a file of the layout before
it in `tests/store/files`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence

__all__ = ["APPLICATION_ID", "STEPS", "move_forward", "shape"]

APPLICATION_ID = int.from_bytes(b"BwJb", "big")

Step = Callable[[sqlite3.Connection], None]


def move_forward(connection: sqlite3.Connection, steps: Sequence[Step]) -> None:
    """Run the steps that the file has not had yet, each in a transaction with the record that it ran."""
    first = int(connection.execute("PRAGMA user_version").fetchone()[0])
    for number, step in enumerate(steps[first:], first + 1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            step(connection)
            connection.execute(f"PRAGMA user_version = {number}")
            connection.execute("COMMIT")
        finally:
            if connection.in_transaction:
                connection.execute("ROLLBACK")


def shape(connection: sqlite3.Connection) -> frozenset[tuple[str, str, str | None]]:
    """Return everything that the file defines: kind, name and text of each table and index."""
    return frozenset(connection.execute("SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%'"))


def _first_layout(connection: sqlite3.Connection) -> None:
    for statement in _FIRST:
        connection.execute(statement)


_FIRST = (
    f"PRAGMA application_id = {APPLICATION_ID}",
    """CREATE TABLE change(
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        at TEXT NOT NULL,
        who TEXT NOT NULL,
        what TEXT NOT NULL,
        client_key TEXT UNIQUE,
        undoes INTEGER REFERENCES change(number),
        redoes INTEGER REFERENCES change(number),
        undone INTEGER NOT NULL DEFAULT 0 CHECK (undone IN (0, 1)),
        lasting INTEGER NOT NULL DEFAULT 0 CHECK (lasting IN (0, 1))
    ) STRICT""",
    "CREATE INDEX change_by ON change(who, number)",
    "CREATE INDEX change_undoes ON change(undoes) WHERE undoes IS NOT NULL",
    "CREATE INDEX change_redoes ON change(redoes) WHERE redoes IS NOT NULL",
    """CREATE TABLE event(
        seq INTEGER PRIMARY KEY AUTOINCREMENT,
        change INTEGER NOT NULL REFERENCES change(number),
        noun TEXT NOT NULL,
        uid TEXT NOT NULL,
        before TEXT,
        after TEXT
    ) STRICT""",
    "CREATE INDEX event_of ON event(change)",
    "CREATE INDEX event_about ON event(uid, seq)",
    "CREATE INDEX event_among ON event(noun, seq)",
    """CREATE TABLE blob(
        sha256 TEXT PRIMARY KEY,
        size INTEGER NOT NULL,
        data BLOB NOT NULL
    ) STRICT""",
    """CREATE TABLE entry(
        uid TEXT PRIMARY KEY,
        revision INTEGER NOT NULL REFERENCES event(seq),
        kind TEXT NOT NULL,
        id TEXT UNIQUE,
        position INTEGER NOT NULL,
        value TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX entry_order ON entry(kind, position)",
    """CREATE TABLE state(
        uid TEXT PRIMARY KEY,
        revision INTEGER NOT NULL REFERENCES event(seq),
        value TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE sweep(
        uid TEXT PRIMARY KEY,
        revision INTEGER NOT NULL REFERENCES event(seq),
        name TEXT NOT NULL,
        sha256 TEXT NOT NULL REFERENCES blob(sha256),
        facts TEXT NOT NULL,
        added_at TEXT NOT NULL,
        added_by TEXT NOT NULL,
        removed_at TEXT
    ) STRICT""",
    """CREATE TABLE plan(
        uid TEXT PRIMARY KEY,
        revision INTEGER NOT NULL REFERENCES event(seq),
        number INTEGER NOT NULL UNIQUE,
        check_phrase TEXT NOT NULL,
        stands_on INTEGER NOT NULL,
        sha256 TEXT NOT NULL REFERENCES blob(sha256),
        made_at TEXT NOT NULL,
        made_by TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE version(
        uid TEXT PRIMARY KEY,
        revision INTEGER NOT NULL REFERENCES event(seq),
        number INTEGER NOT NULL UNIQUE,
        name TEXT NOT NULL,
        sha256 TEXT NOT NULL REFERENCES blob(sha256),
        made_at TEXT NOT NULL,
        made_by TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE statement(
        uid TEXT PRIMARY KEY,
        revision INTEGER NOT NULL REFERENCES event(seq),
        what TEXT NOT NULL,
        about TEXT,
        note TEXT NOT NULL,
        plan_number INTEGER REFERENCES plan(number),
        at TEXT NOT NULL,
        who TEXT NOT NULL,
        taken_back_at TEXT
    ) STRICT""",
    """CREATE TABLE note(
        uid TEXT PRIMARY KEY,
        revision INTEGER NOT NULL REFERENCES event(seq),
        about TEXT,
        text TEXT NOT NULL,
        at TEXT NOT NULL,
        who TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE device(
        uid TEXT PRIMARY KEY,
        revision INTEGER NOT NULL REFERENCES event(seq),
        name TEXT NOT NULL,
        role TEXT NOT NULL,
        token_sha256 TEXT NOT NULL UNIQUE,
        paired_at TEXT NOT NULL,
        expires_at TEXT,
        last_seen TEXT,
        revoked_at TEXT
    ) STRICT""",
)

STEPS: tuple[Step, ...] = (_first_layout,)

"""Making a job file as small as it can be."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

__all__ = ["Compacted", "forget", "squeeze"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compacted:
    """What it came to: how many sweeps went for good, and the size of the file before and after, in bytes."""

    sweeps: int
    before_bytes: int
    after_bytes: int


def forget(connection: sqlite3.Connection) -> None:
    """Let go of all bytes that only the history names; so nothing up to now can be taken back or done again."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.execute("UPDATE change SET lasting = 1")
        connection.execute(
            "DELETE FROM blob WHERE sha256 NOT IN "
            "(SELECT sha256 FROM sweep UNION SELECT sha256 FROM plan UNION SELECT sha256 FROM version) "
            "AND NOT EXISTS (SELECT 1 FROM state WHERE instr(state.value, blob.sha256))"
        )
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def squeeze(connection: sqlite3.Connection) -> None:
    """Write the file anew without its empty pages."""
    connection.execute("VACUUM")
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

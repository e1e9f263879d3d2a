"""Moving an older job file forward: on a copy, with the old file kept."""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from bandwright.errors import BrokenPromise
from bandwright.store.failures import damaged
from bandwright.store.files import connect, new_file, whole_file
from bandwright.store.layout import Step, move_forward

__all__ = ["move_file"]


def move_file(path: Path, steps: Sequence[Step], *, wait_s: float) -> None:
    """Bring a job file to the layout that the steps make, or leave it as it was.

    The old file is kept as `NAME.before-N.bwjob`. The steps run on a copy, which is then checked and put back in one
    transaction. Nobody else can have the file open meanwhile.
    """
    connection = connect(path, mode="rw", wait_s=wait_s)
    try:
        _claim(connection)
        if int(connection.execute("PRAGMA user_version").fetchone()[0]) < len(steps):
            _through_a_copy(connection, path, steps)
    finally:
        connection.execute("PRAGMA locking_mode = NORMAL")
        connection.close()


def _claim(connection: sqlite3.Connection) -> None:
    """Hold the file alone until the connection is closed; busy where somebody else has it open."""
    connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("BEGIN EXCLUSIVE")
    connection.execute("COMMIT")


def _through_a_copy(connection: sqlite3.Connection, path: Path, steps: Sequence[Step]) -> None:
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}.bandwright-new")
    try:
        copy = new_file(aside)
        try:
            copy.execute("PRAGMA foreign_keys = OFF")  # a table may be rebuilt; they are checked at the end
            connection.backup(copy)
            if _wrong_in(copy):
                raise damaged(path)
            with whole_file(_free_name(path, len(steps))) as kept:
                connection.backup(kept)
            move_forward(copy, steps)
            if wrong := _wrong_in(copy):
                raise BrokenPromise(f"a step made a broken job file: {wrong}")
            copy.backup(connection)
        finally:
            copy.close()
    finally:
        with suppress(OSError):
            aside.unlink(missing_ok=True)


def _wrong_in(copy: sqlite3.Connection) -> list[str]:
    found = [str(row[0]) for row in copy.execute("PRAGMA integrity_check") if row[0] != "ok"]
    return found + [f"{table} {row}" for table, row, *_ in copy.execute("PRAGMA foreign_key_check")]


def _free_name(path: Path, layout: int) -> Path:
    names = [f"{path.stem}.before-{layout}.bwjob", *(f"{path.stem}.before-{layout}-{n}.bwjob" for n in range(2, 1000))]
    return next(path.with_name(name) for name in names if not path.with_name(name).exists())

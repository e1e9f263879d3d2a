"""Finding out what a file is, and connecting to it as a job file wants.

A job file at rest is one file in SQLite's classic mode: it can be copied, and read from a folder that may not be
written. While it is open for writing it has a write-ahead log beside it (`NAME-wal`, `NAME-shm`), so that others can
read at the same time. Several programs on one machine may have it open; they write one after the other. Two machines
must not open one file in a shared folder at the same time: the log works on one machine only.

Nothing here opens a job file but through SQLite: closing a file drops all locks that this process has on it.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from bandwright.errors import InputError, MachineError
from bandwright.store.failures import damaged, newer, not_a_job
from bandwright.store.files import connect, new_file
from bandwright.store.layout import APPLICATION_ID, Step, move_forward, shape
from bandwright.store.moving import move_file

__all__ = ["Opened", "file_at", "open_to_read", "open_to_write", "rest"]

_ENTRY_COLUMNS = {"uid", "revision", "kind", "id", "position", "value"}
_SIDE_FILES = ("-wal", "-journal")


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A connection.

    Parameters
    ----------
    connection
        To the file, or to a copy of it.
    copy
        The folder of the copy, where it is one.
    newer
        What to say where something cannot be read since the file has a newer layout; None for one that is known.
    file
        Device and number of the file that is written to, by which it is known whatever it is called.
    """

    connection: sqlite3.Connection
    copy: tempfile.TemporaryDirectory[str] | None = None
    newer: InputError | None = None
    file: tuple[int, int] | None = None

    def close(self) -> None:
        """Let go of both."""
        self.connection.close()
        if self.copy is not None:
            self.copy.cleanup()


def open_to_write(path: Path, steps: Sequence[Step], *, wait_s: float) -> Opened:
    """Connect for writing; an older file is moved forward first, and kept beside it as it was.

    Raises
    ------
    InputError
        When it is no job file, damaged, or of a newer layout.
    """
    _check_is_file(path)
    opened = Opened(connection=connect(path, mode="rw", wait_s=wait_s))
    with _closed_on_error(opened):
        found = layout_of(opened.connection, path)
        if found > len(steps):
            raise newer(path, found=found, known=len(steps))
        if found == len(steps):
            check_shape(opened.connection, path, steps)
            if _share(opened.connection, path) == found:
                return replace(opened, file=file_at(path))
    opened.close()
    move_file(path, steps, wait_s=wait_s)
    return open_to_write(path, steps, wait_s=wait_s)


def open_to_read(path: Path, steps: Sequence[Step], *, wait_s: float) -> Opened:
    """Connect for reading, to a copy where the file itself cannot be read as it is.

    That is so after a loss of power in a folder that may not be written, and for a file of an older layout.
    """
    _check_is_file(path)
    opened = _readable(path, wait_s=wait_s)
    with _closed_on_error(opened):
        found = layout_of(opened.connection, path)
        if found > len(steps):
            check_size(opened.connection, path)
            refusal = newer(path, found=found, known=len(steps), reading=True)
            _check_entries(opened.connection, refusal)
            return replace(opened, newer=refusal)
        if found == len(steps):
            check_shape(opened.connection, path, steps)
            return opened
    return _moved_copy(opened, steps)


def file_at(path: Path) -> tuple[int, int] | None:
    """Return device and number of the file that a name leads to; None where it leads to none that can be found."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def rest(connection: sqlite3.Connection) -> None:
    """Bring everything into the one file and take the log away, unless another program is still using it."""
    connection.execute("PRAGMA busy_timeout = 0")
    with suppress(sqlite3.Error):  # all of it is on the disk already, in the log
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        connection.execute("PRAGMA journal_mode = DELETE").fetchall()


def layout_of(connection: sqlite3.Connection, path: Path) -> int:
    """Return the layout number of a job file; InputError when it is none."""
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise not_a_job(path)
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def check_size(connection: sqlite3.Connection, path: Path) -> None:
    """Raise InputError where the file is shorter than it says; a log beside it may hold the rest.

    SQLite itself overlooks a last page that is cut short. Inside of a transaction nobody shortens the file.
    """
    connection.execute("BEGIN")
    try:
        pages, size = (connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
        file = Path(connection.execute("PRAGMA database_list").fetchone()[2])
        log = file.with_name(f"{file.name}-wal")
        if file.stat().st_size < pages * size and not (log.exists() and log.stat().st_size):
            raise damaged(path)
    finally:
        connection.execute("ROLLBACK")


def check_shape(connection: sqlite3.Connection, path: Path, steps: Sequence[Step]) -> None:
    """Raise InputError unless the file has exactly the tables that these steps make, and is no shorter than it says."""
    check_size(connection, path)
    fresh = sqlite3.connect(":memory:", isolation_level=None)
    try:
        move_forward(fresh, steps)
        if shape(fresh) != shape(connection):
            raise damaged(path)
    finally:
        fresh.close()


@contextmanager
def _closed_on_error(opened: Opened) -> Iterator[None]:
    try:
        yield
    except BaseException:
        opened.close()
        raise


def _share(connection: sqlite3.Connection, path: Path) -> int:
    """Switch to the write-ahead log and return the layout again.

    From the first look at the log until the connection is closed, nobody else can move the file forward; before it,
    somebody may have. Where a disk cannot have such a log, SQLite stays in the classic mode: as safe, and slower.
    """
    connection.execute("PRAGMA journal_mode = WAL").fetchall()
    return layout_of(connection, path)


def _check_entries(connection: sqlite3.Connection, refusal: InputError) -> None:
    columns = {str(row[1]) for row in connection.execute("PRAGMA table_info(entry)")}
    if not columns >= _ENTRY_COLUMNS:
        raise refusal


def _check_is_file(path: Path) -> None:
    if path.is_dir():
        raise not_a_job(path)
    if not path.exists():
        text, hint = "There is no such file.", "Give the name of a job file."
        raise InputError.single("no-such-file", text, file=str(path), given=str(path), hint=hint)


def _readable(path: Path, *, wait_s: float) -> Opened:
    try:
        opened = Opened(connection=connect(path, mode="ro", wait_s=wait_s))
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF not in _WOULD_WRITE:
            raise
        return _copy_of_files(path, wait_s=wait_s)
    return opened


# What SQLite says where it would have to write first: bring in a log, or take back half a transaction.
_WOULD_WRITE = (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)


def _copy_of_files(path: Path, *, wait_s: float) -> Opened:
    folder = tempfile.TemporaryDirectory(prefix="bandwright-")
    copy = Path(folder.name) / "copy.bwjob"
    try:
        shutil.copyfile(path, copy)
        for end in _SIDE_FILES:
            with suppress(FileNotFoundError):
                shutil.copyfile(f"{path}{end}", f"{copy}{end}")
        return Opened(connection=connect(copy, mode="rw", wait_s=wait_s), copy=folder)
    except OSError as error:
        folder.cleanup()
        raise MachineError(f"{path} cannot be read: {error.strerror}.") from error
    except sqlite3.Error:
        folder.cleanup()
        raise


def _moved_copy(old: Opened, steps: Sequence[Step]) -> Opened:
    folder = tempfile.TemporaryDirectory(prefix="bandwright-")
    moved = Opened(connection=new_file(Path(folder.name) / "moved.bwjob"), copy=folder)
    with _closed_on_error(moved):
        try:
            old.connection.backup(moved.connection)
        finally:
            old.close()
        move_forward(moved.connection, steps)
    return moved

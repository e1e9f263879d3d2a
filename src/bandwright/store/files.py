"""Connections to files, and new files that get their name only when they are whole."""

from __future__ import annotations

import errno
import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from bandwright.errors import InputError, MachineError

__all__ = ["connect", "new_file", "whole_file"]


_OLDEST = (3, 37)  # the first with STRICT tables

# Each commit is forced to disk before it counts. On a Mac a plain sync only hands data to the drive; a full one asks
# the drive too.
_PRAGMAS = (
    "synchronous = FULL",
    "fullfsync = ON",
    "checkpoint_fullfsync = ON",
    "foreign_keys = ON",
    "trusted_schema = OFF",
    "cell_size_check = ON",
)


def connect(path: Path, *, mode: str, wait_s: float) -> sqlite3.Connection:
    """Connect to a file; `mode` is "ro", "rw" or "rwc" (as in SQLite's file names).

    Raises
    ------
    MachineError
        When the SQLite of this Python is too old.
    """
    if sqlite3.sqlite_version_info < _OLDEST:
        oldest = ".".join(map(str, _OLDEST))
        text = f"Job files need SQLite {oldest} or newer; the one of this Python is {sqlite3.sqlite_version}."
        raise MachineError(f"{text} Install Bandwright under a newer Python.")
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    connection = sqlite3.connect(uri, uri=True, isolation_level=None, timeout=wait_s, check_same_thread=False)
    try:
        for pragma in _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")
    except BaseException:
        connection.close()
        raise
    return connection


def new_file(path: Path) -> sqlite3.Connection:
    """Connect to a new file that nobody else knows of."""
    return connect(path, mode="rwc", wait_s=0)


@contextmanager
def whole_file(path: Path) -> Iterator[sqlite3.Connection]:
    """Give a connection to a new file that gets its name at the end, and only when nothing was raised.

    Raises
    ------
    InputError
        When the name is taken, also by somebody else meanwhile (what stands there is left alone), or there is no such
        folder.
    MachineError
        When it cannot be written.
    """
    _check_free(path)
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}.bandwright-new")
    try:
        connection = new_file(aside)
        try:
            yield connection
        finally:
            connection.close()
        _give_name(aside, path)
    finally:
        with suppress(OSError):
            aside.unlink(missing_ok=True)
    _sync_folder(path.parent)


def _check_free(path: Path) -> None:
    if not path.parent.is_dir():
        text, hint = f"There is no folder {path.parent}.", "Make it first, or name a file in another one."
        raise InputError.single("no-such-folder", text, file=str(path), given=str(path.parent), hint=hint)
    if path.exists() or path.is_symlink():
        raise _taken(path)


def _taken(path: Path) -> InputError:
    text, hint = "This is there already and is not overwritten.", "Name another file."
    return InputError.single("exists", text, file=str(path), given=str(path), allowed="a new file", hint=hint)


def _give_name(aside: Path, path: Path) -> None:
    try:
        os.link(aside, path)
    except FileExistsError as error:
        raise _taken(path) from error
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise MachineError(f"{path} cannot be written: {error.strerror}.") from error
        aside.rename(path)


# A memory stick's file system has no second names; there the name is checked before, and given by renaming.
_NO_LINKS = (errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK)


def _sync_folder(folder: Path) -> None:
    with suppress(OSError):  # Windows cannot, and does not need it
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)

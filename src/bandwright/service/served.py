"""Serving a job: its desk with a warm worker beside it, and one server for a job file at a time."""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from bandwright.engines.prepare import load_search
from bandwright.engines.worker import Worker
from bandwright.errors import MachineError
from bandwright.service.context import Context
from bandwright.service.desk import Desk
from bandwright.service.folders import state_folder
from bandwright.service.rest import resting

__all__ = ["served_desk"]


@contextmanager
def served_desk(context: Context, path: Path, *, address: str) -> Iterator[Desk]:
    """Open a job to be served at an address; yield its desk, and close it whole at the end.

    Raises
    ------
    InputError
        When it is no job file, damaged, or of a newer layout.
    MachineError
        When it is served already, or disk or folder stand in the way.
    """
    with (
        _alone(path, address),
        Worker(warm=load_search) as worker,
        Desk.open(path, context=context, worker=worker) as desk,
        resting(desk),
    ):
        worker.start()
        yield desk


@contextmanager
def _alone(path: Path, address: str) -> Iterator[None]:
    """Hold the mark that says where a job is served; the system lets go of it however this process ends.

    The mark lies in the user's own folder, named by the file's whole path, since the file's folder may be anywhere.
    """
    with _mark_of(path).open("a+", encoding="utf-8") as mark:
        if not _hold(mark):
            mark.seek(0)
            where = mark.read(200).strip()
            raise MachineError(
                f"{path.name} is served already{f' at {where}' if where else ''}. Open that address in a browser, or "
                "stop the other bandwright serve first."
            )
        mark.truncate(0)
        mark.write(address)
        mark.flush()
        try:
            yield
        finally:
            mark.truncate(0)


def _mark_of(path: Path) -> Path:
    name = hashlib.sha256(str(path.resolve()).encode(errors="surrogateescape")).hexdigest()[:16]
    for folder in (state_folder(), Path(tempfile.gettempdir())):
        if folder is None:
            continue
        try:
            folder.mkdir(parents=True, exist_ok=True)
            mark = folder / f"served-{name}"
            mark.touch()
        except OSError:
            continue
        return mark
    raise MachineError("No folder can be written, not even the temporary one; a job cannot be served so.")


def _hold(mark: IO[str]) -> bool:
    """Lock the mark for as long as it is open; False where another process has it.

    Where the file system knows no locks, nobody can have it: SQLite still keeps two servers from harm.
    """
    try:
        _lock(mark.fileno())
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        os.lseek(handle, 1_000_000, os.SEEK_SET)  # a byte far behind the text, which others may go on reading
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

"""What went wrong with a job file, in a sentence each.

`InputError` where the file is not what it should be, `MachineError` where disk, folder or another program is in the
way.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from bandwright.errors import BandwrightError, InputError, MachineError

__all__ = ["Garbled", "damaged", "newer", "not_a_job", "told"]

_PRIMARY = 0xFF  # the low byte of an extended result code


class Garbled(Exception):  # noqa: N818 - it says what is found
    """Something in the file is not what was written there."""


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn what SQLite raises about the file into a sentence; anything else is our own bug and passes."""
    try:
        yield
    except sqlite3.Error as error:
        explain = _explanation(error)
        if explain is None:
            raise
        raise explain(path) from error
    except (Garbled, UnicodeDecodeError) as error:
        raise damaged(path) from error
    except (UnicodeEncodeError, OverflowError) as error:
        raise _unstorable(error) from error


def _explanation(error: sqlite3.Error) -> Callable[[Path], BandwrightError] | None:
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:  # raised by Python's own part, which reads the texts
        return damaged if str(error).startswith("Could not decode to UTF-8") else None
    return _KINDS.get(code & _PRIMARY)


def _unstorable(error: UnicodeEncodeError | OverflowError) -> InputError:
    why = "half of a surrogate pair is no letter" if isinstance(error, UnicodeError) else "a number is too large"
    return InputError.single("unstorable", f"a job file can hold no such thing: {why}.", hint="Type it again.")


def not_a_job(path: Path) -> InputError:
    """Return the error for a file that is something else."""
    return InputError.single(
        "not-a-job",
        "this is no job file of Bandwright.",
        file=str(path),
        given=path.name,
        allowed="a job file, or a brief where a command takes one",
        hint="A new job is made with bandwright job new JOB, one of a brief with bandwright job import BRIEF JOB.",
    )


def damaged(path: Path) -> InputError:
    """Return the error for a job file that is cut short or broken inside."""
    return InputError.single(
        "damaged-job",
        "this job file is damaged or cut short, and is left as it is.",
        file=str(path),
        given=path.name,
        allowed="a whole job file",
        hint="Take the last copy of it; copies made before a change of layout end in .before-N.bwjob.",
    )


def newer(path: Path, *, found: int, known: int, reading: bool = False) -> InputError:
    """Return the error for a file that a later program wrote; `reading` says that not even reading goes on."""
    instead = (
        "; this one cannot read that part of it." if reading else ", or read what it holds with: bandwright job export"
    )
    return InputError.single(
        "newer-job",
        f"this job file was written by a newer Bandwright (layout {found}; this one knows up to {known}).",
        file=str(path),
        given=str(found),
        allowed=f"layout 1 to {known}",
        hint=f"Update Bandwright{instead}",
    )


def _busy(path: Path) -> MachineError:
    return MachineError(
        f"Another program is working in {path}. Nothing of this was kept; wait until it is done, and try again."
    )


def _full(path: Path) -> MachineError:
    return MachineError(
        f"The disk is full: nothing of this was kept in {path}, everything before it was. Make room and try again."
    )


def _read_only(path: Path) -> MachineError:
    return MachineError(
        f"{path} or its folder may not be written. Copy the job file into a folder of your own, or open it for reading."
    )


def _cannot_open(path: Path) -> MachineError:
    return MachineError(
        f"{path} cannot be opened, or nothing can be written beside it. A job file needs a folder that may be written."
    )


def _io(path: Path) -> MachineError:
    return MachineError(
        f"The disk failed under {path}: nothing of this was kept. Copy the job file to another disk before going on."
    )


def _too_big(path: Path) -> InputError:
    return InputError.single("too-big", "this is more than a job file can hold in one piece.", file=str(path))


_KINDS: dict[int, Callable[[Path], BandwrightError]] = {
    sqlite3.SQLITE_BUSY: _busy,
    sqlite3.SQLITE_LOCKED: _busy,
    sqlite3.SQLITE_PROTOCOL: _busy,
    sqlite3.SQLITE_CANTOPEN: _cannot_open,
    sqlite3.SQLITE_CORRUPT: damaged,
    sqlite3.SQLITE_FULL: _full,
    sqlite3.SQLITE_IOERR: _io,
    sqlite3.SQLITE_NOTADB: not_a_job,
    sqlite3.SQLITE_PERM: _read_only,
    sqlite3.SQLITE_READONLY: _read_only,
    sqlite3.SQLITE_TOOBIG: _too_big,
}

"""A folder of outputs, written whole or not at all.

A loss of power or a full disk must not leave new sheets beside an old plan. So everything new is first written
under other names in the same folder and forced to disk; what stands there is copied aside; then a journal says which
names are about to change, and only then the names change, one by one, the plan last; files of an earlier set that the
new one does not have go away with them. The journal's removal is the moment at which the new set counts.

    .NAME.bandwright-new    the new file, before its turn
    .NAME.bandwright-old    a copy of what stood there
    .bandwright-undo        the journal: while it is there, the set is incomplete

Whoever was stopped in between left the journal behind: `recover` puts everything back as it was, and `write_folder`
calls it first. Who only reads asks `standing` where the earlier file is, and changes nothing. The journal also tells
for which names there was a copy, so putting back needs no room on the disk and can itself be stopped and done again.
Every sheet also carries plan number and check phrase, so that a person sees which belong together. Two programs must
not write to one folder at the same moment.
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from bandwright.errors import BrokenPromise, InputError, MachineError

__all__ = ["check_folder", "recover", "standing", "write_folder"]

_JOURNAL = ".bandwright-undo"
_NEW = ".bandwright-new"
_OLD = ".bandwright-old"

_NO_ROOM = (errno.ENOSPC, errno.EDQUOT)
_WHY = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EACCES: "the folder may not be written",
    errno.EPERM: "the folder may not be written",
    errno.EROFS: "the disk is read-only",
    errno.ENOENT: "nothing can be written there",
}


_WITH_OUT = "choose another folder with --out"


def _none(_: str) -> bool:
    return False


def write_folder(
    folder: Path,
    files: Mapping[str, bytes],
    *,
    last: str,
    ours: Callable[[str], bool] = _none,
    elsewhere: str = _WITH_OUT,
) -> None:
    """Write all files into a folder, or leave it as it was.

    Parameters
    ----------
    folder
        Made when it is not there. Other files in it are left alone.
    files
        What to write, by plain file name.
    last
        The name that changes last: a reader that finds it new finds all others new.
    ours
        Whether a name is one that an earlier set may have had; such files that are not in the new set are removed.
    elsewhere
        What to do where the folder cannot be had, for errors.

    Raises
    ------
    InputError
        When the folder is a file, or a file to write is a folder.
    MachineError
        When disk or rights do not let us; what was there before is there still.
    """
    _check_names(files, last)
    _check_room(folder, files, elsewhere)
    order = [*sorted(name for name in files if name != last), last]
    made: list[Path] = []
    try:
        made = _make(folder)
        recover(folder)
        _put_in_place(folder, files, order, _left_over(folder, files, ours))
    except BaseException as error:
        with _in_words(folder):
            recover(folder)
            _remove_empty(made)
        if isinstance(error, OSError):
            advice = f"free some space or {elsewhere}." if error.errno in _NO_ROOM else f"{elsewhere}."
            raise MachineError(
                f"Nothing was written to {folder}: {_why(error)}. {advice[0].upper()}{advice[1:]}"
            ) from error
        raise
    with suppress(OSError):  # the new set counts already; leftovers go away next time
        _sync_folder(folder)
        _clear(folder, (_OLD,))


def recover(folder: Path) -> bool:
    """Put a folder back as it was before a write that was stopped half-way; return whether there was one.

    Leftover temporary files go away in any case.
    """
    journal = folder / _JOURNAL
    interrupted = journal.is_file()
    if interrupted:
        for name, had_copy in _read_journal(journal).items():
            _put_back(folder, name, had_copy=had_copy)
        _sync_folder(folder)
        journal.unlink()
    if folder.is_dir():
        _clear(folder, (_NEW, _OLD))
    return interrupted


def standing(path: Path) -> Path | None:
    """Return where a file of the last whole set is: `path`, its copy where a write was stopped half-way, or nowhere.

    Nothing is changed, so this also works where nothing may be written.
    """
    journal = path.parent / _JOURNAL
    if not journal.is_file():
        return path
    had_copy = _read_journal(journal).get(path.name)
    if had_copy is None:
        return path
    old = _aside(path.parent, path.name, _OLD)
    return (old if old.exists() else path) if had_copy else None  # no copy left: it is back already


def _left_over(folder: Path, files: Mapping[str, bytes], ours: Callable[[str], bool]) -> list[str]:
    """Return the files of an earlier set that the new one does not have."""
    names = (path.name for path in folder.iterdir() if path.is_file())
    return sorted(name for name in names if name not in files and ours(name))


def _put_in_place(folder: Path, files: Mapping[str, bytes], order: Sequence[str], left_over: Sequence[str]) -> None:
    for name in order:
        _write(_aside(folder, name, _NEW), files[name])
    old = [*left_over, *(name for name in order if (folder / name).exists())]
    for name in old:
        _write(_aside(folder, name, _OLD), (folder / name).read_bytes())
    _write_journal(folder, {name: name in old for name in (*left_over, *order)})
    for name in left_over:
        (folder / name).unlink()
    for name in order:
        _aside(folder, name, _NEW).replace(folder / name)
    _sync_folder(folder)
    (folder / _JOURNAL).unlink()


def _write_journal(folder: Path, copies: Mapping[str, bool]) -> None:
    """Write the journal under another name first: half a journal is no journal."""
    aside = _aside(folder, _JOURNAL, _NEW)
    _write(aside, json.dumps(copies).encode())
    aside.replace(folder / _JOURNAL)
    _sync_folder(folder)


def _read_journal(journal: Path) -> dict[str, bool]:
    try:
        copies = json.loads(journal.read_bytes())
        return {str(name): bool(had_copy) for name, had_copy in copies.items()}
    except (ValueError, AttributeError) as error:
        raise MachineError(
            f"{journal} cannot be understood: a write was stopped half-way here, and its journal is damaged. "
            f"Keep the files you trust (those ending in {_OLD} are the earlier ones), then delete {journal.name}."
        ) from error


def _put_back(folder: Path, name: str, *, had_copy: bool) -> None:
    old = _aside(folder, name, _OLD)
    if not had_copy:
        (folder / name).unlink(missing_ok=True)
    elif old.exists():  # else it is back already
        old.replace(folder / name)


def _aside(folder: Path, name: str, ending: str) -> Path:
    return folder / f".{name}{ending}"


def _write(path: Path, data: bytes) -> None:
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    """Force the names in a folder to disk, where the system can open folders."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _clear(folder: Path, endings: tuple[str, ...]) -> None:
    for path in folder.iterdir():
        if path.name.startswith(".") and path.name.endswith(endings):
            path.unlink(missing_ok=True)


def _make(folder: Path) -> list[Path]:
    """Make the folder and its parents; return those that were not there, innermost first."""
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return missing


def _remove_empty(made: Iterable[Path]) -> None:
    for path in made:
        if path.is_dir() and not any(path.iterdir()):
            path.rmdir()


def _check_names(files: Mapping[str, bytes], last: str) -> None:
    if last not in files:
        raise BrokenPromise(f"{last!r} is to be written last, but is not among {', '.join(files)}")
    for name in files:
        if Path(name).name != name or name.startswith("."):
            raise BrokenPromise(f"{name!r} is no plain file name")


def check_folder(folder: Path, *, elsewhere: str = _WITH_OUT) -> None:
    """Raise InputError where outputs cannot go into a folder because a file is in the way."""
    for path in (folder, *folder.parents):
        if path.exists() and not path.is_dir():
            raise InputError.single(
                "out-not-a-folder",
                f"{path} is a file; outputs need a folder.",
                given=str(folder),
                allowed="a folder, or a path where one can be made",
                hint=f"{elsewhere[0].upper()}{elsewhere[1:]}.",
            )


def _check_room(folder: Path, files: Mapping[str, bytes], elsewhere: str) -> None:
    check_folder(folder, elsewhere=elsewhere)
    for name in files:
        if (folder / name).is_dir():
            raise InputError.single(
                "out-name-taken",
                f"{folder / name} is a folder, and a file of that name is to be written there.",
                given=str(folder),
                allowed="a folder in which that name is free or a file",
                hint=f"Move it away, or {elsewhere}.",
            )


@contextmanager
def _in_words(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise MachineError(
            f"{folder} was left half-written and could not be put back ({_why(error)}). "
            "Run the same command again: it puts the folder back first."
        ) from error


def _why(error: OSError) -> str:
    return _WHY.get(error.errno or 0, error.strerror or str(error))

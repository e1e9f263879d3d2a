"""A disk that remembers every write, sync and name, so that a test can pull the plug at any moment.

`recording()` puts a virtual file system in front of SQLite's own, in the very library that Python's sqlite3 uses, and
in front of the few calls with which the store itself names files. Everything still happens on the real disk; beside
that it is logged. `after_power_loss` then says what may be on the disk when the power went at some point of the log:
what was synced is there; of what was not, nothing, everything, or any part, down to single sectors.

The model is that of SQLite's own documentation ("Atomic Commit In SQLite", section 3 on assumptions): a sync makes all
earlier writes to that file last, unsynced writes may reach the disk in any order and in part, and a write leaves bytes
outside its range alone (its "powersafe overwrite"). A name lasts once its folder was synced.
"""

from __future__ import annotations

import ctypes
import itertools
import os
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

SECTOR = 512
OK, FULL, FAILED_SYNC = 0, 13, 1034
OPEN_CREATE, OPEN_JOURNALS = 0x4, 0x800 | 0x4000 | 0x80000  # main journal, super journal, write-ahead log

POINTER, INT, LONG = ctypes.c_void_p, ctypes.c_int, ctypes.c_int64
X_OPEN = ctypes.CFUNCTYPE(INT, POINTER, POINTER, POINTER, INT, POINTER)
X_DELETE = ctypes.CFUNCTYPE(INT, POINTER, POINTER, INT)
X_CLOSE = ctypes.CFUNCTYPE(INT, POINTER)
X_WRITE = ctypes.CFUNCTYPE(INT, POINTER, POINTER, INT, LONG)
X_TRUNCATE = ctypes.CFUNCTYPE(INT, POINTER, LONG)
X_SYNC = ctypes.CFUNCTYPE(INT, POINTER, INT)


class Vfs(ctypes.Structure):
    """`sqlite3_vfs` of sqlite3.h, version 3."""

    _fields_ = [
        ("iVersion", INT),
        ("szOsFile", INT),
        ("mxPathname", INT),
        ("pNext", POINTER),
        ("zName", ctypes.c_char_p),
        ("pAppData", POINTER),
        ("xOpen", POINTER),
        ("xDelete", POINTER),
        ("others", POINTER * 14),
    ]


class Methods(ctypes.Structure):
    """`sqlite3_io_methods` of sqlite3.h, version 3."""

    _fields_ = [
        ("iVersion", INT),
        ("xClose", POINTER),
        ("xRead", POINTER),
        ("xWrite", POINTER),
        ("xTruncate", POINTER),
        ("xSync", POINTER),
        ("others", POINTER * 13),
    ]


@dataclass(frozen=True)
class Op:
    """One thing that happened: `what` is write, truncate, sync, create, link, rename, delete, sync-folder or mark.

    `file` numbers the file (not its name); `name` is a name in the folder, `to` a second one.
    """

    what: str
    file: int = 0
    name: str = ""
    to: str = ""
    offset: int = 0
    data: bytes = b""


class Disk:
    """What was logged: `start` is what was on the disk before, `ops` what happened then.

    `room` is how many more writes the disk takes before it is full, None for a disk that never is; `sick` says whether
    every sync fails.
    """

    def __init__(self, start: dict[str, bytes]) -> None:
        self.start = start
        self.ops: list[Op] = []
        self.files = {name: number for number, name in enumerate(start)}
        self.room: int | None = None
        self.sick = False
        self._numbers = itertools.count(len(start))

    def mark(self, name: str) -> None:
        self.ops.append(Op("mark", name=name))

    def new_file(self, name: str) -> int:
        self.files[name] = next(self._numbers)
        return self.files[name]


def library() -> ctypes.CDLL:
    """Return the SQLite library that Python's own sqlite3 is linked with."""
    import _sqlite3

    found = ctypes.CDLL(getattr(_sqlite3, "__file__", None))
    found.sqlite3_vfs_find.restype = POINTER
    found.sqlite3_vfs_find.argtypes = [ctypes.c_char_p]
    found.sqlite3_vfs_register.argtypes = [POINTER, INT]
    found.sqlite3_vfs_unregister.argtypes = [POINTER]
    return found


def why_not() -> str:
    """Return why nothing can be recorded here; empty where it can."""
    if os.name != "posix":
        return "power loss is simulated only where the file system is POSIX"
    try:
        library().sqlite3_vfs_find(None)
    except (OSError, AttributeError) as error:
        return f"the SQLite inside this Python cannot be reached from outside: {error}"
    return ""


@contextmanager
def recording(folder: Path) -> Iterator[Disk]:
    """Record everything that happens in a folder."""
    disk = Disk({path.name: path.read_bytes() for path in folder.iterdir()})
    with _vfs(disk, folder), _names(disk, folder):
        yield disk


@contextmanager
def _vfs(disk: Disk, folder: Path) -> Iterator[None]:
    sqlite = library()
    below = Vfs.from_address(sqlite.sqlite3_vfs_find(None))
    ours = Vfs()
    ctypes.memmove(ctypes.byref(ours), ctypes.byref(below), ctypes.sizeof(Vfs))
    ours.zName, ours.pNext = b"recorded", None
    shims = _Shims(disk, folder, below)
    ours.xOpen = ctypes.cast(shims.x_open, POINTER)
    ours.xDelete = ctypes.cast(shims.x_delete, POINTER)
    sqlite.sqlite3_vfs_register(ctypes.byref(ours), 1)
    try:
        yield
    finally:
        sqlite.sqlite3_vfs_unregister(ctypes.byref(ours))


class _Shims:
    """The calls that are logged on their way to the real file system."""

    def __init__(self, disk: Disk, folder: Path, below: Vfs) -> None:
        self.disk, self.folder = disk, folder.resolve()
        self.below_open, self.below_delete = X_OPEN(below.xOpen), X_DELETE(below.xDelete)
        self.x_open, self.x_delete = X_OPEN(self.open), X_DELETE(self.delete)
        self.open_files: dict[int, int] = {}
        self.needs_folder_sync: set[int] = set()
        self.methods: dict[int, tuple[Methods, list[Any]]] = {}

    def open(self, vfs: int, name: int | None, file: int, flags: int, out: int | None) -> int:
        path = _path(name)
        new = path is not None and not path.exists()
        code = self.below_open(vfs, name, file, flags, out)
        if code == OK and path is not None and path.parent == self.folder:
            self._watch(path.name, file, flags, new=new)
        return code

    def _watch(self, name: str, file: int, flags: int, *, new: bool) -> None:
        if new and flags & OPEN_CREATE:
            number = self.disk.new_file(name)
            self.disk.ops.append(Op("create", file=number, name=name))
            if flags & OPEN_JOURNALS:
                self.needs_folder_sync.add(number)
        self.open_files[file] = self.disk.files[name]
        pointer = POINTER.from_address(file)
        pointer.value = ctypes.addressof(self._methods(pointer.value or 0))

    def _methods(self, below: int) -> Methods:
        if below not in self.methods:
            methods = Methods()
            ctypes.memmove(ctypes.byref(methods), below, ctypes.sizeof(Methods))
            calls: list[Any] = [
                X_CLOSE(self._close(X_CLOSE(methods.xClose))),
                X_WRITE(self._write(X_WRITE(methods.xWrite))),
                X_TRUNCATE(self._truncate(X_TRUNCATE(methods.xTruncate))),
                X_SYNC(self._sync(X_SYNC(methods.xSync))),
            ]
            methods.xClose, methods.xWrite, methods.xTruncate, methods.xSync = (
                ctypes.cast(call, POINTER) for call in calls
            )
            self.methods[below] = (methods, calls)
        return self.methods[below][0]

    def _close(self, below: Any) -> Callable[[int], int]:
        def close(file: int) -> int:
            self.open_files.pop(file, None)
            return int(below(file))

        return close

    def _write(self, below: Any) -> Callable[[int, int, int, int], int]:
        def write(file: int, data: int, count: int, offset: int) -> int:
            if self.disk.room is not None:
                self.disk.room -= 1
                if self.disk.room < 0:
                    return FULL
            content = ctypes.string_at(data, count)
            self.disk.ops.append(Op("write", file=self.open_files[file], offset=offset, data=content))
            return int(below(file, data, count, offset))

        return write

    def _truncate(self, below: Any) -> Callable[[int, int], int]:
        def truncate(file: int, size: int) -> int:
            self.disk.ops.append(Op("truncate", file=self.open_files[file], offset=size))
            return int(below(file, size))

        return truncate

    def _sync(self, below: Any) -> Callable[[int, int], int]:
        def sync(file: int, flags: int) -> int:
            if self.disk.sick:
                return FAILED_SYNC
            number = self.open_files[file]
            self.disk.ops.append(Op("sync", file=number))
            if number in self.needs_folder_sync:  # the real file system below does so at the first sync of a journal
                self.needs_folder_sync.discard(number)
                self.disk.ops.append(Op("sync-folder"))
            return int(below(file, flags))

        return sync

    def delete(self, vfs: int, name: int, sync_folder: int) -> int:
        path = _path(name)
        code = int(self.below_delete(vfs, name, sync_folder))
        if code == OK and path is not None and path.parent == self.folder:
            self.disk.files.pop(path.name, None)
            self.disk.ops.append(Op("delete", name=path.name))
            if sync_folder:
                self.disk.ops.append(Op("sync-folder"))
        return code


def _path(name: int | None) -> Path | None:
    return Path(os.fsdecode(ctypes.string_at(name))) if name else None


@contextmanager
def _names(disk: Disk, folder: Path) -> Iterator[None]:
    """Log how the store names files: os.link, os.rename, os.unlink, and os.fsync of a folder."""
    link, rename, unlink, fsync = os.link, os.rename, os.unlink, os.fsync

    def logged_link(one: Any, two: Any, **more: Any) -> None:
        link(one, two, **more)
        if _inside(two):
            disk.files[Path(two).name] = disk.files[Path(one).name]
            disk.ops.append(Op("link", name=Path(one).name, to=Path(two).name))

    def logged_rename(one: Any, two: Any, **more: Any) -> None:
        rename(one, two, **more)
        if _inside(two):
            disk.files[Path(two).name] = disk.files.pop(Path(one).name)
            disk.ops.append(Op("rename", name=Path(one).name, to=Path(two).name))

    def logged_unlink(one: Any, **more: Any) -> None:
        unlink(one, **more)
        if _inside(one):
            disk.files.pop(Path(one).name, None)
            disk.ops.append(Op("delete", name=Path(one).name))

    def logged_fsync(handle: int) -> None:
        fsync(handle)
        if os.path.samestat(os.fstat(handle), folder.stat()):
            disk.ops.append(Op("sync-folder"))

    def _inside(name: Any) -> bool:
        return Path(name).parent.resolve() == folder.resolve()

    with (
        mock.patch("os.link", logged_link),
        mock.patch("os.rename", logged_rename),
        mock.patch("os.unlink", logged_unlink),
        mock.patch("os.fsync", logged_fsync),
    ):
        yield


# What is on the disk after the power went

Keep = Callable[[Op], Iterator[Op]]

NAMING = ("create", "link", "rename", "delete")


def keep_nothing(_: Op) -> Iterator[Op]:
    """Lose all that was not synced."""
    return iter(())


def keep_everything(op: Op) -> Iterator[Op]:
    """Lose nothing."""
    yield op


def keep_some(seed: object) -> Keep:
    """Keep any part of what was not synced: whole writes, or some of their sectors, or none; the seed says which."""
    chance = random.Random(str(seed))

    def keep(op: Op) -> Iterator[Op]:
        kind = chance.choice(("all", "all", "none", "sectors", "torn"))
        if kind == "all" or (op.what != "write" and kind != "none"):
            yield op
        elif kind == "torn":
            yield Op("write", file=op.file, offset=op.offset, data=op.data[: chance.randrange(len(op.data) + 1)])
        elif kind == "sectors":
            for start in range(0, len(op.data), SECTOR):
                if chance.random() < 0.5:
                    part = op.data[start : start + SECTOR]
                    yield Op("write", file=op.file, offset=op.offset + start, data=part)

    return keep


def after_power_loss(disk: Disk, cut: int, keep: Keep) -> dict[str, bytes]:
    """Return the files that are on the disk when the power went before op number `cut`."""
    names = {name: number for number, name in enumerate(disk.start)}
    contents = {number: bytearray(disk.start[name]) for name, number in names.items()}
    for op in _lasting(disk.ops[:cut], keep):
        _apply(op, names, contents)
    return {name: bytes(contents.get(number, b"")) for name, number in names.items()}


def _lasting(ops: list[Op], keep: Keep) -> Iterator[Op]:
    """Give the ops that lasted, in order: the synced ones whole, of the others what `keep` lets through."""
    synced: set[int] = set()
    names_synced = False
    lasting: list[tuple[Op, bool]] = []
    for op in reversed(ops):
        if op.what == "sync":
            synced.add(op.file)
        elif op.what == "sync-folder":
            names_synced = True
        elif op.what in NAMING:
            lasting.append((op, names_synced))
        elif op.what != "mark":
            lasting.append((op, op.file in synced))
    for op, sure in reversed(lasting):
        if sure:
            yield op
        else:
            yield from keep(op)


def _apply(op: Op, names: dict[str, int], contents: dict[int, bytearray]) -> None:
    if op.what == "create":
        names[op.name] = op.file
    elif op.what in ("link", "rename"):
        if op.name in names:
            names[op.to] = names[op.name]
        if op.what == "rename":
            names.pop(op.name, None)
    elif op.what == "delete":
        names.pop(op.name, None)
    elif op.what == "truncate":
        content = contents.setdefault(op.file, bytearray())
        content[op.offset :] = bytes(max(0, op.offset - len(content)))
    else:
        content = contents.setdefault(op.file, bytearray())
        content.extend(bytes(max(0, op.offset - len(content))))
        content[op.offset : op.offset + len(op.data)] = op.data

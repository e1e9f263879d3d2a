"""What can be asked of a job file; nothing here changes it."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from bandwright import exact_json
from bandwright.errors import InputError
from bandwright.store.failures import told
from bandwright.store.fields import changed_fields
from bandwright.store.opening import Opened
from bandwright.store.records import Change, Device, Entry, Event, Note, Plan, Statement, Sweep, Version
from bandwright.store.tables import TABLES, Table, image_of, parsed

__all__ = ["Reading"]

T = TypeVar("T")

_CHANGE = "SELECT number, at, who, what, undoes, redoes, undone FROM change"
_EVENT = "SELECT seq, change, at, who, what, noun, uid, before, after FROM event JOIN change ON number = change"
_ENDS = """
SELECT noun, uid, (SELECT before FROM event WHERE seq = first), (SELECT after FROM event WHERE seq = last)
FROM (
    SELECT noun, uid, min(seq) AS first, max(seq) AS last FROM event
    WHERE seq > ? AND noun IN ({marks}) GROUP BY noun, uid
)
ORDER BY first
"""


class Reading:
    """The questions a job file answers; may be asked from several threads."""

    def __init__(self, opened: Opened, path: Path) -> None:
        self._opened = opened
        self._connection = opened.connection
        self._path = path
        self._lock = threading.RLock()
        self._entries: dict[tuple[Any, ...], Entry] = {}

    @property
    def path(self) -> Path:
        """Where the file is."""
        return self._path

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Keep what is read inside of one moment, whatever other programs do meanwhile; other threads wait."""
        with self._lock, told(self._path):
            if self._connection.in_transaction:
                yield
                return
            self._connection.execute("BEGIN")
            try:
                yield
            finally:
                self._connection.execute("ROLLBACK")

    @property
    def inside(self) -> bool:
        """Whether this thread is inside a snapshot, or inside a change that may still be dropped."""
        with self._lock:
            return self._connection.in_transaction

    # How far it is

    @property
    def seq(self) -> int:
        """Number of the last event; 0 before the first."""
        return int(self._ask("SELECT coalesce(max(seq), 0) FROM event")[0][0])

    def seq_of(self, *nouns: str) -> int:
        """Return the number of the last event about rows of these tables, such as "entry" and "sweep"; 0 for none."""
        marks = ", ".join("?" for _ in nouns)
        return int(self._ask(f"SELECT coalesce(max(seq), 0) FROM event WHERE noun IN ({marks})", *nouns)[0][0])

    # The brief

    def entries(self, kind: str | None = None) -> tuple[Entry, ...]:
        """Return the entries of a kind in order, or all, kind by kind.

        Of all, one that stands in the file just as it did the last time is the same object as then.
        """
        if kind is None:
            return self._all_entries()
        return self._records(Entry, "entry", "WHERE kind = ? ORDER BY position, uid", kind)

    def entry(self, uid: str) -> Entry | None:
        """Return one entry; None where there is none (any more)."""
        return _only(self._records(Entry, "entry", "WHERE uid = ?", uid))

    def entry_named(self, given: str) -> Entry | None:
        """Return the entry with an id that people gave; None where there is none."""
        return _only(self._records(Entry, "entry", "WHERE id = ?", given))

    def changed_since(self, uid: str, seq: int) -> frozenset[str]:
        """Return the fields of an entry that changed after an event: "id", "position" or "value.KEY"."""
        events = self._events("WHERE uid = ? AND noun = 'entry' AND seq > ? ORDER BY seq", uid, seq)
        return frozenset().union(*map(changed_fields, events))

    # Values of the program's own

    def state(self, key: str) -> Any:
        """Return a small value of the program's own; None where there is none."""
        with told(self._path):
            rows = self._ask("SELECT value FROM state WHERE uid = ?", key)
            return parsed(rows[0][0]) if rows else None

    # Blobs, sweeps, plans, versions

    def blob(self, sha256: str) -> bytes:
        """Return the bytes with that SHA-256.

        Raises
        ------
        InputError
            When the file does not hold them.
        """
        rows = self._ask("SELECT data FROM blob WHERE sha256 = ?", sha256)
        if not rows:
            raise InputError.single("no-such-blob", "The job does not hold that.", file=str(self._path), given=sha256)
        return bytes(rows[0][0])

    def sweeps(self, *, removed: bool = False) -> tuple[Sweep, ...]:
        """Return the sweeps, oldest first; with `removed` those that were put aside instead."""
        where = f"WHERE removed_at IS {'NOT NULL' if removed else 'NULL'} ORDER BY added_at, revision"
        return self._records(Sweep, "sweep", where)

    def sweep(self, uid: str) -> Sweep | None:
        """Return one sweep, also one that was put aside; None where there is none."""
        return _only(self._records(Sweep, "sweep", "WHERE uid = ?", uid))

    def plans(self) -> tuple[Plan, ...]:
        """Return all plans by number."""
        return self._records(Plan, "plan", "ORDER BY number")

    def plan(self, number: int) -> Plan | None:
        """Return one plan; None where there is none of that number."""
        return _only(self._records(Plan, "plan", "WHERE number = ?", number))

    def versions(self) -> tuple[Version, ...]:
        """Return all versions by number."""
        return self._records(Version, "version", "ORDER BY number")

    def version(self, number: int) -> Version | None:
        """Return one version; None where there is none of that number."""
        return _only(self._records(Version, "version", "WHERE number = ?", number))

    # What people said

    def statements(self, *, taken_back: bool = False) -> tuple[Statement, ...]:
        """Return the statements that stand, oldest first; with `taken_back` those that do not."""
        where = f"WHERE taken_back_at IS {'NOT NULL' if taken_back else 'NULL'} ORDER BY at, revision"
        return self._records(Statement, "statement", where)

    def statement(self, uid: str) -> Statement | None:
        """Return one statement, standing or not; None where there is none."""
        return _only(self._records(Statement, "statement", "WHERE uid = ?", uid))

    def notes(self) -> tuple[Note, ...]:
        """Return all remarks, oldest first."""
        return self._records(Note, "note", "ORDER BY at, revision")

    def note(self, uid: str) -> Note | None:
        """Return one remark; None where there is none (any more)."""
        return _only(self._records(Note, "note", "WHERE uid = ?", uid))

    # Devices

    def devices(self) -> tuple[Device, ...]:
        """Return all devices that were ever paired, in that order."""
        return self._records(Device, "device", "ORDER BY paired_at, revision")

    def device_with(self, token_sha256: str) -> Device | None:
        """Return the device with that hash of a token; None where there is none."""
        return _only(self._records(Device, "device", "WHERE token_sha256 = ?", token_sha256))

    # What happened

    def events(self, *, after: int = 0, limit: int = 1_000) -> tuple[Event, ...]:
        """Return the events that follow one (by number), oldest first."""
        return self._events("WHERE seq > ? ORDER BY seq LIMIT ?", after, limit)

    def events_about(self, uid: str) -> tuple[Event, ...]:
        """Return everything that ever happened to one row."""
        return self._events("WHERE uid = ? ORDER BY seq", uid)

    def events_of(self, change: int) -> tuple[Event, ...]:
        """Return the events of one change."""
        return self._events("WHERE change = ? ORDER BY seq", change)

    def rows_since(self, seq: int, *nouns: str) -> tuple[tuple[str, str, Any, Any], ...]:
        """Return each row of these tables that was touched after an event: noun, uid, as it was then, as it is now.

        In the order in which they were first touched. However often one was, only its two ends are read.
        """
        marks = ", ".join("?" for _ in nouns)
        with told(self._path):
            rows = self._ask(_ENDS.format(marks=marks), seq, *nouns)
            return tuple(
                (noun, uid, before and parsed(before), after and parsed(after)) for noun, uid, before, after in rows
            )

    def changes(self, *, before: int | None = None, limit: int = 100) -> tuple[Change, ...]:
        """Return the latest changes, newest first; `before` a number, for the page behind."""
        return self._changes("WHERE number < coalesce(?, number + 1) ORDER BY number DESC LIMIT ?", before, limit)

    def undoable(self, who: str | Collection[str] | None) -> Change | None:
        """Return the change that undo would take back: the last one of that person, or of anybody for None.

        Somebody who has had several names is given by all of them.
        """
        where = f"WHERE {_OWN} AND undone = 0 AND lasting = 0 ORDER BY number DESC LIMIT 1"
        return _only(self._changes(where, *_names(who)))

    def redoable(self, who: str | Collection[str] | None) -> Change | None:
        """Return the change that redo would do again; None once that person (anybody) did something else."""
        newest = f"(SELECT coalesce(max(number), 0) FROM change WHERE {_OWN} AND lasting = 0)"
        undone_by = "(SELECT max(u.number) FROM change AS u WHERE u.undoes = change.number)"
        where = (
            f"WHERE {_OWN} AND undone = 1 AND lasting = 0 AND {undone_by} > {newest} ORDER BY {undone_by} DESC LIMIT 1"
        )
        return _only(self._changes(where, *_names(who), *_names(who)))

    # Rows to values

    def _all_entries(self) -> tuple[Entry, ...]:
        known, now = self._entries, {}
        with told(self._path):
            for row in self._rows(TABLES["entry"], "entry", "ORDER BY kind, position, uid"):
                now[row] = known.get(row) or _record(Entry, TABLES["entry"], row)
        self._entries = now
        return tuple(now.values())

    def _ask(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        with self._lock, told(self._path):
            try:
                return self._connection.execute(sql, values).fetchall()
            except sqlite3.OperationalError as error:
                if self._opened.newer and error.sqlite_errorcode == sqlite3.SQLITE_ERROR:  # no such table or column
                    raise self._opened.newer from error
                raise

    def _records(self, record: Callable[..., T], noun: str, where: str, *values: Any) -> tuple[T, ...]:
        table = TABLES[noun]
        with told(self._path):
            return tuple(_record(record, table, row) for row in self._rows(table, noun, where, *values))

    def _rows(self, table: Table, noun: str, where: str, *values: Any) -> list[tuple[Any, ...]]:
        columns = ("uid", "revision", *table.silent, *table.columns)
        return self._ask(f"SELECT {', '.join(columns)} FROM {noun} {where}", *values)

    def _events(self, where: str, *values: Any) -> tuple[Event, ...]:
        names = ("seq", "change", "at", "who", "what", "noun", "uid")
        found = []
        with told(self._path):
            for *plain, before, after in self._ask(f"{_EVENT} {where}", *values):
                images = {"before": before and parsed(before), "after": after and parsed(after)}
                found.append(Event(**dict(zip(names, plain, strict=True)), **images))
        return tuple(found)

    def _changes(self, where: str, *values: Any) -> tuple[Change, ...]:
        names = ("number", "at", "who", "what", "undoes", "redoes")
        return tuple(
            Change(**dict(zip(names, plain, strict=True)), undone=bool(undone))
            for *plain, undone in self._ask(f"{_CHANGE} {where}", *values)
        )


_OWN = "(? IS NULL OR who IN (SELECT value FROM json_each(?))) AND undoes IS NULL AND redoes IS NULL"


def _names(who: str | Collection[str] | None) -> tuple[str | None, str | None]:
    """Return the two values that `_OWN` asks for."""
    names = None if who is None else exact_json.dumps([who] if isinstance(who, str) else list(who))
    return names, names


def _record(record: Callable[..., T], table: Table, row: tuple[Any, ...]) -> T:
    """Return a row as a value of the class for it."""
    uid, revision, *rest = row
    silent = dict(zip(table.silent, rest, strict=False))
    return record(uid=uid, revision=revision, **silent, **image_of(table, rest[len(silent) :]))


def _only(found: tuple[T, ...]) -> T | None:
    return found[0] if found else None

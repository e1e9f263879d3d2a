"""The job file: made, opened, changed, taken back, brought to rest."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Self

from bandwright.errors import InputError, MachineError
from bandwright.store.checking import problems_in
from bandwright.store.compacting import Compacted, forget, squeeze
from bandwright.store.draft import Draft
from bandwright.store.failures import told
from bandwright.store.files import whole_file
from bandwright.store.layout import STEPS, move_forward
from bandwright.store.opening import Opened, file_at, open_to_read, open_to_write, rest
from bandwright.store.reading import Reading
from bandwright.store.records import Change, Done, Entry, Sweep, moment_text
from bandwright.store.tables import TABLES
from bandwright.store.undo import reverse_change

__all__ = ["JobFile"]

Make = Callable[[Draft], object]
Clock = Callable[[], datetime]


def _utc_now() -> datetime:
    return datetime.now(tz=UTC)


class JobFile(Reading):
    """One job: one SQLite file, its tables, and every change that was ever made to them.

    Made with `JobFile.create` or `JobFile.open`; a context manager. May be used from several threads. When a call that
    changes something returns, the change is on the disk.
    """

    def __init__(self, opened: Opened, path: Path, *, read_only: bool, now: Clock) -> None:
        super().__init__(opened, path)
        self._now = now
        self._place = path.absolute()
        self._closed = False
        self.read_only = read_only

    @classmethod
    def create(cls, path: Path, make: Make, *, who: str, what: str, now: Clock = _utc_now) -> JobFile:
        """Make a new job file, whole or not at all, and open it.

        Parameters
        ----------
        path
            A name that is free, in a folder that is there.
        make
            What fills it: the first change.
        who, what
            Who makes it, and the sentence for the history.
        now
            The clock.

        Raises
        ------
        InputError
            When there is such a file, or `make` raises it.
        MachineError
            When it cannot be written.
        """
        with told(path), whole_file(path) as connection:
            move_forward(connection, STEPS)
            unnamed = cls(Opened(connection=connection), path, read_only=False, now=now)
            unnamed.change(make, who=who, what=what)
            connection.execute("UPDATE change SET lasting = 1")  # what undo could leave would be no job any more
        return cls.open(path, now=now)

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False, now: Clock = _utc_now, wait_s: float = 5.0) -> JobFile:
        """Open a job file.

        Parameters
        ----------
        path
            The file.
        read_only
            Never write to it. Works in a folder that may not be written, and on a file of a newer layout as far as its
            entries can be read.
        now
            The clock.
        wait_s
            How long a call waits for another program that is writing.

        Raises
        ------
        InputError
            When there is no such file, or it is no job file, damaged, or of a newer layout.
        MachineError
            When disk, folder or another program stand in the way.
        """
        with told(path):
            opened = (open_to_read if read_only else open_to_write)(path, STEPS, wait_s=wait_s)
        return cls(opened, path, read_only=read_only, now=now)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Bring everything into the one file and let go of it; a second time does nothing."""
        with self._lock:
            if self._closed:
                return
            self._closed = True
            if not self.read_only:
                rest(self._connection)
            self._opened.close()

    def checkpoint(self) -> bool:
        """Bring everything into the one file, so that a plain copy of it is whole; called whenever nobody is at work.

        Returns whether it is so: another program that is reading at this moment keeps it from being complete, and is
        not waited for.
        """
        with self._lock:
            wait_ms = self._ask("PRAGMA busy_timeout")[0][0]
            self._ask("PRAGMA busy_timeout = 0")
            try:
                busy = self._ask("PRAGMA wal_checkpoint(TRUNCATE)")[0][0]
            finally:
                self._ask(f"PRAGMA busy_timeout = {wait_ms}")
            return not busy

    # Changing

    def change(self, make: Make, *, who: str, what: str = "", client_key: str | None = None) -> Done:
        """Change the job: all that `make` does to its draft, or nothing.

        Parameters
        ----------
        make
            Called once with the draft, inside the transaction: what it reads from this job is the state it changes.
            Not called where the client key was given before.
        who
            Who changes it.
        what
            The sentence for the history; `make` may state it too (`draft.say`).
        client_key
            A word of the client's own for this request: given again, the first answer comes again and nothing is done.

        Raises
        ------
        InputError
            What the draft's methods or `make` raise; nothing was changed then.
        MachineError
            When it cannot be written; nothing was changed then.
        """
        return self._change(make, who=who, what=what, client_key=client_key)

    def undo(
        self,
        *,
        who: str,
        also: Collection[str] = (),
        everybody: bool = False,
        change: int | None = None,
        client_key: str | None = None,
    ) -> Done:
        """Take back the last change of that person, or of anybody, or the change of that number.

        `also` are other names that the person has had. Only what that change left is taken back, field by field; what
        others changed beside it stays.

        Raises
        ------
        UndoRefused
            When something is no longer what the change left: with both values.
        InputError
            When there is nothing to take back.
        """

        def make(draft: Draft) -> None:
            found = self._named(change) if change is not None else self.undoable(None if everybody else (who, *also))
            if found is None:
                raise InputError.single("nothing-to-undo", "There is nothing to take back.", allowed="a change")
            reverse_change(draft, self.events_of(self._latest("redoes", found.number) or found.number))
            self._mark(draft, "undoes", found)
            draft.say(f"Took back: {found.what}")

        return self._change(make, who=who, what="", client_key=client_key)

    def redo(
        self, *, who: str, also: Collection[str] = (), everybody: bool = False, client_key: str | None = None
    ) -> Done:
        """Do again what was taken back last, of that person's changes or of anybody's.

        Raises
        ------
        UndoRefused
            When something is no longer what the undo left: with both values.
        InputError
            When there is nothing to do again.
        """

        def make(draft: Draft) -> None:
            found = self.redoable(None if everybody else (who, *also))
            if found is None:
                raise InputError.single("nothing-to-redo", "There is nothing to do again.", allowed="a change")
            reverse_change(draft, self.events_of(self._latest("undoes", found.number) or found.number))
            self._mark(draft, "redoes", found)
            draft.say(f"Did again: {found.what}")

        return self._change(make, who=who, what="", client_key=client_key)

    def answer_to(self, client_key: str) -> Done | None:
        """Return the first answer to a client key; None where it is new."""
        rows = self._ask("SELECT number, what FROM change WHERE client_key = ?", client_key)
        return self._done(*rows[0], repeated=True) if rows else None

    def see_device(self, uid: str) -> None:
        """Note that a device was here just now; nothing that the history tells about."""
        self._refuse_reading()
        with self._lock, told(self._path):
            values = (moment_text(self._now()), uid)
            self._connection.execute("UPDATE device SET last_seen = ? WHERE uid = ?", values)

    # Keeping it well

    def check(self) -> tuple[str, ...]:
        """Return everything that is wrong inside the file, a sentence each; nothing for a whole one.

        Raises
        ------
        InputError
            When the file is too broken to be looked through, or of a newer layout.
        """
        if self._opened.newer:
            raise self._opened.newer
        with self.snapshot():
            return problems_in(self._connection)

    def compact(self, *, who: str, drop_removed: bool = False) -> Compacted:
        """Make the file as small as it can be.

        With `drop_removed`, sweeps that were put aside go for good; nothing done before can be taken back then.
        """
        self._refuse_reading()
        with self._lock, told(self._path):
            self.checkpoint()
            before_bytes, gone = self._path.stat().st_size, self.sweeps(removed=True) if drop_removed else ()
            if drop_removed:
                self.change(partial(_drop, gone), who=who, what="Dropped for good the sweeps that were put aside")
                forget(self._connection)
            squeeze(self._connection)
            return Compacted(sweeps=len(gone), before_bytes=before_bytes, after_bytes=self._path.stat().st_size)

    # The one way to change

    def _change(self, make: Make, *, who: str, what: str, client_key: str | None) -> Done:
        self._refuse_reading()
        with self._lock, told(self._path):
            self._refuse_lost()
            if self._connection.in_transaction:
                raise RuntimeError("a change is being made, or a snapshot is being read")
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                done = (client_key and self.answer_to(client_key)) or self._fill(make, who, what, client_key)
                self._connection.execute("COMMIT" if done.change is not None else "ROLLBACK")
                return done
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    def _fill(self, make: Make, who: str, what: str, client_key: str | None) -> Done:
        before, at = self.seq, moment_text(self._now())
        number = self._connection.execute(
            "INSERT INTO change (at, who, what, client_key, lasting) VALUES (?, ?, ?, ?, 1)",
            (at, who, what, client_key),
        ).lastrowid
        draft = Draft(self._connection, number=int(number or 0), who=who, at=at, what=what)
        make(draft)
        if not draft.what:
            raise ValueError("a change says what it does")
        nouns = {event.noun for event in self.events_of(draft.number)}
        lasting = draft.lasting or all(TABLES[noun].lasting for noun in nouns)
        self._connection.execute(
            "UPDATE change SET what = ?, lasting = ? WHERE number = ?", (draft.what, lasting, draft.number)
        )
        if not nouns and client_key is None:
            return Done(change=None, seq=before, what=draft.what)
        return self._done(draft.number, draft.what)

    def _done(self, number: int, what: str, *, repeated: bool = False) -> Done:
        events = self.events_of(number)
        last = {(event.noun, event.uid): event for event in events}
        entries = [event for event in last.values() if event.noun == "entry"]
        seq = events[-1].seq if events else self._ask(_SEQ_BEFORE, number)[0][0]
        return Done(
            change=number,
            seq=seq,
            what=what,
            entries=tuple(Entry(uid=it.uid, revision=it.seq, **it.after) for it in entries if it.after is not None),
            removed=tuple(it.uid for it in entries if it.after is None),
            touched=tuple(last),
            repeated=repeated,
        )

    def _named(self, number: int) -> Change | None:
        where = "WHERE number = ? AND undone = 0 AND lasting = 0 AND undoes IS NULL AND redoes IS NULL"
        found = self._changes(where, number)
        return found[0] if found else None

    def _latest(self, column: str, number: int) -> int | None:
        found = self._ask(f"SELECT max(number) FROM change WHERE {column} = ?", number)[0][0]
        return None if found is None else int(found)

    def _mark(self, draft: Draft, column: str, change: Change) -> None:
        undone = column == "undoes"
        self._connection.execute(f"UPDATE change SET {column} = ? WHERE number = ?", (change.number, draft.number))
        self._connection.execute("UPDATE change SET undone = ? WHERE number = ?", (undone, change.number))

    def _refuse_reading(self) -> None:
        if self.read_only:
            raise MachineError(f"{self._path} is open for reading only. Open it for writing to change it.")

    def _refuse_lost(self) -> None:
        """Raise MachineError where the name leads elsewhere by now: what is written would be found by nobody.

        SQLite goes on writing to a file that was removed or replaced, and never says so while it has a log beside it.
        """
        if self._opened.file is not None and file_at(self._place) != self._opened.file:
            raise MachineError(
                f"{self._path} was removed, renamed or replaced while it is open, so nothing was changed. Put that "
                "file back in its place; or stop this program and open the file where it is now."
            )


_SEQ_BEFORE = "SELECT coalesce(max(seq), 0) FROM event WHERE change < ?"


def _drop(sweeps: Sequence[Sweep], draft: Draft) -> None:
    for sweep in sweeps:
        draft.put("sweep", sweep.uid, None)

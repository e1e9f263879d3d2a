"""An open job: the one file that is written to, what was read from it, and who listens to changes.

One desk serves all pages. Everything it keeps in memory stands on the number of the last event about it and is read
anew when that moves on; the file is the truth.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from bandwright.core.job import Job
from bandwright.engines.worker import Task, Worker
from bandwright.service.context import Context
from bandwright.service.inputs import library_of
from bandwright.service.job_brief import BriefNow, CellFault, LastReading, read_entries
from bandwright.store import Done, Draft, Entry, JobFile

__all__ = ["Changed", "Desk", "Told"]

T = TypeVar("T")

_TOPICS: Mapping[str, tuple[str, ...]] = {
    "entry": ("brief", "plan", "readiness"),
    "sweep": ("sweeps", "plan", "readiness"),
    "plan": ("plan", "readiness"),
    "state": ("plan", "readiness"),
    "statement": ("readiness",),
    "version": ("versions",),
    "note": ("notes",),
    "device": ("devices",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """The answer to a change: what it did, the entries as it left them, and every fault of the brief now.

    `touched` names every row it touched, as (noun, uid).
    """

    seq: int
    change: int | None
    what: str
    entries: tuple[Entry, ...]
    removed: tuple[str, ...]
    faults: tuple[CellFault, ...]
    touched: tuple[tuple[str, str], ...] = ()
    repeated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What listeners are told of a change: which topics it touches, and the uids of the rows."""

    seq: int
    who: str
    what: str
    topics: tuple[str, ...]
    uids: tuple[str, ...]


_MOST = 16
"""How many values of one kind are kept, such as plans: each carrier that is moved makes one more."""

_WITHOUT_LIMIT = ("sweep",)  # reading one again takes long, and a plan wants all that are in use


@dataclass(slots=True)
class _Kept:
    """Values worked out once, each with what it stands on; those used last come last."""

    values: dict[str, tuple[Any, Any]] = field(default_factory=dict)

    def known(self, name: str, stands_on: Any) -> tuple[Any, Any] | None:
        """Return a value with what it stands on, where it stands on this."""
        known = self.values.get(name)
        return known if known is not None and known[0] == stands_on else None

    def get(self, name: str, stands_on: Any, make: Callable[[], T]) -> T:
        known = self.known(name, stands_on) or (stands_on, make())
        self.values.pop(name, None)
        self.values[name] = known
        self._let_go(name.partition(" ")[0])
        found: T = known[1]
        return found

    def _let_go(self, kind: str) -> None:
        """Forget the values of a kind that were used longest ago."""
        if kind in _WITHOUT_LIMIT:
            return
        alike = [name for name in self.values if name.partition(" ")[0] == kind]
        for name in alike[:-_MOST]:
            del self.values[name]


_WRITERS_S = 0.02
"""How long a reading waits at most for those who are writing just now: one reading then does for all of them."""


class _Reading:
    """The brief that was read last, with the number of the event it stands on; one thread reads at a time."""

    def __init__(self) -> None:
        self._turn = threading.Condition()
        self._busy = False
        self._writers = 0
        self._known: tuple[int, BriefNow] | None = None

    def since(self, stands_on: int) -> tuple[int, BriefNow] | None:
        """Return what was read last, where it stands on this event or on a later one."""
        known = self._known
        return known if known is not None and known[0] >= stands_on else None

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Write, or wait for the turn to write: who reads lets that go first."""
        with self._turn:
            self._writers += 1
        try:
            yield
        finally:
            with self._turn:
                self._writers -= 1
                if not self._writers:
                    self._turn.notify_all()

    def begin(self) -> bool:
        """Return whether it is for this thread to read, once those who are writing are done."""
        with self._turn:
            if self._busy:
                return False
            self._busy = True
            self._turn.wait_for(lambda: not self._writers, _WRITERS_S)
            return True

    def wait(self) -> None:
        """Wait until nobody reads."""
        with self._turn:
            self._turn.wait_for(lambda: not self._busy)

    def end(self, found: tuple[int, BriefNow] | None) -> None:
        """Keep what was read, and let the next one read."""
        with self._turn:
            self._busy = False
            self._known = found or self._known
            self._turn.notify_all()


class Desk:
    """An open job file with its caches. Every method may be called from any thread."""

    def __init__(self, file: JobFile, *, context: Context, worker: Worker | None = None) -> None:
        self.file = file
        self.context = context
        self.worker = worker
        self.lock = threading.RLock()
        self._library = library_of(context)
        self._kept = _Kept()
        self._reading = _Reading()
        self._last = LastReading()
        self._listeners: dict[int, Callable[[Any], None]] = {}
        self._next_listener = 0
        self.run: object = None
        self.question: Task[Any] | None = None
        self.sounds: object = None
        self.looking_ahead = threading.Lock()

    @classmethod
    def open(
        cls, path: Path, *, context: Context | None = None, worker: Worker | None = None, read_only: bool = False
    ) -> Desk:
        """Open a job file; raises InputError or MachineError as `JobFile.open` does."""
        context = Context() if context is None else context
        file = JobFile.open(path, read_only=read_only, now=context.now)
        try:
            return cls(file, context=context, worker=worker)
        except BaseException:
            file.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; a plain copy of it is whole then."""
        with self.lock:
            self.file.close()

    @property
    def path(self) -> Path:
        """Where the job file is."""
        return self.file.path

    @property
    def seq(self) -> int:
        """Number of the last event."""
        return self.file.seq

    def brief(self) -> BriefNow:
        """Return the brief as it is now.

        While one thread reads it, others go on writing; all who wrote meanwhile wait for one more reading.
        """
        if self.file.inside:
            return self._read_brief()[1]
        stands_on = self.file.seq_of("entry")
        while (known := self._reading.since(stands_on)) is None:
            if self._reading.begin():
                try:
                    known = self._read_brief()
                finally:
                    self._reading.end(known)
            else:
                self._reading.wait()
        return known[1]

    def _read_brief(self) -> tuple[int, BriefNow]:
        """Return the number of the last event about the brief, and the brief."""
        with self.file.snapshot():
            stands_on, seq, rows = self.file.seq_of("entry"), self.file.seq, self.file.entries()
        brief = read_entries(rows, seq=seq, file=self.path.name, library=self._library, last=self._last)
        return stands_on, brief

    def job(self) -> Job:
        """Return the job as it is now.

        Raises
        ------
        CellFaults
            With everything that keeps the brief from being one.
        """
        return self.brief().whole()

    def keep(self, name: str, stands_on: Any, make: Callable[[], T]) -> T:
        """Return what `make` worked out the last time, as long as it stands on the same.

        The first word of the name is the kind; of most kinds the sixteen used last are kept.
        """
        with self.lock:
            return self._kept.get(name, stands_on, make)

    def known(self, name: str, stands_on: Any) -> Any | None:
        """Return what is kept under a name, where it stands on this; None where nothing does."""
        with self.lock:
            known = self._kept.known(name, stands_on)
        return None if known is None else known[1]

    def keep_apart(self, name: str, stands_on: Any, make: Callable[[], T]) -> T:
        """Return what `keep` would; work that takes long is done while others go on, twice if two ask at once."""
        with self.lock:
            known = self._kept.known(name, stands_on)
        if known is not None:
            found: T = known[1]
            return found
        made = make()
        return self.keep(name, stands_on, lambda: made)

    def change(
        self, make: Callable[[Draft], object], *, who: str, what: str = "", client_key: str | None = None
    ) -> Changed:
        """Change the job in one transaction, and tell those who listen."""
        with self._reading.writing(), self.lock:
            done = self.file.change(make, who=who, what=what, client_key=client_key)
            self._tell_of(done, who)
        return self._answer(done)

    def changed(self, done: Done, *, who: str) -> Changed:
        """Return what a change did together with the faults of the brief now, and tell those who listen."""
        self._tell_of(done, who)
        return self._answer(done)

    def _tell_of(self, done: Done, who: str) -> None:
        if done.touched and not done.repeated:
            topics = dict.fromkeys(topic for noun, _ in done.touched for topic in _TOPICS.get(noun, ()))
            uids = tuple(uid for _, uid in done.touched)
            self.tell(Told(seq=done.seq, who=who, what=done.what, topics=tuple(topics), uids=uids))

    def _answer(self, done: Done) -> Changed:
        return Changed(
            seq=done.seq,
            change=done.change,
            what=done.what,
            entries=done.entries,
            removed=done.removed,
            faults=self.brief().faults,
            touched=done.touched,
            repeated=done.repeated,
        )

    def listen(self, callback: Callable[[Any], None]) -> Callable[[], None]:
        """Have a function called with each `Told` and each state of a run, in any thread; return how to stop that."""
        with self.lock:
            number = self._next_listener
            self._next_listener += 1
            self._listeners[number] = callback

        def stop() -> None:
            with self.lock:
                self._listeners.pop(number, None)

        return stop

    def tell(self, message: Any) -> None:
        """Tell those who listen."""
        with self.lock:
            listeners = list(self._listeners.values())
        for callback in listeners:
            callback(message)

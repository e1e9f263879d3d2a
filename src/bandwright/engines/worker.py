"""One warm process beside this one for long work, so that whoever serves pages keeps answering.

The process is spawned (never forked), runs one task after the other, and ends when this one does, however that comes
about: it holds one end of a pipe whose other end only this process has. A task is a top-level function, found by its
name on the other side, with pickled arguments; it is told to stop by a flag that it asks for, and then returns the
best it has. When the process dies, its tasks fail with one clear error, and the next task starts another process.
"""

from __future__ import annotations

import contextlib
import logging
import multiprocessing
import os
import pickle
import queue
import signal
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Any, Generic, Self, TypeVar

from bandwright.errors import BrokenPromise, Cancelled, MachineError

__all__ = ["Task", "Worker"]

T = TypeVar("T")

_LOG = logging.getLogger(__name__)
_LEAVE_S = 0.5


class Task(Generic[T]):
    """One run of a function in the worker's process."""

    def __init__(self, progress: Callable[[Any], None] | None, done: Callable[[Task[T]], None] | None) -> None:
        self._progress = progress
        self._done = done
        self._ended = threading.Event()
        self._value: T
        self._error: BaseException | None = None
        self._cancel: Callable[[], None] = lambda: None

    @property
    def ended(self) -> bool:
        """Whether there is a result, or an error in its place."""
        return self._ended.is_set()

    def cancel(self) -> None:
        """Ask the function to stop; what it then returns is its result. A task that has not begun is asked, too."""
        self._cancel()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait for the end, so many seconds at most, and return whether it came."""
        return self._ended.wait(timeout_s)

    def result(self) -> T:
        """Wait for the end and return what the function returned, or raise what it raised.

        Raises
        ------
        MachineError
            When the process died.
        Cancelled
            When the worker was closed first.
        """
        self._ended.wait()
        if self._error is not None:
            raise self._error
        return self._value

    def _tell(self, value: object) -> None:
        if self._progress is not None:
            _call(self._progress, value)

    def _succeed(self, value: T) -> None:
        self._value = value
        self._end()

    def _fail(self, error: BaseException) -> None:
        self._error = error
        self._end()

    def _end(self) -> None:
        self._ended.set()
        if self._done is not None:
            _call(self._done, self)


class Worker:
    """The process and its tasks; made when it is first needed, and again after it died.

    Parameters
    ----------
    warm
        A top-level function that a new process runs before its first task, such as one that loads the kernels.
    """

    def __init__(self, *, warm: Callable[[], object] | None = None) -> None:
        self._warm = warm
        self._lock = threading.Lock()
        self._other: _Other | None = None
        self._closed = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def process_id(self) -> int | None:
        """The number of the running process; None where none runs."""
        other = self._other
        return other.process.pid if other is not None and not other.lost else None

    def start(self) -> None:
        """Start the process now, so that it is warm when the first task comes."""
        with self._lock:
            self._running()

    def submit(
        self,
        function: Callable[..., T],
        *arguments: object,
        progress: Callable[[Any], None] | None = None,
        done: Callable[[Task[T]], None] | None = None,
    ) -> Task[T]:
        """Run a function in the process, after the tasks that are there already.

        Parameters
        ----------
        function
            A top-level function; it is called as `function(*arguments, progress=send, cancelled=asked)`: `send(value)`
            hands any picklable value to `progress` here, `asked()` says whether somebody wants it to stop.
        progress, done
            Called in a thread of the worker, one call after the other. `done` gets the ended task.

        Raises
        ------
        Cancelled
            When the worker is closed.
        MachineError
            When the system gives no process.
        """
        payload = pickle.dumps((function, arguments))
        task: Task[T] = Task(progress, done)
        with self._lock:
            if self._closed:
                raise Cancelled("The worker is closed.")
            self._running().take(task, payload)
        return task

    def close(self) -> None:
        """End the process; tasks that have not ended fail with `Cancelled`."""
        with self._lock:
            self._closed = True
            other, self._other = self._other, None
        if other is not None:
            other.close()

    def _running(self) -> _Other:
        if self._other is None or self._other.lost:
            try:
                self._other = _Other(self._warm)
            except OSError as error:
                raise MachineError(
                    f"No process for computing can be started ({error.strerror}); close other programs, and try again."
                ) from error
        return self._other


class _Other:
    """One spawned process, the two pipes to it, and the tasks that it was given."""

    def __init__(self, warm: Callable[[], object] | None) -> None:
        spawn = multiprocessing.get_context("spawn")
        orders, self._orders = spawn.Pipe(duplex=False)
        self._answers, answers = spawn.Pipe(duplex=False)
        self.process = spawn.Process(target=_serve, args=(orders, answers, warm), name="bandwright-worker", daemon=True)
        self.process.start()
        orders.close()
        answers.close()
        self.lost = False
        self._leaving = False
        self._lock = threading.Lock()
        self._tasks: dict[int, Task[Any]] = {}
        self._count = 0
        self._reader = threading.Thread(target=self._read, name="bandwright-worker-answers", daemon=True)
        self._reader.start()

    def take(self, task: Task[Any], payload: bytes) -> None:
        with self._lock:
            self._count += 1
            number = self._count
            task._cancel = lambda: self._order(("cancel", number, b""))
            lost = self.lost
            if not lost:
                self._tasks[number] = task
        if lost:
            task._fail(self._death())
        else:
            self._order(("run", number, payload))

    def close(self) -> None:
        self._leaving = True
        with self._lock:
            self._orders.close()
        self.process.join(_LEAVE_S)
        if self.process.exitcode is None:
            self.process.kill()
            self.process.join(_LEAVE_S)
        self._reader.join(_LEAVE_S)

    def _order(self, message: tuple[str, int, bytes]) -> None:
        with self._lock, contextlib.suppress(OSError):  # where the process is gone, the reader says so
            self._orders.send(message)

    def _read(self) -> None:
        with contextlib.suppress(EOFError, OSError):
            while True:
                kind, number, payload = self._answers.recv()
                self._take_answer(kind, number, payload)
        self.process.join(_LEAVE_S)
        self._lose()

    def _take_answer(self, kind: str, number: int, payload: bytes) -> None:
        try:
            value = pickle.loads(payload)
        except Exception as error:
            kind, value = "failed", BrokenPromise(f"What the worker sent cannot be read: {error!r}")
        if kind == "progress":
            self._tasks[number]._tell(value)
            return
        with self._lock:
            task = self._tasks.pop(number)
        if kind == "done":
            task._succeed(value)
        else:
            task._fail(value)

    def _lose(self) -> None:
        """Fail every task that has not ended: the process is gone."""
        with self._lock:
            self.lost = True
            lost, self._tasks = list(self._tasks.values()), {}
        for task in lost:
            task._fail(Cancelled("The worker was closed.") if self._leaving else self._death())

    def _death(self) -> MachineError:
        code = self.process.exitcode
        how = "" if code is None else f" (signal {-code})" if code < 0 else f" (exit code {code})"
        return MachineError(
            f"The process that was computing ended unexpectedly{how}; this run has no result, and nothing else is "
            "lost. It is started again: run it once more."
        )


def _call(function: Callable[[Any], None], value: object) -> None:
    """Call back; what goes wrong there must not stop the thread that serves all tasks."""
    try:
        function(value)
    except Exception:
        _LOG.exception("a call back from the worker failed")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Inbox:
    """What the process was told: tasks in order, and the numbers of those that somebody wants to stop."""

    tasks: queue.SimpleQueue[tuple[int, bytes]]
    stopped: set[int]

    def listen(self, orders: Connection) -> None:
        """Take orders until the other side is gone, and then end this process at once, whatever it does."""
        with contextlib.suppress(EOFError, OSError):
            while True:
                kind, number, payload = orders.recv()
                if kind == "run":
                    self.tasks.put((number, payload))
                else:
                    self.stopped.add(number)
        os._exit(0)


def _serve(orders: Connection, answers: Connection, warm: Callable[[], object] | None) -> None:
    """Run in the spawned process: one task after the other, for as long as the other side is there."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to both; the other side decides
    inbox = _Inbox(tasks=queue.SimpleQueue(), stopped=set())
    threading.Thread(target=inbox.listen, args=(orders,), daemon=True).start()
    if warm is not None:
        with contextlib.suppress(Exception):  # whatever it is, the first task runs into it and tells
            warm()
    while True:
        number, payload = inbox.tasks.get()
        answers.send(_outcome(number, payload, answers, inbox.stopped))
        inbox.stopped.discard(number)


def _outcome(number: int, payload: bytes, answers: Connection, stopped: set[int]) -> tuple[str, int, bytes]:
    def send(value: object) -> None:
        answers.send(("progress", number, pickle.dumps(value)))

    try:
        function, arguments = pickle.loads(payload)
        value = function(*arguments, progress=send, cancelled=lambda: number in stopped)
        return "done", number, pickle.dumps(value)
    except Exception as error:
        return "failed", number, _portable(error)


def _portable(error: BaseException) -> bytes:
    """Return an error so that the other side can raise it, with the traceback of this one as a note."""
    told = "".join(traceback.format_exception(error))
    error.add_note(f"In the worker's process:\n{told}")
    try:
        packed = pickle.dumps(error)
        pickle.loads(packed)
    except Exception:
        return pickle.dumps(BrokenPromise(f"An error that cannot be sent: {told}"))
    return packed

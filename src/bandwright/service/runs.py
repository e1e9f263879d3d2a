"""One long run at a time beside an open job: a plan or a replan in the worker, watched, stopped, and kept if it counts.

The run reads nothing of the job file: it is given values, and its answer is held against the job as it is when it
ends. An answer to a brief that changed meanwhile is dropped, and the run says what changed.
"""

from __future__ import annotations

import logging
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

from bandwright.engines.worker import Task
from bandwright.errors import BandwrightError, Cancelled, Fault, InputError
from bandwright.service.context import Progress
from bandwright.service.desk import Desk

__all__ = ["RunFunction", "RunGoing", "RunState", "Work", "ask_worker", "beside", "cancel_run", "run_of", "start_run"]

_LOG = logging.getLogger(__name__)
_TELL_EVERY_S = 0.2

RunKind = Literal["plan", "replan", "sound"]
RunWord = Literal["running", "done", "cancelled", "failed", "dropped"]
_CALLED: dict[RunKind, str] = {"plan": "plan", "replan": "replan", "sound": "comparison of sounds"}
RunFunction = Callable[..., Any]
"""A top-level function: it is called with its arguments, `progress` and `cancelled`."""


class RunGoing(InputError):  # noqa: N818 - it says what stands in the way
    """A run is going on already; one at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunState:
    """How a run stands.

    `state` is running, done, cancelled (its best is kept), failed, or dropped (the brief changed meanwhile). `plan` is
    the number of the plan that came out, None for a proposal. `share` is the part of the time limit that has passed, or
    of the work that is done where there is no limit.
    """

    run: str
    kind: RunKind
    state: RunWord
    text: str
    placed: int | None = None
    wanted: int | None = None
    bound: int | None = None
    share: float = 0.0
    elapsed_s: float = 0.0
    plan: int | None = None
    errors: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What a run does: the function for the worker with its arguments, and what becomes of its answer.

    `keep` is called with the desk's lock held; it returns the words that tell what came out, whether it was cancelled,
    and the number of the plan. `stale` says what changed since the run began, None where nothing that counts did.
    `limit_s` is None for work that tells itself how much of it is done.
    """

    kind: RunKind
    function: RunFunction
    arguments: tuple[Any, ...]
    limit_s: float | None
    stale: Callable[[], str | None]
    keep: Callable[[Any], tuple[str, bool, int | None]]


class _Run:
    """The one run of a desk: its state, and the task behind it."""

    def __init__(self, desk: Desk, work: Work) -> None:
        self.desk = desk
        self.work = work
        self.began = time.monotonic()
        self.told = 0.0
        self.task: Task[Any] | None = None
        self.stop = threading.Event()
        self.state = RunState(run=secrets.token_hex(4), kind=work.kind, state="running", text="getting ready")

    def note(self, progress: Progress) -> None:
        """Take in what the worker tells; pages are told five times a second at most."""
        now = time.monotonic()
        self.state = replace(
            self.state,
            text=progress.text,
            placed=self.state.placed if progress.placed is None else progress.placed,
            wanted=self.state.wanted if progress.wanted is None else progress.wanted,
            bound=self.state.bound if progress.bound is None else progress.bound,
            elapsed_s=round(now - self.began, 2),
            share=self._share(progress, now - self.began),
        )
        if now - self.told >= _TELL_EVERY_S:
            self.told = now
            self.desk.tell(self.state)

    def _share(self, progress: Progress, elapsed_s: float) -> float:
        limit_s = self.work.limit_s
        if limit_s is None:
            return self.state.share if progress.done is None else progress.done
        return min(1.0, elapsed_s / limit_s) if limit_s > 0 else 1.0

    def end(self, answer: Callable[[], Any]) -> None:
        """Take in the answer, or what went wrong in its place."""
        self.state = replace(self._ended(answer), elapsed_s=round(time.monotonic() - self.began, 2))
        self.desk.tell(self.state)

    def _ended(self, answer: Callable[[], Any]) -> RunState:
        try:
            value = answer()
            with self.desk.lock:
                return self._taken_in(value)
        except Cancelled as error:
            return replace(self.state, state="cancelled", text=str(error) or "Stopped before anything was found.")
        except InputError as error:
            return replace(self.state, state="failed", text=str(error.faults[0]), errors=error.faults)
        except BandwrightError as error:
            return self._failed(str(error) or "The run ended without an answer.")
        except Exception:
            _LOG.exception("a run failed")
            return self._failed("A mistake of ours ended the run; the log tells more.")

    def _taken_in(self, value: Any) -> RunState:
        changed = self.work.stale()
        if changed is not None:
            return replace(self.state, state="dropped", text=f"Dropped: {changed} Run it again.")
        text, cancelled, plan = self.work.keep(value)
        return replace(self.state, state="cancelled" if cancelled else "done", text=text, plan=plan, share=1.0)

    def _failed(self, text: str) -> RunState:
        return replace(self.state, state="failed", text=text, errors=(Fault(code="failed", text=text),))


def start_run(desk: Desk, work: Work) -> RunState:
    """Begin a run in the worker; without a worker it is done before this returns.

    Raises
    ------
    RunGoing
        When one is going on.
    """
    with desk.lock:
        _refuse_while_running(desk)
        run = _Run(desk, work)
        if desk.question is not None:
            desk.question.cancel()
        if desk.worker is not None:
            run.task = desk.worker.submit(
                work.function, *work.arguments, progress=run.note, done=lambda task: run.end(task.result)
            )
        desk.run = run  # only now: a worker that cannot take it leaves no run that never ends
    desk.tell(run.state)
    if desk.worker is None:
        run.end(lambda: work.function(*work.arguments, progress=run.note, cancelled=run.stop.is_set))
    return run.state


def _refuse_while_running(desk: Desk) -> None:
    before = desk.run
    if isinstance(before, _Run) and before.state.state == "running":
        text = f"A {_CALLED[before.work.kind]} is being worked on already."
        rest = "" if before.work.kind == "sound" else "; its best so far is kept"
        hint = f"Wait for it, or cancel it{rest}."
        raise RunGoing.single("run-going", text, given=before.state.run, hint=hint)


def ask_worker(desk: Desk, function: RunFunction, *arguments: Any) -> Any:
    """Return the answer of a function to somebody who waits for it; a run that begins meanwhile stops it short.

    Raises
    ------
    RunGoing
        When a run is going on: nobody waits for the end of one without seeing why.
    """
    if desk.worker is None:
        return function(*arguments, progress=desk.context.progress, cancelled=desk.context.cancelled)
    with desk.lock:
        _refuse_while_running(desk)
        task = desk.question = desk.worker.submit(function, *arguments)
    try:
        return task.result()
    finally:
        with desk.lock:
            if desk.question is task:
                desk.question = None


def beside(desk: Desk, function: RunFunction, *arguments: Any) -> Any:
    """Return the answer of a function that takes seconds at most: from the worker, or from here while a run has that.

    Raises
    ------
    BandwrightError
        What the function raises; MachineError when the worker died.
    """
    worker, run = desk.worker, run_of(desk)
    if worker is None or (run is not None and run.state == "running"):
        return function(*arguments, progress=desk.context.progress, cancelled=desk.context.cancelled)
    return worker.submit(function, *arguments).result()


def run_of(desk: Desk) -> RunState | None:
    """Return how the run that is going on stands, or the last one; None before the first."""
    return desk.run.state if isinstance(desk.run, _Run) else None


def cancel_run(desk: Desk) -> RunState | None:
    """Ask the run to stop; it then keeps the best it has."""
    with desk.lock:  # not between a run and its task
        run = desk.run
    if not isinstance(run, _Run):
        return None
    run.stop.set()
    if run.task is not None and run.state.state == "running":
        run.task.cancel()
    return run.state

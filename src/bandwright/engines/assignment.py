"""General frequency assignment: the least span, or all that fits on given slots, for any problem of separations.

Calls start in an order by lot or on a pattern that repeats (a smaller problem on a round row), and tabu moves mend
what is broken. Attempts come in levels, each with twice the moves of the one before; time only truncates. Every answer
is held against all separations before it leaves, and says what is proven: a span that equals its lower bound.

>>> import numpy as np
>>> stations = Network(demand=np.array([3, 2]), separation=np.array([[4, 2], [2, 3]]))
>>> found = minimum_span(stations)
>>> found.span, found.status
(8, 'proven')
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypedDict, Unpack

import numpy as np

from bandwright.core.planning.network import Network, broken_separations, grouped
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.verify import examine
from bandwright.engines.assignment_search import Search
from bandwright.engines.slots import Calls, highest, lowest
from bandwright.engines.stop import Stop
from bandwright.errors import BrokenPromise

__all__ = ["Assignment", "CarrierAssignment", "Limits", "SpanStep", "assign", "assign_carriers", "minimum_span"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanStep:
    """Progress: how many calls of how many have a slot, the span so far and its lower bound."""

    placed: int
    wanted: int
    span: int
    lower_bound: int


class Limits(TypedDict, total=False):
    """What every function here may be told: where its stream starts, when it ends, and who hears of it.

    `seed` (1): equal seeds give equal answers unless stopped by time or hand. `effort` (30 000 000): moves, and nodes
    of exhaustive search, after which the best so far is returned. `time_limit_s` (60): the same in seconds, as counted
    by `seconds` (the monotonic clock). `cancelled` is asked between epochs of moves, `progress` told of each better
    answer.
    """

    seed: int
    effort: int
    time_limit_s: float
    cancelled: Callable[[], bool]
    progress: Callable[[SpanStep], None]
    seconds: Callable[[], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """The slots of each group, rising; fewer than its demand where not all are placed.

    No assignment of all calls has a span below `lower_bound`; `method` says by which argument. `stopped` is proof
    (nothing is better), effort, time or cancelled.
    """

    slots: Calls
    wanted: int
    lower_bound: int
    method: str
    stopped: str
    moves: int

    @property
    def placed(self) -> int:
        """How many calls have a slot."""
        return sum(len(row) for row in self.slots)

    @property
    def span(self) -> int:
        """Highest slot in use less the lowest, 0 where there is none."""
        return highest(self.slots) - lowest(self.slots) if self.placed else 0

    @property
    def status(self) -> str:
        """What is known of the span: proven (no smaller one exists), bounded, or found where not all are placed."""
        if self.placed < self.wanted:
            return "found"
        return "proven" if self.span <= self.lower_bound else "bounded"


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierAssignment:
    """Carriers in the order of `Problem.wanted` (-1 = not placed); the rest as in `Assignment`, in Hz."""

    carriers_hz: tuple[int, ...]
    span_hz: int
    lower_bound_hz: int
    status: str
    method: str
    stopped: str
    moves: int


def minimum_span(network: Network, **limits: Unpack[Limits]) -> Assignment:
    """Place all calls on as short a row of slots as can be found; with `may_use` the row may begin at any slot.

    See `Limits` for the keywords.
    """
    return _run(network, _shortened, **limits)


def assign(network: Network, *, slots: int | None = None, **limits: Unpack[Limits]) -> Assignment:
    """Place as many calls as can be on slots 0 to `slots` - 1 (those of `may_use` without it), important groups first.

    See `Limits` for the keywords. Not all calls fit where the lower bound of the span is `slots` or more.
    """
    if slots is not None:
        network = _cut(network, slots)
    if network.may_use is None:
        raise ValueError("say how many slots there are, or give the network's may_use")
    return _run(network, Search.place_all, **limits)


def assign_carriers(problem: Problem, *, narrow: bool = False, **limits: Unpack[Limits]) -> CarrierAssignment:
    """Find carriers for a problem that asks for separations only (`near_hz`), by priority.

    With `narrow`, look also for the least distance between the lowest and the highest. Members that nothing tells
    apart are found and treated as one group, which is far faster than `solve` where there are many. See `Limits` for
    the other keywords.
    """
    compact = grouped(problem)
    found = minimum_span(compact.network, **limits) if narrow else assign(compact.network, **limits)
    carriers = compact.carriers_hz(found.slots)
    if not examine(problem, np.array(carriers, np.int64), listed=1).clean:
        raise BrokenPromise("the assignment returned carriers that the verifier refuses")
    return CarrierAssignment(
        carriers_hz=carriers,
        span_hz=found.span * compact.step_hz,
        lower_bound_hz=found.lower_bound * compact.step_hz,
        status=found.status,
        method=found.method,
        stopped=found.stopped,
        moves=found.moves,
    )


def _cut(network: Network, slots: int) -> Network:
    if slots < 1:
        raise ValueError(f"there is at least one slot; given {slots}")
    if network.may_use is None:
        return replace(network, may_use=np.ones((network.groups, slots), np.bool_))
    return replace(network, may_use=network.may_use[:, :slots])


def _shortened(search: Search) -> None:
    search.place_all()
    if search.complete and search.placed:
        search.shorten()


class _Watch:
    """Counts moves, passes progress on, and ends the search when somebody, the clock or the effort says so."""

    def __init__(
        self,
        *,
        effort: int,
        time_limit_s: float,
        cancelled: Callable[[], bool],
        progress: Callable[[SpanStep], None],
        seconds: Callable[[], float],
    ) -> None:
        self.moves = 0
        self.effort = effort
        self.ends = seconds() + time_limit_s
        self.cancelled = cancelled
        self.progress = progress
        self.seconds = seconds

    def pause(self, moves: int) -> None:
        self.moves += moves
        if self.cancelled():
            raise Stop("cancelled")
        if self.seconds() >= self.ends:
            raise Stop("time")
        if self.moves >= self.effort:
            raise Stop("effort")

    def tell(self, search: Search) -> None:
        placed = sum(len(row) for row in search.best)
        step = SpanStep(
            placed=placed,
            wanted=int(search.demand.sum()),
            span=search.span if placed else 0,
            lower_bound=search.bound.span,
        )
        self.progress(step)


def _run(
    network: Network,
    steps: Callable[[Search], None],
    *,
    seed: int = 1,
    effort: int = 30_000_000,
    time_limit_s: float = 60.0,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[SpanStep], None] = lambda _: None,
    seconds: Callable[[], float] = time.monotonic,
) -> Assignment:
    watch = _Watch(effort=effort, time_limit_s=time_limit_s, cancelled=cancelled, progress=progress, seconds=seconds)
    search = Search(network, seed=seed, pause=watch.pause, tell=watch.tell)
    try:
        steps(search)
        narrow_enough = steps is not _shortened or not search.placed or search.span <= search.bound.span
        stopped = "proof" if search.complete and narrow_enough else "effort"
    except Stop as stop:
        stopped = stop.reason
    slots = search.slots_of_all(network)
    _refuse_what_breaks_a_rule(network, slots)
    return Assignment(
        slots=slots,
        wanted=network.calls,
        lower_bound=search.bound.span,
        method=search.bound.method,
        stopped=stopped,
        moves=watch.moves,
    )


def _refuse_what_breaks_a_rule(network: Network, slots: Calls) -> None:
    """Raise BrokenPromise unless no separation is broken, no slot is closed and no group has too many calls."""
    if broken := broken_separations(network, slots):
        raise BrokenPromise(f"the search returned {broken} pairs of calls that are too near to each other")
    for group, row in enumerate(slots):
        if len(row) > network.demand[group]:
            raise BrokenPromise(f"the search returned {len(row)} calls for group {group}, more than it asks for")
        if network.may_use is not None and not network.may_use[group, list(row)].all():
            raise BrokenPromise(f"the search returned a slot that group {group} may not use")

"""How many alike links fit: a growing count handed to the search, and a bound from above that closes in on it.

The count found is what the search has placed and the verifier has passed; the upper bound is proven. Where the two
meet, no more exist. All effort is counted in polls of the search and nodes of the exact search, so that equal input
gives equal answers unless time or a hand stops it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.crowd import Crowd
from bandwright.core.planning.room import Capacity
from bandwright.core.planning.verify import examine
from bandwright.engines.exact import most_placed, placeable
from bandwright.engines.solve import Step, solve
from bandwright.engines.stop import Stop
from bandwright.errors import BrokenPromise

__all__ = ["Effort", "capacities", "capacity"]


_LEAST_NODES = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard to look.

    Polls of the search for a rough count and for one more, and what the exact search may spend at first and at last:
    nodes times candidates, since a node costs about as much as there are candidates.
    """

    rough: int = 24
    one_more: int = 1_500
    glance: int = 12_000_000
    proof: int = 60_000_000


class _Count:
    """One count on its way: the best set so far, the bound, and the reasons to stop."""

    def __init__(
        self,
        crowd: Crowd,
        *,
        seed: int,
        time_limit_s: float,
        cancelled: Callable[[], bool],
        progress: Callable[[Step], None],
        seconds: Callable[[], float],
    ) -> None:
        self.crowd = crowd
        self.seed = seed
        self.ends = seconds() + time_limit_s
        self.cancelled = cancelled
        self.progress = progress
        self.seconds = seconds
        self.best: tuple[int, ...] = ()
        most = crowd.most_by_spacing()
        bound = upper_bound(crowd.problem(most))
        self.upper, self.method = (bound.upper_bound, bound.method) if bound.upper_bound < most else (most, "spacing")

    def offer(self, carriers_hz: Sequence[int]) -> bool:
        """Keep a set if it is larger."""
        placed = tuple(sorted(hz for hz in carriers_hz if hz >= 0))
        if len(placed) <= len(self.best):
            return False
        self.best = placed
        self.tell("counting")
        return True

    def tell(self, doing: str) -> None:
        self.progress(Step(placed=len(self.best), wanted=self.upper, doing=doing))

    def ask(self, count: int, *, polls: int) -> bool:
        """Search for this many; whether they were all placed. Raises Stop where time or a hand ends it."""
        left = [polls]

        def enough() -> bool:
            left[0] -= 1
            return left[0] < 0 or self.cancelled()

        outcome = solve(
            self.crowd.problem(count),
            seed=self.seed,
            time_limit_s=max(0.0, self.ends - self.seconds()),
            polish=False,
            cancelled=enough,
            seconds=self.seconds,
        )
        self.offer(outcome.carriers_hz)
        self.pause()
        return outcome.placed == count

    def nodes(self, visits: int) -> int:
        """Return how many nodes the exact search may visit for so many looks at a candidate."""
        return max(_LEAST_NODES, visits // max(1, len(self.crowd.choice.carriers_hz)))

    def pause(self) -> None:
        if self.cancelled():
            raise Stop("cancelled")
        if self.seconds() >= self.ends:
            raise Stop("time")


def capacity(
    crowd: Crowd,
    *,
    start: Sequence[int] = (),
    seed: int = 1,
    effort: Effort = Effort(),
    time_limit_s: float = 10.0,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Step], None] = lambda _: None,
    seconds: Callable[[], float] = time.monotonic,
) -> Capacity:
    """Return how many of a crowd fit, as a set of carriers and a proven upper bound.

    Parameters
    ----------
    crowd
        What binds its members, and the carriers that are given.
    start
        Carriers known to fit together under these rules, in Hz; verified before they count.
    seed
        Starts the random streams.
    effort
        How hard to look.
    time_limit_s
        Seconds after which the best so far is returned.
    cancelled
        Asked between epochs; True ends the count with the best so far.
    progress
        Told how many were found (`placed`) under which upper bound (`wanted`).

    Raises
    ------
    BrokenPromise
        When the verifier refuses a set, or more were found than a bound allows.
    """
    count = _Count(crowd, seed=seed, time_limit_s=time_limit_s, cancelled=cancelled, progress=progress, seconds=seconds)
    count.offer(start)
    _refuse_what_cannot_be(crowd, count)
    try:
        _glance(count, effort)
        _find_roughly(count, effort)
        _find_one_more(count, effort)
        _close(count, effort)
        stopped = "proof" if len(count.best) == count.upper else "effort"
    except Stop as stop:
        stopped = "proof" if len(count.best) == count.upper else stop.reason
    _refuse_what_cannot_be(crowd, count)
    return Capacity(carriers_hz=count.best, upper_bound=count.upper, method=count.method, stopped=stopped)


_LESS = Effort(rough=12, one_more=350, glance=6_000_000, proof=20_000_000)


def capacities(
    crowd: Crowd,
    eased: Sequence[Crowd],
    *,
    seed: int = 1,
    time_limit_s: float = 10.0,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Step], None] = lambda _: None,
    seconds: Callable[[], float] = time.monotonic,
) -> tuple[Capacity, ...]:
    """Return the capacity of a crowd, and that of the same crowd under each of some easier rules.

    Half the time is for the crowd itself; what is left is shared out evenly. Whatever fits the crowd fits under easier
    rules too, so each of them starts from there, and no bound of theirs can be below the truth for the crowd. Where a
    hand ends it, the last ones are missing.
    """
    ends = seconds() + time_limit_s
    first = capacity(
        crowd, seed=seed, time_limit_s=time_limit_s / 2, cancelled=cancelled, progress=progress, seconds=seconds
    )
    found = []
    for index, easier in enumerate(eased):
        if cancelled():
            break
        found.append(
            capacity(
                easier,
                start=first.carriers_hz,
                seed=seed,
                effort=_LESS,
                time_limit_s=max(0.0, ends - seconds()) / (len(eased) - index),
                cancelled=cancelled,
                progress=progress,
                seconds=seconds,
            )
        )
    tightest = min(found, key=lambda item: item.upper_bound, default=first)
    if tightest.upper_bound < first.upper_bound:
        first = replace(first, upper_bound=tightest.upper_bound, method=f"{tightest.method}, under easier rules")
    return (first, *found)


def _glance(count: _Count, effort: Effort) -> None:
    """Let the exact search begin: it decides small problems, and its first sets are good ones in any case."""
    count.tell("counting")
    problem = count.crowd.problem(count.upper)
    known = (*count.best, *[-1] * (count.upper - len(count.best)))
    proof = most_placed(problem, known_hz=known, effort=count.nodes(effort.glance), cancelled=lambda: _over(count))
    count.offer(proof.carriers_hz)
    if proof.upper_bound < count.upper:
        count.upper, count.method = proof.upper_bound, "exact search"
    count.pause()


def _find_roughly(count: _Count, effort: Effort) -> None:
    """Find by halving about how many fit."""
    low, high = len(count.best), count.upper
    while low < high:
        middle = (low + high + 1) // 2
        fitted = count.ask(middle, polls=effort.rough)
        low, high = len(count.best), (high if fitted else min(high, max(len(count.best), middle - 1)))


def _find_one_more(count: _Count, effort: Effort) -> None:
    """Ask for one more until that fails."""
    while len(count.best) < count.upper:
        if not count.ask(len(count.best) + 1, polls=effort.one_more):
            return


def _close(count: _Count, effort: Effort) -> None:
    """Ask the exact search for one more, as long as it decides within its effort."""
    while len(count.best) < count.upper:
        count.tell("proving")
        problem = count.crowd.problem(len(count.best) + 1)
        answer = placeable(problem, effort=count.nodes(effort.proof), cancelled=lambda: _over(count))
        if answer.verdict is False:
            count.upper, count.method = len(count.best), "exact search"
        elif not (answer.verdict and count.offer(answer.carriers_hz)):
            count.pause()
            return


def _over(count: _Count) -> bool:
    return count.cancelled() or count.seconds() >= count.ends


def _refuse_what_cannot_be(crowd: Crowd, count: _Count) -> None:
    problem = crowd.problem(len(count.best))
    carriers = np.array(count.best, np.int64)
    if not np.isin(carriers, crowd.choice.carriers_hz).all() or not examine(problem, carriers, listed=1).clean:
        raise BrokenPromise("the count returned carriers that the verifier refuses")
    if len(count.best) > count.upper:
        raise BrokenPromise(f"{len(count.best)} links were placed, but a bound says at most {count.upper}")

"""The search for a plan: algebraic sets, ascents, tabu moves, exact search, then a ladder of margins and quiet slots.

Deterministic for a seed: epochs have a fixed number of moves and time only truncates, which the outcome then says.
Every answer is held against `core.planning.verify` before it leaves; a contradiction raises `BrokenPromise`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.verify import examine
from bandwright.engines.exact import most_placed
from bandwright.engines.moves import greedy, load, order_of
from bandwright.engines.polish import polish as polish_best
from bandwright.engines.portfolio import place_all, pools_of
from bandwright.engines.raster import Layout, new_state
from bandwright.engines.run import Run, Step
from bandwright.engines.stop import Stop
from bandwright.errors import BrokenPromise

__all__ = ["Outcome", "Step", "how_settled", "outcome_of", "solve"]

_ALL_PLACED = "all are placed"
_EFFORT_LAST = 200_000
_LAST_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Carriers in the order of `Problem.wanted` (-1 = not placed).

    `stopped` is settled (all are placed), proof (no more can be), effort, time or cancelled. `margin` is the factor by
    which every rule could be tightened with all links still placed. No more than `upper_bound` members can be placed,
    by the argument that `method` names.
    """

    carriers_hz: tuple[int, ...]
    stopped: str
    moves: int
    margin: float
    upper_bound: int
    method: str

    @property
    def placed(self) -> int:
        """How many have a carrier."""
        return sum(hz >= 0 for hz in self.carriers_hz)


def solve(
    problem: Problem,
    *,
    seed: int = 1,
    time_limit_s: float = 10.0,
    polish: bool = True,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Step], None] = lambda _: None,
    seconds: Callable[[], float] = time.monotonic,
) -> Outcome:
    """Find carriers for as many wanted members as can be, by priority, on the best candidates.

    Parameters
    ----------
    problem
        Candidates and rules.
    seed
        Starts the random stream; equal seeds give equal outcomes unless stopped by time or hand.
    time_limit_s
        Seconds after which the best so far is returned.
    polish
        Whether to look for larger margins and better candidates once all are placed.
    """
    run = Run(problem, seed=seed, time_limit_s=time_limit_s, seconds=seconds, cancelled=cancelled, progress=progress)
    if not problem.wanted:
        return Outcome(carriers_hz=(), stopped="proof", moves=0, margin=1.0, upper_bound=0, method=_ALL_PLACED)
    margin = 1.0
    try:
        place_all(run)
        stopped = how_settled(run)
        if polish:
            margin = polish_best(run)
    except Stop as stop:
        stopped = stop.reason
    return outcome_of(run, stopped=stopped, margin=margin)


def how_settled(run: Run) -> str:
    """Return how a search ended that nobody stopped."""
    return "settled" if run.complete else "proof" if run.finished else "effort"


def outcome_of(run: Run, *, stopped: str, margin: float) -> Outcome:
    """Return the best of a search, filled up where it was cut short, once the verifier has agreed."""
    if not run.complete:
        _fill_up(run)
    carriers = run.best.copy()
    _take_out_broken(run, carriers)
    _refuse_what_breaks_a_rule(run.problem, carriers)
    at_most, method = _at_most(run, carriers)
    return Outcome(
        carriers_hz=tuple(carriers.tolist()),
        stopped=stopped,
        moves=run.moves,
        margin=margin,
        upper_bound=at_most,
        method=method,
    )


def _at_most(run: Run, carriers: NDArray[np.int64]) -> tuple[int, str]:
    """Return how many can be placed at most, and why."""
    if np.all(carriers >= 0):
        return run.wanted, _ALL_PLACED
    if run.upper_bound is None:
        bound = upper_bound(run.problem)
        return bound.upper_bound, bound.method
    return run.upper_bound, run.method


def _take_out_broken(run: Run, carriers: NDArray[np.int64]) -> None:
    """Take out, least important first, what the verifier refuses: counts of very crowded bands may have overflowed."""
    while not (report := examine(run.problem, carriers, listed=1)).clean:
        hit = report.hits[0]
        ours = [m for m in (hit.victim, *hit.members) if m < run.wanted]
        carriers[min(ours, key=lambda m: (run.priority[m], -m))] = -1


def _refuse_what_breaks_a_rule(problem: Problem, carriers: NDArray[np.int64]) -> None:
    """Raise BrokenPromise unless every carrier is a candidate of its choice and the verifier finds nothing."""
    for item, hz in zip(problem.wanted, carriers.tolist(), strict=True):
        if hz >= 0 and hz not in problem.choices[item.choice].carriers_hz:
            raise BrokenPromise(f"the search returned {hz} Hz for {item.id}, which is none of its candidates")
    report = examine(problem, carriers)
    if not report.clean:
        raise BrokenPromise(f"the search returned carriers that the verifier refuses: {report.hits[0]}")


def _fill_up(run: Run) -> None:
    """Place, by priority, whatever still has a clean candidate beside the best set: time may have cut the search."""
    layout = None if run.laid_out_in_vain else _laid_out(run)
    if layout is None:
        _fill_up_exactly(run)
        return
    state = new_state(layout, seed=run.seed)
    load(state, run.best)
    everyone = np.arange(run.wanted, dtype=np.int64)
    greedy(state, order_of(run, layout, everyone), leftmost=False, only_clean=True)
    run.offer_state(state)


def _laid_out(run: Run) -> Layout | None:
    """Return all candidates laid out, None where that takes too long; after a stop by hand it has to be soon."""
    if run.cancelled():
        run.cancelled = _never
        run.ends = run.seconds()
    try:
        *_, whole = pools_of(run)
        return run.layout(whole)
    except Stop:
        return None


def _fill_up_exactly(run: Run) -> None:
    """Place what exact search finds in the time that is left: too many offsets between steps for cells."""
    ends = max(run.ends, run.seconds() + _LAST_S)
    proof = most_placed(
        run.problem,
        by_priority=len(run.levels) > 1,
        known_hz=run.best.tolist(),
        effort=_EFFORT_LAST,
        cancelled=lambda: run.cancelled() or run.seconds() >= ends,
    )
    run.moves += proof.nodes
    run.offer(np.array(proof.carriers_hz, np.int64))
    run.know_proof(proof.upper_bound, finished=proof.finished)


def _never() -> bool:
    return False

"""A plan that keeps what an earlier one had: first all who can be placed, then as many earlier carriers as can be.

Three ways, until one is known to keep the most: everything new beside all that was (tabu and the rest of the
portfolio), the fewest that must give way (the exact search of `engines.replan`), and all placed afresh with the earlier
carriers brought back one by one. Those that keep their carriers stay there while the others get room and quiet.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.change import Mobility
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.verify import examine
from bandwright.engines.polish import polish as polish_best
from bandwright.engines.portfolio import place_all
from bandwright.engines.replan import replan
from bandwright.engines.run import Run, Step
from bandwright.engines.solve import Outcome, how_settled, outcome_of, solve
from bandwright.engines.stop import Stop

__all__ = ["Kept", "solve_keeping"]

_SHARE = 1 / 3  # of the time, for each of the first two ways
_FEW = 6  # members without an earlier carrier, up to which who must give way is asked first


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """An outcome, the members (indices into `Problem.wanted`) on their earlier carriers, and what is known of more.

    `most`: it is proven that no plan that places as much, by priority, keeps more.
    """

    outcome: Outcome
    members: tuple[int, ...]
    most: bool


class _Limits(TypedDict):
    """Where the stream starts, when the search ends, and who hears of it."""

    seed: int
    time_limit_s: float
    cancelled: Callable[[], bool]
    progress: Callable[[Step], None]
    seconds: Callable[[], float]


@dataclass(slots=True, kw_only=True, eq=False)
class _Keeping:
    """One search: the run, the earlier carriers by member, what is proven, and whether time cut a way short."""

    run: Run
    held: dict[int, int]
    time_limit_s: float
    proven: tuple[tuple[int, ...], int] | None = None
    cut: bool = False

    def worth(self, carriers: NDArray[np.int64]) -> tuple[tuple[int, ...], int]:
        """How many are placed at each priority, then how many have their earlier carriers."""
        return self.run.score(carriers), sum(int(carriers[m]) == hz for m, hz in self.held.items())

    def take(self, carriers: NDArray[np.int64]) -> None:
        """Keep a clean set that is worth more."""
        if self.worth(carriers) > self.worth(self.run.best):
            self.run.best = carriers.copy()

    @property
    def settled(self) -> bool:
        """Whether all are placed and no more can keep their carriers."""
        worth = self.worth(self.run.best)
        return self.run.complete and (worth[1] == len(self.held) or worth == self.proven)


def solve_keeping(
    problem: Problem,
    keep: Mapping[int, int],
    *,
    seed: int = 1,
    time_limit_s: float = 10.0,
    polish: bool = True,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Step], None] = lambda _: None,
    seconds: Callable[[], float] = time.monotonic,
) -> Kept:
    """Place as many as can be, by priority; of equally good plans return one that keeps as many carriers as is found.

    Parameters
    ----------
    problem
        Candidates and rules.
    keep
        Carriers in Hz that wanted members (by index) have from an earlier plan; one that is no candidate any more, or
        that breaks a rule, is given up. Without any this is `engines.solve.solve`.
    seed, time_limit_s, polish, cancelled, progress, seconds
        As for `engines.solve.solve`. What keeps its carrier is not polished.
    """
    held = {m: hz for m, hz in keep.items() if hz >= 0}
    limits: _Limits = {
        "seed": seed,
        "time_limit_s": time_limit_s,
        "cancelled": cancelled,
        "progress": progress,
        "seconds": seconds,
    }
    if not held:
        return Kept(outcome=solve(problem, polish=polish, **limits), members=(), most=True)
    run = Run(problem, **limits)
    search = _Keeping(run=run, held=held, time_limit_s=time_limit_s)
    margin = 1.0
    try:
        _place(search)
        stopped = how_settled(run)
        _bring_back(search)
        if polish:
            margin = _polish(search)
            _bring_back(search)
    except Stop as stop:
        stopped = stop.reason
        _bring_back(search)
    outcome = outcome_of(run, stopped=stopped, margin=margin)
    carriers = np.array(outcome.carriers_hz, np.int64)
    members = tuple(m for m, hz in search.held.items() if outcome.carriers_hz[m] == hz)
    most = len(members) == len(search.held) or search.worth(carriers) == search.proven
    if search.cut and not most and outcome.stopped in {"settled", "effort"}:
        outcome = replace(outcome, stopped="time")
    return Kept(outcome=outcome, members=members, most=most)


def _place(search: _Keeping) -> None:
    """Try one way after the other, until all are placed and no more can keep their carriers."""
    ways = [_beside, _giving_way]
    if search.run.wanted - len(search.held) <= _FEW:
        ways.reverse()
    for way in ways:
        way(search)
        search.run.pause()
        if search.settled:
            return
    if not search.run.complete:
        place_all(search.run)


def _beside(search: _Keeping) -> None:
    """Place everything else beside all earlier carriers."""
    run = search.run
    beside = run.on(_holding(run.problem, search.held))
    beside.best[[m for m, hz in search.held.items() if run.best[m] != hz]] = -1
    beside.ends = min(run.ends, run.seconds() + _SHARE * search.time_limit_s)
    beside.progress = lambda step: run.progress(replace(step, upper_bound=None))  # what fits beside is no bound for all
    try:
        place_all(beside)
    except Stop as stop:
        if stop.reason != "time":
            raise
        search.cut = True
    finally:
        run.moves += beside.moves
        search.take(beside.best)


def _giving_way(search: _Keeping) -> None:
    """Ask who must give way at least so that everything is placed."""
    run = search.run
    run.tell("looking for the fewest that give way")
    repaired = replan(
        run.problem,
        before=[search.held.get(m, -1) for m in range(run.wanted)],
        mobility=[Mobility.NOW] * run.wanted,
        time_limit_s=min(run.ends - run.seconds(), _SHARE * search.time_limit_s),
        cancelled=run.cancelled,
        seconds=run.seconds,
    )
    run.moves += repaired.nodes
    carriers = np.array(repaired.carriers_hz, np.int64)
    search.take(carriers)
    search.proven = search.worth(carriers) if repaired.proven else None
    search.cut = search.cut or repaired.stopped == "time"


def _holding(problem: Problem, held: Mapping[int, int]) -> Problem:
    """Return the problem with a single candidate for each member that keeps its carrier."""
    choices, wanted = list(problem.choices), list(problem.wanted)
    for m, hz in held.items():
        choice = problem.choices[wanted[m].choice]
        here = choice.carriers_hz == hz
        if here.any():
            wanted[m] = replace(wanted[m], choice=len(choices))
            choices.append(replace(choice, carriers_hz=choice.carriers_hz[here], wish=choice.wish[here]))
    return replace(problem, choices=tuple(choices), wanted=tuple(wanted))


def _bring_back(search: _Keeping) -> None:
    """Move members back to their earlier carriers where nothing is broken by that."""
    run = search.run
    for m, hz in search.held.items():
        if run.best[m] in (-1, hz) or hz not in run.problem.choices[run.problem.wanted[m].choice].carriers_hz:
            continue
        moved = run.best.copy()
        moved[m] = hz
        if examine(run.problem, moved, listed=1).clean:
            run.best = moved


def _polish(search: _Keeping) -> float:
    """Polish all but the members that have their earlier carriers; returns the margin."""
    run = search.run
    kept = {m: hz for m, hz in search.held.items() if run.best[m] == hz}
    work = run.on(_holding(run.problem, kept)) if kept else run
    work.upper_bound = run.upper_bound
    try:
        return polish_best(work)
    finally:
        run.best = work.best

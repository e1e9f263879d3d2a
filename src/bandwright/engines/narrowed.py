"""The plain search on a part of a problem: some members are free, all others stay where they are."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Fixed, Problem, Wanted
from bandwright.engines.leavers import Seats
from bandwright.engines.solve import solve

__all__ = ["solve_beside"]


def solve_beside(
    problem: Problem,
    seats: Seats,
    spare: NDArray[np.bool_],
    free: NDArray[np.bool_],
    *,
    time_limit_s: float,
    stop: Callable[[], bool],
) -> NDArray[np.int64]:
    """Return carriers of the links with those `free` placed as well as can be beside all others in their seats.

    Those that stay are given carriers to the search, which make products and are victims.
    """
    members = np.flatnonzero(free).tolist()
    staying = np.flatnonzero(~free & ~spare & (seats.carriers_hz >= 0)).tolist()
    first = len(problem.wanted)
    rows = np.array([*members, *staying, *range(first, problem.size)], np.int64)
    narrowed = Problem(
        choices=tuple(problem.choices[problem.wanted[m].choice] for m in members),  # one each: spacing may differ
        wanted=tuple(_wanted(problem.wanted[m], at) for at, m in enumerate(members)),
        fixed=(*(_given(problem, m, int(seats.carriers_hz[m])) for m in staying), *problem.fixed),
        near_hz=problem.near_hz[np.ix_(rows, rows)],
        far_hz=problem.far_hz[np.ix_(rows, rows)],
        contexts=problem.contexts,
    )
    outcome = solve(narrowed, time_limit_s=time_limit_s, polish=False, cancelled=stop)
    carriers = np.full(first, -1, np.int64)
    carriers[staying] = seats.carriers_hz[staying]
    carriers[members] = outcome.carriers_hz
    return carriers


def _wanted(item: Wanted, choice: int) -> Wanted:
    return Wanted(id=item.id, choice=choice, priority=item.priority, contexts=item.contexts)


def _given(problem: Problem, member: int, carrier_hz: int) -> Fixed:
    item = problem.wanted[member]
    clearance = problem.choices[item.choice].clearance_hz
    return Fixed(id=item.id, carrier_hz=carrier_hz, clearance_hz=clearance, contexts=item.contexts)

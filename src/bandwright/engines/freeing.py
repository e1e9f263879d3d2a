"""As many on the air as can be where the exact search did not get there: the plain search with some members freed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bandwright.engines.fewest import fewest_moves, settle
from bandwright.engines.footing import Found, Repair, Start, only_stuck, score
from bandwright.engines.narrowed import solve_beside

__all__ = ["place_somehow"]

_EFFORT_AS_MANY = 300_000
# Shares of the time: for the plain search with everybody free, and for each later try of it.
_SHARE_FIRST = 0.2
_SHARE_TRY = 0.04
_TRIES = 3


def place_somehow(run: Repair, start: Start) -> Found | None:
    """Place as many as can be when the exact search did not get there.

    First nobody may move, then everybody, to see how many can be placed; where that is more, half of them, drawn by
    lot, and so on between the largest number that failed and the smallest that did as well.
    """
    run.go_on()
    movable = np.flatnonzero(start.seats.loose > 0)
    random = np.random.Generator(np.random.PCG64(1))
    nobody = _freed(run, start, movable[:0], share=_SHARE_TRY)
    everybody = _freed(run, start, movable, share=_SHARE_FIRST)
    tried = [carriers for carriers in (nobody, everybody) if carriers is not None]
    if not tried:
        return None
    best = max(tried, key=lambda carriers: score(run, carriers))
    failed, good = -1, 0 if best is nobody else len(movable)
    while good - failed > 1 and not run.stop():
        size = (failed + good) // 2
        tries = (_freed(run, start, random.permutation(movable)[:size], share=_SHARE_TRY) for _ in range(_TRIES))
        found = next((c for c in tries if c is not None and score(run, c) >= score(run, best)), None)
        if found is None:
            failed = size
        else:
            best = found
            good = min(size, int(np.sum(found[movable] != run.before[movable])))
    fewer = _as_many(run, start, best)
    if fewer is not None:
        return fewer
    return Found(carriers=settle(run, start, best), proven=False, complete=bool(np.all(best[~run.spare] >= 0)))


def _as_many(run: Repair, start: Start, carriers: NDArray[np.int64]) -> Found | None:
    """Return the fewest moves that place as many as these carriers do, where some stay without one."""
    missing = start.seats.waiting | (start.seats.loose > 0)
    missing &= carriers < 0
    priority = np.array([item.priority for item in run.problem.wanted], np.int64)
    unplaced = tuple(int(np.sum(missing & (priority == level))) for level in run.levels)
    if not any(unplaced):
        return None
    run.effort = run.nodes + _EFFORT_AS_MANY
    found, _ = fewest_moves(run, start, unplaced)
    return None if found is None else replace(found, proven=False, complete=False)


def _freed(run: Repair, start: Start, others: NDArray[np.int64], *, share: float) -> NDArray[np.int64] | None:
    """Return what the plain search makes of those that wait and some others; None where it breaks a rule."""
    if run.stop():
        return None
    free = start.seats.waiting.copy()
    free[others] = True
    limit = min(run.time_left(), share * run.time_limit_s)
    carriers = solve_beside(run.problem, start.seats, run.spare, free, time_limit_s=limit, stop=run.stop)
    return carriers if only_stuck(run, start, carriers) else None

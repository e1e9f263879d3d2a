"""The fewest moves: how many leave is deepened one by one, and of equally few answers the best liked one is taken."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bandwright.engines.choosing import best_of
from bandwright.engines.footing import Found, Repair, Start
from bandwright.engines.leavers import Question, Seats

__all__ = ["fewest_moves", "settle"]

_EFFORT_BETTER = 60_000  # more to look at once a number of moves has an answer
_MOST_ANSWERS = 2_000
_SETTLED_ROUNDS = 3


def fewest_moves(run: Repair, start: Start, unplaced: tuple[int, ...]) -> tuple[Found | None, bool]:
    """Deepen the number that leave; return what was found, and whether all was met where nothing was."""
    proven = True
    for leavers in range(int(np.sum(start.seats.loose > 0)) + 1):
        for later in range(min(leavers, int(np.sum(start.seats.loose == 2))) + 1):
            found, finished = _at_depth(run, start, unplaced, leavers, later)
            if found is not None:
                return replace(found, proven=proven), True
            proven = proven and finished
            if not finished:
                return None, False
    return None, proven


def _at_depth(
    run: Repair, start: Start, unplaced: tuple[int, ...], leavers: int, later: int
) -> tuple[Found | None, bool]:
    """Ask for an answer, and once there is one for some more to choose from."""
    question = Question(
        leavers=leavers,
        later=later,
        levels=run.levels,
        unplaced=unplaced,
        broken=start.broken,
        liked_hz=run.taste.liked_hz,
        most_answers=_MOST_ANSWERS,
    )
    answer = run.ask(start.seats, question, max(0, run.effort - run.nodes), more=_EFFORT_BETTER)
    if len(answer.solutions) == 0:
        return None, answer.all_met
    carriers = best_of(run.taste, answer.solutions)
    if not answer.all_met:
        carriers = settle(run, start, carriers)
    return Found(carriers=carriers, proven=True, complete=True), True


def settle(run: Repair, start: Start, carriers: NDArray[np.int64]) -> NDArray[np.int64]:
    """Move those that moved to better candidates one by one: not all answers were met."""
    for _ in range(_SETTLED_ROUNDS):
        before = carriers
        for member in np.flatnonzero((carriers >= 0) & (carriers != run.before) & ~run.spare).tolist():
            if run.stop():
                return carriers
            carriers = best_of(run.taste, np.vstack([carriers, _elsewhere(run, start, carriers, member)]))
        if np.array_equal(before, carriers):
            break
    return carriers


def _elsewhere(run: Repair, start: Start, carriers: NDArray[np.int64], member: int) -> NDArray[np.int64]:
    """Return the same carriers with one member on each other candidate that is clean beside the rest."""
    waiting = np.zeros(len(carriers), np.bool_)
    waiting[member] = True
    seats = Seats(
        carriers_hz=np.where(waiting, -1, carriers),
        loose=np.zeros(len(carriers), np.int64),
        waiting=waiting,
        absent=run.spare,
    )
    question = Question(
        leavers=0,
        later=0,
        levels=run.levels,
        unplaced=(0,) * len(run.levels),
        broken=(),
        liked_hz=run.taste.liked_hz,
        most_answers=_MOST_ANSWERS,
    )
    found = run.ask(seats, question, _EFFORT_BETTER).solutions
    there: NDArray[np.int64] = found[found[:, member] != run.before[member]]
    return there

"""Move as few as possible: from carriers that no longer hold to ones that do.

In this order: every link on the air, by priority; the fewest links that change carrier; of those as few as may move
only at an interval; the plan's spare carriers first; the quietest candidates and the largest smallest slack. How many
more than those that must go have to move is deepened one by one over the exact search of `engines.leavers`, so that a
number is proven the fewest where the search met everything below it.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.change import Mobility
from bandwright.core.planning.groups import group_members
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.verify import examine
from bandwright.engines.choosing import Taste, best_of, kept_spares
from bandwright.engines.fewest import fewest_moves
from bandwright.engines.footing import SHARE_EXACT, Found, Repair, Start, only_stuck, ours, score, start_of
from bandwright.engines.freeing import place_somehow
from bandwright.engines.leavers import Question, Seats, rules_of
from bandwright.errors import BrokenPromise

__all__ = ["Repaired", "replan"]

_EFFORT = 1_500_000  # candidates looked at, all in all
_EFFORT_SPARES = 40_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Repaired:
    """Carriers in the order of `Problem.wanted` (-1 = nowhere), spare carriers included.

    `moved` are the links whose carrier changed (also to nowhere), `new` those that had none and have one now, `stuck`
    those that break a rule and may not move. `proven` when no fewer could move. `stopped` is proof, settled, effort,
    time or cancelled.
    """

    carriers_hz: tuple[int, ...]
    moved: tuple[int, ...]
    new: tuple[int, ...]
    stuck: tuple[int, ...]
    proven: bool
    stopped: str
    nodes: int


def replan(
    problem: Problem,
    *,
    before: Sequence[int],
    mobility: Sequence[Mobility],
    spare: Sequence[bool] | None = None,
    effort: int = _EFFORT,
    time_limit_s: float = 10.0,
    cancelled: Callable[[], bool] = lambda: False,
    seconds: Callable[[], float] = time.monotonic,
) -> Repaired:
    """Return carriers under which every rule is kept, with as few changes as possible.

    Parameters
    ----------
    problem
        Candidates and rules as they are now.
    before
        The carrier of each wanted member, -1 for one that has none yet. One that is not among the candidates of its
        choice cannot stay.
    mobility
        When each may change; a link that may never change stays, also where it breaks a rule (then it is `stuck`).
    spare
        Which wanted members are spare carriers, or links that had none and for which nobody is to move: they give way
        to links and are placed again afterwards, uncounted.
    effort
        How many candidates are looked at, all in all; equal efforts give equal answers unless time or hand stop them.
    """
    began = seconds()
    given = np.asarray(before, np.int64)
    spares = np.zeros(len(problem.wanted), np.bool_) if spare is None else np.asarray(spare, np.bool_)
    run = Repair(
        problem=problem,
        rules=rules_of(problem),
        before=given,
        spare=spares,
        mobility=np.array([int(word) for word in mobility], np.int64),
        taste=Taste(problem=problem, before=given, spare=spares),
        levels=tuple(sorted({item.priority for item in problem.wanted}, reverse=True)),
        effort=effort,
        ends=began + SHARE_EXACT * time_limit_s,
        time_limit_s=time_limit_s,
        seconds=seconds,
        cancelled=cancelled,
    )
    start = start_of(run, touch=False)
    found = _links(run, start)
    if np.any(run.mobility == Mobility.IN_USE) and not found.complete:
        start, found = _touching_those_in_use(run, start, found)
    _refuse_what_breaks_a_rule(run, start, found.carriers)
    ended, run.stopped, run.ends = run.stopped, None, began + time_limit_s
    carriers = _with_spares(run, start, found.carriers)
    run.stopped = ended or run.stopped
    return _repaired(run, start, found.proven, carriers)


def _repaired(run: Repair, start: Start, proven: bool, carriers: NDArray[np.int64]) -> Repaired:
    links = ~run.spare
    return Repaired(
        carriers_hz=tuple(carriers.tolist()),
        moved=tuple(np.flatnonzero(links & (run.before >= 0) & (carriers != run.before)).tolist()),
        new=tuple(np.flatnonzero(links & (run.before < 0) & (carriers >= 0)).tolist()),
        stuck=start.stuck,
        proven=proven,
        stopped=run.stopped or ("proof" if proven else "effort"),
        nodes=run.nodes,
    )


def _touching_those_in_use(run: Repair, start: Start, found: Found) -> tuple[Start, Found]:
    """Let those in use move too, where that puts more on the air."""
    more = start_of(run, touch=True)
    other = _links(run, more)
    return (more, other) if score(run, other.carriers) > score(run, found.carriers) else (start, found)


def _links(run: Repair, start: Start) -> Found:
    """Return the best carriers of the links: as many as can be on the air, with the fewest moves."""
    proven = True
    for unplaced in _allowances(run, start):
        found, finished = fewest_moves(run, start, unplaced)
        if found is not None:
            complete = not any(unplaced) and not _hopeless(run, start)
            return replace(found, proven=found.proven and proven, complete=complete)
        proven = proven and finished
        if not finished:
            break
    somehow = place_somehow(run, start)
    stays = _who_can_stay(run, start)
    if somehow is None or _worth(run, somehow.carriers) <= _worth(run, stays):
        return Found(carriers=stays, proven=False, complete=False)
    return somehow


def _worth(run: Repair, carriers: NDArray[np.int64]) -> tuple[tuple[int, ...], int]:
    """How many links are placed at each priority, then how many keep their carriers."""
    return score(run, carriers), int(np.sum((carriers == run.before) & (carriers >= 0) & ~run.spare))


def _hopeless(run: Repair, start: Start) -> bool:
    """Whether some link has no candidate at all."""
    placed = start.seats.carriers_hz >= 0
    return bool(np.any(~placed & ~start.seats.waiting & ~run.spare))


def _allowances(run: Repair, start: Start) -> Iterator[tuple[int, ...]]:
    """Yield how many links of each priority may stay nowhere, the least loss first."""
    priority = np.array([item.priority for item in run.problem.wanted], np.int64)
    could = start.seats.waiting | (start.seats.loose > 0)
    most = [int(np.sum(could & (priority == level))) for level in run.levels]
    return itertools.product(*(range(count + 1) for count in most))


def _who_can_stay(run: Repair, start: Start) -> NDArray[np.int64]:
    """Return the carriers of those who can stay, the least important that may move taken out of what is broken."""
    carriers = np.where(run.spare | start.must, -1, run.before)
    stuck = set(start.stuck)
    while hits := [h for h in examine(run.problem, carriers).hits if not set(ours(h, len(carriers))) <= stuck]:
        mine = [m for m in ours(hits[0], len(carriers)) if m not in stuck]
        able = [m for m in mine if start.seats.loose[m] > 0] or mine
        carriers[min(able, key=lambda m: (run.problem.wanted[m].priority, -m))] = -1
    return carriers


def _refuse_what_breaks_a_rule(run: Repair, start: Start, carriers: NDArray[np.int64]) -> None:
    """Raise BrokenPromise where anything but links that may not move breaks a rule."""
    for m, (item, hz) in enumerate(zip(run.problem.wanted, carriers.tolist(), strict=True)):
        if hz >= 0 and m not in start.stuck and hz not in run.problem.choices[item.choice].carriers_hz:
            raise BrokenPromise(f"replan left {item.id} on {hz} Hz, which is none of its candidates")
    if not only_stuck(run, start, carriers):
        raise BrokenPromise(
            f"replan returned carriers that the verifier refuses: {examine(run.problem, carriers).hits}"
        )


def _with_spares(run: Repair, start: Start, carriers: NDArray[np.int64]) -> NDArray[np.int64]:
    """Keep the spare carriers that are still clean and place the others again where they can be."""
    kept = kept_spares(run.taste, carriers, stuck=start.stuck)
    missing = run.spare & (kept < 0)
    missing &= np.array([len(run.problem.choices[w.choice].carriers_hz) > 0 for w in run.problem.wanted], np.bool_)
    missing = _with_room(run, kept, missing)
    for count in range(int(missing.sum())):
        if run.stop():
            break
        answer = _beside(run, kept, missing, _spared(run, count))
        if answer is not None:
            return answer
    rank = np.array([-item.priority for item in run.problem.wanted], np.int64)
    for member in sorted(np.flatnonzero(missing).tolist(), key=lambda m: (rank[m], m)):  # too many at once
        if run.stop():
            break
        alone = np.arange(len(kept)) == member
        answer = _beside(run, kept, alone, _spared(run, 0))
        kept = kept if answer is None else answer
    return kept


def _with_room(run: Repair, kept: NDArray[np.int64], missing: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which of those missing find a place beside what is kept at all; of interchangeable ones one is asked."""
    room = np.zeros(len(missing), np.bool_)
    for alike in group_members(run.problem, np.flatnonzero(missing).tolist()).classes:
        if run.stop():
            break
        alone = np.arange(len(missing)) == alike[0]
        room[list(alike)] = _beside(run, kept, alone, _spared(run, 0)) is not None
    return room


def _beside(
    run: Repair, kept: NDArray[np.int64], missing: NDArray[np.bool_], unplaced: tuple[int, ...]
) -> NDArray[np.int64] | None:
    """Return the best way to place those that are missing beside what is kept, None where none was found."""
    question = Question(
        leavers=0, later=0, levels=run.levels, unplaced=unplaced, broken=(), liked_hz={}, most_answers=50
    )
    seats = Seats(
        carriers_hz=kept,
        loose=np.zeros(len(kept), np.int64),
        waiting=missing,
        absent=np.zeros(len(kept), np.bool_),
    )
    answer = run.ask(seats, question, _EFFORT_SPARES)
    return best_of(run.taste, answer.solutions) if len(answer.solutions) else None


def _spared(run: Repair, count: int) -> tuple[int, ...]:
    """Return allowances that let `count` spare carriers of each priority stay nowhere."""
    mine = {item.priority for item, spare in zip(run.problem.wanted, run.spare, strict=True) if spare}
    return tuple(count if level in mine else 0 for level in run.levels)

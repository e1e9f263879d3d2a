"""What a repair stands on: the rules and the time, who must go, who may, who is stuck, and what has been found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.change import Mobility
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.verify import Hit, examine
from bandwright.engines.choosing import Taste
from bandwright.engines.leavers import Answer, Question, Seats, ask
from bandwright.kernels.repair_board import Rules

__all__ = ["SHARE_EXACT", "Found", "Repair", "Start", "only_stuck", "ours", "score", "start_of"]

SHARE_EXACT = 0.5  # of the time: for the exact search


@dataclass(slots=True, kw_only=True, eq=False)
class Repair:
    """One repair: what it stands on, what it has used up, and why it ended."""

    problem: Problem
    rules: Rules
    before: NDArray[np.int64]
    spare: NDArray[np.bool_]
    mobility: NDArray[np.int64]
    taste: Taste
    levels: tuple[int, ...]
    effort: int
    ends: float
    time_limit_s: float
    seconds: Callable[[], float]
    cancelled: Callable[[], bool]
    nodes: int = 0
    stopped: str | None = None

    def stop(self) -> bool:
        """Whether somebody or the clock says stop; notes which."""
        if self.cancelled():
            self.stopped = "cancelled"
        elif self.seconds() >= self.ends:
            self.stopped = "time"
        return self.stopped is not None

    def time_left(self) -> float:
        """Return how many seconds are left."""
        return max(0.0, self.ends - self.seconds())

    def go_on(self) -> None:
        """Give the time that is left to what comes next."""
        self.ends += (1 - SHARE_EXACT) * self.time_limit_s
        if self.stopped == "time":
            self.stopped = None

    def ask(self, seats: Seats, question: Question, effort: int, *, more: int | None = None) -> Answer:
        """Ask a question of the exact search, as `engines.leavers.ask` does, and count what was looked at."""
        answer = ask(self.problem, self.rules, seats, question, effort=effort, more=more, stop=self.stop)
        self.nodes += answer.nodes
        return answer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """What must go, who else may leave, and what is broken among those that could stay."""

    seats: Seats
    must: NDArray[np.bool_]
    broken: tuple[tuple[int, ...], ...]
    stuck: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """Carriers of the links (spare carriers nowhere), and whether fewer moves are proven impossible."""

    carriers: NDArray[np.int64]
    proven: bool
    complete: bool


def start_of(run: Repair, *, touch: bool) -> Start:
    """Sort the links: who must go, who may, who is stuck."""
    problem, before = run.problem, run.before
    placed = (before >= 0) & ~run.spare
    home_open = _open_at_home(run)
    loose = np.select([run.mobility == Mobility.NOW, run.mobility == Mobility.NEVER], [1, 0], default=2)
    in_use = run.mobility == Mobility.IN_USE
    fixed_now = (loose == 0) | (in_use & (not touch))
    must = placed & ~home_open & (loose > 0)
    hits = [
        ours(hit, len(before)) for hit in examine(problem, np.where(placed & ~must, before, -1), listed=20_000).hits
    ]
    stuck = set(np.flatnonzero(placed & ~home_open & (loose == 0)).tolist())
    bound = [members for members in hits if fixed_now[list(members)].all()]
    fixed_now[[m for members in bound for m in members if loose[m]]] = False  # in use: nobody else can move for them
    stuck.update(m for members in bound if not loose[list(members)].any() for m in members)
    broken = []
    for members in sorted(set(hits), key=lambda m: (len(m), m)):
        able = [m for m in members if not fixed_now[m]]
        if len(able) == 1:
            must[able[0]] = True
        elif able:
            broken.append(members)
    waiting = must | (~placed & ~run.spare)
    waiting &= np.array([len(problem.choices[w.choice].carriers_hz) > 0 for w in problem.wanted], np.bool_)
    seats = Seats(
        carriers_hz=np.where(must | run.spare, -1, before),
        loose=np.where(placed & ~must & ~fixed_now, loose, 0),
        waiting=waiting,
        absent=run.spare,
    )
    broken = [members for members in broken if not any(must[m] for m in members)]
    return Start(seats=seats, must=must, broken=tuple(broken), stuck=tuple(sorted(stuck)))


def _open_at_home(run: Repair) -> NDArray[np.bool_]:
    """Whether each member's carrier of before is still a candidate of it."""
    choice = np.array([item.choice for item in run.problem.wanted], np.int64)
    found = np.zeros(len(choice), np.bool_)
    for q in np.unique(choice).tolist():
        found[choice == q] = np.isin(run.before[choice == q], run.problem.choices[q].carriers_hz)
    return found


def ours(hit: Hit, wanted: int) -> tuple[int, ...]:
    """Return which of the wanted members take part in what is broken, rising."""
    return tuple(sorted({m for m in (hit.victim, *hit.members) if m < wanted}))


def score(run: Repair, carriers: NDArray[np.int64]) -> tuple[int, ...]:
    """How many links are placed at each priority, highest first."""
    priority = np.array([item.priority for item in run.problem.wanted], np.int64)
    placed = (carriers >= 0) & ~run.spare
    return tuple(int(np.sum(placed & (priority == level))) for level in run.levels)


def only_stuck(run: Repair, start: Start, carriers: NDArray[np.int64]) -> bool:
    """Whether all that is broken is among links that may not move."""
    stuck = set(start.stuck)
    report = examine(run.problem, carriers, listed=20_000)
    return all(set(ours(hit, len(carriers))) <= stuck for hit in report.hits)

"""One search: the best clean set so far, the clock, the reasons to stop, and the layouts it works on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Problem
from bandwright.engines.raster import Layout, State, lay_out
from bandwright.engines.stop import Stop

__all__ = ["SEARCHING", "Pool", "Run", "Step"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Progress: how many of how many are placed, how many can be at most (None = not known), and what is being done."""

    placed: int
    wanted: int
    doing: str
    upper_bound: int | None = None
    seconds: float = 0.0


SEARCHING = "searching"
_TELL_EVERY_S = 1.0

# The least that laying out the candidates may take, whatever the time limit; most take a few milliseconds.
_LAYING_OUT_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pool:
    """Candidates to search among: for each choice, which of them."""

    name: str
    masks: tuple[NDArray[np.bool_], ...]
    coarse: bool = False


class Run:
    """One search. `best` holds a carrier for each wanted member, -1 for none; it only ever gets better."""

    def __init__(
        self,
        problem: Problem,
        *,
        seed: int,
        time_limit_s: float,
        seconds: Callable[[], float],
        cancelled: Callable[[], bool],
        progress: Callable[[Step], None],
    ) -> None:
        self.problem = problem
        self.seed = seed
        self.seconds = seconds
        self.began = seconds()
        self.ends = self.began + time_limit_s
        self.cancelled = cancelled
        self.progress = progress
        self.doing = SEARCHING
        self.told = self.began
        self.moves = 0
        self.wanted = len(problem.wanted)
        self.priority = np.array([item.priority for item in problem.wanted], np.int64)
        self.levels = sorted({item.priority for item in problem.wanted}, reverse=True)
        self.best = np.full(self.wanted, -1, np.int64)
        self.upper_bound: int | None = None
        self.method = ""
        self._at_most: list[int] | None = None  # at each priority together with those above it
        self._proven = False
        self.laid_out_in_vain = False
        self._layouts: dict[str, Layout] = {}

    def on(self, problem: Problem) -> Run:
        """Return a search on another form of the same problem (same wanted members) that ends when this one does."""
        other = Run(
            problem,
            seed=self.seed,
            time_limit_s=0.0,
            seconds=self.seconds,
            cancelled=self.cancelled,
            progress=self.progress,
        )
        other.began, other.ends = self.began, self.ends
        other.best = self.best.copy()
        return other

    def layout(self, pool: Pool) -> Layout:
        """Return the layout of a pool, made once; stops where that takes more than half of the time that is left."""
        if pool.name not in self._layouts:
            now = self.seconds()
            ends = now + max(_LAYING_OUT_S, (self.ends - now) / 2)

            def pause() -> None:
                if self.cancelled():
                    raise Stop("cancelled")
                if self.seconds() >= ends:
                    self.laid_out_in_vain = True
                    raise Stop("time")

            self._layouts[pool.name] = lay_out(self.problem, pool=pool.masks, pause=pause)
        return self._layouts[pool.name]

    def score(self, carriers: NDArray[np.int64]) -> tuple[int, ...]:
        """How many are placed at each priority, highest first."""
        return tuple(int(np.sum((carriers >= 0) & (self.priority == level))) for level in self.levels)

    def offer(self, carriers: NDArray[np.int64]) -> bool:
        """Keep a clean set if it places more."""
        if self.score(carriers) <= self.score(self.best):
            return False
        self.best = carriers.copy()
        self.tell(self.doing)
        return True

    def offer_state(self, state: State) -> bool:
        """Keep what stands in a clean state if it places more."""
        return self.offer(state.carriers_hz())

    @property
    def complete(self) -> bool:
        """Whether everything that can have a carrier has one."""
        return bool(np.all(self.best >= 0))

    @property
    def finished(self) -> bool:
        """Whether nothing more can be placed, be it that all are or that it is proven."""
        if self.complete or self._proven:
            return True
        return self._at_most is not None and list(np.cumsum(self.score(self.best))) == self._at_most

    def pressing(self) -> NDArray[np.int64]:
        """Return the members of the highest priorities, down to the first at which more may still be placed."""
        placed = np.cumsum(self.score(self.best)).tolist()
        for step, level in enumerate(self.levels):
            members = np.flatnonzero(self.priority >= level)
            if placed[step] < (len(members) if self._at_most is None else self._at_most[step]):
                return members
        return np.arange(self.wanted, dtype=np.int64)

    def know_bounds(self, at_most: list[int], method: str) -> None:
        """Note how many can be placed at most at each priority together with those above it."""
        self._at_most = at_most
        self.upper_bound, self.method = at_most[-1], method

    def know_proof(self, upper_bound: int, *, finished: bool) -> None:
        """Note what exact search found out."""
        self._proven = finished
        if self.upper_bound is None or upper_bound < self.upper_bound:
            self.upper_bound, self.method = upper_bound, "exact search"

    def tell(self, doing: str) -> None:
        """Report progress: what is being done from now on, and how it stands."""
        self.doing = doing
        self.told = self.seconds()
        self.progress(
            Step(
                placed=int(np.sum(self.best >= 0)),
                wanted=self.wanted,
                doing=doing,
                upper_bound=self.upper_bound,
                seconds=self.told - self.began,
            )
        )

    def over(self) -> bool:
        """Whether somebody or the clock says stop; while nobody does, it is told once a second that it goes on."""
        return self._reason() is not None

    def pause(self) -> None:
        """Between epochs: stop when somebody or the clock says so; tell as `over` does."""
        reason = self._reason()
        if reason is not None:
            raise Stop(reason)

    def _reason(self) -> str | None:
        if self.cancelled():
            return "cancelled"
        now = self.seconds()
        if now >= self.ends:
            return "time"
        if now - self.told >= _TELL_EVERY_S:
            self.tell(self.doing)
        return None

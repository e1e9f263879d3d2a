"""Calls on a row of slots: the arrays of `kernels.assignment` with the steps that a search is made of."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from bandwright.kernels import assignment as kernels

__all__ = ["Calls", "Row", "as_calls", "highest", "lowest"]

Calls = tuple[tuple[int, ...], ...]  # the slots of each group, rising

_EPOCH = 5_000
_EXCHANGE_RESTS = (1, 6)


class Row:
    """Calls of every group on one row of slots, which may be round.

    `separation` has a diagonal of at least 1. `may_use` (groups, slots) closes slots to groups. `pause` is called
    between epochs of moves and may raise to end the search.
    """

    def __init__(
        self,
        separation: NDArray[np.int64],
        *,
        slots: int,
        most: int,
        may_use: NDArray[np.bool_] | None = None,
        cyclic: bool = False,
        pause: Callable[[int], None] = lambda _: None,
    ) -> None:
        groups = len(separation)
        self.separation = separation
        self.beside = _neighbours(separation)
        self.cyclic = cyclic
        self.pause = pause
        self.calls = np.zeros((groups, max(1, most)), np.int64)
        self.demand = np.zeros(groups, np.int64)
        self.used = np.zeros((groups, slots), np.bool_)
        self.closed = np.zeros((groups, slots), np.bool_) if may_use is None else ~may_use
        self.cost = np.zeros((groups, slots), np.int64)
        self.broken = 0

    def like(self, slots: int) -> Row:
        """Return an empty row of another length, with no slot closed."""
        return Row(self.separation, slots=slots, most=self.calls.shape[1], cyclic=self.cyclic, pause=self.pause)

    @property
    def slots(self) -> int:
        """Length of the row."""
        return self.cost.shape[1]

    @property
    def _around(self) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], bool]:
        return self.cost, self.separation, self.beside, self.cyclic

    def load(self, calls: Calls) -> None:
        """Put these calls, all on slots of the row, in place of what is there."""
        for group, row in enumerate(calls):
            self.demand[group] = len(row)
            self.calls[group, : len(row)] = row
        self.broken = int(kernels.load_calls(self.calls, self.demand, self.used, *self._around))

    def place(self, order: NDArray[np.int64], *, only_clean: bool = False) -> None:
        """Add one call of each group in `order`, each where it breaks least (not at all where `only_clean`)."""
        self.broken += int(
            kernels.place_calls(order, only_clean, self.calls, self.demand, self.used, self.closed, *self._around)
        )

    def mend(self, *, moves: int, random: NDArray[np.uint64], tenure: tuple[int, int]) -> bool:
        """Make up to `moves` tabu moves; keep the calls with fewest broken pairs; whether nothing is broken."""
        best = np.array([self.broken], np.int64)
        best_calls = self.calls.copy()
        rests = np.zeros(self.cost.shape, np.int64)
        clock = 0
        while self.broken > 0 and clock < moves:
            before = clock
            self.broken, clock = kernels.tabu_epoch(
                min(_EPOCH, moves - clock), self.broken, clock, random, np.array(tenure, np.int64), best, best_calls,
                rests, self.calls, self.demand, self.used, self.closed, *self._around,
            )  # fmt: skip
            self.pause(clock - before)
        if self.broken > best[0]:
            self.calls = best_calls
            self.load(self.as_calls())
        return self.broken == 0

    def exchange(
        self, *, moves: int, value: NDArray[np.float64], asked: NDArray[np.int64], random: NDArray[np.uint64]
    ) -> None:
        """From calls that break nothing, put lacking ones in place of others for up to `moves` moves; keep the best."""
        loss = np.zeros(self.cost.shape)
        for group in range(len(value)):
            for slot in self.calls[group, : self.demand[group]].tolist():
                kernels.add_call(group, slot, float(value[group]), loss, self.separation, self.beside, False)
        best = np.array([float(value @ self.demand)])
        best_calls, best_demand = self.calls.copy(), self.demand.copy()
        rests = np.zeros(self.cost.shape, np.int64)
        clock = 0
        try:
            while clock < moves and np.any(best_demand < asked):
                before = clock
                clock = kernels.exchange_epoch(
                    min(_EPOCH, moves - clock), clock, random, np.array(_EXCHANGE_RESTS, np.int64), value, asked, best,
                    best_calls, best_demand, rests, self.calls, self.demand, self.used, self.closed, loss,
                    self.separation, self.beside,
                )  # fmt: skip
                self.pause(clock - before)
                if clock - before < min(_EPOCH, moves - before):
                    break
        finally:
            self.calls, self.demand = best_calls, best_demand
            self.load(self.as_calls())

    def thin_out(self, importance: NDArray[np.int64]) -> None:
        """Take out calls until nothing is broken."""
        kernels.take_out_worst(importance, self.calls, self.demand, self.used, *self._around)
        self.broken = 0

    def easiest_slot(self) -> int:
        """Return the slot whose removal from the row would break least."""
        costs = np.empty(self.slots, np.int64)
        kernels.removal_costs(self.calls, self.demand, self.used, self.separation, self.beside, costs)
        return int(np.argmin(costs))

    def as_calls(self) -> Calls:
        """Return the slots of each group, rising."""
        return as_calls([self.calls[group, :count] for group, count in enumerate(self.demand.tolist())])


def as_calls(rows: list[NDArray[np.int64]]) -> Calls:
    """Return rows of slots as rising tuples."""
    return tuple(tuple(np.sort(row).tolist()) for row in rows)


def _neighbours(separation: NDArray[np.int64]) -> NDArray[np.int64]:
    groups = len(separation)
    beside = np.zeros((groups, groups + 1), np.int64)
    for group in range(groups):
        others = np.flatnonzero(separation[group])
        beside[group, 0] = len(others)
        beside[group, 1 : len(others) + 1] = others
    return beside


def lowest(calls: Calls) -> int:
    """Return the lowest slot in use."""
    return min(slot for row in calls for slot in row)


def highest(calls: Calls) -> int:
    """Return the highest slot in use."""
    return max(slot for row in calls for slot in row)

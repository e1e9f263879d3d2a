"""The search behind `engines.assignment`: starts, attempts in levels, and the best calls so far."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.least_span import SpanBound, least_span
from bandwright.core.planning.network import Network, expanded
from bandwright.engines.exact import placeable
from bandwright.engines.slots import Calls, Row, as_calls, highest, lowest

__all__ = ["Search"]

_LEVELS = 8
_MOVES = 2_000
_FEWEST_MOVES = 500
_MOVES_PER_CALL = 250
_TENURE = (5, 9)
_LEVEL_STEP = 1_000.0  # so much more a call is worth than one of the next lower importance
_WINDOWS = 32  # places where a row of slots may begin that one level tries
_NODES = 50_000
_EXHAUSTED_CALLS = 60
_REPEATS = 6
_WASTE = 20  # a repeating pattern may ask for one call in so many that nobody wants
_SEED_STEP = 0x9E3779B97F4A7C15  # 2^64 / golden ratio: neighbouring seeds start far apart


class Search:
    """One search: the best calls so far, the streams, the clock and the reasons to stop."""

    def __init__(
        self, network: Network, *, seed: int, pause: Callable[[int], None], tell: Callable[[Search], None]
    ) -> None:
        self.shared = np.diag(network.separation) == 0  # such calls of one group may all take one slot
        demand = np.where(self.shared, np.minimum(network.demand, 1), network.demand)
        self.may_use = network.may_use
        self.demand = demand if self.may_use is None else np.minimum(demand, self.may_use.sum(axis=1))
        self.separation = network.separation + np.diag(self.shared.astype(np.int64))
        self.importance = np.zeros(network.groups, np.int64) if network.importance is None else network.importance
        self.weight = np.where(self.shared, network.demand, 1)  # calls that one slot serves
        self.worth = self.importance * (int(self.weight.max(initial=0)) + 1) + self.weight
        level = np.unique(self.importance, return_inverse=True)[1]
        self.value = self.weight * np.minimum(float(network.calls + 1), _LEVEL_STEP) ** level
        self.bound = least_span(Network(demand=self.demand, separation=self.separation))
        self.best: Calls = ((),) * network.groups
        self.pause = pause
        self.tell = tell
        self.lots = np.random.Generator(np.random.PCG64(seed))
        self.random = np.array([(seed + 1) * _SEED_STEP % 2**64 | 1], np.uint64)
        self.attempts = 0
        self.level = 0

    # What there is so far

    @property
    def complete(self) -> bool:
        """Whether all calls that can have a slot have one."""
        return all(len(row) == count for row, count in zip(self.best, self.demand.tolist(), strict=True))

    @property
    def placed(self) -> int:
        """How many calls have a slot."""
        return sum(len(row) for row in self.best)

    @property
    def span(self) -> int:
        """Highest slot in use less the lowest."""
        return highest(self.best) - lowest(self.best)

    def score(self, calls: Calls) -> tuple[int, ...]:
        """How many are placed at each importance, highest first."""
        levels = sorted(set(self.importance.tolist()), reverse=True)
        served = np.array([len(row) for row in calls], np.int64) * self.weight
        return tuple(int(served[self.importance == level].sum()) for level in levels)

    def offer(self, calls: Calls) -> bool:
        """Keep clean calls if there are more of them, or as many on a shorter row; whether they are kept."""
        if (new := self.score(calls)) < (old := self.score(self.best)):
            return False
        if new == old and (not sum(new) or highest(calls) - lowest(calls) >= self.span):
            return False
        self.best = calls
        self.tell(self)
        return True

    def slots_of_all(self, network: Network) -> Calls:
        """Return the slots of the best set, where one stands for all calls of a group also those of the others."""
        return tuple(
            row * int(count) if one else row
            for row, one, count in zip(self.best, self.shared.tolist(), network.demand.tolist(), strict=True)
        )

    # Steps of the search

    def row(self, slots: int, *, first: int = 0, cyclic: bool = False) -> Row:
        """Return an empty row of so many slots that begins at slot `first`."""
        return Row(
            self.separation,
            slots=slots,
            most=int(self.demand.max(initial=0)),
            may_use=None if self.may_use is None or cyclic else self.may_use[:, first : first + slots],
            cyclic=cyclic,
            pause=self.pause,
        )

    def shuffled(self, demand: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return so many calls of each group in an order by lot, important groups first."""
        order = self.lots.permutation(np.repeat(np.arange(len(demand)), demand))
        return order[np.argsort(-self.importance[order], kind="stable")]

    def place_all(self) -> None:
        """Find a slot for all calls, or for as many as can be."""
        if self.may_use is None:
            self._first_fit()
            return
        while self.level < _LEVELS and not self.complete:
            before = self.best
            self._place_what_fits(self.row(self.may_use.shape[1]))
            self.level += self.best == before
        self.level = 0

    def _place_what_fits(self, row: Row) -> None:
        """Place all, mend, take out what stays broken, then exchange what lacks for what is in its way; offer both."""
        row.place(self.shuffled(self.demand))
        try:
            row.mend(moves=self._moves(), random=self.random, tenure=_TENURE)
        finally:  # also where the search ends here: what is clean by now is kept
            row.thin_out(self.worth)
            row.place(self.shuffled(self.demand - row.demand), only_clean=True)
            self.offer(row.as_calls())
        try:
            row.exchange(moves=self._moves(), value=self.value, asked=self.demand, random=self.random)
        finally:
            self.offer(row.as_calls())

    def _first_fit(self) -> None:
        """Give each call the lowest slot that is clean, on a row that grows until all fit."""
        slots = self.bound.span + 1
        while True:
            row = self.row(slots)
            row.place(self.shuffled(self.demand), only_clean=True)
            if np.array_equal(row.demand, self.demand):
                self.offer(row.as_calls())
                return
            slots *= 2

    def _moves(self) -> int:
        """Return the moves of an attempt: twice as many at each level."""
        return (_MOVES + _MOVES_PER_CALL * int(self.demand.sum())) << self.level

    def shorten(self) -> None:
        """Look for shorter rows: halve the distance to the bound first, then by levels of more moves."""
        while self._exhaust(_NODES):
            pass
        self._halve()
        while self.level < _LEVELS and self.span > self.bound.span:
            before = self.span
            self._exhaust(_NODES << self.level)
            for start in (self._squeezed, self._fresh, *([self._repeated] if self._repeats() else [])):
                for shorter in self._steps():
                    if self._attempt(self.span - shorter, start):
                        self._go_on()
            self.level += self.span == before

    def _halve(self) -> None:
        """Try the span half way to the bound, and so on."""
        start = self._repeated if self._repeats() else self._fresh
        low = self.bound.span
        while low < self.span:
            target = (low + self.span - 1) // 2
            if not self._attempt(target, start):
                low = target + 1

    def _go_on(self) -> None:
        """Take slots out of the best row as long as it can be mended."""
        while self._attempt(self.span - 1, self._squeezed):
            pass

    def _steps(self) -> list[int]:
        """Return by how much shorter rows are tried: one slot, and half the way to the bound but no more than 1 %."""
        half = (self.span - self.bound.span + 1) // 2
        return sorted({1, max(1, min(half, self.span // 100))}, reverse=True)

    def _exhaust(self, nodes: int) -> bool:
        """Where there are few calls, let exhaustive search find a shorter row (True) or prove that there is none."""
        if self.demand.sum() > _EXHAUSTED_CALLS or self.span <= self.bound.span:
            return False
        verdicts = []
        firsts = self._firsts(self.span, every=True)
        for first in firsts:
            window = None if self.may_use is None else self.may_use[:, first : first + self.span]
            part = Network(demand=self.demand, separation=self.separation, may_use=window)
            found = placeable(expanded(part, slots=self.span), effort=nodes // len(firsts), cancelled=self._polled)
            if found.verdict:
                rows = np.split(np.array(found.carriers_hz, np.int64) + first, np.cumsum(self.demand)[:-1])
                return self.offer(as_calls(rows))
            verdicts.append(found.verdict)
            self.pause(found.nodes)
        if all(verdict is False for verdict in verdicts):
            self.bound = SpanBound(span=self.span, method="exact search")
        return False

    def _polled(self) -> bool:
        self.pause(0)
        return False

    def _attempt(self, span: int, start: Callable[[int, int], Row]) -> bool:
        """Try to place all calls with this span, at each place where the row may begin; whether that is done."""
        if span < self.bound.span:
            return False
        self.attempts += 1
        firsts = self._firsts(span + 1)
        moves = max(_FEWEST_MOVES, self._moves() // max(1, len(firsts)))
        for first in firsts:
            row = start(span + 1, first)
            if not np.array_equal(row.demand, self.demand):
                continue
            if row.mend(moves=moves, random=self.random, tenure=_TENURE):
                return self.offer(tuple(tuple(first + slot for slot in calls) for calls in row.as_calls()))
        return False

    def _firsts(self, slots: int, *, every: bool = False) -> list[int]:
        """Return where a row of so many slots may begin: all places, or some and others at the next attempt."""
        if self.may_use is None:
            return [0]
        places = np.cumsum(np.pad(self.may_use, ((0, 0), (1, 0))), axis=1)
        enough = np.all(places[:, slots:] - places[:, :-slots] >= self.demand[:, None], axis=0)
        firsts: list[int] = np.flatnonzero(enough).tolist()
        stride = 1 if every else max(1, -(-len(firsts) // _WINDOWS))
        return firsts[self.attempts % stride :: stride]

    # Starts

    def _fresh(self, slots: int, first: int) -> Row:
        row = self.row(slots, first=first)
        row.place(self.shuffled(self.demand))
        return row

    def _squeezed(self, slots: int, first: int) -> Row:
        return self._fitted(self.best, slots, first)

    def _fitted(self, calls: Calls, slots: int, first: int) -> Row:
        """Return calls on a shorter row: without the slots missed least, or without its ends where slots differ."""
        row = self.row(slots, first=first)
        if self.may_use is None:
            first = lowest(calls)
            calls = _shorter(self.row(highest(calls) - first + 1), _moved(calls, -first), slots)
            first = 0
        row.load(tuple(tuple(s - first for s in group if first <= s < first + slots) for group in calls))
        row.place(self.shuffled(self.demand - row.demand))
        return row

    def _repeated(self, slots: int, first: int) -> Row:
        """Solve a part of the demand on a round row and repeat it, in another number of parts at each attempt."""
        repeats = self._repeats()
        times = repeats[self.attempts % len(repeats)]
        period = -(-slots // times)
        row = self.row(period, cyclic=True)
        row.place(self.shuffled(-(-self.demand // times)))
        row.mend(moves=self._moves(), random=self.random, tenure=_TENURE)
        return self._fitted(_unrolled(row.as_calls(), period, times, self.demand), slots, first)

    def _repeats(self) -> list[int]:
        """Return into how many equal parts the demand comes with little waste, those with least first."""
        if self.may_use is not None:
            return []
        calls = int(self.demand.sum())
        shortest = 2 * int(self.separation.max(initial=1)) - 1
        most = min(int(self.demand.max(initial=0)), self.bound.span // shortest)
        wasted = {times: int((-self.demand % times).sum()) for times in range(2, most + 1)}
        fitting = [times for times, waste in wasted.items() if waste * _WASTE <= calls]
        return sorted(fitting, key=lambda times: (wasted[times], -times))[:_REPEATS]


def _unrolled(calls: Calls, period: int, times: int, demand: NDArray[np.int64]) -> Calls:
    """Return calls repeated `times` times, each group no more than it asks for."""
    every = [[slot + period * turn for turn in range(times) for slot in row] for row in calls]
    return tuple(tuple(row[:count]) for row, count in zip(every, demand.tolist(), strict=True))


def _shorter(row: Row, calls: Calls, slots: int) -> Calls:
    """Return the calls that are left when the row has lost its least missed slots one by one."""
    while row.slots > slots:
        row.load(calls)
        gone = row.easiest_slot()
        calls = tuple(tuple(s - (s > gone) for s in group if s != gone) for group in calls)
        row = row.like(row.slots - 1)
    return calls


def _moved(calls: Calls, by: int) -> Calls:
    return tuple(tuple(slot + by for slot in row) for row in calls)

"""What members of given kinds add to the count arrays and read from them: relations turned into rows, exactly in Hz.

A relation of three members, one of them new, is an interval on a multiple of the new one's place: the two others add it
to a *direct* array. A relation of four is cut (`engines.cuts`): two members add an interval to a *shifted* array, and
the third (the reader) shifts that array when the new one looks.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.engines.cuts import Cut, Part, Three, alike, cuts, worked_family

__all__ = ["Kind", "Tables", "work_out"]

_Asks = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """Members alike in what they ask, whether they send (1 = only together with ours, 2 = always), and their offset.

    `given` marks members that are not ours to move.
    """

    asks: _Asks
    sends: int
    given: bool
    off_hz: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tables:
    """Rows for the kernel (see there), and how long one context's counts are."""

    ops: NDArray[np.int64]
    ops_start: NDArray[np.int64]
    direct: NDArray[np.int64]
    direct_start: NDArray[np.int64]
    reads: NDArray[np.int64]
    reads_start: NDArray[np.int64]
    twin: NDArray[np.int64]
    size: int


# An array: what it is indexed by (coefficients of the new one and of the reader), who may read it, its residue in Hz.
_Array = tuple[tuple[int, int], tuple[object, ...], int]
_Row = tuple[_Array, int, int, int, int, int]
# The two that are already there: the place that each takes in the relation, and its kind.
_Pair = tuple[tuple[Part, Kind], tuple[Part, Kind]]


@dataclass(frozen=True, slots=True)
class _Slot:
    """Who reads an array, what its victim asks, the new one's (and the reader's) part of the residue, the clearance."""

    readers: tuple[object, ...]
    asks: _Asks
    residue_hz: int
    width_hz: int


def _pairs(one: Part, two: Part, x: Kind, j: Kind) -> Iterator[_Pair]:
    """Yield the ways in which x and j take two places of a relation."""
    for px, pj in ((one, two),) if alike(one, two) else ((one, two), (two, one)):
        if (x.sends or not px[2]) and (j.sends or not pj[2]):
            yield (px, x), (pj, j)


def work_out(
    families: tuple[str, ...],
    kinds: list[Kind],
    new: list[int],
    *,
    step_hz: int,
    span: int,
    least_near_hz: int,
    pause: Callable[[], None] = lambda: None,
) -> Tables:
    """Return rows for all pairs of kinds.

    Parameters
    ----------
    families
        Families that any victim asks about.
    kinds, new
        Kinds of all members, and which of them (indices) can be the new one.
    step_hz, span
        Size of a cell, and the largest cell.
    least_near_hz
        No two members are ever closer than this; what only closer ones would break needs no care.
    pause
        Called all the time; it raises to end the work, which grows with about the fourth power of the kinds.
    """
    return _Builder(families, kinds, new, step_hz, span, least_near_hz, pause).build()


@dataclass(slots=True)
class _Builder:
    families: tuple[str, ...]
    kinds: list[Kind]
    new: list[int]
    step_hz: int
    span: int
    least_near_hz: int
    pause: Callable[[], None]
    extent: dict[_Array, tuple[int, int]] = field(default_factory=dict)
    new_kinds: list[Kind] = field(default_factory=list)
    one_ask: bool = False
    all_alike: bool = False
    some_with_ours: bool = False

    def __post_init__(self) -> None:
        self.new_kinds = [self.kinds[k] for k in self.new]
        asked = {kind.asks for kind in self.new_kinds}
        self.one_ask = len(asked) == 1 and all(kind.asks in (*asked, ()) for kind in self.kinds)
        self.all_alike = len({kind.asks for kind in self.kinds}) == 1 and all(kind.sends for kind in self.kinds)
        self.some_with_ours = any(kind.sends == 1 for kind in self.kinds)

    def build(self) -> Tables:
        pairs = [(x, j) for x in self.kinds for j in self.kinds]
        ops = [self._merged(x, j) for x, j in pairs]
        for x, j in pairs:  # every array that somebody marks also reaches as far as anybody reads
            for array in [*self._direct_arrays(x), *self._read_arrays(x, j)]:
                if array in self.extent:
                    self._reach((array, 0, -array[0][0], -array[0][1], 0, 0))
        base: dict[_Array, int] = {}
        size = 0
        for array, (low, high) in self.extent.items():
            base[array] = size - low
            size += high - low + 1
        rows = [[(base[row[0]], *row[1:], weight) for row, weight in merged.items()] for merged in ops]
        direct = [[(base[a], a[0][0]) for a in self._direct_arrays(k) if a in base] for k in self.kinds]
        reads = [[(base[a], *a[0]) for a in self._read_arrays(x, j) if a in base] for x, j in pairs]
        own = [row for row in direct for _ in self.kinds]
        ops_rows, ops_start = _stacked(rows, 7)
        direct_rows, direct_start = _stacked(direct, 2)
        read_rows, reads_start = _stacked(reads, 3)
        return Tables(
            ops=ops_rows,
            ops_start=ops_start,
            direct=direct_rows,
            direct_start=direct_start,
            reads=read_rows,
            reads_start=reads_start,
            twin=np.array([_own(r, d, o) for r, d, o in zip(reads, own, rows, strict=True)], np.int64),
            size=max(1, size),
        )

    def _merged(self, x: Kind, j: Kind) -> dict[_Row, int]:
        found: dict[_Row, int] = defaultdict(int)
        for family in self.families:
            asked = worked_family(family)
            for four in asked.fours:
                for cut in cuts(four):
                    for row in self._four(family, four, cut, x, j):
                        found[row] += cut.weight
            for three in (*asked.threes, *asked.near):
                for place in range(3):
                    if not any(alike(three.parts[place], three.parts[p]) for p in range(place)):
                        for row, weight in self._three(three, place, x, j):
                            found[row] += weight
        kept = {row: weight for row, weight in found.items() if weight and (row[1] > 1 or row[4] + row[5] >= 0)}
        for row in kept:
            self._reach(row)
        return kept

    def _reach(self, row: _Row) -> None:
        """Make an array long enough for a row."""
        array, a, cx, cj, below, above = row
        ends = [cx * p + cj * q for p in (0, self.span) for q in (0, self.span)]
        a = max(1, a)
        low, high = -((max(ends) + below) // a), (above - min(ends)) // a
        before = self.extent.get(array, (0, 0))
        self.extent[array] = (min(before[0], low, high), max(before[1], low, high))

    def _three(self, three: Three, place: int, x: Kind, j: Kind) -> Iterator[tuple[_Row, int]]:
        new = three.parts[place]
        one, two = (three.parts[p] for p in range(3) if p != place)
        for pair in _pairs(one, two, x, j):
            makes = [kind for part, kind in pair if part[2]]
            if not new[2] and all(kind.given for kind in makes) and any(kind.sends == 1 for kind in makes):
                continue  # other users that make nothing without us
            for slot in self._slots(three.family, new, pair):
                if 0 in (pair[0][0][0], pair[1][0][0]) and abs(new[0]) * self.least_near_hz >= slot.width_hz:
                    continue  # spacing keeps them further apart
                close = three.like is not None and dict(slot.asks).get(three.like, 0) >= slot.width_hz
                if weight := (three.whole if close else three.weights)[place]:
                    yield self._row((new[0], 0), slot, pair), weight

    def _four(self, family: str, four: tuple[Part, ...], cut: Cut, x: Kind, j: Kind) -> Iterator[_Row]:
        new, reader = four[cut.new], four[cut.reader]
        offs = dict.fromkeys(kind.off_hz for kind in self.kinds if kind.sends or reader[1])
        for pair in _pairs(four[cut.pair[0]], four[cut.pair[1]], x, j):
            self.pause()
            shifted = [
                replace(slot, residue_hz=slot.residue_hz + reader[0] * off)
                for slot in self._slots(family, new, pair, reader)
                for off in offs
            ]
            for slot in dict.fromkeys(shifted):
                yield self._row((new[0], reader[0]), slot, pair)

    def _slots(self, family: str, new: Part, pair: _Pair, reader: Part | None = None) -> Iterator[_Slot]:
        """Yield who may read what a pair marks, with what clearance, for each offset that the new one may have."""
        if new[1]:
            given = 0
            if reader is not None and all(kind.given for _, kind in pair):
                given = min(kind.sends for _, kind in pair)
            victims = [(self._readers("new", kind.asks, given), kind.asks, kind.off_hz) for kind in self.new_kinds]
        elif reader is not None and reader[1]:
            every = dict.fromkeys(kind.asks for kind in self.kinds)
            victims = [(self._readers("reader", asks), asks, kind.off_hz) for asks in every for kind in self.new_kinds]
        else:
            asks = next(kind.asks for part, kind in pair if part[1])
            victims = [(self._readers("known"), asks, kind.off_hz) for kind in self.new_kinds]
        for readers, asks, off_hz in dict.fromkeys(victims):
            if width_hz := dict(asks).get(family, 0):
                yield _Slot(readers, asks, new[0] * off_hz, width_hz)

    def _readers(self, who: str, asks: _Asks = (), given: int = 0) -> tuple[object, ...]:
        """Return who may read an array; where all that ask for anything ask the same there is only one."""
        given = given if self.some_with_ours else 0
        if self.one_ask and not given and (who != "reader" or self.all_alike):
            return ("all",)
        return (who, asks, given) if who != "known" else ("known",)

    def _row(self, index: tuple[int, int], slot: _Slot, pair: _Pair) -> _Row:
        """Return the row for |index * places + residue + px x + pj j| < width, with the new place's sign made plus."""
        (px, x), (pj, j) = pair
        residue, width = slot.residue_hz, slot.width_hz
        sign = 1 if index[0] > 0 else -1
        a = math.gcd(*index) if index[1] else 1
        rest = sign * (px[0] * x.off_hz + pj[0] * j.off_hz)
        key = (sign * index[0] // a, sign * index[1] // a)
        residue = sign * residue // a
        below = (a * residue + rest + width - 1) // self.step_hz
        above = (width - 1 - a * residue - rest) // self.step_hz
        return (key, slot.readers, residue), a, sign * px[0], sign * pj[0], below, above

    def _direct_arrays(self, k: Kind) -> list[_Array]:
        indices = sorted({array[0] for array in self.extent if array[0][1] == 0})
        slots = dict.fromkeys((self._readers("known"), self._readers("new", k.asks)))
        return [(index, slot, index[0] * k.off_hz) for index in indices for slot in slots]

    def _read_arrays(self, x: Kind, j: Kind) -> list[_Array]:
        indices = sorted({array[0] for array in self.extent if array[0][1] != 0})
        slots: dict[tuple[object, ...], None] = {}
        if j.sends:
            slots[self._readers("known")] = None
            given = (0, 1, 2) if not j.given else (0, 2) if j.sends == 2 else (0,)
            for level in given:
                slots[self._readers("new", x.asks, level)] = None
        slots[self._readers("reader", j.asks)] = None
        return [(index, slot, index[0] * x.off_hz + index[1] * j.off_hz) for index in indices for slot in slots]


def _own(reads: Sequence[tuple[int, ...]], direct: Sequence[tuple[int, ...]], rows: Sequence[tuple[int, ...]]) -> int:
    """Return what a pair marks exactly where one of them reads, itself or through the other."""
    places = {*reads, *((base, a, 0) for base, a in direct)}
    return sum(row[-1] for row in rows if row[1] == 1 and (row[0], -row[2], -row[3]) in places)


def _stacked(groups: Sequence[Sequence[tuple[int, ...]]], width: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    start = np.cumsum([0, *(len(group) for group in groups)]).astype(np.int64)
    flat = list(itertools.chain.from_iterable(groups))
    return np.array(flat, np.int64).reshape(-1, width), start

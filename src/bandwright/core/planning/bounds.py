"""Upper bounds: how many members can be placed together at most, by arguments that need no search.

Every bound here is never below the truth, for any problem: mixed classes, contexts, given carriers. Given carriers
count only through the candidates that they close.

**Open candidates.** A member without a clean candidate is not placed.

**Spacing.** Members that all keep at least s to one another hold at most as many carriers as points s apart can be
chosen from the union of their candidates; taking the leftmost each time finds that number.

**Counting differences** (after P. Erdos and P. Turan, J. London Math. Soc. 16 (1941), and B. Lindstrom, J. Comb.
Theory 6 (1969)). With f_a + f_b - f_c - f_d = (f_a - f_c) - (f_d - f_b), clearances of `A+B-C` keep the differences of
carriers w apart; two differences that share an outer carrier are s apart by spacing, two that meet in the middle by
`2A-B` and its relatives. So M differences add up to at least M s + w M (M - 1) / 2. In one block of length L the
differences of order r (between a carrier and the r-th after it) add up to at most r L less what the r - 1 outermost
carriers on each side take away. Orders 1 to R together, for the best R, bound the number of carriers.

**Least spans.** For alike rules a short search (`kernels.ruler`, a fixed number of nodes) finds the least spans of few
carriers: no shorter than counting says, and for rules without `A+B-C` much longer. In any set k neighbours span at
least that of k carriers, so many carriers need the sum over groups of neighbours that share their end carriers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.groups import Groups, group_members, open_carriers
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.rulers import Keeps, Rulers, Widths
from bandwright.core.planning.spans import least_spans

__all__ = ["Bound", "upper_bound"]

_MOST_PAIRS = 300  # of given carriers, whose products are looked at here
_BLOCK_GAPS = 6
_NODES = 40_000  # of the search for least spans: about 10 ms
_MOST_MARKS = 24
_OPEN = "open candidates"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """No more than `upper_bound` members can be placed together, by the argument that `method` names."""

    upper_bound: int
    method: str


def upper_bound(problem: Problem, members: Sequence[int] | None = None) -> Bound:
    """Return how many of these wanted members (all of them by default) can be placed together at most."""
    chosen = range(len(problem.wanted)) if members is None else members
    groups = group_members(problem, chosen)
    return _Bounds(groups, open_carriers(groups, most_pairs=_MOST_PAIRS)).whole()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rules:
    """What some classes keep among themselves, in units of the raster of their candidates."""

    spacing: int
    apart: int
    middle: int


class _Bounds:
    """The classes of a problem with their open candidates."""

    def __init__(self, groups: Groups, open_hz: tuple[NDArray[np.int64], ...]) -> None:
        self.groups = groups
        self.open_hz = open_hz
        self.sizes = [len(c) if len(hz) else 0 for c, hz in zip(groups.classes, open_hz, strict=True)]
        self.apart = groups.apart_hz()
        self.known: dict[tuple[int, ...], Bound] = {}

    def whole(self) -> Bound:
        """Return the best bound for all classes together."""
        classes = [c for c, size in enumerate(self.sizes) if size]
        best = Bound(upper_bound=sum(self.sizes), method=_OPEN)
        for runs in self._orders(classes):
            for parts in self._partitions(runs):
                bounds = [self._chain(part) for part in parts]
                total = sum(bound.upper_bound for bound in bounds)
                if total < best.upper_bound:
                    words = {bound.method for bound in bounds} - {_OPEN}
                    best = Bound(upper_bound=total, method=" and ".join(sorted(words)))
        return best

    def _orders(self, classes: list[int]) -> Iterator[list[list[int]]]:
        """Yield classes in runs of one strictness, the strictest first: by what they keep, and by what they hear."""
        clear = self.groups.rules["clear"]
        least = np.where(self.apart > 0, self.apart, np.iinfo(np.int64).max).min(axis=1, initial=np.iinfo(np.int64).max)
        yield _runs(classes, [(-int(hz),) for hz in least])
        yield _runs(classes, [tuple((-row).tolist()) for row in clear])

    def _partitions(self, runs: list[list[int]]) -> Iterator[list[list[list[int]]]]:
        """Yield ways to split classes into parts to be bounded apart: not at all, and by context, the largest first.

        Each class is in one part of each way, also one that is in no context.
        """
        yield [runs]
        mask = self.groups.rules["mask"]
        order = [c for run in runs for c in run]
        keys = [(word, bit) for word in range(mask.shape[1]) for bit in range(63)]
        inside = {key: {c for c in order if mask[c, key[0]] >> key[1] & 1} for key in keys}
        largest = sorted((key for key in keys if inside[key]), key=lambda k: -sum(self.sizes[c] for c in inside[k]))
        if len(largest) < 2:
            return
        taken: set[int] = set()
        parts = []
        for key in largest:
            part = [[c for c in run if c in inside[key] and c not in taken] for run in runs]
            taken |= inside[key]
            parts.append([run for run in part if run])
        alone = [[c for c in run if c not in taken] for run in runs]  # in no context: nothing but offsets binds them
        parts.append([run for run in alone if run])
        yield parts

    def _chain(self, runs: list[list[int]]) -> Bound:
        """Bound the runs one after another: each by itself beside those before, or all up to it together."""
        total = Bound(upper_bound=0, method=_OPEN)
        before: list[int] = []
        for run in runs:
            own = self._together(run)
            before = before + run
            joint = self._together(before)
            summed = total.upper_bound + own.upper_bound
            words = {total.method, own.method} - {_OPEN}
            total = Bound(upper_bound=summed, method=" and ".join(sorted(words)) or _OPEN)
            total = joint if joint.upper_bound < total.upper_bound else total
        return total

    def _together(self, classes: list[int]) -> Bound:
        """Bound some classes by spacing and by counting, with the rules that all of them keep."""
        key = tuple(sorted(classes))
        if key not in self.known:
            self.known[key] = self._bound(classes)
        return self.known[key]

    def _bound(self, classes: list[int]) -> Bound:
        size = sum(self.sizes[c] for c in classes)
        nothing = Bound(upper_bound=size, method=_OPEN)
        if size < 2 or self._spacing(classes) <= 0:
            return nothing
        carriers = self.open_hz[classes[0]]
        if len(classes) > 1:
            carriers = np.unique(np.concatenate([self.open_hz[c] for c in classes]))
        raster = int(np.gcd.reduce(carriers - carriers[0])) or 1
        cells = (carriers - carriers[0]) // raster
        rules = self._rules(classes, raster)
        best = nothing
        counts = {"spacing": _points_apart(cells, rules.spacing, size)}
        if rules.middle:
            counts["counting differences"] = _by_spans(cells, rules, min(size, counts["spacing"]), (0, 0))
        if keeps := self._keeps(classes, rules, raster):
            known = _proven_spans(keeps, int(cells[-1]), min(size, _MOST_MARKS))
            counts["least spans"] = _by_spans(cells, rules, min(size, *counts.values()), known)
        for method, count in counts.items():
            if count < best.upper_bound:
                best = Bound(upper_bound=count, method=method)
        return best

    def _keeps(self, classes: list[int], rules: _Rules, raster: int) -> _Alike | None:
        """Return what all of the classes keep, where they hear the same products in a common context."""
        clear, mask = self.groups.rules["clear"][classes], self.groups.rules["mask"][classes]
        if np.any(clear != clear[0]) or not clear.any() or not np.bitwise_and.reduce(mask, axis=0).any():
            return None
        keeps = Widths(self.groups, classes[:1]).keeps((0,), raster)
        return _Alike(
            spacing=rules.spacing,
            apart=keeps.apart,
            middle=keeps.middle,
            rows=tuple(map(tuple, keeps.rows.tolist())),
            four=tuple(map(tuple, keeps.four.tolist())),
            four_width=tuple(keeps.four_width.tolist()),
        )

    def _spacing(self, classes: list[int]) -> int:
        """Return what any two members of these classes keep, Hz; 0 where some keep nothing."""
        kept = self.apart[np.ix_(classes, classes)]
        own = np.array([len(self.groups.classes[c]) > 1 for c in classes])
        pairs = ~np.eye(len(classes), dtype=np.bool_) | np.diag(own)
        return int(kept[pairs].min(initial=np.iinfo(np.int64).max))

    def _rules(self, classes: list[int], raster: int) -> _Rules:
        """Return what any members of these classes keep, rounded up to the raster on which all differences lie."""
        spacing = self._spacing(classes)
        mask = np.bitwise_and.reduce(self.groups.rules["mask"][classes], axis=0)
        if not mask.any():
            return _Rules(spacing=-(-spacing // raster), apart=0, middle=0)
        asked = [dict(self.groups.problem.clearance_of(self.groups.classes[c][0])) for c in classes]
        sizes = [len(self.groups.classes[c]) for c in classes]
        outer = _nth_smallest([max(a.get("2A-B", 0), a.get("2A+B-2C", 0)) for a in asked], sizes, 2)
        inner = _nth_smallest([max(a.get("A+B-C", 0), a.get("3A-B-C", 0)) for a in asked], sizes, 1)
        among_four = _nth_smallest([a.get("A+B-C", 0) for a in asked], sizes, 4)
        middle = max(outer, inner)
        up = [-(-value // raster) for value in (spacing, min(spacing, middle, among_four), middle)]
        return _Rules(spacing=up[0], apart=up[1], middle=up[2])


def _runs(classes: list[int], keys: Sequence[tuple[int, ...]]) -> list[list[int]]:
    """Return classes in runs of equal keys, in the order of the keys."""
    found: dict[tuple[int, ...], list[int]] = {}
    for c in sorted(classes, key=lambda c: (keys[c], c)):
        found.setdefault(keys[c], []).append(c)
    return list(found.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Alike:
    """`Keeps` of alike members as a key: equal rules are searched once."""

    spacing: int
    apart: int
    middle: int
    rows: tuple[tuple[int, ...], ...]
    four: tuple[tuple[int, ...], ...]
    four_width: tuple[int, ...]


@lru_cache(maxsize=256)
def _proven_spans(alike: _Alike, length: int, most: int) -> tuple[int, ...]:
    """Return least spans of 0, 1, ... carriers, as far as a fixed number of nodes finds them, up to `length`."""
    keeps = Keeps(
        spacing=alike.spacing,
        apart=alike.apart,
        middle=alike.middle,
        rows=np.array(alike.rows, np.int64).reshape(-1, 3),
        four=np.array(alike.four, np.int64).reshape(-1, 4),
        four_width=np.array(alike.four_width, np.int64),
    )
    rulers = Rulers(keeps, length)
    rulers.left = _NODES
    next(rulers.measure(most, quota=_NODES), None)
    refuted = rulers.last.finished and rulers.last.cells is None
    return (*rulers.spans, length + 1) if refuted else tuple(rulers.spans)


def _nth_smallest(values: list[int], sizes: list[int], n: int) -> int:
    """Return the n-th smallest value over members; any n members hold one that is at least so large."""
    for value, size in sorted(zip(values, sizes, strict=True)):
        n -= size
        if n <= 0:
            return value
    return max(values)


def _points_apart(cells: NDArray[np.int64], spacing: int, most: int) -> int:
    """Return how many cells can be chosen with `spacing` between any two, at most `most`."""
    count = at = 0
    while at < len(cells) and count < most:
        count += 1
        at = int(np.searchsorted(cells, cells[at] + spacing))
    return count


def _by_spans(cells: NDArray[np.int64], rules: _Rules, most: int, known: tuple[int, ...]) -> int:
    """Bound the number of carriers on these cells by the spans that so many need, block by block and all together."""
    spans = least_spans(most, spacing=rules.spacing, apart=rules.apart, middle=rules.middle, known=known)
    best = most
    for lengths in _blocks(cells):
        apart = sum(int(np.searchsorted(spans, length, side="right")) - 1 for length in lengths)
        best = min(best, apart)
        while best > 1 and rules.apart and _too_many(best, lengths, spans, rules):
            best -= 1
    return best


def _blocks(cells: NDArray[np.int64]) -> Iterator[list[int]]:
    """Yield the lengths of blocks that the cells fall into, for some widths of the gap that parts two blocks."""
    gaps = np.diff(cells)
    widths = np.unique(gaps)[::-1]
    yield [int(cells[-1] - cells[0])]
    for width in widths[:_BLOCK_GAPS].tolist():
        cuts = np.flatnonzero(gaps >= width)
        if len(cuts) > 200:
            return
        starts, stops = np.append(0, cuts + 1), np.append(cuts, len(cells) - 1)
        yield (cells[stops] - cells[starts]).tolist()


def _too_many(count: int, lengths: list[int], spans: list[int], rules: _Rules) -> bool:
    """Whether `count` carriers in blocks of these lengths need larger differences than there is room for.

    Of `count` carriers in B blocks at least `count` - r B differences of order r lie within blocks.
    """
    differences = room = 0
    for order in range(1, count):
        more = count - order * len(lengths)
        if more <= 0:
            return False
        lost = 2 * sum(spans[2 : order + 1])
        differences += more
        room += sum(max(0, order * length - lost) for length in lengths)
        if differences * rules.spacing + rules.apart * (differences * (differences - 1) // 2) > room:
            return True
    return False

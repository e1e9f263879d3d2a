"""The exact search for a few classes that all meet, on `kernels.kinds`; also beside given carriers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.rulers import Rulers, Widths, closed_cells
from bandwright.engines.branching import Part
from bandwright.engines.ladder import Ladder, felt_by, raster_of
from bandwright.kernels import kinds

__all__ = ["KindSearch"]

_MOST_CELLS = 1 << 14
_MOST_CLASSES = 6
_MOST_GIVEN = 24
_QUOTA_SPANS = 100_000


class KindSearch(Ladder):
    """The search for members of a few classes that share a context and keep distances, on one raster."""

    cheaper = 8

    def __init__(self, part: Part, known_hz: NDArray[np.int64], *, limit: int, all_or_nothing: bool = False) -> None:
        super().__init__(part, known_hz, limit=limit, all_or_nothing=all_or_nothing)
        self.base_hz, self.raster_hz, self.length = raster_of(part)
        self.widths = Widths(part.groups, part.classes)
        self.inside = [part.groups.classes[c] for c in part.classes]
        self.relaxed = [
            (Rulers(self.widths.keeps(some, self.raster_hz), self.length), sum(len(self.inside[y]) for y in some))
            for some in self._strictest()
        ]
        self.rules = self._rules()
        self.closed = np.array(
            [closed_cells((hz - self.base_hz) // self.raster_hz, self.length) for hz in part.open_hz]
        )
        self.left = 0
        self.nodes_made = 0

    @staticmethod
    def fits(part: Part) -> bool:
        """Whether the search is made for this part."""
        classes, groups = list(part.classes), part.groups
        if len(classes) > _MOST_CLASSES or len(part.members) < 2 or len(felt_by(part)) > _MOST_GIVEN:
            return False
        if any(len(hz) == 0 for hz in part.open_hz) or raster_of(part)[2] >= _MOST_CELLS:
            return False
        apart = groups.apart_hz()[np.ix_(classes, classes)]
        alone = [len(groups.classes[c]) == 1 for c in classes]
        return bool(
            np.all((apart > 0) | np.diag(alone))
            and np.bitwise_and.reduce(groups.rules["mask"][classes], axis=0).any()
            and not groups.rules["far"][np.ix_(classes, classes)].any()
            and len({groups.problem.wanted[m].priority for m in part.members}) * groups.by_priority <= 1
        )

    def _strictest(self) -> list[list[int]]:
        """Return the classes of each degree of strictness or more, all of them last."""
        least = [int(self.widths.apart_hz[y].min()) for y in range(len(self.inside))]
        order = sorted(range(len(self.inside)), key=lambda y: (-int(self.widths.own[y]), -least[y], y))
        return [order[: n + 1] for n in range(len(order))]

    def _rules(self) -> dict[str, Any]:
        """Return what lies between members, and between them and given carriers, by the names of `kernels.kinds`."""
        groups, raster, widths = self.part.groups, self.raster_hz, self.widths
        rules, classes = groups.rules, self.part.classes
        rows = np.array(rules["three"], np.int64).reshape(-1, 3)
        own = -(-widths.own // raster)
        level = np.unique(own)
        other = ~np.array(widths.differences, np.bool_)
        felt = felt_by(self.part)
        given_hz = [groups.problem.fixed[k - len(groups.classes)].carrier_hz - self.base_hz for k in felt]
        least = self.relaxed[-1][0].keeps
        return {
            "spacing": max(1, least.spacing),
            "least": least.apart,
            "near": -(-widths.apart_hz // raster),
            "level": level,
            "level_of": np.searchsorted(level, np.maximum(own[:, None], own[None, :])),
            "own": own,
            "rows": np.ascontiguousarray(rows[:, [0, 2]]),  # one layout, also of no rows: one kernel
            "width": -(-widths.three // raster),
            "four": rules["four"][other],
            "four_width": -(-widths.four[other] // raster),
            "raster": raster,
            "given": np.array(given_hz, np.int64),
            "third": rules["three"],
            "third_width": widths.table("three", classes, classes, felt),
            "fourth": rules["four"],
            "fourth_width": widths.table("four", classes, classes, felt, felt),
            "fourth_mark": widths.table("four", classes, classes, felt, classes),
        }

    @property
    def _made(self) -> int:
        return self.nodes_made + sum(rulers.nodes for rulers, _ in self.relaxed)

    def _allow(self, nodes: int) -> None:
        self.left = nodes
        for rulers, _ in self.relaxed:
            rulers.left = nodes

    def _measure(self) -> Iterator[None]:
        """Find least spans under what all of some classes keep: any members of these classes need at least them."""
        for rulers, members in self.relaxed:
            if rulers.keeps.spacing > 0:
                yield from rulers.measure(min(members, self.most), quota=_QUOTA_SPANS)

    def _spans(self, marks: int) -> NDArray[np.int64]:
        """Return a lower bound for the span of 0, 1, ... members: among them are at least some of each strictness."""
        spans = np.zeros(marks + 2, np.int64)
        for rulers, members in self.relaxed:
            lower = rulers.lower(marks)
            outside = self.total - members
            spans[outside:] = np.maximum(spans[outside:], lower[: max(0, len(spans) - outside)])
        return spans

    def _look(self, marks: int, quota: int) -> Iterator[None]:
        count, words = len(self.inside), self.closed.shape[1]
        sets = np.zeros((marks + 1, count, words), np.uint64)
        sets[0] = self.closed
        best, best_kind = np.zeros(marks, np.int64), np.zeros(marks, np.int64)
        state = np.array([0, 0, 0, 0, self.length, 0], np.int64)
        arguments: dict[str, Any] = {
            **self.rules,
            "marks": marks,
            "lacking": np.array([len(inside) for inside in self.inside], np.int64),
            "spans": self._spans(marks),
            "closed": sets,
            "gone": np.zeros((marks + 1, len(self.rules["level"]), words), np.uint64),
            "low": np.zeros((marks + 1, words), np.uint64),
            "ahead": np.zeros(words, np.uint64),
            "any_closed": np.zeros(words, np.uint64),
            "pos": np.zeros(marks, np.int64),
            "kind": np.zeros(marks, np.int64),
            "cursor": np.zeros(marks + 1, np.int64),
            "turn": np.zeros(marks + 1, np.int64),
            "need": np.zeros(marks + 1, np.int64),
            "sums": np.zeros(marks * marks + 1, np.int64),
            "best": best,
            "best_kind": best_kind,
            "state": state,
        }
        while quota > 0 and not state[3]:
            if self.left <= 0:
                yield
            before = int(state[1])
            kinds.search_kinds(min(self.left, quota), **arguments)
            made = max(1, int(state[1]) - before)
            self.nodes_made += made
            self.left -= made
            quota -= made
            if state[5] > self.least:  # marks placed on the way are an answer for so many members
                self._take(best[: state[5]], best_kind[: state[5]])
        if state[3] and not state[2]:
            self.most = marks - 1

    def _take(self, cells: NDArray[np.int64], kind: NDArray[np.int64]) -> None:
        self.least = len(cells)
        self.best = np.full(self.total, -1, np.int64)
        for y, inside in enumerate(self.inside):
            hz = self.base_hz + cells[kind == y] * self.raster_hz
            seats = [self.part.members.index(member) for member in inside[: len(hz)]]
            self.best[seats] = hz

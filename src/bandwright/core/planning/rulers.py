"""Rulers of alike marks on `kernels.ruler`: what members keep on a raster, least spans, and one ruler at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.groups import Groups
from bandwright.core.planning.spans import least_spans
from bandwright.kernels import exact, ruler

__all__ = ["ENDLESS", "Keeps", "Looked", "Rulers", "Widths", "closed_cells"]

ENDLESS = 1 << 60
_DIFFERENCES = (-1, -1, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Keeps:
    """What marks of any kinds keep, in cells, by the names of `kernels.ruler`; `middle` as in `least_spans`."""

    spacing: int
    apart: int
    middle: int
    rows: NDArray[np.int64]
    four: NDArray[np.int64]
    four_width: NDArray[np.int64]


class Widths:
    """The largest clearance that members of some classes ask for in each relation, Hz.

    `three[m, y, x, j]` and `four[m, y, x, j, k]` belong to the rows of those names in the rules of the groups, with
    positions in `classes` in place of members; `own[y]` is what a class asks for in the relation (1, 1, -1, -1).
    """

    def __init__(self, groups: Groups, classes: Sequence[int]) -> None:
        self.groups = groups
        self.classes = tuple(classes)
        self.apart_hz = groups.apart_hz()[np.ix_(self.classes, self.classes)]
        self.three = self.table("three", self.classes, self.classes, self.classes)
        self.four = self.table("four", self.classes, self.classes, self.classes, self.classes)
        self.differences = [tuple(sorted(row)) == _DIFFERENCES for row in groups.rules["four"].tolist()]
        own = [self.four[self.differences, y, y, y, y].max(initial=0) for y in range(len(self.classes))]
        self.own = np.array(own, np.int64)

    def table(self, name: str, *kinds: Sequence[int]) -> NDArray[np.int64]:
        """Return the widths of all rows of a name over these kinds, one axis for each carrier of the relation."""
        rules = self.groups.rules
        new, x, j, k = (np.array(some, np.int64) for some in (*kinds, [0])[:4])
        table = np.zeros((len(rules[name]), len(new), len(x), len(j), len(k)), np.int64)
        exact.fill_widths(
            new,
            x,
            j,
            k,
            parts=len(kinds),
            who=rules[f"{name}_who"],
            start=rules[f"{name}_from"],
            classes=len(self.groups.classes),
            mask=rules["mask"],
            sends=rules["sends"],
            clear=rules["clear"],
            table=table,
        )
        return table.reshape(table.shape[: 1 + len(kinds)])

    def keeps(self, kinds: Sequence[int], raster: int) -> Keeps:
        """Return what any members of these kinds (positions in `classes`) keep, in cells of the raster."""
        some = list(kinds)
        sizes = [len(self.groups.classes[self.classes[y]]) for y in some]
        pairs = [int(self.apart_hz[y, x]) for y in some for x in some if y != x or sizes[some.index(y)] > 1]
        spacing = _cells(min(pairs, default=0), raster)
        three = _least(self.three, some, raster)
        rows = [
            (cy, cj, width)
            for (cy, _, cj), width in zip(self.groups.rules["three"].tolist(), three, strict=True)
            if width and (cj > 0 or (cy - cj) * spacing < width)
        ]
        four = [
            (row, width)
            for row, width, trivial in zip(
                self.groups.rules["four"].tolist(), _least(self.four, some, raster), self.differences, strict=True
            )
            if width and not trivial
        ]
        return Keeps(
            spacing=spacing,
            apart=_cells(int(self.own[some].min()), raster),
            middle=max((width for cy, cj, width in rows if (cy, cj) == (1, 1)), default=0),
            rows=np.array(rows, np.int64).reshape(-1, 3),
            four=np.array([row for row, _ in four], np.int64).reshape(-1, 4),
            four_width=np.array([width for _, width in four], np.int64),
        )


def _cells(hz: int, raster: int) -> int:
    return -(-hz // raster)


def _least(table: NDArray[np.int64], kinds: list[int], raster: int) -> list[int]:
    """Return the smallest width in each row over these kinds, in cells."""
    return [_cells(int(row[np.ix_(*[kinds] * row.ndim)].min()), raster) for row in table]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looked:
    """The marks of a ruler, None where none is found so far; whether all has been searched; the most marks placed."""

    cells: NDArray[np.int64] | None
    finished: bool
    most: NDArray[np.int64]


def closed_cells(open_: NDArray[np.int64], length: int) -> NDArray[np.uint64]:
    """Return bits, set for each cell that is not open."""
    bits = np.ones(((length >> 6) + 1) * 64, np.uint8)
    bits[open_] = 0
    packed: NDArray[np.uint64] = np.packbits(bits, bitorder="little").view("<u8").astype(np.uint64)
    return packed


class Rulers:
    """Rulers under one set of rules, and what is known of their least spans."""

    def __init__(self, keeps: Keeps, length: int) -> None:
        self.keeps = keeps
        self.length = length
        self.spans = [0, 0]  # proven, for 0, 1, ... marks
        self.known: dict[int, NDArray[np.int64]] = {}  # rulers found by number of marks, the shortest so far
        self.last = Looked(cells=None, finished=False, most=np.zeros(0, np.int64))
        self.left = 0  # nodes until the next pause
        self.nodes = 0

    def look(
        self, marks: int, *, quota: int, closed: NDArray[np.uint64] | None = None, shrink: bool = False
    ) -> Iterator[None]:
        """Look for a ruler, with a pause wherever `self.left` is used up; `self.last` says what came of it."""
        words = (self.length >> 6) + 1
        anchored = closed is None
        sets = np.zeros((marks + 1, words), np.uint64)
        sets[0] = closed_cells(np.arange(self.length + 1), self.length) if closed is None else closed
        best = np.zeros(marks, np.int64)
        state = np.array([0, 0, 0, 0, self.length, 0], np.int64)
        arguments: dict[str, Any] = {
            "marks": marks,
            "shrink": shrink,
            "anchored": anchored,
            "spacing": self.keeps.spacing,
            "apart": self.keeps.apart,
            "rows": self.keeps.rows,
            "four": self.keeps.four,
            "four_width": self.keeps.four_width,
            "spans": self.lower(marks),
            "closed": sets,
            "gone": np.zeros((marks + 1, words), np.uint64),
            "ahead": np.zeros(words, np.uint64),
            "pos": np.zeros(marks, np.int64),
            "cursor": np.zeros(marks + 1, np.int64),
            "need": np.zeros(marks + 1, np.int64),
            "sums": np.zeros(marks * marks + 1, np.int64),
            "best": best,
            "state": state,
        }
        self.last = Looked(cells=None, finished=False, most=np.zeros(0, np.int64))
        while quota > 0 and not state[3]:
            if self.left <= 0:
                yield
            before = int(state[1])
            ruler.search_rulers(min(self.left, quota), **arguments)
            made = max(1, int(state[1]) - before)
            self.nodes += made
            self.left -= made
            quota -= made
            self.last = Looked(
                cells=best.copy() if state[2] else None, finished=bool(state[3]), most=best[: state[5]].copy()
            )
            if self.last.cells is not None and anchored:
                self.known[marks] = best - best[0]

    def lower(self, marks: int) -> NDArray[np.int64]:
        """Return a lower bound for the span of 0, 1, ..., marks + 1 marks."""
        k = self.keeps
        apart = min(k.spacing, k.apart)  # distances that share an outer mark are only that far apart
        return np.array(
            least_spans(marks + 1, spacing=k.spacing, apart=apart, middle=k.middle, known=self.spans), np.int64
        )

    def measure(self, most: int, *, quota: int) -> Iterator[None]:
        """Find least spans in turn, up to `most` marks, until one is not found within the quota or does not fit."""
        for marks in range(2, most + 1):
            yield from self.look(marks, quota=quota, shrink=True)
            if self.last.cells is None or not self.last.finished:
                return
            self.spans.append(int(self.known[marks][-1]))

"""The most members of one part, rung by rung: as many as are found and one more, until that is refuted.

A quick look for all of them comes first. Where effort does not reach so far, a number is refuted from above, so that
the bound comes down.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.rulers import ENDLESS, Rulers, Widths, closed_cells
from bandwright.engines.branching import Part

__all__ = ["Ladder", "RulerSearch", "felt_by", "raster_of"]

_MOST_CELLS = 1 << 16
_QUOTA_SPANS = 250_000
_QUOTA_RUNG = 1_000_000
_QUOTA_FIRST = 20_000


class Ladder(ABC):
    """A search that asks for one number of members after another.

    `cheaper` of its nodes count for one: they take so much less time than those of the general search.
    """

    cheaper = 16

    def __init__(self, part: Part, known_hz: NDArray[np.int64], *, limit: int, all_or_nothing: bool) -> None:
        self.part = part
        self.known_hz = known_hz
        self.total = len(part.members)
        self.least = self.total - 1 if all_or_nothing else int(np.sum(known_hz >= 0))
        self.most = max(self.least, min(limit, self.total))
        self.best: NDArray[np.int64] | None = None  # carriers, by member of the part
        self.steps = self._search()

    @abstractmethod
    def _measure(self) -> Iterator[None]:
        """Learn the least spans of fewer members."""

    @abstractmethod
    def _look(self, marks: int, quota: int) -> Iterator[None]:
        """Look for so many members; sets `least` and `best`, or `most`, where that is decided."""

    @property
    @abstractmethod
    def _made(self) -> int:
        """Nodes so far, of the cheap kind."""

    @abstractmethod
    def _allow(self, nodes: int) -> None:
        """Set how many nodes of the cheap kind may be searched until the next pause."""

    def _search(self) -> Iterator[None]:
        yield from self._look(self.most, _QUOTA_FIRST)
        if self.finished:
            return
        yield from self._measure()
        while self.least < self.most:
            before = (self.least, self.most)
            yield from self._look(self.least + 1, _QUOTA_RUNG)
            if (self.least, self.most) == before:
                yield from self._look(self.most, _QUOTA_RUNG)
            if (self.least, self.most) == before:
                yield from self._look(self.least + 1, ENDLESS)

    def go_on(self, nodes: int) -> bool:
        """Search on; returns whether there is more to do."""
        if nodes > 0 and not self.finished:
            self._allow(nodes * self.cheaper)
            next(self.steps, None)
        return not self.finished

    @property
    def finished(self) -> bool:
        """Whether nothing is left to search."""
        return self.least >= self.most

    @property
    def nodes(self) -> int:
        """Nodes so far, as many as would take that time in the general search."""
        return -(-self._made // self.cheaper)

    @property
    def all_placed(self) -> bool:
        """Whether the best set holds every member."""
        return self.best is not None and bool(np.all(self.best >= 0))

    @property
    def upper_bound(self) -> int:
        """How many members any set can hold at most."""
        return self.most

    @property
    def carriers_hz(self) -> NDArray[np.int64]:
        """The best set, one carrier for each member of the part."""
        return self.known_hz if self.best is None else self.best


def raster_of(part: Part) -> tuple[int, int, int]:
    """Return the first open carrier, the raster on which all lie, and the last cell on it."""
    carriers = np.concatenate(part.open_hz)
    base = int(carriers.min()) if carriers.size else 0
    raster = int(np.gcd.reduce(carriers - base)) or 1
    return base, raster, int((carriers - base).max(initial=0)) // raster


def felt_by(part: Part) -> list[int]:
    """Return the kinds of given carriers that make or feel products together with members of a part."""
    groups = part.groups
    mask, sends, clear = (groups.rules[name] for name in ("mask", "sends", "clear"))
    if not groups.problem.families():
        return []
    ours = np.bitwise_or.reduce(mask[list(part.classes)], axis=0)
    given = range(len(groups.classes), len(sends))
    return [k for k in given if (ours & mask[k]).any() and (sends[k] > 0 or clear[k].any())]


class RulerSearch(Ladder):
    """The search for alike members that no given carrier makes products with."""

    def __init__(self, part: Part, known_hz: NDArray[np.int64], *, limit: int, all_or_nothing: bool = False) -> None:
        super().__init__(part, known_hz, limit=limit, all_or_nothing=all_or_nothing)
        self.base_hz, self.raster_hz, length = raster_of(part)
        open_ = (part.open_hz[0] - self.base_hz) // self.raster_hz
        self.closed = None if len(open_) == length + 1 else closed_cells(open_, length)
        self.rulers = Rulers(Widths(part.groups, part.classes).keeps((0,), self.raster_hz), length)

    @staticmethod
    def fits(part: Part) -> bool:
        """Whether a part is alike members that keep a distance, on a raster, and feel no given carrier."""
        if len(part.classes) != 1 or len(part.members) < 2 or len(part.open_hz[0]) == 0 or felt_by(part):
            return False
        c = part.classes[0]
        apart = int(part.groups.apart_hz()[c, c])
        return apart > 0 and int(part.groups.rules["far"][c, c]) == 0 and raster_of(part)[2] < _MOST_CELLS

    @property
    def _made(self) -> int:
        return self.rulers.nodes

    def _allow(self, nodes: int) -> None:
        self.rulers.left = nodes

    def _measure(self) -> Iterator[None]:
        yield from self.rulers.measure(self.most, quota=_QUOTA_SPANS)
        done = len(self.rulers.spans) - 1
        if self.rulers.last.finished and self.rulers.last.cells is None:
            self.most = max(self.least, min(done, self.most))
        self._take_known()

    def go_on(self, nodes: int) -> bool:
        """Search on; returns whether there is more to do."""
        super().go_on(nodes)
        self._take_known()
        return not self.finished

    def _take_known(self) -> None:
        """Where all cells are alike any ruler found on the way is an answer."""
        longest = max(self.rulers.known, default=0) if self.closed is None else 0
        if longest > self.least:
            self._take(self.rulers.known[longest])

    def _take(self, cells: NDArray[np.int64]) -> None:
        self.least = len(cells)
        self.best = np.full(self.total, -1, np.int64)
        self.best[: len(cells)] = self.base_hz + cells * self.raster_hz

    def _look(self, marks: int, quota: int) -> Iterator[None]:
        for _ in self.rulers.look(marks, quota=quota, closed=self.closed):
            self._take_most()
            yield
        self._take_most()
        if self.rulers.last.finished and self.rulers.last.cells is None:
            self.most = marks - 1

    def _take_most(self) -> None:
        """Take marks placed on the way as an answer for so many members."""
        if len(self.rulers.last.most) > self.least:
            self._take(self.rulers.last.most)

"""A thinned waterfall: levels over time and frequency in a bounded number of rows and columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import numpy.typing as npt

from bandwright.core.sweep_grid import SweepGrid

__all__ = ["MOST_COLUMNS", "MOST_ROWS", "Moments", "Waterfall", "WaterfallKeeper", "joined_moments"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

MOST_ROWS = 512
MOST_COLUMNS = 2048

Moments = tuple[datetime | None, datetime | None]
"""When a sweep or row began and ended, as the file writes it; None where it does not say."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Waterfall:
    """The highest level of each cell: rows are consecutive sweeps, columns neighbouring bins; NaN where none was read.

    Row k holds `sweeps[k]` sweeps and runs over `moments[k]`; column c runs from `low_hz[c]` to `high_hz[c]`.
    """

    highest_db: npt.NDArray[np.float32]
    low_hz: Floats
    high_hz: Floats
    moments: tuple[Moments, ...]
    sweeps: tuple[int, ...]


@dataclass(slots=True)
class WaterfallKeeper:
    """Takes sweeps one by one; when its rows are full, two neighbours become one and later rows hold twice as many."""

    grid: SweepGrid
    _starts: Ints = field(init=False)
    _rows: list[npt.NDArray[np.float32]] = field(default_factory=list)
    _moments: list[Moments] = field(default_factory=list)
    _sweeps: list[int] = field(default_factory=list)
    _per_row: int = 1

    def __post_init__(self) -> None:
        self._starts = _column_starts(self.grid)

    def add(self, rows_db: Floats, moments: Sequence[Moments]) -> None:
        """Add sweeps (rows of dB on the grid, NaN for none) with their times."""
        thinned = np.fmax.reduceat(rows_db, self._starts, axis=1).astype(np.float32) if self.grid.size else rows_db
        for row, when in zip(thinned, moments, strict=True):
            if self._sweeps and self._sweeps[-1] < self._per_row:
                self._rows[-1] = np.fmax(self._rows[-1], row)
                self._moments[-1] = joined_moments(self._moments[-1], when)
                self._sweeps[-1] += 1
                continue
            if len(self._rows) == MOST_ROWS:
                self._halve()
            self._rows.append(row.copy())  # alone: a view would keep all rows that came with it
            self._moments.append(when)
            self._sweeps.append(1)

    def _halve(self) -> None:
        rows, moments, sweeps = self._rows, self._moments, self._sweeps
        self._rows = [np.fmax(one, two) for one, two in zip(rows[::2], rows[1::2], strict=True)]
        self._moments = [joined_moments(one, two) for one, two in zip(moments[::2], moments[1::2], strict=True)]
        self._sweeps = [one + two for one, two in zip(sweeps[::2], sweeps[1::2], strict=True)]
        self._per_row *= 2

    def moved_to(self, grid: SweepGrid) -> WaterfallKeeper:
        """Return the same rows on another grid that holds this one's bins."""
        new = WaterfallKeeper(grid)
        here = np.searchsorted(self._starts, np.arange(self.grid.size), side="right") - 1
        there = np.searchsorted(new._starts, grid.nearest(self.grid.centres_hz), side="right") - 1
        here, there = np.unique(np.stack((here, there)), axis=1)
        for row in self._rows:
            moved = np.full(new._starts.size, np.nan, dtype=np.float32)
            np.fmax.at(moved, there, row[here])
            new._rows.append(moved)
        new._moments, new._sweeps, new._per_row = self._moments, self._sweeps, self._per_row
        return new

    def waterfall(self) -> Waterfall:
        """Return what was gathered."""
        columns = self._starts.size
        ends = np.append(self._starts[1:], self.grid.size) - 1
        return Waterfall(
            highest_db=np.array(self._rows, dtype=np.float32).reshape(len(self._rows), columns),
            low_hz=self.grid.low_edges_hz[self._starts],
            high_hz=self.grid.high_edges_hz[ends],
            moments=tuple(self._moments),
            sweeps=tuple(self._sweeps),
        )


def joined_moments(one: Moments, two: Moments) -> Moments:
    """Return when what began with `one` and went on with `two` began and ended."""
    return one[0] or two[0], two[1] or one[1]


def _column_starts(grid: SweepGrid) -> Ints:
    """Return the first bin of each column: as many bins in each, and none across a gap where there are few gaps."""
    even = np.unique(np.linspace(0, grid.size, min(grid.size, MOST_COLUMNS) + 1).astype(np.int64)[:-1])
    gaps = grid.section_starts()
    if gaps.size > MOST_COLUMNS // 4:
        return even
    return np.unique(np.concatenate((even, gaps)))

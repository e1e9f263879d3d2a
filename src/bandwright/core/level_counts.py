"""How often each bin read which level: counts in cells of 0.5 dB, in memory that does not grow with the log."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

__all__ = ["ABOVE_DB", "CELL_DB", "MOST_BINS", "LevelCounts", "LevelSpread"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

CELL_DB = 0.5
ABOVE_DB = 6.0
_CELLS = 256
_BELOW_DB = 40.0  # of the range of 128 dB lies below the middle level of the first sweep, the rest above
MOST_BINS = 2**18  # 128 MiB of counts
_AT_ONCE = 4096


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelSpread:
    """How the levels of each bin were spread over the sweeps; NaN where a bin was never read.

    `lowest_db` is exact; `median_db` and `high95_db` (95 % of the readings are at or below it) are right to one cell
    of 0.5 dB. `share_above` is the share of sweeps more than 6 dB above the floor of the bin, NaN without a floor.
    """

    lowest_db: Floats
    median_db: Floats
    high95_db: Floats
    share_above: Floats


@dataclass(slots=True)
class LevelCounts:
    """Takes rows of levels (sweeps by bins, dB, NaN for none) and gives their spread.

    Levels outside the 128 dB around those of the first sweep count in the outermost cells, whose other edge is then
    the lowest or highest level that was read.
    """

    bins: int
    lowest_db: Floats = field(init=False)
    highest_db: Floats = field(init=False)
    _first: Floats | None = None
    _base_db: float = 0.0
    _counts: npt.NDArray[np.unsignedinteger] | None = None
    _sweeps: int = 0

    def __post_init__(self) -> None:
        self.lowest_db = np.full(self.bins, np.nan)
        self.highest_db = np.full(self.bins, np.nan)

    @property
    def kept(self) -> bool:
        """Whether the counts fit; with more than 262,144 bins only a single sweep has a spread."""
        return self.bins <= MOST_BINS or self._sweeps < 2

    def add(self, rows_db: Floats, *, compiled: bool = False) -> None:
        """Count rows of levels, in a compiled loop where `compiled`; a single first sweep is only remembered."""
        self.lowest_db = np.fmin(self.lowest_db, np.fmin.reduce(rows_db, axis=0))
        self.highest_db = np.fmax(self.highest_db, np.fmax.reduce(rows_db, axis=0))
        self._sweeps += rows_db.shape[0]
        if self._sweeps == 1:
            self._first = rows_db[0].copy()
            return
        if not self.kept:
            self._first = self._counts = None
            return
        if self._first is not None:
            first, self._first = self._first, None
            self._count(first[np.newaxis], compiled=compiled)
        self._count(rows_db, compiled=compiled)

    def _count(self, rows_db: Floats, *, compiled: bool) -> None:
        if self._counts is None:
            known = rows_db[np.isfinite(rows_db)]
            if not known.size:
                return
            self._base_db = float(np.floor(np.median(known))) - _BELOW_DB
            self._counts = np.zeros((self.bins, _CELLS), dtype=np.uint16)
        if self._sweeps > np.iinfo(np.uint16).max and self._counts.dtype == np.uint16:
            self._counts = self._counts.astype(np.uint32)
        if compiled:
            from bandwright.kernels.rows import count_levels  # compiled code is loaded for long logs only

            count_levels(rows_db, self._base_db, 1 / CELL_DB, self._counts)
            return
        rows, bins = np.nonzero(np.isfinite(rows_db))
        cells = np.clip((rows_db[rows, bins] - self._base_db) / CELL_DB, 0, _CELLS - 1).astype(np.int64)
        np.add.at(self._counts.reshape(-1), bins * _CELLS + cells, self._counts.dtype.type(1))

    def moved_to(self, bins: int, index: Ints) -> LevelCounts:
        """Return the same counts on another grid; old bin k becomes bin `index[k]`."""
        new = LevelCounts(bins)
        new._sweeps, new._base_db = self._sweeps, self._base_db
        np.fmin.at(new.lowest_db, index, self.lowest_db)
        np.fmax.at(new.highest_db, index, self.highest_db)
        if self._first is not None:
            new._first = np.full(bins, np.nan)
            np.fmax.at(new._first, index, self._first)
        if self._counts is not None and bins <= MOST_BINS:
            new._counts = np.zeros((bins, _CELLS), dtype=self._counts.dtype)
            np.add.at(new._counts, index, self._counts)
        return new

    def spread(self, floor_db: Floats) -> LevelSpread | None:
        """Return the spread; None where there were more bins than counts are kept for."""
        if not self.kept:
            return None
        if self._counts is None:
            level = self.highest_db
            with np.errstate(invalid="ignore"):
                above = np.where(
                    np.isfinite(level) & np.isfinite(floor_db), (level > floor_db + ABOVE_DB) * 1.0, np.nan
                )
            return LevelSpread(lowest_db=self.lowest_db, median_db=level, high95_db=level, share_above=above)
        median, high95, above = (np.full(self.bins, np.nan) for _ in range(3))
        for start in range(0, self.bins, _AT_ONCE):
            part = slice(start, start + _AT_ONCE)
            below = np.cumsum(self._counts[part], axis=1, dtype=np.int64)
            edges = self.lowest_db[part], self.highest_db[part]
            median[part] = self._quantile(below, 0.5, *edges)
            high95[part] = self._quantile(below, 0.95, *edges)
            above[part] = self._share_above(below, floor_db[part] + ABOVE_DB, *edges)
        return LevelSpread(lowest_db=self.lowest_db, median_db=median, high95_db=high95, share_above=above)

    def _cell_edges(self, cell: Ints, lowest: Floats, highest: Floats) -> tuple[Floats, Floats]:
        low = np.where(cell == 0, lowest, self._base_db + CELL_DB * cell)
        high = np.where(cell == _CELLS - 1, highest, self._base_db + CELL_DB * (cell + 1))
        return np.fmax(low, lowest), np.fmin(high, highest)

    def _quantile(self, below: Ints, part: float, lowest: Floats, highest: Floats) -> Floats:
        """Return the level that this part of the readings is at or below, straight within its cell."""
        total = below[:, -1]
        wanted = part * total
        cell = np.minimum((below < wanted[:, np.newaxis]).sum(axis=1), _CELLS - 1)
        rows = np.arange(cell.size)
        before = np.where(cell > 0, below[rows, np.maximum(cell - 1, 0)], 0)
        inside = np.maximum(below[rows, cell] - before, 1)
        low, high = self._cell_edges(cell, lowest, highest)
        return np.where(total > 0, low + (high - low) * np.clip((wanted - before) / inside, 0, 1), np.nan)

    def _share_above(self, below: Ints, limit_db: Floats, lowest: Floats, highest: Floats) -> Floats:
        """Return the share of readings above a level, straight within its cell."""
        total = below[:, -1]
        known = np.isfinite(limit_db) & (total > 0)
        limit = np.where(known, limit_db, 0.0)
        cell = np.clip(np.floor((limit - self._base_db) / CELL_DB), 0, _CELLS - 1).astype(np.int64)
        rows = np.arange(cell.size)
        before = np.where(cell > 0, below[rows, np.maximum(cell - 1, 0)], 0)
        low, high = self._cell_edges(cell, lowest, highest)
        part = np.clip((limit - low) / np.where(high > low, high - low, 1.0), 0, 1)
        part = np.where(high > low, part, limit >= high)
        at_or_below = before + part * (below[rows, cell] - before)
        return np.where(known, 1 - at_or_below / np.maximum(total, 1), np.nan)

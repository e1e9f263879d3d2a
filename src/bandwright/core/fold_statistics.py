"""What is kept of the sweeps of a log while it is read: running statistics on one grid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from bandwright.core.level_counts import LevelCounts
from bandwright.core.sweep_grid import SweepGrid, Windows, windows_of
from bandwright.core.waterfall import Moments, WaterfallKeeper

__all__ = ["COMPILED_FROM_VALUES", "Running", "Statistics"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

COMPILED_FROM_VALUES = 500_000  # below this, compiling the fast way in costs more than it saves
_NEPERS_PER_DB = math.log(10) / 10


@dataclass(slots=True)
class Running:
    """Highest, sum and count along one axis."""

    highest: Floats
    total: Floats
    count: Ints

    @classmethod
    def empty(cls, size: int) -> Running:
        """Return the state before the first value."""
        return cls(np.full(size, np.nan), np.zeros(size), np.zeros(size, dtype=np.int64))

    def add(self, rows: Floats, *, complete: bool) -> None:
        """Fold rows of linear values; NaN is nobody's value, and there is none where they are `complete`."""
        if not complete:
            missing = np.isnan(rows)
            self.highest = np.fmax(self.highest, np.fmax.reduce(rows, axis=0))
            self.total += np.where(missing, 0.0, rows).sum(axis=0)
            self.count += rows.shape[0] - np.count_nonzero(missing, axis=0)
        else:
            self.highest = np.fmax(self.highest, rows.max(axis=0))
            self.total += rows.sum(axis=0)
            self.count += rows.shape[0]

    def mean(self) -> Floats:
        """Return the mean; NaN where there is no value."""
        return np.where(self.count > 0, self.total / np.maximum(self.count, 1), np.nan)


@dataclass(slots=True)
class Statistics:
    """Everything that is kept of the sweeps so far, on one grid."""

    grid: SweepGrid
    bins: Running
    windows: list[Windows]
    channels: list[Running]
    counts: LevelCounts
    waterfall: WaterfallKeeper
    _values: int = 0
    _scale: Floats = field(init=False)

    def __post_init__(self) -> None:
        self._scale = self.grid.widths_hz / self.grid.noise_hz

    @classmethod
    def on(cls, grid: SweepGrid, bandwidths_hz: tuple[int, ...]) -> Statistics:
        """Return the state before the first sweep, with windows of these bandwidths."""
        windows = [windows_of(grid, bandwidth_hz=bandwidth) for bandwidth in bandwidths_hz]
        channels = [Running.empty(item.places_hz.size) for item in windows]
        return cls(grid, Running.empty(grid.size), windows, channels, LevelCounts(grid.size), WaterfallKeeper(grid))

    def add(self, levels_db: Floats, moments: Sequence[Moments]) -> None:
        """Fold sweeps: rows of levels on the grid, NaN for none, and when each was made."""
        power = np.exp(levels_db * _NEPERS_PER_DB)  # half the time of 10 ** (x / 10)
        complete = not np.isnan(power).any()
        self.bins.add(power, complete=complete)
        compiled = self._values > COMPILED_FROM_VALUES
        self.counts.add(levels_db, compiled=compiled)
        self.waterfall.add(levels_db, moments)
        for windows, running in zip(self.windows, self.channels, strict=True):
            if not windows.places_hz.size:
                continue
            if compiled:
                self._fold_compiled(windows, running, power)
            else:
                running.add(windows.power(power), complete=complete)
        self._values += levels_db.size

    def _fold_compiled(self, windows: Windows, running: Running, power: Floats) -> None:
        from bandwright.kernels.rows import fold_windows  # compiled code is loaded for long logs only

        fold_windows(
            power,
            self._scale,
            windows.left,
            windows.left_part,
            windows.right,
            windows.right_part,
            running.highest,
            running.total,
            running.count,
        )

    def moved_to(self, grid: SweepGrid) -> Statistics:
        """Return the same statistics on a larger grid; windows that reach into new bins start empty."""
        new = Statistics.on(grid, tuple(windows.bandwidth_hz for windows in self.windows))
        index = grid.nearest(self.grid.centres_hz)
        new._values = self._values
        new.counts = self.counts.moved_to(grid.size, index)
        new.waterfall = self.waterfall.moved_to(grid)
        np.fmax.at(new.bins.highest, index, self.bins.highest)
        np.add.at(new.bins.total, index, self.bins.total)
        np.add.at(new.bins.count, index, self.bins.count)
        for old_windows, old, new_windows, kept in zip(
            self.windows, self.channels, new.windows, new.channels, strict=True
        ):
            seen = np.where(old.count > 0, old.count, np.nan)
            count = np.nan_to_num(old_windows.interpolate(new_windows.places_hz, seen)).astype(np.int64)
            mean = old_windows.interpolate(new_windows.places_hz, old.mean())
            kept.highest = np.where(count > 0, old_windows.interpolate(new_windows.places_hz, old.highest), np.nan)
            kept.count, kept.total = count, np.where(count > 0, mean * count, 0.0)
        return new

"""Folding blocks of a sweep log into one `Sweep`, in memory that does not grow with the log."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import numpy.typing as npt

from bandwright.core.floor import floor_of, floor_pieces, noise_level
from bandwright.core.sweep import ChannelStatistics, Sweep, SweepBlock, SweepFault, decibels
from bandwright.core.sweep_grid import BinShape, SweepGrid, Windows, grid_of, windows_of

__all__ = ["DEFAULT_BANDWIDTHS_HZ", "MOST_POINTS", "SweepAccumulator", "TooManyPointsError", "fold"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

DEFAULT_BANDWIDTHS_HZ = (200_000, 12_500)
MOST_POINTS = 2_000_000
MOST_FAULTS = 50
MOST_SHAPES = 20_000
MOST_REGRIDS = 200
_BATCH_VALUES = 65_536
_BATCH_SWEEPS = 64
_NEPERS_PER_DB = math.log(10) / 10
_LEAST_DB, _MOST_DB = -300.0, 300.0

ShapeKey = tuple[float, float, int, float | None, float]


class TooManyPointsError(ValueError):
    """One sweep has more bins than are kept."""


@dataclass(slots=True)
class _Running:
    """Highest, sum and count along one axis."""

    highest: Floats
    total: Floats
    count: Ints

    @classmethod
    def empty(cls, size: int) -> _Running:
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
        return np.where(self.count > 0, self.total / np.maximum(self.count, 1), np.nan)


@dataclass(slots=True)
class _Statistics:
    """Everything that is kept of the sweeps so far, on one grid."""

    grid: SweepGrid
    bins: _Running
    windows: list[Windows]
    channels: list[_Running]

    @classmethod
    def on(cls, grid: SweepGrid, bandwidths_hz: tuple[int, ...]) -> _Statistics:
        windows = [windows_of(grid, bandwidth_hz=bandwidth) for bandwidth in bandwidths_hz]
        return cls(grid, _Running.empty(grid.size), windows, [_Running.empty(w.places_hz.size) for w in windows])

    def add(self, levels_db: Floats) -> None:
        power = np.exp(levels_db * _NEPERS_PER_DB)  # half the time of 10 ** (x / 10)
        complete = not np.isnan(power).any()
        self.bins.add(power, complete=complete)
        for windows, running in zip(self.windows, self.channels, strict=True):
            if windows.places_hz.size:
                running.add(windows.power(power), complete=complete)

    def moved_to(self, grid: SweepGrid) -> _Statistics:
        """Return the same statistics on a larger grid; windows that reach into new bins start empty."""
        new = _Statistics.on(grid, tuple(windows.bandwidth_hz for windows in self.windows))
        index = grid.nearest(self.grid.centres_hz)
        new.bins.highest[index] = np.fmax(new.bins.highest[index], self.bins.highest)
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


@dataclass(slots=True, kw_only=True)
class SweepAccumulator:
    """Takes blocks one by one and gives one `Sweep`.

    A sweep ends when a hop begins at a frequency where one of the same sweep began: timestamps do not tell (some logs
    have one for a whole sweep, some have dozens inside one). Two values for one bin inside a sweep: the higher stays.
    """

    bandwidths_hz: tuple[int, ...] = DEFAULT_BANDWIDTHS_HZ
    most_points: int = MOST_POINTS
    _unit: str | None = None
    _rbw_hz: float | None = None
    _shapes: dict[ShapeKey, BinShape] = field(default_factory=dict)
    _slots: dict[ShapeKey, slice | Ints] = field(default_factory=dict)
    _known_points: int = 0
    _new_shapes: bool = False
    _pending: list[tuple[ShapeKey, Floats]] = field(default_factory=list)
    _begun: set[float] = field(default_factory=set)
    _statistics: _Statistics | None = None
    _rows: Floats | None = None
    _filled: int = 0
    _sweeps: int = 0
    _regrids: int = 0
    _started: datetime | None = None
    _ended: datetime | None = None
    _faults: list[SweepFault] = field(default_factory=list)
    _more_faults: int = 0

    def add(self, block: SweepBlock) -> None:
        """Fold one block."""
        if not block.levels_db.size:
            return
        if self._unit not in (None, block.unit):
            text = f"Levels in {block.unit} after levels in {self._unit}: not used."
            self.fault(SweepFault(code="unit", text=text))
            return
        centres = block.centres_hz
        shape_word = float(centres.sum()) if centres is not None else 0.0
        key = (block.first_hz, block.bin_hz, block.levels_db.size, block.rbw_hz, shape_word)
        if block.first_hz in self._begun:
            self._end_sweep()
        if key not in self._shapes and not self._learn(key, block):
            return
        self._unit, self._rbw_hz = block.unit, block.rbw_hz
        self._note_time(block.time)
        self._begun.add(block.first_hz)
        self._pending.append((key, block.levels_db))

    def fault(self, fault: SweepFault) -> None:
        """Keep a fault; only the first ones are listed, the others counted."""
        if len(self._faults) < MOST_FAULTS:
            self._faults.append(fault)
        else:
            self._more_faults += 1

    @property
    def faults(self) -> tuple[SweepFault, ...]:
        """The faults that are listed so far."""
        return tuple(self._faults)

    def _note_time(self, time: datetime | None) -> None:
        if time is None:
            return
        if self._started is None or time < self._started:
            self._started = time
        if self._ended is None or time > self._ended:
            self._ended = time

    def _learn(self, key: ShapeKey, block: SweepBlock) -> bool:
        if self._regrids >= MOST_REGRIDS or len(self._shapes) >= MOST_SHAPES:
            text = "The log keeps changing its frequencies; rows at new ones are no longer used."
            self.fault(SweepFault(code="changing-frequencies", text=text))
            return False
        if self._known_points + block.levels_db.size > self.most_points:
            raise TooManyPointsError(
                f"One sweep has more than {self.most_points} bins. Give a narrower range or wider bins."
            )
        centres = block.frequencies_hz()
        widths = np.full(centres.shape, block.bin_hz) if block.centres_hz is None else _widths(centres, block.rbw_hz)
        self._known_points += centres.size
        self._shapes[key] = BinShape.of(centres_hz=centres, widths_hz=widths, rbw_hz=block.rbw_hz, whole=block.whole)
        self._new_shapes = True
        return True

    def _end_sweep(self) -> None:
        """Lay the pending blocks out as one row on the grid."""
        if not self._pending:
            return
        if self._new_shapes:
            self._regrid()
        statistics = self._statistics
        assert statistics is not None
        if self._rows is None:
            rows = max(1, min(_BATCH_SWEEPS, _BATCH_VALUES // max(1, statistics.grid.size)))
            self._rows = np.empty((rows, statistics.grid.size))
        row = self._rows[self._filled]
        row.fill(np.nan)
        for key, levels in self._pending:
            slot = self._slots[key]
            usable = np.where((levels > _LEAST_DB) & (levels < _MOST_DB), levels, np.nan)
            if isinstance(slot, slice):
                np.fmax(row[slot], usable, out=row[slot])
            else:
                np.fmax.at(row, slot, usable)
        self._pending.clear()
        self._begun.clear()
        self._sweeps += 1
        self._filled += 1
        if self._filled == self._rows.shape[0]:
            self._flush()

    def _flush(self) -> None:
        if self._rows is not None and self._filled and self._statistics is not None:
            self._statistics.add(self._rows[: self._filled])
        self._filled = 0

    def _regrid(self) -> None:
        self._flush()
        self._rows = None
        grid = grid_of(list(self._shapes.values()))
        if self._statistics is None:
            self._statistics = _Statistics.on(grid, self.bandwidths_hz)
        else:
            self._statistics = self._statistics.moved_to(grid)
            self._regrids += 1
        self._slots = {key: _slot(grid, shape) for key, shape in self._shapes.items()}
        self._new_shapes = False

    def finish(self, *, name: str) -> Sweep | None:
        """Return the sweep; None when no block came."""
        self._end_sweep()
        self._flush()
        if self._statistics is None:
            return None
        return _sweep_of(self, self._statistics, name)


def fold(
    blocks: Iterable[SweepBlock | SweepFault],
    *,
    name: str,
    bandwidths_hz: tuple[int, ...] = DEFAULT_BANDWIDTHS_HZ,
) -> Sweep | None:
    """Fold blocks and faults into one sweep; None when there was no block."""
    accumulator = SweepAccumulator(bandwidths_hz=bandwidths_hz)
    for item in blocks:
        if isinstance(item, SweepFault):
            accumulator.fault(item)
        else:
            accumulator.add(item)
    return accumulator.finish(name=name)


def _slot(grid: SweepGrid, shape: BinShape) -> slice | Ints:
    index = grid.nearest(shape.centres_hz)
    if index[-1] - index[0] == index.size - 1 and (np.diff(index) == 1).all():
        return slice(int(index[0]), int(index[-1]) + 1)
    return index


def _widths(centres_hz: Floats, rbw_hz: float | None) -> Floats:
    """Return widths of unevenly spaced bins: half the way to each neighbour that is no gap away.

    A step is a gap when it is more than 1.75 times the usual one on both sides (median of four). A bin alone between
    gaps is as wide as the resolution bandwidth, and covers nothing where that is not known.
    """
    order = np.argsort(centres_hz, kind="stable")
    steps = np.diff(centres_hz[order])
    steps = steps[steps > 0]
    places = np.unique(centres_hz)
    if places.size < 2:
        return np.full(centres_hz.shape, rbw_hz or 1e-3)
    usual = np.fmax(_median_before(steps), _median_before(steps[::-1])[::-1])
    near = steps <= 1.75 * np.where(np.isnan(usual), steps, usual)
    left = np.concatenate(([np.nan], np.where(near, steps, np.nan)))
    right = np.concatenate((np.where(near, steps, np.nan), [np.nan]))
    widths = np.where(np.isnan(left), right, np.where(np.isnan(right), left, (left + right) / 2))
    widths = np.where(np.isnan(widths), rbw_hz or 1e-3, widths)
    return np.asarray(widths[np.searchsorted(places, centres_hz)], dtype=np.float64)


def _median_before(steps: Floats) -> Floats:
    """Return the median of the four steps before each one; NaN for the first."""
    padded = np.concatenate((np.full(4, np.nan), steps[:-1]))
    windows = np.sort(np.lib.stride_tricks.sliding_window_view(padded, 4), axis=1)
    known = np.minimum(np.arange(steps.size), 4)
    rows = np.arange(steps.size)
    low, high = windows[rows, np.maximum(known - 1, 0) // 2], windows[rows, np.maximum(known, 1) // 2]
    return np.where(known > 0, (low + np.where(known > 1, high, low)) / 2, np.nan)


def _sweep_of(folded: SweepAccumulator, statistics: _Statistics, name: str) -> Sweep:
    grid = statistics.grid
    typical = statistics.bins.mean()
    density = typical / grid.noise_hz
    floor = floor_of(power=density, centres_hz=grid.centres_hz, widths_hz=grid.widths_hz, hop_starts=grid.hop_starts)
    floor = floor * grid.noise_hz
    faults = list(folded.faults)
    if np.isfinite(typical).any() and np.isnan(floor).all():
        text = (
            "The range is too narrow, or has too few bins, to tell noise from signals: no floor, nothing reads quiet."
        )
        faults.append(SweepFault(code="no-floor", text=text))
    return Sweep(
        name=name,
        unit=folded._unit or "dB",
        grid=grid,
        highest_db=decibels(statistics.bins.highest),
        typical_db=decibels(typical),
        floor_db=decibels(floor),
        held_floor_db=decibels(floor * _held_ratio(statistics.bins.highest, typical, floor)),
        floor=floor_pieces(floor=floor, low_edges_hz=grid.low_edges_hz, high_edges_hz=grid.high_edges_hz),
        channels=tuple(
            ChannelStatistics(windows=windows, highest=running.highest, typical=running.mean())
            for windows, running in zip(statistics.windows, statistics.channels, strict=True)
        ),
        sweeps=folded._sweeps,
        rbw_hz=folded._rbw_hz,
        started=folded._started,
        ended=folded._ended,
        problems=tuple(faults),
        problems_not_listed=folded._more_faults,
    )


def _held_ratio(highest: Floats, typical: Floats, floor: Floats) -> float:
    """Return how much higher noise alone reads in the held trace than in the mean one."""
    quiet = np.isfinite(floor) & (typical < 2 * floor)
    held, mean = noise_level((highest / floor)[quiet]), noise_level((typical / floor)[quiet])
    return max(1.0, held.power / mean.power) if held is not None and mean is not None else 1.0

"""Folding blocks of a sweep log into one `Sweep`, in memory that does not grow with the log."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np
import numpy.typing as npt

from bandwright.core.bin_widths import bin_widths
from bandwright.core.floor import floor_of, floor_pieces, noise_level
from bandwright.core.fold_statistics import Statistics
from bandwright.core.sweep import (
    ChannelStatistics,
    RbwOrigin,
    Sweep,
    SweepBlock,
    SweepFacts,
    SweepFault,
    SweepItem,
    SweepRows,
    decibels,
)
from bandwright.core.sweep_grid import BinShape, SweepGrid, grid_of
from bandwright.core.waterfall import Moments, joined_moments

__all__ = ["DEFAULT_BANDWIDTHS_HZ", "MOST_POINTS", "SweepAccumulator", "TooManyPointsError", "fold"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

DEFAULT_BANDWIDTHS_HZ = (200_000, 12_500)
MOST_POINTS = 2_000_000
MOST_FAULTS = 50
MOST_SHAPES = 20_000
MOST_REGRIDS = 200
_BATCH_VALUES = 262_144
_BATCH_SWEEPS = 64
_LEAST_DB, _MOST_DB = -300.0, 300.0

ShapeKey = tuple[float, float, int, float | None, float]


class TooManyPointsError(ValueError):
    """One sweep has more bins than are kept."""


@dataclass(slots=True, kw_only=True)
class SweepAccumulator:
    """Takes blocks one by one, or rows many at once, and gives one `Sweep`.

    A sweep ends when a hop begins at a frequency where one of the same sweep began: timestamps do not tell (some logs
    have one for a whole sweep, some have dozens inside one). Two values for one bin inside a sweep: the higher stays.
    `stated_rbw_hz` is a resolution bandwidth that somebody states in place of what the file says.
    """

    bandwidths_hz: tuple[int, ...] = DEFAULT_BANDWIDTHS_HZ
    most_points: int = MOST_POINTS
    stated_rbw_hz: float | None = None
    _unit: str | None = None
    _rbw_hz: float | None = None
    _facts: SweepFacts = field(default_factory=SweepFacts)
    _numbers: dict[ShapeKey, int] = field(default_factory=dict)
    _shapes: list[BinShape] = field(default_factory=list)
    _slots: list[Ints] = field(default_factory=list)
    _known_points: int = 0
    _pending: list[tuple[int, Floats]] = field(default_factory=list)
    _begun: set[float] = field(default_factory=set)
    _statistics: Statistics | None = None
    _rows: Floats = field(default_factory=lambda: np.empty((0, 0)))
    _filled: int = 0
    _moments: list[Moments] = field(default_factory=list)
    _open: Moments = (None, None)
    _sweeps: int = 0
    _regrids: int = 0
    _started: datetime | None = None
    _ended: datetime | None = None
    _faults: list[SweepFault] = field(default_factory=list)
    _more_faults: int = 0

    def take(self, item: SweepItem) -> None:
        """Fold whatever a reader yields."""
        if isinstance(item, SweepBlock):
            self.add(item)
        elif isinstance(item, SweepRows):
            self.add_rows(item)
        elif isinstance(item, SweepFault):
            self.fault(item)
        else:
            self._facts = item

    def add(self, block: SweepBlock) -> None:
        """Fold one block."""
        if not block.levels_db.size:
            return
        block = self._restated(block)
        if self._unit not in (None, block.unit):
            text = f"Levels in {block.unit} after levels in {self._unit}: not used."
            self.fault(SweepFault(code="unit", text=text))
            return
        if block.first_hz in self._begun:
            self._end_sweep()
        number = self._numbers.get(_key(block))
        if number is None:
            number = self._learn(block)
            if number is None:
                return
        self._unit, self._rbw_hz = block.unit, block.rbw_hz
        self._note_time(block.time, block.time)
        self._open = joined_moments(self._open, (block.time, block.time))
        self._begun.add(block.first_hz)
        if number < len(self._slots):
            self._lay(number, block.levels_db)
        else:
            self._pending.append((number, block.levels_db))

    def add_rows(self, rows: SweepRows) -> None:
        """Fold many rows; the same as `add` for each of them, without a step of Python for each level."""
        if not rows.hop.size:
            return
        hops = [self._restated(hop) for hop in rows.hops]
        numbers = np.array([self._number_on_grid(hop) for hop in hops], dtype=np.int64)
        kinds = numbers[rows.hop]
        if self._pending or (kinds < 0).any():
            for index in range(rows.hop.size):
                self.add(rows.block(index))
            return
        order = self._sweep_of_each(rows, [hop.first_hz for hop in hops])
        known = [time for time in rows.times if time is not None]
        if known:
            self._note_time(min(known), max(known))
        if order[0] > 0:
            self._close()
        self._lay_rows(rows, kinds, order)

    def _restated(self, block: SweepBlock) -> SweepBlock:
        if self.stated_rbw_hz is None or block.rbw_hz == self.stated_rbw_hz:
            return block
        return replace(block, rbw_hz=self.stated_rbw_hz, whole=True)

    def _number_on_grid(self, hop: SweepBlock) -> int:
        """Return the number of a hop's shape, -1 where it has no place on the grid yet."""
        number = self._numbers.get(_key(hop), -1)
        return number if self._unit == hop.unit and number < len(self._slots) else -1

    def _sweep_of_each(self, rows: SweepRows, first_hz: list[float]) -> Ints:
        """Return for each row how many sweeps ended before it, and keep the places where the last one began hops."""
        order = np.empty(rows.hop.size, dtype=np.int64)
        ended = 0
        begun = self._begun
        for index, hop in enumerate(rows.hop.tolist()):
            hz = first_hz[hop]
            if hz in begun:
                ended += 1
                begun.clear()
            begun.add(hz)
            order[index] = ended
        return order

    def _lay_rows(self, rows: SweepRows, kinds: Ints, order: Ints) -> None:
        from bandwright.kernels.rows import lay_rows  # compiled code is loaded for long logs only

        used, kinds = np.unique(kinds, return_inverse=True)
        slots = [self._slots[number] for number in used.tolist()]
        slot_start = np.concatenate(([0], np.cumsum([slot.size for slot in slots])))
        slot = np.concatenate(slots)
        first = 0
        while first < order.size:
            room = self._rows.shape[0] - self._filled
            end = int(np.searchsorted(order, order[first] + room))
            target = self._filled + order[first:end] - order[first]
            pieces = slice(first, end)
            lay_rows(
                rows.levels_db,
                rows.first[pieces],
                kinds[pieces],
                slot_start,
                slot,
                target,
                _LEAST_DB,
                _MOST_DB,
                self._rows,
            )
            self._close_sweeps(rows, first, end, order)
            first = end

    def _close_sweeps(self, rows: SweepRows, first: int, end: int, order: Ints) -> None:
        """Note when the sweeps of these rows were made, and end all that another one follows."""
        starts = np.append(first + np.flatnonzero(np.diff(order[first:end], prepend=order[first] - 1)), end)
        for begin, after in zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True):
            span = rows.times[rows.time[begin]], rows.times[rows.time[after - 1]]
            self._open = joined_moments(self._open, span)
            if after < order.size and order[after] > order[begin]:
                self._close()

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

    def _note_time(self, first: datetime | None, last: datetime | None) -> None:
        if first is not None and (self._started is None or first < self._started):
            self._started = first
        if last is not None and (self._ended is None or last > self._ended):
            self._ended = last

    def _learn(self, block: SweepBlock) -> int | None:
        if self._regrids >= MOST_REGRIDS or len(self._shapes) >= MOST_SHAPES:
            text = "The log keeps changing its frequencies; rows at new ones are no longer used."
            self.fault(SweepFault(code="changing-frequencies", text=text))
            return None
        if self._known_points + block.levels_db.size > self.most_points:
            raise TooManyPointsError(
                f"One sweep has more than {self.most_points} bins. Give a narrower range or wider bins."
            )
        centres = block.frequencies_hz()
        even = block.centres_hz is None
        widths = np.full(centres.shape, block.bin_hz) if even else bin_widths(centres, block.rbw_hz)
        self._known_points += centres.size
        self._shapes.append(BinShape.of(centres_hz=centres, widths_hz=widths, rbw_hz=block.rbw_hz, whole=block.whole))
        self._numbers[_key(block)] = number = len(self._shapes) - 1
        return number

    def _lay(self, number: int, levels_db: Floats) -> None:
        """Write levels into the open row; the higher one stays where two meet."""
        slot, row = self._slots[number], self._rows[self._filled]
        usable = np.where((levels_db > _LEAST_DB) & (levels_db < _MOST_DB), levels_db, np.nan)
        if slot[-1] - slot[0] == slot.size - 1 and (np.diff(slot) == 1).all():
            part = row[slot[0] : slot[-1] + 1]
            np.fmax(part, usable, out=part)
        else:
            np.fmax.at(row, slot, usable)

    def _end_sweep(self) -> None:
        if not self._begun:
            return
        if self._pending:
            self._regrid()
            for number, levels in self._pending:
                self._lay(number, levels)
            self._pending.clear()
        self._begun.clear()
        self._close()

    def _close(self) -> None:
        """End the sweep in the open row."""
        self._moments.append(self._open)
        self._open = (None, None)
        self._sweeps += 1
        self._filled += 1
        if self._filled == self._rows.shape[0]:
            self._flush()

    def _flush(self) -> None:
        if self._filled and self._statistics is not None:
            self._statistics.add(self._rows[: self._filled], self._moments)
            self._rows.fill(np.nan)
        self._moments = []
        self._filled = 0

    def _regrid(self) -> None:
        """Make room on the grid for new shapes; what the open row holds moves along."""
        before = self._statistics
        opened = self._rows[self._filled].copy() if before is not None else np.empty(0)
        self._flush()
        grid = grid_of(self._shapes)
        if before is None:
            self._statistics = Statistics.on(grid, self.bandwidths_hz)
        else:
            self._statistics = before.moved_to(grid)
            self._regrids += 1
        rows = max(1, min(_BATCH_SWEEPS, _BATCH_VALUES // max(1, grid.size)))
        self._rows = np.full((rows, grid.size), np.nan)
        if before is not None:
            np.fmax.at(self._rows[0], grid.nearest(before.grid.centres_hz), opened)
        self._slots = [grid.nearest(shape.centres_hz) for shape in self._shapes]

    def finish(self, *, name: str) -> Sweep | None:
        """Return the sweep; None when no block came."""
        self._end_sweep()
        self._flush()
        if self._statistics is None:
            return None
        return _sweep_of(self, self._statistics, name)


def fold(
    blocks: Iterable[SweepItem],
    *,
    name: str,
    bandwidths_hz: tuple[int, ...] = DEFAULT_BANDWIDTHS_HZ,
) -> Sweep | None:
    """Fold what a reader yields into one sweep; None when there was no block."""
    accumulator = SweepAccumulator(bandwidths_hz=bandwidths_hz)
    for item in blocks:
        accumulator.take(item)
    return accumulator.finish(name=name)


def _key(block: SweepBlock) -> ShapeKey:
    shape_word = float(block.centres_hz.sum()) if block.centres_hz is not None else 0.0
    return (block.first_hz, block.bin_hz, block.levels_db.size, block.rbw_hz, shape_word)


def _sweep_of(folded: SweepAccumulator, statistics: Statistics, name: str) -> Sweep:
    grid = statistics.grid
    typical = statistics.bins.mean()
    density = typical / grid.noise_hz
    floor = floor_of(power=density, centres_hz=grid.centres_hz, widths_hz=grid.widths_hz, hop_starts=grid.hop_starts)
    floor = floor * grid.noise_hz
    floor_db = decibels(floor)
    spread = statistics.counts.spread(floor_db)
    rbw_hz, origin = _resolution(folded, grid)
    return Sweep(
        name=name,
        unit=folded._unit or "dB",
        grid=grid,
        highest_db=decibels(statistics.bins.highest),
        typical_db=decibels(typical),
        floor_db=floor_db,
        held_floor_db=decibels(floor * _held_ratio(statistics.bins.highest, typical, floor)),
        floor=floor_pieces(floor=floor, low_edges_hz=grid.low_edges_hz, high_edges_hz=grid.high_edges_hz),
        channels=tuple(
            ChannelStatistics(windows=windows, highest=running.highest, typical=running.mean())
            for windows, running in zip(statistics.windows, statistics.channels, strict=True)
        ),
        sweeps=folded._sweeps,
        spread=spread,
        waterfall=statistics.waterfall.waterfall(),
        rbw_hz=rbw_hz,
        rbw_origin=origin,
        started=folded._started,
        ended=folded._ended,
        traces=folded._facts.traces,
        trace=folded._facts.trace,
        problems=(*folded.faults, *_last_faults(typical, floor, counted=spread is not None)),
        problems_not_listed=folded._more_faults,
    )


def _last_faults(typical: Floats, floor: Floats, *, counted: bool) -> Iterable[SweepFault]:
    if np.isfinite(typical).any() and np.isnan(floor).all():
        text = (
            "The range is too narrow, or has too few bins, to tell noise from signals: no floor, nothing reads quiet."
        )
        yield SweepFault(code="no-floor", text=text)
    if not counted:
        text = f"{typical.size} bins are too many to count levels in: no median, 95th percentile and share of time."
        yield SweepFault(code="no-counts", text=text)


def _resolution(folded: SweepAccumulator, grid: SweepGrid) -> tuple[float | None, RbwOrigin | None]:
    """Return the resolution bandwidth and where it comes from; bins of an FFT are taken to be one wide."""
    if folded.stated_rbw_hz is not None:
        return folded.stated_rbw_hz, RbwOrigin.STATED
    if folded._rbw_hz is not None:
        return folded._rbw_hz, RbwOrigin.FILE
    if grid.size and grid.whole.all():
        return float(np.median(grid.noise_hz)), RbwOrigin.INFERRED
    return None, None


def _held_ratio(highest: Floats, typical: Floats, floor: Floats) -> float:
    """Return how much higher noise alone reads in the held trace than in the mean one."""
    quiet = np.isfinite(floor) & (typical < 2 * floor)
    held, mean = noise_level((highest / floor)[quiet]), noise_level((typical / floor)[quiet])
    return max(1.0, held.power / mean.power) if held is not None and mean is not None else 1.0

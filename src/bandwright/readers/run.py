"""Rows of a table, gathered until the frequency starts over."""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from bandwright.core.fold import MOST_POINTS
from bandwright.core.sweep import SweepBlock, SweepFault, SweepItem
from bandwright.readers.layout import Layout

__all__ = ["Run"]

Floats = npt.NDArray[np.float64]

_FEWEST_ROWS = 3
_SORTED_ROWS = 16  # so many rising rows are no accident
_GAP = 1.75  # of the usual step


@dataclass(slots=True, kw_only=True)
class Run:
    """The rows of one run through the band; `rows` counts those of all runs of the table."""

    layout: Layout
    rows: int = 0
    _hz: array[float] = field(default_factory=lambda: array("d"))
    _levels: list[array[float]] = field(init=False)
    _low_hz: float = math.inf
    _high_hz: float = 0.0
    _rises: bool = True
    _bin_hz: float = 0.0

    def __post_init__(self) -> None:
        self._levels = [array("d") for _ in self.layout.levels]

    @property
    def next_row(self) -> int:
        """The number of the coming row in its run; 0 again where the run has all its points."""
        return 0 if self.layout.points is not None and len(self._hz) >= self.layout.points else len(self._hz)

    def take(self, hz: float, levels: list[float]) -> Iterator[SweepItem]:
        """Add a row, and yield the run before it where it begins a new one."""
        if self._starts_over(hz):
            yield from self.blocks()
        self._rises = self._rises and hz >= self._high_hz
        self._hz.append(hz)
        self._low_hz, self._high_hz = min(self._low_hz, hz), max(self._high_hz, hz)
        for column, level in zip(self._levels, levels, strict=True):
            column.append(level)
        self.rows += 1
        if len(self._hz) > MOST_POINTS:
            yield from self.blocks()

    def take_table(self, table: Floats) -> Iterator[SweepItem]:
        """Add many rows (frequency, then levels), and yield the runs that they end."""
        first = 0
        while first < len(table):
            end = first + self._plain_rows(table[first:, 0])
            self._take_many(table[first:end])
            if end < len(table):
                yield from self.take(float(table[end, 0]), table[end, 1:].tolist())
                end += 1
            first = end
            if len(self._hz) > MOST_POINTS:
                yield from self.blocks()

    def _starts_over(self, hz: float) -> bool:
        """Whether a row at this frequency begins a new run.

        It does at the first frequency again, and at a fall over half the band after rows that only rose; rows out of
        order are one run.
        """
        if len(self._hz) < _FEWEST_ROWS:
            return False
        half = 0.5 * (self._high_hz - self._low_hz)
        falls = len(self._hz) >= _SORTED_ROWS and self._rises and self._hz[-1] - hz > half
        return falls or hz == self._hz[0]

    def _plain_rows(self, hz: Floats) -> int:
        """Return how many of the coming rows only rise and so cannot begin a new run."""
        if not self._hz:
            return 0
        turns = np.flatnonzero((np.diff(hz, prepend=self._hz[-1]) < 0) | (hz == self._hz[0]))
        return int(turns[0]) if turns.size else hz.size

    def _take_many(self, table: Floats) -> None:
        """Add rows that do not begin a new run."""
        if not len(table):
            return
        self._rises = self._rises and float(table[0, 0]) >= self._high_hz
        self._low_hz = min(self._low_hz, float(table[:, 0].min()))
        self._high_hz = max(self._high_hz, float(table[:, 0].max()))
        for column, values in zip((self._hz, *self._levels), table.T, strict=True):
            column.frombytes(values.tobytes())
        self.rows += len(table)

    def blocks(self) -> Iterator[SweepItem]:
        """Yield what was gathered, one block for each column of levels, and begin anew."""
        centres = self._centres(np.array(self._hz, dtype=np.float64))
        columns = [np.array(column, dtype=np.float64) for column in self._levels]
        self._hz, self._levels = array("d"), [array("d") for _ in self.layout.levels]
        self._low_hz, self._high_hz, self._rises = math.inf, 0.0, True
        steps = np.diff(np.unique(centres))
        if steps.size:
            self._bin_hz = float(np.median(steps))
        elif centres.size and not self._bin_hz:
            yield SweepFault(code="one-frequency", text="A single frequency shows no bin width. Not used.")
        if not centres.size or not self._bin_hz:
            return
        for levels in columns:
            yield SweepBlock(
                first_hz=float(centres[0]),
                bin_hz=self._bin_hz,
                levels_db=levels,
                centres_hz=centres,
                time=self.layout.time,
                rbw_hz=self.layout.rbw_hz,
                whole=self.layout.rbw_hz is not None,
                unit=self.layout.unit,
            )

    def _centres(self, hz: Floats) -> Floats:
        """Return the middle of each bin from what the file tells: middles, edges, or the number of the row."""
        layout = self.layout
        if layout.start_hz is not None and layout.stop_hz is not None:
            points = max(layout.points or hz.size, hz.size, 2)
            return np.asarray(layout.start_hz + (layout.stop_hz - layout.start_hz) * hz / (points - 1))
        return hz if layout.upper_edge is None else _from_edges(hz, upper=layout.upper_edge)


def _from_edges(hz: Floats, *, upper: bool) -> Floats:
    """Return the middle of each bin between its edge and that of the next one; beyond a gap, of the usual width."""
    edges = np.unique(hz)
    if edges.size < 2:
        return hz
    steps = np.diff(edges)
    usual = float(np.median(steps))
    widths = np.where(steps > _GAP * usual, usual, steps)
    widths = np.append(usual, widths) if upper else np.append(widths, usual)
    middles = edges - widths / 2 if upper else edges + widths / 2
    return np.maximum(middles[np.searchsorted(edges, hz)], 0.0)

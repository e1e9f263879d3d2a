"""Plain columns: a frequency and one or more levels in each row, also below the settings of an analyser.

Delimiter, decimal sign, units and the meaning of columns are taken from the file's head; what the file does not say is
assumed in words (a fault of code `assumed`), never silently.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain, islice

import numpy as np
import numpy.typing as npt

from bandwright.core.fold import MOST_POINTS
from bandwright.core.sweep import SweepBlock, SweepFault
from bandwright.readers.layout import Layout, fields_of, layout_of
from bandwright.readers.text import level_of, lines_of, number_of

__all__ = ["parse", "sniff"]

Floats = npt.NDArray[np.float64]

_HEAD_LINES = 400
_BATCH_LINES = 2000
_PLAIN = re.compile(r"[-+.0-9eE,; \tnaifNAIF^|]*")
_FEWEST_ROWS = 3
_SORTED_ROWS = 16  # so many rising rows are no accident
_MOST_HZ = 1e12


def sniff(head: bytes) -> bool:
    """Whether at least three rows of the file's head hold two or more numbers."""
    return layout_of(_lines(head)) is not None


def _lines(head: bytes) -> list[str]:
    return [line.decode("latin-1") for line in islice(lines_of([head]), _HEAD_LINES)]


def parse(blocks: Iterable[bytes]) -> Iterator[SweepBlock | SweepFault]:
    """Yield a block for each column of levels of each run through the band, and faults."""
    lines = (line.decode("latin-1") for line in lines_of(blocks))
    head = list(islice(lines, _HEAD_LINES))
    layout = layout_of(head)
    if layout is None:
        yield SweepFault(code="no-table", text="No rows with a frequency and a level were found.")
        return
    for sentence in layout.said:
        yield SweepFault(code="assumed", text=sentence)
    trace = _Trace(layout=layout)
    rows = chain(head[layout.skip :], lines)
    number = layout.skip + 1
    while batch := list(islice(rows, _BATCH_LINES)):
        yield from _batch(trace, batch, number)
        number += len(batch)
    yield from trace.blocks()
    if layout.points is not None and trace.rows < layout.points:
        text = f"The header promises {layout.points} points; {trace.rows} follow."
        yield SweepFault(code="fewer-points", text=text)
    if trace.no_levels:
        yield SweepFault(code="no-level", text=f"{trace.no_levels} levels are nan, inf or empty: not measured there.")


@dataclass(slots=True, kw_only=True)
class _Trace:
    """The rows of one run through the band, until the frequency starts over."""

    layout: Layout
    hz: array[float] = field(default_factory=lambda: array("d"))
    levels: list[array[float]] = field(init=False)
    low_hz: float = math.inf
    high_hz: float = 0.0
    rises: bool = True
    rows: int = 0
    no_levels: int = 0

    def __post_init__(self) -> None:
        self.levels = [array("d") for _ in self.layout.levels]

    def starts_over(self, hz: float) -> bool:
        """Whether a row at this frequency begins a new run.

        It does at the first frequency again, and at a fall over half the band after rows that only rose; rows out of
        order are one run.
        """
        if len(self.hz) < _FEWEST_ROWS:
            return False
        falls = len(self.hz) >= _SORTED_ROWS and self.rises and self.hz[-1] - hz > 0.5 * (self.high_hz - self.low_hz)
        return falls or hz == self.hz[0]

    def plain_rows(self, hz: Floats) -> int:
        """Return how many of the coming rows only rise and so cannot begin a new run."""
        if not self.hz:
            return 0
        turns = np.flatnonzero((np.diff(hz, prepend=self.hz[-1]) < 0) | (hz == self.hz[0]))
        return int(turns[0]) if turns.size else hz.size

    def take_many(self, table: Floats) -> None:
        """Add rows that do not begin a new run."""
        if not len(table):
            return
        self.rises = self.rises and float(table[0, 0]) >= self.high_hz
        self.low_hz = min(self.low_hz, float(table[:, 0].min()))
        self.high_hz = max(self.high_hz, float(table[:, 0].max()))
        for column, values in zip((self.hz, *self.levels), table.T, strict=True):
            column.frombytes(values.tobytes())
        self.rows += len(table)

    def take(self, hz: float, levels: list[float]) -> None:
        self.rises = self.rises and hz >= self.high_hz
        self.hz.append(hz)
        self.low_hz, self.high_hz = min(self.low_hz, hz), max(self.high_hz, hz)
        for column, level in zip(self.levels, levels, strict=True):
            column.append(level)
        self.rows += 1

    def blocks(self) -> Iterator[SweepBlock | SweepFault]:
        """Yield what was gathered, one block for each column of levels, and begin anew."""
        centres = np.array(self.hz, dtype=np.float64)
        columns = [np.array(column, dtype=np.float64) for column in self.levels]
        self.hz, self.levels = array("d"), [array("d") for _ in self.layout.levels]
        self.low_hz, self.high_hz, self.rises = math.inf, 0.0, True
        steps = np.diff(np.unique(centres))
        if not steps.size:
            if centres.size:
                yield SweepFault(code="one-frequency", text="A single frequency shows no bin width. Not used.")
            return
        for levels in columns:
            yield SweepBlock(
                first_hz=float(centres[0]),
                bin_hz=float(np.median(steps)),
                levels_db=levels,
                centres_hz=centres,
                rbw_hz=self.layout.rbw_hz,
                whole=self.layout.rbw_hz is not None,
                unit=self.layout.unit,
            )


def _batch(trace: _Trace, lines: list[str], number: int) -> Iterator[SweepBlock | SweepFault]:
    """Yield what many lines give: read at once where they are plain rows, one by one where any of them is not."""
    table = _plain_table(trace.layout, lines)
    if table is None:
        for offset, line in enumerate(lines):
            yield from _row(trace, line, number + offset)
        return
    trace.no_levels += int(np.count_nonzero(np.isnan(table[:, 1:])))
    first = 0
    while first < len(table):
        end = first + trace.plain_rows(table[first:, 0])
        trace.take_many(table[first:end])
        if end < len(table):
            hz = float(table[end, 0])
            if trace.starts_over(hz):
                yield from trace.blocks()
            trace.take(hz, table[end, 1:].tolist())
            end += 1
        first = end
        if len(trace.hz) > MOST_POINTS:
            yield from trace.blocks()


def _plain_table(layout: Layout, lines: list[str]) -> Floats | None:
    """Return Hz and levels of the lines, or None where a line is no plain row of numbers."""
    text = "".join(lines)
    if not text.strip() or layout.decimal_comma or layout.joined or not _PLAIN.fullmatch(text):
        return None
    try:
        table = np.loadtxt(
            lines, delimiter=layout.delimiter, usecols=(layout.frequency, *layout.levels), ndmin=2, comments=None
        )
    except ValueError:
        return None
    table[:, 0] *= layout.hz_per_unit
    in_range = (table[:, 0] >= 0) & (table[:, 0] <= _MOST_HZ)
    table[:, 1:][np.isinf(table[:, 1:])] = np.nan
    return table if len(table) and in_range.all() else None


def _row(trace: _Trace, line: str, number: int) -> Iterator[SweepBlock | SweepFault]:
    if not line.strip():
        return
    layout = trace.layout
    fields = fields_of(line, layout.delimiter, joined=layout.joined)
    frequency = _number(fields[layout.frequency], layout) if len(fields) > layout.frequency else None
    if frequency is None or not 0 <= frequency * layout.hz_per_unit <= _MOST_HZ:
        shown = line.strip()[:40]
        yield SweepFault(code="bad-row", text=f"No row of frequency and level: {shown!r}. Not used.", line=number)
        return
    levels: list[float] = []
    for column in layout.levels:
        word = fields[column] if column < len(fields) else ""
        level = level_of(word.replace(",", ".") if layout.decimal_comma else word)
        if level is None:
            yield SweepFault(code="bad-level", text=f"{word.strip()[:20]!r} is no level: not measured.", line=number)
        elif math.isnan(level):
            trace.no_levels += 1
        levels.append(math.nan if level is None else level)
    hz = frequency * layout.hz_per_unit
    if trace.starts_over(hz):
        yield from trace.blocks()
    trace.take(hz, levels)
    if len(trace.hz) > MOST_POINTS:
        yield from trace.blocks()


def _number(word: str, layout: Layout) -> float | None:
    return number_of(word.replace(",", ".") if layout.decimal_comma else word)

"""Plain columns: a frequency and one or more levels in each row, also below the settings of an analyser.

Delimiter, decimal sign, units and the meaning of columns are taken from the words above each table; what the file does
not say is assumed in words (a fault of code `assumed`), never silently. Tables may stand one below the other, each with
its own step; tables that are traces of the same sweep are chosen from by `readers.traces`.
"""

from __future__ import annotations

import math
import re
from collections import deque
from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice

import numpy as np
import numpy.typing as npt

from bandwright.core.sweep import SweepFacts, SweepFault, SweepItem
from bandwright.readers.layout import Layout, fields_of, layout_of, names_columns
from bandwright.readers.layout_words import plain_frequency, trace_in
from bandwright.readers.run import Run
from bandwright.readers.text import level_of, lines_of, number_of
from bandwright.readers.traces import UnknownTraceError, chosen_traces

__all__ = ["parse", "sniff"]

Floats = npt.NDArray[np.float64]

_HEAD_LINES = 400
_BATCH_LINES = 2000
_PLAIN = re.compile(r"[-+.0-9eE,; \tnaifNAIF^|]*")
_MOST_HZ = 1e12
_MOST_TABLES = 1000
_MOST_HELD = 10_000_000  # levels of traces that are kept until it is known which to read
_SIGNS = str.maketrans({"\u2212": "-", "\u2013": "-", "\u202f": "\xa0", "\u03bc": "\xb5"})


def sniff(head: bytes) -> bool:
    """Whether at least three rows of the file's head hold two or more numbers, or levels below their frequencies."""
    return layout_of(list(islice(_decoded(lines_of([head])), _HEAD_LINES))) is not None


def _decoded(lines: Iterable[bytes]) -> Iterator[str]:
    """Yield lines as text, with typographic minus signs and spaces made plain."""
    for line in lines:
        try:
            text = line.decode("utf-8")
        except UnicodeDecodeError:
            text = line.decode("latin-1")
        yield text if text.isascii() else text.translate(_SIGNS)


def parse(blocks: Iterable[bytes], *, trace: str | None = None) -> Iterator[SweepItem]:
    """Yield a block for each column of levels of each run through the band, faults, and the traces there are.

    Raises
    ------
    UnknownTraceError
        When no trace, or more than one, is called `trace`.
    """
    reading = _Reading(lines=_Lines(_decoded(lines_of(blocks))), wanted=trace)
    tables = 0
    while head := reading.lines.take(_HEAD_LINES):
        found = layout_of(head, wanted=trace, before=reading.settings)
        if found is None:
            yield from _no_table(reading, head, first=tables == 0)
            continue
        tables += 1
        if tables > _MOST_TABLES:
            text = f"More than {_MOST_TABLES} tables, one below the other: the rest is not read."
            yield SweepFault(code="too-many-tables", text=text, line=reading.lines.number - len(head))
            break
        reading.lines.give_back(head[found.skip :])
        yield from _table(reading, found)
    yield from reading.chosen()
    if reading.no_levels:
        text = f"{reading.no_levels} levels are nan, inf or empty: not measured there."
        yield SweepFault(code="no-level", text=text)


class _Lines:
    """Lines with their numbers, some of which may be given back."""

    def __init__(self, lines: Iterator[str]) -> None:
        self._lines = lines
        self._back: deque[str] = deque()
        self.number = 1

    def take(self, count: int) -> list[str]:
        """Return the next lines; `number` is then that of the line after them."""
        found = [self._back.popleft() for _ in range(min(count, len(self._back)))]
        found.extend(islice(self._lines, count - len(found)))
        self.number += len(found)
        return found

    def give_back(self, lines: list[str]) -> None:
        """Put lines back that were taken last."""
        self._back.extendleft(reversed(lines))
        self.number -= len(lines)


@dataclass(slots=True, kw_only=True)
class _Trace:
    """The tables of one trace, kept until it is known which traces are read."""

    kind: str
    items: list[SweepItem] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class _Reading:
    """What is remembered from table to table."""

    lines: _Lines
    wanted: str | None
    settings: dict[str, str] = field(default_factory=dict)
    traces: dict[str, _Trace] = field(default_factory=dict)
    columns: SweepFacts | None = None
    said: set[str] = field(default_factory=set)
    held: int = 0
    no_levels: int = 0

    def chosen(self) -> Iterator[SweepItem]:
        """Yield the tables of the traces that are read, and what traces there were."""
        if self.traces:
            kinds = {name: f"{name} {trace.kind}" for name, trace in self.traces.items()}
            names, sentence = chosen_traces(kinds, self.wanted)
            if sentence:
                yield SweepFault(code="assumed", text=sentence)
            for name in names:
                yield from self.traces[name].items
            if len(self.traces) > 1:
                yield SweepFacts(traces=tuple(self.traces), trace=names[0] if len(names) == 1 else None)
        elif self.columns is not None:
            yield self.columns
        elif self.wanted is not None:
            raise UnknownTraceError(self.wanted, ())


def _no_table(reading: _Reading, head: list[str], *, first: bool) -> Iterator[SweepItem]:
    """Tell of lines that no table follows; all but the first are given back."""
    if first:
        yield SweepFault(code="no-table", text="No rows with a frequency and a level were found.")
        return
    told = 0
    start = reading.lines.number - len(head)
    for offset, line in enumerate(head):
        if line.strip() and told < 3:
            told += 1
            text = f"No row of frequency and level: {line.strip()[:40]!r}. Not used."
            yield SweepFault(code="bad-row", text=text, line=start + offset)


def _table(reading: _Reading, layout: Layout) -> Iterator[SweepItem]:
    """Yield what one table gives, or keep it where it is one of several traces."""
    reading.settings = layout.settings
    for sentence in layout.said:
        if sentence not in reading.said:
            reading.said.add(sentence)
            yield SweepFault(code="assumed", text=sentence)
    if layout.traces and reading.columns is None:
        reading.columns = SweepFacts(traces=layout.traces, trace=layout.trace)
    if layout.block is None:
        yield from _rows(reading, layout)
        return
    kept = reading.traces.setdefault(layout.block, _Trace(kind=layout.kind))
    for item in _rows(reading, layout):
        if isinstance(item, SweepFault):
            yield item
        elif reading.held <= _MOST_HELD:
            kept.items.append(item)
    if reading.held > _MOST_HELD:
        text = f"Traces of more than {_MOST_HELD} levels in all are not kept beside each other: the rest is not used."
        yield SweepFault(code="too-large", text=text)


def _rows(reading: _Reading, layout: Layout) -> Iterator[SweepItem]:
    run = Run(layout=layout)
    while batch := reading.lines.take(_BATCH_LINES):
        table = _plain_table(layout, batch)
        if table is not None:
            reading.no_levels += int(np.count_nonzero(np.isnan(table[:, 1:])))
            yield from run.take_table(table)
            continue
        ended = yield from _by_hand(reading, run, batch)
        if ended:
            break
    reading.held += run.rows * len(layout.levels)
    yield from run.blocks()
    if layout.points is not None and run.rows < layout.points:
        text = f"The header promises {layout.points} points; {run.rows} follow."
        yield SweepFault(code="fewer-points", text=text)


def _by_hand(reading: _Reading, run: Run, batch: list[str]) -> Generator[SweepItem, None, bool]:
    """Yield what lines give, one by one; return whether another table begins, whose lines are then given back."""
    start = reading.lines.number - len(batch)
    for offset, line in enumerate(batch):
        if not line.strip():
            continue
        if _begins_table(line, run.layout):
            if line.strip() == run.layout.heading:
                yield from run.blocks()
                continue
            reading.lines.give_back(batch[offset:])
            return True
        yield from _row(reading, run, line, start + offset)
    return False


def _begins_table(line: str, layout: Layout) -> bool:
    start = line.lstrip(' \t"#!*[')[:1]
    return start.isalpha() and (trace_in(line) or names_columns(line, layout.delimiter))


def _plain_table(layout: Layout, lines: list[str]) -> Floats | None:
    """Return Hz and levels of the lines, or None where a line is no plain row of numbers."""
    text = "".join(lines)
    by_hand = layout.decimal_comma or layout.joined or layout.frequency < 0 or layout.second is not None
    if by_hand or not text.strip() or not _PLAIN.fullmatch(text):
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


def _row(reading: _Reading, run: Run, line: str, number: int) -> Iterator[SweepItem]:
    layout = run.layout
    fields = fields_of(line, layout.delimiter, joined=layout.joined)
    hz = _frequency(fields, run)
    if hz is None or not 0 <= hz <= _MOST_HZ:
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
            reading.no_levels += 1
        levels.append(math.nan if level is None else level)
    yield from run.take(hz, levels)


def _frequency(fields: list[str], run: Run) -> float | None:
    """Return Hz; the number of the row where only a start and a stop tell frequencies."""
    layout = run.layout
    if layout.frequency < 0:
        return float(run.next_row)
    edges = (layout.frequency,) if layout.second is None else (layout.frequency, layout.second)
    found = [_number(fields[column], layout) for column in edges if column < len(fields)]
    known = [value for value in found if value is not None]
    return sum(known) / len(edges) * layout.hz_per_unit if len(known) == len(edges) else None


def _number(word: str, layout: Layout) -> float | None:
    return number_of(plain_frequency(word, decimal_comma=layout.decimal_comma))

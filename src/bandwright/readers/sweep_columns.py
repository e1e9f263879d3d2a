"""Sweeps as columns: each column is a sweep, each row a frequency, and only the first line tells the frequencies."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice, pairwise

import numpy as np
import numpy.typing as npt

from bandwright.core.fold import MOST_POINTS
from bandwright.core.sweep import SweepBlock, SweepFault
from bandwright.readers.text import level_of, lines_of, number_of, time_of

__all__ = ["parse", "sniff"]

Floats = npt.NDArray[np.float64]

_DELIMITERS = (";", "\t", ",")
_MOST_VALUES = 20_000_000

# Words of the first line and what they are to us.
_NAMES = {"start": "start", "stop": "stop", "fstep": "step", "step": "step", "points": "points", "rbw": "rbw"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Header:
    """What the first line states; frequencies in Hz, the resolution bandwidth in kHz (as hand-held analysers do)."""

    start_hz: float
    stop_hz: float
    points: int
    rbw_hz: float | None
    stamp: str
    delimiter: str

    @property
    def step_hz(self) -> float:
        return (self.stop_hz - self.start_hz) / (self.points - 1)


def sniff(head: bytes) -> bool:
    """Whether the first line states start, stop and points, and rows of levels follow."""
    lines = list(islice(lines_of([head]), 3))
    header = _header_of(lines[0]) if len(lines) > 1 else None
    if header is None:
        return False
    first = lines[1].decode("latin-1").split(header.delimiter)[0]
    return level_of(_plain(first, header.delimiter)) is not None


def _header_of(line: bytes) -> _Header | None:
    return next((header for mark in _DELIMITERS if (header := _header(line.decode("latin-1"), mark))), None)


def _header(line: str, delimiter: str) -> _Header | None:
    words = [word.strip(' "') for word in line.split(delimiter)]
    found = {
        _NAMES[key.lower()]: number
        for key, value in pairwise(words)
        if key.lower() in _NAMES and (number := number_of(_plain(value, delimiter))) is not None
    }
    start, stop, points = found.get("start"), found.get("stop"), found.get("points")
    if start is None or stop is None or not 0 <= start < stop:
        return None
    if points is None and found.get("step", 0.0) > 0:
        points = round((stop - start) / found["step"]) + 1
    if points is None or not 2 <= points <= MOST_POINTS:
        return None
    rbw = found.get("rbw", 0.0)
    return _Header(
        start_hz=start,
        stop_hz=stop,
        points=int(points),
        rbw_hz=rbw * 1e3 if rbw > 0 else None,
        stamp=words[0],
        delimiter=delimiter,
    )


def _plain(word: str, delimiter: str) -> str:
    """Return a number with a decimal point; a comma is one wherever it is no delimiter."""
    word = word.strip(' "')
    return word if delimiter == "," else word.replace(",", ".")


def parse(blocks: Iterable[bytes]) -> Iterator[SweepBlock | SweepFault]:
    """Yield one block for each column."""
    lines = lines_of(blocks)
    header = _header_of(next(lines, b""))
    if header is None:
        yield SweepFault(code="no-header", text="The first line does not state start, stop and points.", line=1)
        return
    if header.rbw_hz is not None:
        text = f"RBW {header.rbw_hz / 1e3:g} has no unit in the file: read as kHz."
        yield SweepFault(code="assumed", text=text, line=1)
    yield SweepFault(code="assumed", text="The file names no unit of its levels: read as dB over their own floor.")
    rows: list[Floats] = []
    for number, line in enumerate(lines, start=2):
        if not line.strip():
            continue
        if len(rows) == header.points:
            text = f"More rows than the {header.points} points of the header. Not used."
            yield SweepFault(code="more-rows", text=text, line=number)
            break
        row, faults = _row(line, header.delimiter, number)
        yield from faults
        rows.append(row)
        if len(rows) * row.size > _MOST_VALUES:
            text = f"More than {_MOST_VALUES} levels beside each other are not read."
            yield SweepFault(code="too-large", text=text, line=number)
            break
    if len(rows) < header.points:
        text = f"The header promises {header.points} points; {len(rows)} follow."
        yield SweepFault(code="fewer-points", text=text)
    yield from _columns(header, rows)


def _row(line: bytes, delimiter: str, number: int) -> tuple[Floats, list[SweepFault]]:
    faults: list[SweepFault] = []
    levels: list[float] = []
    for word in line.decode("latin-1").split(delimiter):
        level = level_of(_plain(word, delimiter))
        if level is None:
            text = f"{word.strip()[:20]!r} is no level: not measured."
            faults.append(SweepFault(code="bad-level", text=text, line=number))
        levels.append(float("nan") if level is None else level)
    return np.array(levels), faults


def _columns(header: _Header, rows: list[Floats]) -> Iterator[SweepBlock | SweepFault]:
    if not rows:
        return
    widths = [row.size for row in rows]
    if min(widths) < max(widths):
        text = f"Rows hold {min(widths)} to {max(widths)} levels: what is missing at their ends is not measured."
        yield SweepFault(code="short-row", text=text)
    if header.points * max(widths) > _MOST_VALUES:
        text = f"{header.points} points in {max(widths)} columns are more than {_MOST_VALUES} levels: not read."
        yield SweepFault(code="too-large", text=text)
        return
    table = np.full((len(rows), max(widths)), np.nan)
    for index, row in enumerate(rows):
        table[index, : row.size] = row
    missing = np.full(header.points - len(rows), np.nan)
    for column in table.T:
        yield SweepBlock(
            first_hz=header.start_hz,
            bin_hz=header.step_hz,
            levels_db=np.concatenate((column, missing)),
            time=time_of(header.stamp),
            rbw_hz=header.rbw_hz,
            whole=header.rbw_hz is not None,
            unit="dB",
        )

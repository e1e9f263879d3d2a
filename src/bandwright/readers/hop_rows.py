"""What rtl_power and hackrf_sweep logs share: one line for each hop.

`date, time, low Hz, high Hz, bin Hz, samples, level, level, ...`
"""

from __future__ import annotations

import re
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import numpy.typing as npt

from bandwright.core.sweep import SweepBlock, SweepFault, SweepItem
from bandwright.readers.many_lines import ManyLines
from bandwright.readers.text import levels_of, lines_of, number_of, split_lines, time_of, whole_lines

__all__ = ["FAST_FROM_BYTES", "hop_lines", "parse_hops"]

Floats = npt.NDArray[np.float64]

FAST_FROM_BYTES = 4 * 2**20  # below this, compiling the fast way in costs more than it saves
_MOST_LEVELS = 2_000_000
_MOST_HZ = 1e12
# Above rows of an analyser, in our own logs: levels in dBm, resolution bandwidth 100000 Hz
_STATED = re.compile(rb"# levels in (dBm|dBuV), resolution bandwidth ([1-9]\d{0,11}(?:\.\d+)?) Hz\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Head:
    """The fields before the levels. `bins` is how many levels they promise."""

    low_hz: float
    high_hz: float
    bin_hz: float
    bins: int
    loose: bool


@dataclass(slots=True)
class _Reading:
    """What is remembered from line to line: heads and times seen, room for numbers, levels that were none."""

    unit: str
    first_centre: Callable[[float, float, bool], float]
    heads: dict[bytes, _Head | str] = field(default_factory=dict)
    stamp: bytes = b""
    time: datetime | None = None
    no_levels: int = 0
    first_without: int = 0
    repeats: bool = False
    rbw_hz: float | None = None


def hop_lines(head: bytes) -> list[list[bytes]]:
    """Return the fields of the complete lines in a file's head that look like hops; for sniffing."""
    lines = [line.split(b",") for line in list(lines_of([head]))[:50] if line.strip() and not line.startswith(b"#")]
    return [fields for fields in lines if len(fields) > 6 and _is_hop(fields)]


def _is_hop(fields: list[bytes]) -> bool:
    """Whether a row begins with date and time and goes on in numbers."""
    dated = fields[0].count(b"-") == 2 and fields[1].count(b":") >= 1
    return dated and all(_is_number(word) for word in fields[2:6])


def _is_number(word: bytes) -> bool:
    return number_of(word.decode("latin-1")) is not None


def parse_hops(
    blocks: Iterable[bytes], *, unit: str, first_centre: Callable[[float, float, bool], float]
) -> Iterator[SweepItem]:
    """Yield a block for each line, and a fault for each line or level that cannot be used.

    `first_centre(low_hz, bin_hz, repeated)` places the first bin; `repeated` says that the line has one level more
    than bins. In long logs, plain lines are read many at once.
    """
    reading = _Reading(unit=unit, first_centre=first_centre)
    number, done = 1, 0
    many: ManyLines | None = None
    for piece in whole_lines(blocks):
        done += len(piece)
        if done > FAST_FROM_BYTES:
            many = many or ManyLines(time_of=lambda stamp: _time(reading, stamp))
            number = yield from _many(reading, many, piece, number)
            continue
        for line in split_lines(piece):
            yield from _line(reading, line, number)
            number += 1
    if reading.no_levels:
        text = f"{reading.no_levels} levels are written as nan or inf: not measured there."
        yield SweepFault(code="no-level", text=text, line=reading.first_without)


def _many(reading: _Reading, many: ManyLines, piece: bytes, number: int) -> Generator[SweepItem, None, int]:
    """Yield what a piece gives, plain lines at once and others by hand, and return the number of the line after it."""
    position = 0
    while position < len(piece):
        rows, lines, position = many.read(piece, position)
        if rows is not None:
            yield rows
        number += lines
        if position == len(piece):
            break
        end = piece.find(b"\n", position)
        line = piece[position : end if end >= 0 else len(piece)].removesuffix(b"\r")
        position = end + 1 if end >= 0 else len(piece)
        for item in _line(reading, line, number):
            if isinstance(item, SweepBlock):
                many.learn(line, item)
            yield item
        number += 1
    return number


def _line(reading: _Reading, line: bytes, number: int) -> Iterator[SweepBlock | SweepFault]:
    if stated := _STATED.match(line):
        reading.unit, reading.rbw_hz = stated[1].decode(), float(stated[2])
    elif line.strip() and not line.startswith(b"#"):
        yield from _row(reading, line, number)


def _row(reading: _Reading, line: bytes, number: int) -> Iterator[SweepBlock | SweepFault]:
    fields = line.split(b",", 6)
    if len(fields) < 7:
        text = f"A row needs six fields and then levels; found {len(fields)} fields. Not used."
        yield SweepFault(code="short-row", text=text, line=number)
        return
    head = _head_of(reading, fields)
    if isinstance(head, str):
        yield SweepFault(code="bad-row", text=f"{head} Not used.", line=number)
        return
    levels, bad = _levels(fields[6])
    if bad:
        shown = bad[0].decode("latin-1").strip()[:20]
        text = f"{len(bad)} of {levels.size} levels are no numbers (the first: {shown!r}): not measured there."
        yield SweepFault(code="bad-level", text=text, line=number)
    missing = int(np.count_nonzero(np.isnan(levels))) - len(bad)
    if missing > 0:
        reading.first_without = reading.first_without or number
        reading.no_levels += missing
    yield from _fitted(reading, head, levels, number)


def _fitted(reading: _Reading, head: _Head, levels: Floats, number: int) -> Iterator[SweepBlock | SweepFault]:
    """Yield the row's block with exactly as many bins as the head promises."""
    bins = head.bins
    if head.loose and levels.size not in (bins, bins + 1) and _explains_step(head, levels.size - 1):
        bins = levels.size - 1
    if levels.size == bins + 1:
        reading.repeats = True
    if levels.size > bins + 1:
        text = f"{levels.size} levels where the frequencies promise {bins}: nobody can tell which is which. Not used."
        yield SweepFault(code="long-row", text=text, line=number)
        return
    if levels.size < bins:
        text = f"{levels.size} levels where the frequencies promise {bins}: the rest of the hop is not measured."
        yield SweepFault(code="short-row", text=text, line=number)
        kept = max(levels.size - 1, 0)  # the last one may be cut in the middle of a number
        levels = np.concatenate((levels[:kept], np.full(bins - kept, np.nan)))
        repeated = reading.repeats
    else:
        repeated = levels.size == bins + 1
    repeated = repeated and bins > 1
    bin_hz = (head.high_hz - head.low_hz) / bins
    yield SweepBlock(
        first_hz=reading.first_centre(head.low_hz, bin_hz, repeated),
        bin_hz=bin_hz,
        levels_db=levels[:bins],
        time=reading.time,
        rbw_hz=reading.rbw_hz,
        unit=reading.unit,
    )


def _explains_step(head: _Head, bins: int) -> bool:
    """Whether so many bins have the written width, cut to whole Hz."""
    close = abs(bins - head.bins) <= 1 + head.bins // 200
    return close and int((head.high_hz - head.low_hz) / bins) == head.bin_hz


def _head_of(reading: _Reading, fields: list[bytes]) -> _Head | str:
    """Return the head of a row, or the sentence that refuses it; rows of later sweeps repeat those of the first."""
    reading.time = _time(reading, fields[0] + b"," + fields[1])
    key = b",".join(fields[2:5])
    known = reading.heads.get(key)
    if known is None:
        known = _new_head([word.decode("latin-1") for word in fields[2:5]])
        if len(reading.heads) < 20_000:
            reading.heads[key] = known
    return known


def _time(reading: _Reading, stamp: bytes) -> datetime | None:
    """Return the time of a row's first two fields; most rows repeat that of the row before."""
    if stamp != reading.stamp:
        reading.stamp = stamp
        reading.time = time_of(" ".join(word.strip() for word in stamp.decode("latin-1").split(",")))
    return reading.time


def _new_head(words: list[str]) -> _Head | str:
    numbers = [number_of(word) for word in words]
    low, high, step = numbers
    if low is None or high is None or step is None:
        shown = next(word.strip()[:20] for word, value in zip(words, numbers, strict=True) if value is None)
        return f"Low, high and bin width are plain numbers of Hz; found {shown!r}."
    if not (0 <= low < high <= _MOST_HZ):
        return f"A hop runs upwards from 0 Hz; found {words[0].strip()} to {words[1].strip()} Hz."
    if not 0 < step <= high - low + step / 2:
        return f"A bin is wider than 0 Hz and no wider than its hop; found {words[2].strip()} Hz."
    if (high - low) / step > _MOST_LEVELS:
        return f"A hop of more than {_MOST_LEVELS} bins is not read."
    bins = max(1, round((high - low) / step))
    return _Head(low_hz=low, high_hz=high, bin_hz=step, bins=bins, loose=step == int(step) and bins > 50)


def _levels(text: bytes) -> tuple[Floats, list[bytes]]:
    """Return the levels of a row, NaN for what is none, and the fields that nobody can read."""
    fields = text.split(b",")
    if len(fields) > 1 and not fields[-1].strip():
        fields.pop()  # a comma at the end of a row
    if b"_" not in text:
        try:
            levels = np.array(list(map(float, fields)))
        except ValueError:
            return levels_of(fields)
        levels[np.isinf(levels)] = np.nan
        return levels, []
    return levels_of(fields)

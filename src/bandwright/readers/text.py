"""Bytes into lines, and words into numbers: what every reader needs."""

from __future__ import annotations

import codecs
import math
import re
from collections.abc import Iterable, Iterator
from datetime import datetime

import numpy as np
import numpy.typing as npt

__all__ = [
    "LONGEST_LINE",
    "LineTooLongError",
    "level_of",
    "levels_of",
    "lines_of",
    "number_of",
    "split_lines",
    "time_of",
    "whole_lines",
]

Floats = npt.NDArray[np.float64]

LONGEST_LINE = 64 * 2**20
_UTF16 = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
_NO_LEVEL = re.compile(r"[-+]?(nan|inf|infinity|1\.#(j|inf|ind|qnan|snan|io)\d*)$", re.IGNORECASE)
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d{1,3})?$")


class LineTooLongError(ValueError):
    """A line without an end: no text file of levels."""


def whole_lines(blocks: Iterable[bytes]) -> Iterator[bytes]:
    """Yield pieces that end with a line's end; a byte order mark is dropped, UTF-16 becomes UTF-8.

    The last piece may lack its end.
    """
    rest: list[bytes] = []
    size = 0
    for block in _plain(blocks):
        end = block.rfind(b"\n") + 1
        if end:
            rest.append(block[:end])
            yield b"".join(rest)
            rest, size = [block[end:]], len(block) - end
            continue
        rest.append(block)
        size += len(block)
        if size > LONGEST_LINE:
            raise LineTooLongError(f"A line has more than {LONGEST_LINE // 2**20} MiB; that is no log of levels.")
    if last := b"".join(rest):
        yield last


def lines_of(blocks: Iterable[bytes]) -> Iterator[bytes]:
    """Yield lines without their ends; a byte order mark is dropped, UTF-16 becomes UTF-8. The last may be cut off."""
    for piece in whole_lines(blocks):
        yield from split_lines(piece)


def split_lines(piece: bytes) -> Iterator[bytes]:
    """Yield the lines of a piece that ends with a line's end, without their ends."""
    lines = piece.split(b"\n")
    if not lines[-1]:
        lines.pop()
    for line in lines:
        yield line[:-1] if line.endswith(b"\r") else line


def _plain(blocks: Iterable[bytes]) -> Iterator[bytes]:
    decoder: codecs.IncrementalDecoder | None = None
    for index, block in enumerate(blocks):
        if index == 0 and block[:2] in _UTF16:
            decoder = codecs.getincrementaldecoder(_UTF16[block[:2]])(errors="replace")
            yield decoder.decode(block[2:]).encode()
        elif decoder is not None:
            yield decoder.decode(block).encode()
        else:
            yield block.removeprefix(codecs.BOM_UTF8) if index == 0 else block


def number_of(word: str) -> float | None:
    """Return a plain finite number, or None: no underscores, no hexadecimals, no words."""
    word = word.strip()
    if not _NUMBER.match(word):
        return None
    value = float(word)
    return value if math.isfinite(value) else None


def level_of(word: str) -> float | None:
    """Return a level; NaN for the spellings of "no level" (nan, inf, -1.#J, empty), None for what is neither."""
    value = number_of(word)
    if value is not None:
        return value
    word = word.strip()
    return math.nan if not word or _NO_LEVEL.match(word) else None


def levels_of(fields: Iterable[bytes]) -> tuple[Floats, list[bytes]]:
    """Return levels with NaN for what is none, and the fields that are neither a level nor a spelling of no level."""
    found: list[float] = []
    bad: list[bytes] = []
    for field in fields:
        level = level_of(field.decode("latin-1"))
        if level is None:
            bad.append(field)
        found.append(math.nan if level is None else level)
    return np.array(found, dtype=np.float64), bad


def time_of(word: str) -> datetime | None:
    """Return a date and time as written, without a time zone; None where it is none."""
    try:
        return datetime.fromisoformat(word).replace(tzinfo=None)
    except ValueError:
        return None

"""soapy_power's two formats of its own: rows as rtl_power's, and a binary one.

Taken from the program's source (version 1.6.1, `writer.py`): the first level is that of the low frequency, and there
are exactly as many levels as bins. Its third format, columns of frequency and level, is read as plain columns.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime

import numpy as np

from bandwright.core.sweep import SweepBlock, SweepFault, SweepItem
from bandwright.readers.hop_rows import hop_lines, parse_hops

__all__ = ["parse", "parse_binary", "sniff", "sniff_binary"]

_MAGIC = b"SDRFF"
_HEADER = struct.Struct("<BdddddQQ2x")  # version, start and stop time, low, high, step, samples, bytes of levels
_VERSION = 2
_MOST_BYTES = 64 * 2**20
_MOST_HZ = 1e12
_LATEST_S = 4e9


def sniff(head: bytes) -> bool:
    """Whether the file's head has rows of hops whose frequencies are written as floating-point numbers."""
    return any(b"." in fields[2] for fields in hop_lines(head))


def parse(blocks: Iterable[bytes]) -> Iterator[SweepItem]:
    """Yield a block for each row; the first bin is centred on the low frequency."""
    return parse_hops(blocks, unit="dB", first_centre=lambda low_hz, _bin_hz, _repeated: low_hz)


def sniff_binary(head: bytes) -> bool:
    """Whether the file begins with the mark of the binary format."""
    return head.startswith(_MAGIC)


def parse_binary(blocks: Iterable[bytes]) -> Iterator[SweepItem]:
    """Yield a block for each record: the mark, a header, levels as 32-bit floating-point numbers."""
    rest = b""
    number = 1
    for block in blocks:
        rest += block
        while len(rest) >= len(_MAGIC) + _HEADER.size:
            start = len(_MAGIC) + _HEADER.size
            if not rest.startswith(_MAGIC):
                text = f"Record {number} does not begin with {_MAGIC.decode()}: it and everything after it is not used."
                yield SweepFault(code="bad-record", text=text)
                return
            version, began, _, low, high, step, _, size = _HEADER.unpack(rest[len(_MAGIC) : start])
            refusal = _refusal(version, low, high, step, size)
            if refusal:
                text = f"Record {number}: {refusal} It and everything after it is not used."
                yield SweepFault(code="bad-record", text=text)
                return
            if len(rest) < start + size:
                break
            yield _record(rest[start : start + size], began, low, step)
            rest = rest[start + size :]
            number += 1
    if rest:
        yield SweepFault(code="cut-off", text=f"Record {number} is cut off: not used.")


def _refusal(version: int, low: float, high: float, step: float, size: int) -> str:
    if version != _VERSION:
        return f"version {version} of the format is not known; known is {_VERSION}."
    if not (0 <= low < high <= _MOST_HZ and 0 < step <= high - low + step / 2):
        return f"{low:g} to {high:g} Hz in steps of {step:g} Hz is no range that runs upwards from 0 Hz."
    if size > _MOST_BYTES or size % 4:
        return f"{size} bytes of levels are not read; at most {_MOST_BYTES}, four for each."
    bins = size // 4
    if bins < 2 or not math.isclose((high - low) / step, bins, abs_tol=0.5):
        return f"{bins} levels where the frequencies promise {(high - low) / step:.0f}."
    return ""


def _record(data: bytes, began: float, low_hz: float, step_hz: float) -> SweepBlock:
    levels = np.frombuffer(data, dtype="<f4").astype(np.float64)
    time = datetime.fromtimestamp(began, UTC).replace(tzinfo=None) if 0 < began < _LATEST_S else None
    return SweepBlock(
        first_hz=low_hz,
        bin_hz=step_hz,
        levels_db=np.where(np.isfinite(levels), levels, np.nan),
        time=time,
        unit="dB",
    )

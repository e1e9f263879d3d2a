"""The levels of a sweep packed for drawing: two bytes each, and where they stand along the band.

A page draws 50,000 bins three times over. As numbers in text that is a megabyte and a second of parsing; as whole
hundredths of a dB it is 300 kB and none. -32768 marks what was not measured: missing levels stay missing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.sweep import Sweep

__all__ = ["MISSING", "SERIES", "PackedLevels", "Segment", "packed_levels"]

SERIES = ("highest", "typical", "floor")
MISSING = -32768
_LARGEST = 32767
_EVEN = 0.01  # of a bin: what rounding in files does to widths


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """Bins of one width side by side: bin i reaches from `low_hz + i * step_hz` to the next."""

    low_hz: float
    step_hz: float
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedLevels:
    """Levels in hundredths of a dB as little-endian 16-bit numbers, all bins of the first series first."""

    unit: str
    series: tuple[str, ...]
    segments: tuple[Segment, ...]
    count: int
    data: bytes


def packed_levels(sweep: Sweep) -> PackedLevels:
    """Return the highest, the typical and the floor level of each bin, packed.

    Levels beyond 327.67 dB either way are drawn at that.
    """
    levels = np.stack([sweep.highest_db, sweep.typical_db, sweep.floor_db])
    with np.errstate(invalid="ignore"):
        hundredths = np.clip(np.round(levels * 100), -_LARGEST, _LARGEST)
    packed = np.where(np.isfinite(levels), hundredths, MISSING).astype("<i2")
    return PackedLevels(
        unit=sweep.unit,
        series=SERIES,
        segments=_segments(sweep),
        count=sweep.grid.size,
        data=packed.tobytes(),
    )


def _segments(sweep: Sweep) -> tuple[Segment, ...]:
    low, high = sweep.grid.low_edges_hz, sweep.grid.high_edges_hz
    if not low.size:
        return ()
    first = _first_of_each(low, high)
    last = np.append(first[1:], low.size) - 1
    return tuple(
        Segment(low_hz=float(low[a]), step_hz=float((high[b] - low[a]) / (b - a + 1)), count=int(b - a + 1))
        for a, b in zip(first.tolist(), last.tolist(), strict=True)
    )


def _first_of_each(low: npt.NDArray[np.float64], high: npt.NDArray[np.float64]) -> npt.NDArray[np.int64]:
    """Return the first bin of each run of bins that meet and are of one width."""
    widths = high - low
    allowed = _EVEN * widths[:-1]
    breaks = (np.abs(low[1:] - high[:-1]) > allowed) | (np.abs(np.diff(widths)) > allowed)
    return np.concatenate(([0], np.flatnonzero(breaks) + 1)).astype(np.int64)

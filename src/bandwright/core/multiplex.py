"""Whether a TV channel holds a multiplex: flat occupancy over the width of the standard's own signal."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import TvChannel, TvRaster
from bandwright.core.sweep import ChannelLevels, Sweep, channel_levels

__all__ = ["SIGNAL_WIDTH_HZ", "SKIRT_DB", "SKIRT_HZ", "TvFinding", "TvVerdict", "tv_findings"]

Floats = npt.NDArray[np.float64]

# Width of the OFDM signal in a TV channel of 8, 7 and 6 MHz: 6816 carriers over the useful symbol of 896, 1024 and
# 7168/6 us (EN 300 744, 8k mode: 7.607, 6.656, 5.705 MHz). The 13 segments of 6/14 MHz of another standard are 98 % of
# the last, the 8-level sideband signal 94 %.
SIGNAL_WIDTH_HZ = {8_000_000: 7_607_143, 7_000_000: 6_656_250, 6_000_000: 5_705_357}

_SLICE_HZ = 200_000
_SEEN_DB = 3.0  # a slice that is this much above its floor in the mean is occupied
_SEEN_HELD_DB = 6.0  # or this much in its highest
_FULL = 0.85  # of the signal's width: room for one deep notch from an echo
_MEASURED = 0.9
_SURE_DB = 10.0
_BESIDE_HZ = 1_000_000

SKIRT_HZ = 600_000
SKIRT_DB = 30.0


class TvVerdict(StrEnum):
    """What a sweep says of a TV channel."""

    NOTHING_SEEN = "nothing seen"
    SHARED = "shared"
    TAKEN = "taken"
    UNMEASURED = "not measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class TvFinding:
    """The verdict on one TV channel. `level_db` is the mean power over the signal's width, None where not measured.

    `confidence` runs from 0 to 1; None where nothing was measured.
    """

    channel: TvChannel
    verdict: TvVerdict
    level_db: float | None = None
    confidence: float | None = None


def tv_findings(sweep: Sweep, raster: TvRaster, *, with_levels: bool = True) -> tuple[TvFinding, ...]:
    """Return a verdict for each TV channel that the sweep's range touches; levels take half of the time."""
    return tuple(
        _finding(sweep, channel, with_levels=with_levels)
        for channel in raster.channels
        if channel.span.low_hz < sweep.high_hz and sweep.low_hz < channel.span.high_hz
    )


def _finding(sweep: Sweep, channel: TvChannel, *, with_levels: bool) -> TvFinding:
    """Judge slices of 200 kHz over the width of the signal.

    taken
        85 % of the slices are 3 dB above the floor in the mean: something as wide and as flat as a multiplex.
    shared
        something is there, but less: microphones, one corner of a neighbour, a carrier.
    nothing seen
        90 % of the slices were measured, and none is above the floor.

    Confidence in "taken" grows with the part that is occupied and the level up to 10 dB above the floor; in "nothing
    seen" it falls with what the middle slice is above it; it always falls with the part that was not measured. The
    limits are common practice.

    Slices within 600 kHz of an edge that lie 30 dB below what fills the TV channel beyond it are left out: the skirts
    of that signal and of the instrument. A carrier in them that stands out still stands in the list of carriers.
    """
    width = SIGNAL_WIDTH_HZ.get(channel.span.width_hz, round(0.95 * channel.span.width_hz))
    middle = (channel.span.low_hz + channel.span.high_hz) // 2
    slices = np.arange(middle - width // 2 + _SLICE_HZ // 2, middle + width // 2 - _SLICE_HZ // 2 + 1, _SLICE_HZ)
    levels = channel_levels(sweep, carriers_hz=slices, bandwidth_hz=_SLICE_HZ)
    known = levels.measured & np.isfinite(levels.floor_db) & ~_skirts(sweep, channel, levels)
    if not known.any():
        return TvFinding(channel=channel, verdict=TvVerdict.UNMEASURED)
    verdict, confidence = _judge(levels, known)
    told = with_levels and verdict is not TvVerdict.UNMEASURED
    level = _level(sweep, middle, width, levels, known) if told else None
    return TvFinding(channel=channel, verdict=verdict, level_db=level, confidence=confidence)


def _skirts(sweep: Sweep, channel: TvChannel, levels: ChannelLevels) -> npt.NDArray[np.bool_]:
    found = np.zeros(levels.measured.shape, dtype=np.bool_)
    for edge, direction in ((channel.span.low_hz, -1), (channel.span.high_hz, 1)):
        beyond = channel_levels(sweep, carriers_hz=[edge + direction * _BESIDE_HZ], bandwidth_hz=_SLICE_HZ)
        near = np.abs(levels.carriers_hz - edge) <= SKIRT_HZ
        with np.errstate(invalid="ignore"):
            found |= near & (levels.highest_db < beyond.typical_db[0] - SKIRT_DB)
    return found


def _judge(levels: ChannelLevels, known: npt.NDArray[np.bool_]) -> tuple[TvVerdict, float | None]:
    above: Floats = (levels.typical_db - levels.typical_floor_db)[known]
    held: Floats = levels.above_floor_db[known]
    measured = float(np.mean(levels.measured & np.isfinite(levels.floor_db)))
    occupied = float(np.mean(above >= _SEEN_DB))
    middle_db = float(np.median(above))
    if occupied >= _FULL and measured >= 0.5:
        return TvVerdict.TAKEN, _part(measured * occupied * max(0.3, min(1.0, middle_db / _SURE_DB)))
    if occupied > 0 or (held >= _SEEN_HELD_DB).any():
        strength = max(float(above.max()), float(held.max()) - _SEEN_DB) / _SURE_DB
        return TvVerdict.SHARED, _part(measured * max(0.3, min(1.0, strength)))
    if measured < _MEASURED:
        return TvVerdict.UNMEASURED, None
    return TvVerdict.NOTHING_SEEN, _part(measured * (1 - max(0.0, middle_db) / (2 * _SEEN_DB)))


def _part(value: float) -> float:
    return round(min(max(value, 0.0), 0.99), 2)


def _level(sweep: Sweep, middle_hz: int, width_hz: int, levels: ChannelLevels, known: npt.NDArray[np.bool_]) -> float:
    """Return the mean power over the signal's width; from the slices that were measured where there are gaps."""
    whole = float(channel_levels(sweep, carriers_hz=[middle_hz], bandwidth_hz=width_hz).typical_db[0])
    if np.isfinite(whole):
        return whole
    mean = float(np.mean(10 ** (levels.typical_db[known] / 10)))
    return 10 * float(np.log10(mean * width_hz / _SLICE_HZ))

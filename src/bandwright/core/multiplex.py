"""Whether a TV channel holds a multiplex: flat occupancy over the width of the standard's own signal."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import TvChannel, TvRaster
from bandwright.core.sweep import ChannelLevels, Sweep, channel_levels

__all__ = ["SIGNAL_WIDTH_HZ", "SKIRT_DB", "SKIRT_HZ", "TvFinding", "TvVerdict", "tv_findings"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

# Width of the OFDM signal in a TV channel of 8, 7 and 6 MHz: 6816 carriers over the useful symbol of 896, 1024 and
# 7168/6 us (EN 300 744, 8k mode: 7.607, 6.656, 5.705 MHz). The 13 segments of 6/14 MHz of another standard are 98 % of
# the last, the 8-level sideband signal 94 %.
SIGNAL_WIDTH_HZ = {8_000_000: 7_607_143, 7_000_000: 6_656_250, 6_000_000: 5_705_357}

_SLICE_HZ = 200_000
_SEEN_DB = 3.0  # a slice that is this much above its floor in the mean is occupied
_SEEN_HELD_DB = 6.0  # or this much in its highest
_FULL = 0.85  # of the signal's width: room for one deep notch from an echo
_SHAPED = 0.7  # where the borders show the shape: room for wide notches
_MOST_CLEAR_DB = 6.0
_OUTERMOST = 2  # slices within which a signal reaches its level
_BORDER_BIN_HZ = 100_000
_MEDIAN_STEP = 0.954  # of a normal distribution: the median of |difference| over the deviation, 0.6745 sqrt(2)
# Empty around a border of the TV channel in every standard, below and above it: half of what OFDM leaves (393, 344 and
# 295 kHz), less where one standard is shifted up by 1/7 MHz.
_BORDER_HZ = {8_000_000: (150_000, 150_000), 7_000_000: (130_000, 130_000), 6_000_000: (70_000, 140_000)}
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


def tv_findings(sweep: Sweep, raster: TvRaster) -> tuple[TvFinding, ...]:
    """Return a verdict for each TV channel that the sweep's range touches.

    Slices of 200 kHz over the width of the signal are compared with the floor, and with the stretch around each border
    of the TV channel that every standard leaves empty.

    taken
        70 % of the slices stand clear of both borders (3 dB, or what chance asks): as wide and as flat as a multiplex,
        whatever the floor is taken to be. Or 85 % are 3 dB above the floor in the mean and the trace falls by 3 dB at
        one border at least, or bins are too wide to show borders. A floor that steps or is raised by overload
        does not fall there.
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
    channels = [c for c in raster.channels if c.span.low_hz < sweep.high_hz and sweep.low_hz < c.span.high_hz]
    if not channels:
        return ()
    slices = [_slices(channel) for channel in channels]
    levels = channel_levels(sweep, carriers_hz=np.concatenate(slices), bandwidth_hz=_SLICE_HZ)
    trace = _Trace.of(sweep)
    ends = np.cumsum([part.size for part in slices])
    return tuple(
        _finding(trace, channel, _Slices.of(levels, slice(end - part.size, end)))
        for channel, part, end in zip(channels, slices, ends.tolist(), strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Slices:
    """Levels of slices in dB: mean and highest, each with the noise in the same trace; NaN where not measured."""

    centres_hz: npt.NDArray[np.int64]
    mean_db: Floats
    floor_db: Floats
    highest_db: Floats
    above_db: Floats

    @classmethod
    def of(cls, levels: ChannelLevels, part: slice) -> _Slices:
        return cls(
            centres_hz=levels.carriers_hz[part],
            mean_db=levels.typical_db[part],
            floor_db=levels.typical_floor_db[part],
            highest_db=levels.highest_db[part],
            above_db=levels.above_floor_db[part],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Trace:
    """The mean trace as running sums, so that the power of any stretch is two look-ups."""

    edges_hz: Floats
    power: Floats
    missing_hz: Floats
    bin_hz: float

    @classmethod
    def of(cls, sweep: Sweep) -> _Trace:
        low, high = sweep.grid.low_edges_hz, sweep.grid.high_edges_hz
        density = 10 ** (sweep.typical_db / 10) / sweep.grid.noise_hz
        known = np.isfinite(density)
        gap = np.append(low[1:] - high[:-1], 0.0)
        widths = high - low
        edges = np.empty(2 * low.size)
        edges[::2], edges[1::2] = low, high
        power, missing = np.zeros(edges.size), np.zeros(edges.size)
        power[1::2] = np.where(known, density * widths, 0.0)
        missing[1::2] = np.where(known, 0.0, widths)
        missing[2::2] = gap[:-1]
        return cls(
            edges_hz=edges, power=np.cumsum(power), missing_hz=np.cumsum(missing), bin_hz=float(np.median(widths))
        )

    def level_db(self, low_hz: float, high_hz: float) -> float:
        """Return the mean level in 200 kHz from where to where; NaN where more than half a bin was not measured."""
        if low_hz < self.edges_hz[0] - self.bin_hz / 2 or high_hz > self.edges_hz[-1] + self.bin_hz / 2:
            return float("nan")
        power = np.diff(np.interp([low_hz, high_hz], self.edges_hz, self.power))[0]
        missing = np.diff(np.interp([low_hz, high_hz], self.edges_hz, self.missing_hz))[0]
        if missing > max(self.bin_hz / 2, (high_hz - low_hz) / 8) or power <= 0:
            return float("nan")
        return 10 * float(np.log10(power / (high_hz - low_hz - missing) * _SLICE_HZ))


def _signal_hz(channel: TvChannel) -> int:
    return SIGNAL_WIDTH_HZ.get(channel.span.width_hz, round(0.95 * channel.span.width_hz))


def _slices(channel: TvChannel) -> npt.NDArray[np.int64]:
    width = _signal_hz(channel)
    middle = (channel.span.low_hz + channel.span.high_hz) // 2
    first, last = middle - width // 2 + _SLICE_HZ // 2, middle + width // 2 - _SLICE_HZ // 2
    return np.arange(first, last + 1, _SLICE_HZ, dtype=np.int64)


def _finding(trace: _Trace, channel: TvChannel, slices: _Slices) -> TvFinding:
    known = np.isfinite(slices.mean_db) & np.isfinite(slices.floor_db) & ~_skirts(trace, channel, slices)
    if not known.any():
        return TvFinding(channel=channel, verdict=TvVerdict.UNMEASURED)
    verdict, confidence = _judge(slices, known, _borders_db(trace, channel))
    told = verdict is not TvVerdict.UNMEASURED
    level = _level(trace, channel, slices, known) if told else None
    return TvFinding(channel=channel, verdict=verdict, level_db=level, confidence=confidence)


def _skirts(trace: _Trace, channel: TvChannel, slices: _Slices) -> Flags:
    found = np.zeros(slices.mean_db.shape, dtype=np.bool_)
    for edge, direction in ((channel.span.low_hz, -1), (channel.span.high_hz, 1)):
        middle = edge + direction * _BESIDE_HZ
        beyond_db = trace.level_db(middle - _SLICE_HZ / 2, middle + _SLICE_HZ / 2)
        near = np.abs(slices.centres_hz - edge) <= SKIRT_HZ
        with np.errstate(invalid="ignore"):
            found |= near & (slices.highest_db < beyond_db - SKIRT_DB)
    return found


def _borders_db(trace: _Trace, channel: TvChannel) -> tuple[float, float]:
    """Return the level in 200 kHz around each border; NaN where nobody measured it or bins are too wide to show it.

    A bin on either side is left to what leaks out of the neighbours; where the sweep ends inside, half is enough.
    """
    reaches = _BORDER_HZ.get(channel.span.width_hz, (100_000, 100_000))
    below, above = (max(reach - trace.bin_hz, trace.bin_hz) for reach in reaches)
    if trace.bin_hz > _BORDER_BIN_HZ:
        return (float("nan"), float("nan"))
    found = []
    for edge in (channel.span.low_hz, channel.span.high_hz):
        low, high = max(edge - below, trace.edges_hz[0]), min(edge + above, trace.edges_hz[-1])
        found.append(trace.level_db(low, high) if high - low >= (below + above) / 2 else float("nan"))
    return found[0], found[1]


def _judge(slices: _Slices, known: Flags, borders_db: tuple[float, float]) -> tuple[TvVerdict, float | None]:
    above: Floats = (slices.mean_db - slices.floor_db)[known]
    held: Floats = slices.above_db[known]
    measured = float(np.mean(np.isfinite(slices.mean_db) & np.isfinite(slices.floor_db)))
    occupied = float(np.mean(above >= _SEEN_DB))
    middle_db = float(np.median(above))
    shaped, sides = _shape(slices.mean_db[known], borders_db)
    if measured >= 0.5 and (shaped >= _SHAPED or (occupied >= _FULL and sides != 0)):
        sure = max(shaped, occupied)
        return TvVerdict.TAKEN, _part(measured * sure * max(0.3, min(1.0, middle_db / _SURE_DB)))
    if occupied > 0 or (held >= _SEEN_HELD_DB).any():
        strength = max(float(above.max()), float(held.max()) - _SEEN_DB) / _SURE_DB
        return TvVerdict.SHARED, _part(measured * max(0.3, min(1.0, strength)))
    if measured < _MEASURED:
        return TvVerdict.UNMEASURED, None
    return TvVerdict.NOTHING_SEEN, _part(measured * (1 - max(0.0, middle_db) / (2 * _SEEN_DB)))


def _shape(levels_db: Floats, borders_db: tuple[float, float]) -> tuple[float, int]:
    """Return the part of the slices that stands clear of both borders, and at how many the trace falls at once.

    -1 borders where none can be seen. What chance asks is three deviations of a border's level, from how neighbouring
    slices scatter: a border is about one slice wide.
    """
    known = [level for level in borders_db if np.isfinite(level)]
    if not known:
        return 0.0, -1
    scatter_db = float(np.median(np.abs(np.diff(levels_db)))) / _MEDIAN_STEP if levels_db.size > 1 else 0.0
    clear_db = min(max(_SEEN_DB, 2 * scatter_db), _MOST_CLEAR_DB)
    quarter = max(1, levels_db.size // 4)
    falls = sum(float(np.median(part)) - border >= clear_db for border, part in _ends(levels_db, borders_db, quarter))
    sharp = sum(float(np.mean(part)) - border >= _SEEN_DB for border, part in _ends(levels_db, borders_db, _OUTERMOST))
    if len(known) < 2 or falls < 2:
        return 0.0, sharp
    return float(np.mean(levels_db - max(known) >= clear_db)), sharp


def _ends(levels_db: Floats, borders_db: tuple[float, float], slices: int) -> Iterator[tuple[float, Floats]]:
    """Yield the level at each border with those of the slices nearest to it."""
    yield borders_db[0], levels_db[:slices]
    yield borders_db[1], levels_db[-slices:]


def _part(value: float) -> float:
    return round(min(max(value, 0.0), 0.99), 2)


def _level(trace: _Trace, channel: TvChannel, slices: _Slices, known: Flags) -> float:
    """Return the mean power over the signal's width; from the slices that were measured where there are gaps."""
    width = _signal_hz(channel)
    middle = (channel.span.low_hz + channel.span.high_hz) / 2
    whole = trace.level_db(middle - width / 2, middle + width / 2)
    if not np.isfinite(whole):
        whole = 10 * float(np.log10(np.mean(10 ** (slices.mean_db[known] / 10))))
    return whole + 10 * float(np.log10(width / _SLICE_HZ))

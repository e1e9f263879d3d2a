"""Sweeps: what was measured, how deep and when, and what that says about a carrier.

The pieces: a reader yields `SweepBlock`s and `SweepFault`s; `core.fold` folds them into one `Sweep` in fixed memory;
`channel_levels` answers for carriers, `noise_states` judges them.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import Enum

import numpy as np
import numpy.typing as npt

from bandwright.core.floor import FloorPiece
from bandwright.core.level_counts import LevelSpread
from bandwright.core.planning.plan import NoiseState
from bandwright.core.sweep_grid import SweepGrid, Windows, windows_of
from bandwright.core.waterfall import Waterfall

__all__ = [
    "UNITS",
    "ChannelLevels",
    "ChannelStatistics",
    "Gap",
    "RbwOrigin",
    "Sweep",
    "SweepBlock",
    "SweepFacts",
    "SweepFault",
    "SweepItem",
    "SweepRows",
    "channel_levels",
    "decibels",
    "noise_codes",
    "noise_states",
]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

UNITS = ("dBm", "dBuV", "dBuV/m", "dB")
_NOISE_LIKE_DB = 1.5
_LEAST_NOISE_LIKE = 5


def decibels(power: Floats) -> Floats:
    """Return 10 log10 of linear values; nothing and less becomes NaN, never minus infinity."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(power > 0, 10 * np.log10(power), np.nan))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SweepBlock:
    """One row or hop as it was read: `levels_db[i]` belongs to the bin centred on `first_hz + i * bin_hz`.

    NaN marks a level that is missing. `centres_hz` is given instead where the bins are not evenly spaced; `bin_hz` is
    then their usual step. `time` is as the file writes it, without a time zone. `rbw_hz` is the resolution bandwidth
    of the instrument where the file states it. `whole` says whether each bin is known to have been listened to from
    edge to edge (an FFT); points of a trace whose resolution bandwidth nobody states are not.
    """

    first_hz: float
    bin_hz: float
    levels_db: Floats
    centres_hz: Floats | None = None
    time: datetime | None = None
    rbw_hz: float | None = None
    whole: bool = True
    unit: str = "dB"

    def __post_init__(self) -> None:
        if not (0 < self.bin_hz < math.inf and math.isfinite(self.first_hz)):
            raise ValueError(f"bins have a width above 0 Hz and a finite start; given {self.bin_hz}, {self.first_hz}")
        if self.unit not in UNITS:
            raise ValueError(f"unit {self.unit!r} is not known; known: {', '.join(UNITS)}")
        if self.centres_hz is not None and self.centres_hz.shape != self.levels_db.shape:
            raise ValueError(f"{self.levels_db.size} levels came with {self.centres_hz.size} frequencies")

    def frequencies_hz(self) -> Floats:
        """Return the centre of each bin."""
        if self.centres_hz is not None:
            return self.centres_hz
        return np.asarray(self.first_hz + self.bin_hz * np.arange(self.levels_db.size), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepFault:
    """Something in a file that could not be used: a stable code, a sentence, the line."""

    code: str
    text: str
    line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SweepRows:
    """Many rows of a log at once: row i is a `hops[hop[i]]` with the levels from `levels_db[first[i]]` on.

    The levels of `hops` themselves mean nothing, only how many there are. Row i was written at `times[time[i]]`.
    """

    hops: tuple[SweepBlock, ...]
    hop: Ints
    first: Ints
    levels_db: Floats
    times: tuple[datetime | None, ...]
    time: Ints

    def block(self, index: int) -> SweepBlock:
        """Return one row as a block."""
        hop = self.hops[int(self.hop[index])]
        begin = int(self.first[index])
        levels = self.levels_db[begin : begin + hop.levels_db.size].copy()
        return replace(hop, levels_db=levels, time=self.times[int(self.time[index])])


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepFacts:
    """What a file says of itself: the traces in it by name, and the one that was read (None: all, or nameless)."""

    traces: tuple[str, ...] = ()
    trace: str | None = None


SweepItem = SweepBlock | SweepRows | SweepFacts | SweepFault
"""What a reader yields."""


class RbwOrigin(Enum):
    """Where a resolution bandwidth comes from."""

    FILE = "stated in the file"
    STATED = "stated beside the file"
    INFERRED = "inferred from the bins"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch inside the range of a sweep that nobody measured."""

    low_hz: float
    high_hz: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelStatistics:
    """Power over one bandwidth at every place where its course along the band bends.

    It was integrated per sweep and then held (`highest`) and averaged (`typical`), in linear units; NaN where no
    sweep measured the whole window. Between two places the mean is exact and the highest an upper bound.
    """

    windows: Windows
    highest: Floats
    typical: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sweep:
    """What was measured: levels of each bin over all sweeps of a file, channel power, floor and faults.

    `highest_db` and `typical_db` are the highest and the mean level of each bin, `floor_db` the mean noise in it (NaN
    where nothing tells noise from signals), `held_floor_db` the noise in `highest_db`. `sweeps` counts whole sweeps.
    `spread` is how levels were spread over them, `waterfall` how they ran over time. Levels are what the instrument
    read: `gain_ahead_db` (a loss is negative) lies between the antenna and its input where somebody states it.
    """

    name: str
    unit: str
    grid: SweepGrid
    highest_db: Floats
    typical_db: Floats
    floor_db: Floats
    held_floor_db: Floats
    floor: tuple[FloorPiece, ...]
    channels: tuple[ChannelStatistics, ...]
    sweeps: int
    spread: LevelSpread | None = None
    waterfall: Waterfall | None = None
    rbw_hz: float | None = None
    rbw_origin: RbwOrigin | None = None
    started: datetime | None = None
    ended: datetime | None = None
    own_transmitters: str = "unknown"
    place: str | None = None
    antenna: str | None = None
    gain_ahead_db: float | None = None
    traces: tuple[str, ...] = ()
    trace: str | None = None
    problems: tuple[SweepFault, ...] = ()
    problems_not_listed: int = 0

    @property
    def centres_hz(self) -> Floats:
        """Centre of each bin, rising."""
        return self.grid.centres_hz

    @property
    def points(self) -> int:
        """Number of bins that were measured at least once."""
        return int(np.count_nonzero(np.isfinite(self.typical_db)))

    @property
    def low_hz(self) -> float:
        """Lower edge of the lowest bin."""
        return float(self.grid.low_edges_hz[0]) if self.grid.size else 0.0

    @property
    def high_hz(self) -> float:
        """Upper edge of the highest bin."""
        return float(self.grid.high_edges_hz[-1]) if self.grid.size else 0.0

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """The stretches inside the range that nobody measured."""
        edges = self.grid.measured_stretches(np.isfinite(self.typical_db))
        inner = [Gap(low_hz=one[1], high_hz=two[0]) for one, two in itertools.pairwise(edges)]
        if not edges:
            return (Gap(low_hz=self.low_hz, high_hz=self.high_hz),) if self.grid.size else ()
        ends = [Gap(low_hz=self.low_hz, high_hz=edges[0][0]), Gap(low_hz=edges[-1][1], high_hz=self.high_hz)]
        return tuple(gap for gap in (ends[0], *inner, ends[1]) if gap.high_hz > gap.low_hz)

    @property
    def calibrated(self) -> bool:
        """Whether levels at its antenna are known: in dBm, with the antenna and the gain behind it stated."""
        return self.unit == "dBm" and self.antenna is not None and self.gain_ahead_db is not None

    @property
    def duration(self) -> timedelta | None:
        """From the first time in the file to the last; None where it tells none."""
        return self.ended - self.started if self.started is not None and self.ended is not None else None

    def described(
        self,
        *,
        own_transmitters: str | None = None,
        place: str | None = None,
        antenna: str | None = None,
        gain_ahead_db: float | None = None,
        started: datetime | None = None,
    ) -> Sweep:
        """Return the same sweep with what the file cannot know; None leaves what is known already.

        `started` is for files that tell no time; one that the file tells stays.
        """
        return replace(
            self,
            own_transmitters=own_transmitters or self.own_transmitters,
            place=place or self.place,
            antenna=antenna or self.antenna,
            gain_ahead_db=self.gain_ahead_db if gain_ahead_db is None else gain_ahead_db,
            started=self.started or started,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelLevels:
    """Levels of carriers over one bandwidth, and the noise in the same trace; NaN where not `measured`.

    `floor_db` is the noise that `highest_db` would read without a signal, `typical_floor_db` the same for
    `typical_db`; NaN where nothing tells noise from signals. `over_hz` is the width that was really read: the
    bandwidth, or one resolution bandwidth or bin where that is wider. `bounded` says that `highest_db` is an upper
    bound made from single bins, because the file was read for other bandwidths.
    """

    carriers_hz: Ints
    bandwidth_hz: int
    over_hz: Floats
    unit: str
    highest_db: Floats
    typical_db: Floats
    floor_db: Floats
    typical_floor_db: Floats
    measured: Flags
    bounded: bool

    @property
    def above_floor_db(self) -> Floats:
        """Highest level above the noise of the same trace; NaN where either is unknown."""
        return self.highest_db - self.floor_db

    @property
    def outside_db(self) -> Floats:
        """Highest level without the noise of the same trace: what came in from outside; NaN where that is nothing."""
        return decibels(10 ** (self.highest_db / 10) - 10 ** (self.floor_db / 10))


def channel_levels(
    sweep: Sweep, *, carriers_hz: npt.ArrayLike, bandwidth_hz: int, tolerance: float = 1 / 8
) -> ChannelLevels:
    """Return highest, typical and floor level over the bandwidth around each carrier.

    A carrier is measured when bins cover its whole bandwidth, to within half a bin and 1/8 of the bandwidth at the
    edges (formats differ in whether they name a bin by its middle or its edge). Power over a bandwidth narrower than
    one bin or resolution bandwidth is read over that: an upper bound; where nobody states the resolution bandwidth of
    a trace, a carrier narrower than its steps is not measured. For a bandwidth that the file was not folded
    for, `typical_db` is still exact, `highest_db` is an upper bound from the held bins (or from a wider window that
    was folded), and so is its floor: noise alone reads about 0 dB above it either way.
    """
    carriers = np.atleast_1d(np.asarray(carriers_hz, dtype=np.int64))
    if bandwidth_hz <= 0:
        raise ValueError(f"a bandwidth is above 0 Hz; given {bandwidth_hz}")
    folded = next((item for item in sweep.channels if item.windows.bandwidth_hz == bandwidth_hz), None)
    statistics = folded if folded is not None else _derived(sweep, bandwidth_hz)
    windows = statistics.windows
    reach = np.minimum(sweep.grid.width_near(carriers) / 2, tolerance * bandwidth_hz)
    highest, at = windows.look_up(carriers, statistics.highest, reach)
    typical = windows.interpolate(at, statistics.typical)
    floor_typical = windows.interpolate(at, windows.power(10 ** (sweep.floor_db / 10)))
    ratio = _held_ratio(statistics, windows.power(10 ** (sweep.floor_db / 10)))
    measured = np.isfinite(highest) & np.isfinite(typical)
    keep = np.where(measured, 1.0, np.nan)
    return ChannelLevels(
        carriers_hz=carriers,
        bandwidth_hz=bandwidth_hz,
        over_hz=np.broadcast_to(windows.width_hz, carriers.shape) * keep,
        unit=sweep.unit,
        highest_db=decibels(highest * keep),
        typical_db=decibels(typical * keep),
        floor_db=decibels(floor_typical * ratio * keep),
        typical_floor_db=decibels(floor_typical * keep),
        measured=measured,
        bounded=folded is None,
    )


def _derived(sweep: Sweep, bandwidth_hz: int) -> ChannelStatistics:
    windows = windows_of(sweep.grid, bandwidth_hz=bandwidth_hz)
    typical = windows.power(10 ** (sweep.typical_db / 10))
    highest = windows.power(10 ** (sweep.highest_db / 10))
    return ChannelStatistics(windows=windows, highest=highest, typical=typical)


def _held_ratio(statistics: ChannelStatistics, floor: Floats) -> float:
    """Return by how much noise alone reads higher in the held trace than in the mean one: the median where it is alone.

    1 (no allowance) where fewer than five windows look like noise: what is not known must not hide a signal.
    """
    limit = 10 ** (_NOISE_LIKE_DB / 10)
    known = np.isfinite(floor) & np.isfinite(statistics.highest) & (statistics.typical > 0)
    alone = known & (statistics.typical < floor * limit)
    if np.count_nonzero(alone) < _LEAST_NOISE_LIKE:
        return 1.0
    return max(1.0, float(np.median(statistics.highest[alone] / statistics.typical[alone])))


def noise_states(
    levels: ChannelLevels, *, above_floor_db: float, needed_db: float | None = None
) -> tuple[NoiseState, ...]:
    """Return what the sweep says of each carrier, as `noise_codes` does."""
    states = tuple(NoiseState)
    codes = noise_codes(levels, above_floor_db=above_floor_db, needed_db=needed_db)
    return tuple(states[code] for code in codes.tolist())


def noise_codes(levels: ChannelLevels, *, above_floor_db: float, needed_db: float | None = None) -> Ints:
    """Return what the sweep says of each carrier, as a place in `NoiseState`.

    not measured
        bins do not cover the whole bandwidth.
    noisy
        the highest level is more than `above_floor_db` above the floor of the same trace; or, where that floor is not
        above `needed_db`, what came in from outside is (the highest level without the instrument's own noise).
    not deep enough
        the instrument's floor is above `needed_db` (the highest level the link can bear, as the instrument would read
        it), or nothing tells its noise from signals.
    quiet
        none of these.

    An infinite `above_floor_db` calls nothing noisy.
    """
    missing = np.isnan(levels.floor_db)
    need = np.inf if needed_db is None else needed_db
    with np.errstate(invalid="ignore"):
        beyond = (levels.outside_db > need) & (levels.floor_db <= need) & math.isfinite(above_floor_db)
        loud = (levels.highest_db > levels.floor_db + above_floor_db) | beyond
        shallow = missing | (levels.floor_db > need)
    place = {state: code for code, state in enumerate(NoiseState)}
    return np.select(
        [~levels.measured, loud, shallow],
        [np.int64(place[state]) for state in (NoiseState.UNMEASURED, NoiseState.NOISY, NoiseState.SHALLOW)],
        np.int64(place[NoiseState.QUIET]),
    )

"""What is in the air according to one sweep: multiplexes, narrow carriers, quiet parts, and what nobody measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from bandwright.core.artefacts import Artefact, artefacts_of, spike_bins
from bandwright.core.bands import Span, TvRaster
from bandwright.core.detect import signal_runs
from bandwright.core.multiplex import TvFinding, TvVerdict, tv_findings
from bandwright.core.planning.plan import NoiseState
from bandwright.core.runs import runs_of
from bandwright.core.skirts import bins_of_multiplex, is_skirt
from bandwright.core.sweep import Gap, Sweep, channel_levels, noise_codes

__all__ = [
    "LISTEN_HZ",
    "MARGIN_DB",
    "NEAR_HZ",
    "AirReport",
    "StrayCarrier",
    "Stretch",
    "describe_air",
    "stray_carriers",
]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

LISTEN_HZ = 200_000
MARGIN_DB = 10.0
NEAR_HZ = 25_000
"""How far, beside half its width, the centre of a measured carrier may lie from where it is known to be."""
_MOST_CARRIERS = 500
_WIDE_HZ = 1_000_000  # wider than any carrier: others may stand on top of it
_NARROW_HZ = 400_000
_BLOCK_HZ = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class StrayCarrier:
    """Something narrower than a multiplex: centre of its power, width above the noise, highest power over it.

    `above_floor_db` is that of its highest bin above the noise in the held trace.
    """

    centre_hz: float
    width_hz: float
    level_db: float
    above_floor_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of spectrum in which every carrier of 200 kHz has the same state."""

    low_hz: float
    high_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirReport:
    """Everything `describe_air` found. `carriers_not_listed` counts the weakest ones beyond the list."""

    sweep: Sweep
    raster: TvRaster | None
    tv: tuple[TvFinding, ...]
    carriers: tuple[StrayCarrier, ...]
    carriers_not_listed: int
    quiet: tuple[Stretch, ...]
    unmeasured: tuple[Gap, ...]
    artefacts: tuple[Artefact, ...] = ()


def describe_air(sweep: Sweep, *, raster: TvRaster | None = None) -> AirReport:
    """Return what is in the air according to one sweep."""
    tv = tv_findings(sweep, raster) if raster is not None else ()
    taken = [finding.channel.span for finding in tv if finding.verdict is TvVerdict.TAKEN]
    found = sorted(stray_carriers(sweep, outside=taken), key=lambda carrier: -carrier.above_floor_db)
    return AirReport(
        sweep=sweep,
        raster=raster,
        tv=tv,
        carriers=tuple(sorted(found[:_MOST_CARRIERS], key=lambda carrier: carrier.centre_hz)),
        carriers_not_listed=max(0, len(found) - _MOST_CARRIERS),
        quiet=tuple(_quiet(sweep)),
        unmeasured=sweep.gaps,
        artefacts=artefacts_of(sweep),
    )


def stray_carriers(sweep: Sweep, *, outside: Iterable[Span] = ()) -> list[StrayCarrier]:
    """Return what is narrower than a multiplex and stands clear of the floor, rising; `outside` these spans only.

    Spikes that the receiver made are none, nor are the skirts of what fills those spans.
    """
    spans = tuple(outside)
    free = ~spike_bins(sweep)
    for span in spans:
        free &= ~bins_of_multiplex(sweep, span)
    return list(_carriers(sweep, free, spans))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Trace:
    """Power relative to the floor, NaN where it must not be looked, and the number of the section of each bin."""

    mean: Floats
    held: Floats
    sections: Floats
    sweeps: int
    bin_hz: float

    def runs(self) -> Iterator[tuple[int, int]]:
        return signal_runs(
            mean=self.mean, held=self.held, sweeps=self.sweeps, bin_hz=self.bin_hz, sections=self.sections
        )

    def within(self, first: int, last: int) -> _Trace:
        """Return a part of the trace relative to what fills it: the median of each MHz."""
        part = slice(first, last + 1)
        return replace(
            self,
            mean=self.mean[part] / _levels(self.mean[part], self.bin_hz),
            held=self.held[part] / _levels(self.held[part], self.bin_hz),
            sections=self.sections[part],
        )


def _levels(power: Floats, bin_hz: float) -> Floats:
    """Return the median of each MHz or so (of each bin, where bins are wider), straight between their middles."""
    count = min(power.size, max(1, round(power.size * bin_hz / _BLOCK_HZ)))
    blocks = np.array_split(np.arange(power.size), count)
    middles = [float(block.mean()) for block in blocks]
    medians = [float(np.median(power[block])) for block in blocks]
    return np.asarray(np.interp(np.arange(power.size), middles, medians), dtype=np.float64)


def _carriers(sweep: Sweep, free: Flags, spans: Sequence[Span]) -> Iterator[StrayCarrier]:
    """Yield what `core.detect` finds, and narrow carriers on top of what is wide."""
    if not sweep.grid.size:
        return
    section = np.zeros(sweep.grid.size)
    section[sweep.grid.section_starts()] = 1
    floor = 10 ** (sweep.floor_db / 10)
    trace = _Trace(
        mean=np.where(free, 10 ** (sweep.typical_db / 10) / floor, np.nan),
        held=np.where(free, 10 ** (sweep.highest_db / 10) / floor, np.nan),
        sections=np.cumsum(section),
        sweeps=sweep.sweeps,
        bin_hz=float(np.median(sweep.grid.widths_hz)),
    )
    for first, last in trace.runs():
        width_hz = float(sweep.grid.high_edges_hz[last] - sweep.grid.low_edges_hz[first])
        if is_skirt(sweep, first=first, last=last, spans=spans):
            continue
        yield _carrier(sweep, trace, first, last)
        if width_hz > _WIDE_HZ:
            for one, two in trace.within(first, last).runs():
                if sweep.grid.high_edges_hz[first + two] - sweep.grid.low_edges_hz[first + one] <= _NARROW_HZ:
                    yield _carrier(sweep, trace, first + one, first + two)


def _carrier(sweep: Sweep, trace: _Trace, first: int, last: int) -> StrayCarrier:
    part = slice(first, last + 1)
    share = 10 ** (sweep.highest_db[part] / 10) * sweep.grid.widths_hz[part] / sweep.grid.noise_hz[part]
    return StrayCarrier(
        centre_hz=_centre_hz(trace.mean[part], trace.held[part], sweep.centres_hz[part]),
        width_hz=float(sweep.grid.high_edges_hz[last] - sweep.grid.low_edges_hz[first]),
        level_db=10 * float(np.log10(np.nansum(share))),
        above_floor_db=float(np.nanmax((sweep.highest_db - sweep.held_floor_db)[part])),
    )


def _centre_hz(mean: Floats, held: Floats, centres_hz: Floats) -> float:
    """Return the centre of what the mean trace holds above the floor, or the held one where that holds nothing."""
    excess = np.nan_to_num(np.maximum(mean - 1, 0))
    if not excess.sum() > 0:
        excess = np.nan_to_num(held)
    return float(np.sum(excess * centres_hz) / np.sum(excess))


def _quiet(sweep: Sweep) -> Iterator[Stretch]:
    """Yield the stretches in which every carrier of 200 kHz is quiet, widest first."""
    half, step = LISTEN_HZ // 2, LISTEN_HZ // 4
    stretches = sweep.grid.measured_stretches(np.isfinite(sweep.typical_db))
    each = [np.arange(round(low) + half, round(high) - half + 1, step, dtype=np.int64) for low, high in stretches]
    centres = np.concatenate([np.zeros(0, np.int64), *each])
    if not centres.size:
        return
    levels = channel_levels(sweep, carriers_hz=centres, bandwidth_hz=LISTEN_HZ)
    states = list(NoiseState)
    quiet = noise_codes(levels, above_floor_db=MARGIN_DB) == states.index(NoiseState.QUIET)
    starts = np.flatnonzero(np.diff(centres, prepend=centres[:1] - step) != step)
    runs = [
        (int(centres[part[first]]) - half, int(centres[part[end - 1]]) + half)
        for part in np.split(np.arange(centres.size), starts)
        for first, end in runs_of(quiet[part])
    ]
    for low, high in sorted(runs, key=lambda run: run[0] - run[1]):
        yield Stretch(low_hz=low, high_hz=high)

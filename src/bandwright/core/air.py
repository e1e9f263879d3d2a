"""What is in the air according to one sweep: multiplexes, narrow carriers, quiet parts, and what nobody measured."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import Span, TvRaster
from bandwright.core.floor import noise_level
from bandwright.core.multiplex import SKIRT_DB, SKIRT_HZ, TvFinding, TvVerdict, tv_findings
from bandwright.core.planning.plan import NoiseState
from bandwright.core.sweep import Gap, Sweep, channel_levels, noise_states

__all__ = ["LISTEN_HZ", "MARGIN_DB", "AirReport", "StrayCarrier", "Stretch", "describe_air"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

LISTEN_HZ = 200_000
MARGIN_DB = 10.0
_LEAST_ABOVE_DB = 6.0
_DEVIATIONS = 5.0  # of the cube root above its mean: a single shot passes it once in 20 million bins
_BRIDGE_HZ = 30_000  # FM leaves holes of this size in a short sweep
_BRIDGE_BINS = 2
_MOST_CARRIERS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class StrayCarrier:
    """Something narrower than a multiplex: power-weighted centre, width above the threshold, highest power over it."""

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


def describe_air(sweep: Sweep, *, raster: TvRaster | None = None) -> AirReport:
    """Return what is in the air according to one sweep."""
    tv = tv_findings(sweep, raster) if raster is not None else ()
    taken = [finding.channel.span for finding in tv if finding.verdict is TvVerdict.TAKEN]
    free = np.ones(sweep.grid.size, dtype=np.bool_)
    for span in taken:
        free &= _outside(sweep, span)
    found = sorted(_carriers(sweep, free), key=lambda carrier: -carrier.above_floor_db)
    return AirReport(
        sweep=sweep,
        raster=raster,
        tv=tv,
        carriers=tuple(sorted(found[:_MOST_CARRIERS], key=lambda carrier: carrier.centre_hz)),
        carriers_not_listed=max(0, len(found) - _MOST_CARRIERS),
        quiet=tuple(_quiet(sweep)),
        unmeasured=sweep.gaps,
    )


def _outside(sweep: Sweep, span: Span) -> Flags:
    """Return the bins outside a multiplex and its skirts (600 kHz beside it, 30 dB below its middle bin)."""
    beside = (sweep.centres_hz >= span.low_hz - SKIRT_HZ) & (sweep.centres_hz <= span.high_hz + SKIRT_HZ)
    inside = (sweep.centres_hz >= span.low_hz) & (sweep.centres_hz <= span.high_hz)
    with np.errstate(invalid="ignore"):
        weak = ~(sweep.highest_db >= np.nanmedian(sweep.highest_db[inside]) - SKIRT_DB)
    return np.asarray(~(inside | (beside & weak)))


def _carriers(sweep: Sweep, free: Flags) -> Iterator[StrayCarrier]:
    """Yield runs of bins whose highest level stands clear of the noise in the same trace.

    The threshold is five deviations of the noise above its mean (in the cube root, see `core.floor`), 6 dB at least.
    """
    above = sweep.highest_db - sweep.held_floor_db
    with np.errstate(invalid="ignore"):
        loud = np.flatnonzero((above > _threshold_db(above)) & free)
    if not loud.size:
        return
    power = 10 ** (sweep.highest_db / 10) * sweep.grid.widths_hz / sweep.grid.noise_hz
    section = np.zeros(sweep.grid.size, dtype=np.int64)
    section[sweep.grid.section_starts()] = 1
    section = np.cumsum(section)
    reach = np.maximum(_BRIDGE_HZ, _BRIDGE_BINS * sweep.grid.widths_hz[loud[:-1]])
    apart = np.diff(sweep.centres_hz[loud]) - sweep.grid.widths_hz[loud[:-1]] > reach
    for run in np.split(loud, np.flatnonzero(apart | (np.diff(section[loud]) > 0)) + 1):
        first, last = int(run[0]), int(run[-1])
        part = power[first : last + 1]
        yield StrayCarrier(
            centre_hz=float(np.nansum(part * sweep.centres_hz[first : last + 1]) / np.nansum(part)),
            width_hz=float(sweep.grid.high_edges_hz[last] - sweep.grid.low_edges_hz[first]),
            level_db=10 * float(np.log10(np.nansum(part))),
            above_floor_db=float(above[run].max()),
        )


def _threshold_db(above: Floats) -> float:
    noise = noise_level(10 ** (above[np.isfinite(above)] / 10))
    return _LEAST_ABOVE_DB if noise is None else max(_LEAST_ABOVE_DB, 30 * np.log10(1 + _DEVIATIONS * noise.deviation))


def _quiet(sweep: Sweep) -> Iterator[Stretch]:
    """Yield the stretches in which every carrier of 200 kHz is quiet, widest first."""
    half, step = LISTEN_HZ // 2, LISTEN_HZ // 4
    centres = np.arange(round(sweep.low_hz) + half, round(sweep.high_hz) - half + 1, step, dtype=np.int64)
    if not centres.size:
        return
    levels = channel_levels(sweep, carriers_hz=centres, bandwidth_hz=LISTEN_HZ)
    states = noise_states(levels, above_floor_db=MARGIN_DB)
    quiet = np.array([state is NoiseState.QUIET for state in states])
    edges = np.flatnonzero(np.diff(np.concatenate(([False], quiet, [False])).astype(np.int8)))
    runs = [(int(centres[first]) - half, int(centres[end - 1]) + half) for first, end in edges.reshape(-1, 2).tolist()]
    for low, high in sorted(runs, key=lambda run: run[0] - run[1]):
        yield Stretch(low_hz=low, high_hz=high)

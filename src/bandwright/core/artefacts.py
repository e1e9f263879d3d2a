"""What a receiver adds to a sweep by itself: overload and the spike in the middle of each hop."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from bandwright.core.detect import noise_of
from bandwright.core.floor import floor_pieces
from bandwright.core.runs import runs_of
from bandwright.core.sweep import Sweep, SweepFault
from bandwright.units import HZ_PER_MHZ

__all__ = ["Artefact", "ArtefactKind", "artefacts_of", "spike_bins", "without_overload"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

_FLAT_BINS = 8
_FLAT_BINS_COARSE = 64  # where levels come in steps, equal neighbours mean less
_FINE_STEP_DB = 0.2
_SAME_DB = 0.005
_STRONG_DB = 20.0  # in a hop: what can drive a receiver into overload
_RAISED_DB = 6.0
_FAINTEST_DB = 24.0  # below it, products of clipping; fainter ones may be skirts of what is strong,
_CLEAR_RISE_DB = 8.0  # but those rise less than this at a border
_PARTED_DB = 12.0
_CALM_DB = 12.0
_BELOW_STRONG_DB = 10.0
_EMPTY_PART = 0.2
_ALIKE_DB = 3.0
_SMOOTH_HZ = 100_000
_SMOOTH_SHAPE = 16.0
_REACH_HZ = 250_000
_LEAST_REACH = 4
_STANDARD_ERRORS = 3.5
_MEDIAN_ERROR_DB = 4.34 * 1.4 * 1.2533 * 1.4142  # of two medians of noise, whose neighbours count as half as many
_SPIKE_DB = 6.0
_SPIKE_REACH = 2
_FOOT_DB = 1.5
_LEAST_HOPS = 4
_LEAST_HOP_BINS = 16
_NAMED = 6


class ArtefactKind(StrEnum):
    """What a receiver did."""

    FLAT_TOP = "flat top"
    RAISED_FLOOR = "floor raised by overload"
    SPIKE = "spike in the middle of hops"


@dataclass(frozen=True, slots=True, kw_only=True)
class Artefact:
    """A stretch that a receiver made, not the air."""

    kind: ArtefactKind
    low_hz: float
    high_hz: float


def artefacts_of(sweep: Sweep) -> tuple[Artefact, ...]:
    """Return what the receiver itself did, rising.

    flat top
        8 bins beside each other (64 where levels come in coarse steps) read the highest level of all: the top of a
        scale, which noise and signals do not keep to.
    floor raised by overload
        something 12 to 24 dB stronger fills a part of a hop. Its empty part lies 3 dB, or what chance explains, above
        what is right beyond the hop's border, and is level up to there (8 dB above, something stronger still will do).
        The next hop on the other side that holds nothing strong is no higher: an instrument's step would go on.
        Products of a clipping receiver do that. Where one hop shows it, others as strong count too whose empty part
        lies 6 dB above the lowest.
    spike in the middle of hops
        in most of the hops in which nothing covers it, four or more, the middle bins stand 6 dB above those beside
        them: the offset of a converter. Then 3 dB will do in each.

    The limits are common practice.
    """
    found = [*_flat_tops(sweep), *_raised_hops(sweep), *_spikes(sweep)]
    return tuple(sorted(found, key=lambda item: item.low_hz))


def without_overload(sweep: Sweep) -> Sweep:
    """Return the sweep with no floor where its receiver was overloaded, so that nothing there reads quiet.

    What stands clear of the floor there, raised or not, keeps its own: a signal is still seen. The sweep's problems
    name the stretches.
    """
    overloaded = [item for item in artefacts_of(sweep) if item.kind is not ArtefactKind.SPIKE]
    if not overloaded:
        return sweep
    doubtful = np.zeros(sweep.grid.size, dtype=np.bool_)
    for item in overloaded:
        inside = (sweep.centres_hz >= item.low_hz) & (sweep.centres_hz <= item.high_hz)
        raised = item.kind is ArtefactKind.RAISED_FLOOR
        limit_db = (_empty_db(sweep.typical_db[inside]) if raised else sweep.floor_db) + _RAISED_DB
        with np.errstate(invalid="ignore"):
            doubtful |= inside & ~(sweep.typical_db > limit_db)
    floor_db = np.where(doubtful, np.nan, sweep.floor_db)
    return replace(
        sweep,
        floor_db=floor_db,
        held_floor_db=np.where(doubtful, np.nan, sweep.held_floor_db),
        floor=floor_pieces(
            floor=10 ** (floor_db / 10), low_edges_hz=sweep.grid.low_edges_hz, high_edges_hz=sweep.grid.high_edges_hz
        ),
        problems=(*sweep.problems, _fault(overloaded)),
    )


def _fault(overloaded: list[Artefact]) -> SweepFault:
    where = ", ".join(
        f"{item.low_hz / HZ_PER_MHZ:.3f}-{item.high_hz / HZ_PER_MHZ:.3f} MHz" for item in overloaded[:_NAMED]
    )
    more = f" and {len(overloaded) - _NAMED} more stretches" if len(overloaded) > _NAMED else ""
    text = (
        f"The receiver was overloaded at {where}{more}: nothing there reads quiet. Sweep again with less gain, "
        "or with attenuation ahead of it."
    )
    return SweepFault(code="overload", text=text)


def spike_bins(sweep: Sweep) -> Flags:
    """Return the bins in which the receiver's own spike stands."""
    bins = np.zeros(sweep.grid.size, dtype=np.bool_)
    for item in _spikes(sweep):
        bins |= (sweep.centres_hz >= item.low_hz) & (sweep.centres_hz <= item.high_hz)
    return bins


def _hops(sweep: Sweep) -> list[tuple[int, int]]:
    starts = np.flatnonzero(sweep.grid.hop_starts).tolist()
    borders = sorted({0, *starts, sweep.grid.size})
    return [(low, high) for low, high in itertools.pairwise(borders) if high - low >= _LEAST_HOP_BINS]


def _flat_tops(sweep: Sweep) -> Iterator[Artefact]:
    known = sweep.highest_db[np.isfinite(sweep.highest_db)]
    if known.size < _LEAST_HOP_BINS:
        return
    steps = np.diff(np.unique(known))
    if not steps.size:
        return
    coarse = float(np.median(steps)) > _FINE_STEP_DB
    with np.errstate(invalid="ignore"):
        top = sweep.highest_db >= float(known.max()) - _SAME_DB
    for first, end in runs_of(top):
        if end - first >= (_FLAT_BINS_COARSE if coarse else _FLAT_BINS):
            yield Artefact(
                kind=ArtefactKind.FLAT_TOP,
                low_hz=float(sweep.grid.low_edges_hz[first]),
                high_hz=float(sweep.grid.high_edges_hz[end - 1]),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hop:
    """One hop: its empty part, its strongest twentieth, and how far its ends lie above what is beyond its borders.

    `rises_db` holds the left and the right border; NaN where that end is not the empty part, where nothing is beyond,
    or where chance explains it.
    """

    low: int
    high: int
    empty_db: float
    peak_db: float
    rises_db: tuple[float, float]

    @property
    def parted(self) -> bool:
        """Whether something strong fills a part of it only."""
        return self.peak_db - self.empty_db >= _PARTED_DB


def _hops_heard(sweep: Sweep) -> list[_Hop]:
    noise = noise_of(10 ** ((sweep.typical_db - sweep.floor_db) / 10))
    shape = 1.0 if noise is None else noise.shape
    spikes = spike_bins(sweep)
    found = []
    for low, high in _hops(sweep):
        levels = sweep.typical_db[low:high]
        bin_hz = float(np.median(sweep.grid.widths_hz[low:high]))
        smooth_db = _smooth_db(levels[~spikes[low:high]], max(round(_SMOOTH_HZ / bin_hz), round(_SMOOTH_SHAPE / shape)))
        empty_db = _empty_db(smooth_db)
        reach = min(max(_LEAST_REACH, round(_REACH_HZ / bin_hz)), (high - low) // 2)
        chance_db = _STANDARD_ERRORS * _MEDIAN_ERROR_DB / float(np.sqrt(reach * shape))
        left = _rise_db(levels[:reach], sweep.typical_db[max(0, low - reach) : low], empty_db, chance_db)
        right = _rise_db(levels[-reach:][::-1], sweep.typical_db[high : high + reach], empty_db, chance_db)
        found.append(_Hop(low=low, high=high, empty_db=empty_db, peak_db=_peak_db(smooth_db), rises_db=(left, right)))
    return found


def _smooth_db(levels_db: Floats, bins: int) -> Floats:
    """Return the mean power over so many bins, an eighth of all at most; NaN where one is missing."""
    bins = max(1, min(bins, levels_db.size // 8))
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(np.convolve(10 ** (levels_db / 10), np.ones(bins) / bins, mode="valid")))


def _rise_db(inside: Floats, outside: Floats, empty_db: float, chance_db: float) -> float:
    """Return by how much the trace inside a border, which comes first, lies above that outside."""
    if not (np.isfinite(inside).any() and np.isfinite(outside).any()):
        return float("nan")
    inside_db, outside_db = float(np.nanmedian(inside)), float(np.nanmedian(outside))
    least_db = max(_ALIKE_DB, chance_db)
    nearest = inside[: max(1, inside.size // 2)]
    level = np.isfinite(nearest).any() and float(np.nanmedian(nearest)) > inside_db - least_db / 2
    rises = level and abs(inside_db - empty_db) < least_db <= inside_db - outside_db
    return inside_db - outside_db if rises else float("nan")


def _raised_hops(sweep: Sweep) -> Iterator[Artefact]:
    hops = _hops_heard(sweep)
    if len(hops) < _LEAST_HOPS:
        return
    sure = [index for index in range(len(hops)) if _is_raised(hops, index)]
    if not sure:
        return
    floor_db = min(hop.empty_db for hop in hops if np.isfinite(hop.empty_db))
    weakest_db = min(hops[index].peak_db for index in sure)
    for index, hop in enumerate(hops):
        likely = hop.parted and hop.peak_db >= weakest_db - _ALIKE_DB and hop.empty_db >= floor_db + _RAISED_DB
        if index in sure or likely:
            yield Artefact(
                kind=ArtefactKind.RAISED_FLOOR,
                low_hz=float(sweep.grid.low_edges_hz[hop.low]),
                high_hz=float(sweep.grid.high_edges_hz[hop.high - 1]),
            )


def _is_raised(hops: list[_Hop], index: int) -> bool:
    """Whether the empty part of a hop breaks off at its border although the floor on the far side is no higher."""
    hop = hops[index]
    if not hop.parted:
        return False
    for rise_db, beyond in zip(hop.rises_db, (hops[index + 1 :], hops[:index][::-1]), strict=True):
        strong = hop.peak_db - (hop.empty_db - rise_db) >= _STRONG_DB
        product = hop.peak_db - hop.empty_db <= _FAINTEST_DB or rise_db >= _CLEAR_RISE_DB
        if strong and product and not _goes_on(hop, beyond):
            return True
    return False


def _goes_on(hop: _Hop, beyond: list[_Hop]) -> bool:
    """Whether the next hop that holds nothing strong lies as high: then the instrument steps, and nothing overloads."""
    for other in beyond:
        if other.peak_db - other.empty_db < _CALM_DB and other.empty_db <= hop.empty_db + _ALIKE_DB:
            return other.empty_db >= hop.empty_db - _ALIKE_DB
    return False


def _peak_db(levels_db: Floats) -> float:
    known = levels_db[np.isfinite(levels_db)]
    return float(np.quantile(known, 0.95)) if known.size else float("nan")


def _empty_db(levels_db: Floats) -> float:
    """Return the level of the empty part of a stretch: of its lowest fifth, the middle."""
    known = levels_db[np.isfinite(levels_db)]
    return float(np.quantile(known, _EMPTY_PART / 2)) if known.size else float("nan")


def _spikes(sweep: Sweep) -> list[Artefact]:
    """Return the spike of each hop in which it stands, where most hops of the usual size have one."""
    hops = _hops(sweep)
    sizes = [high - low for low, high in hops]
    usual = max(set(sizes), key=sizes.count, default=0)
    hops = [(low, high) for low, high in hops if high - low == usual]
    if len(hops) < _LEAST_HOPS or usual < 2 * _LEAST_HOP_BINS:
        return []
    rows = np.array([sweep.typical_db[low:high] for low, high in hops])
    middle = usual // 2
    beside = np.r_[
        middle - 4 * _SPIKE_REACH : middle - _SPIKE_REACH, middle + _SPIKE_REACH + 1 : middle + 4 * _SPIKE_REACH + 1
    ]
    beside_db = np.median(rows[:, beside], axis=1, keepdims=True)
    part = rows[:, middle - _SPIKE_REACH : middle + _SPIKE_REACH + 1] - beside_db
    with np.errstate(invalid="ignore"):
        stands = part >= _SPIKE_DB
        bare = (beside_db <= np.nanquantile(beside_db, _EMPTY_PART) + _BELOW_STRONG_DB)[:, 0]  # others may cover it
        if np.count_nonzero(bare) < _LEAST_HOPS:
            return []
        common = np.flatnonzero(np.mean(stands[bare], axis=0) > 0.5)
    if not common.size:
        return []
    # A signal of its own in the middle of a hop is stronger than the spike of the other hops.
    usual_db = np.nanmedian(part[bare][:, common].max(axis=1))
    foot = np.flatnonzero(np.nanmedian(part[bare], axis=0) >= _FOOT_DB)  # a window spreads it over the next bins
    from_bin, to_bin = int(min(common[0], foot[0])), int(max(common[-1], foot[-1]))
    found = []
    for (low, _), row in zip(hops, part, strict=True):
        if not _SPIKE_DB / 2 <= row[common].max() < usual_db + _BELOW_STRONG_DB:
            continue
        first, last = low + middle - _SPIKE_REACH + from_bin, low + middle - _SPIKE_REACH + to_bin
        found.append(
            Artefact(
                kind=ArtefactKind.SPIKE,
                low_hz=float(sweep.grid.low_edges_hz[first]),
                high_hz=float(sweep.grid.high_edges_hz[last]),
            )
        )
    return found

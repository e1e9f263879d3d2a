"""The noise floor of a trace: a robust level of the noise alone, and how it runs along the band."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from bandwright.core.floor_path import Border, Stretch, floor_path
from bandwright.core.gamma import gamma_excess

__all__ = ["FloorPiece", "NoiseLevel", "floor_of", "floor_pieces", "noise_level"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

LEAST_BINS = 12  # fewer values tell no noise from signals
LEAST_SPAN_HZ = 1_000_000  # a narrower sweep may lie inside one signal from end to end: no floor is claimed
_CELL_HZ = 2_000_000
_CELL_BINS = 64
_CLIP = 2.5
_CLIPPED_DEVIATION = 0.95460  # of a normal distribution cut there: sqrt(1 - 2 c phi(c) / (2 Phi(c) - 1))
_MOST_DEVIATION = 0.375  # of the cube root's mean: a single-shot FFT, (1/3) / (1 - 1/9); no noise is wider
_LEAST_DEVIATION = 0.01  # of the cube root: 0.13 dB, far below any quantised level
_CLOSER = 0.8
_NOISE_ALONE = 2.0  # standard errors: all of a cell may be noise
_TIE_REACH = 1.059  # of the cube root: 0.75 dB
_DRIFT_DB = 1.5  # a floor may rise this much from one cell to the next
_BORDER_BINS = 32
_BORDER_HZ = 150_000  # a multiplex leaves 195 kHz of its TV channel empty at each edge: look closer to the border
_LEAST_BORDER_BINS = 4
_DIPS_HZ = (120_000, 240_000)
_RESOLVED = 0.2
_MOST_SHAPE = 5_000.0
_PARTED = 4.0
_PARTED_HZ = 300_000
_CORRELATED = 1.4  # neighbouring bins of a windowed spectrum count as half as many: 1 + 2 (4/9 + 1/36) is 1.94
_SLOPE = 0.12  # half a decibel: skirts change by as much from one side of a border to the other
_OF_A_MEDIAN = 1.2533  # the error of a median over that of a mean, sqrt(pi / 2)
_REGION_STEPS = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NoiseLevel:
    """Mean power of the noise in linear units; `deviation` is the relative spread of its cube root."""

    power: float
    deviation: float
    bins: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorPiece:
    """A stretch with one noise floor: the mean noise in one bin."""

    low_hz: float
    high_hz: float
    level_db: float


def noise_level(power: Floats, *, least_deviation: float = _LEAST_DEVIATION) -> NoiseLevel | None:
    r"""Return the mean power of the noise among the values, signals left out; None from fewer than 12 values.

    The cube root of a gamma variable is nearly normal (Wilson and Hilferty, Proc. Nat. Acad. Sci. 17, 1931, 684-688),
    whatever its shape: a single-shot FFT (exponential, shape 1), n averages (chi-square with 2n degrees), and near
    enough a trace of highest values. So with :math:`x = p^{1/3}` the lowest crowded stretch of x is found (signals
    only add), widened step by step by clipping at 2.5 deviations around the mean until nothing changes, and turned
    back without bias through the third moment of the normal distribution,

    .. math:: \overline{p} = \mu^3 + 3 \mu \sigma^2 .

    Parameters
    ----------
    power
        Linear powers; NaN is left out. Valid while noise alone fills at least about 6 % of the values.
    least_deviation
        What the cube root is known to scatter by at least, relative to its mean: few values may look closer together.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> level = noise_level(np.concatenate([rng.exponential(size=2000), 1000 * rng.exponential(size=2000)]))
    >>> abs(level.power - 1) < 0.1
    True
    """
    roots = np.cbrt(np.sort(power[np.isfinite(power) & (power > 0)]))
    if roots.size < LEAST_BINS:
        return None
    spread = _spread_ties(roots)
    # Clipping would settle on a single step of levels in whole dB; values that stand alone stay as they are.
    alone = np.concatenate(([True], np.diff(roots) > 0)) & np.concatenate((np.diff(roots) > 0, [True]))
    mean, deviation = _settle(np.where(alone, roots, spread), *_lowest_crowd(spread), least_deviation)
    return NoiseLevel(power=mean**3 + 3 * mean * deviation**2, deviation=deviation / mean, bins=roots.size)


def _spread_ties(roots: Floats) -> Floats:
    """Spread equal values (levels in whole dB) evenly between their neighbours, 0.75 dB at most to each side."""
    values, first, counts = np.unique(roots, return_index=True, return_counts=True)
    if values.size < 2:
        return roots
    middle = (values[1:] + values[:-1]) / 2
    low = np.maximum(np.append(-np.inf, middle), values / _TIE_REACH)
    high = np.minimum(np.append(middle, np.inf), values * _TIE_REACH)
    part = (np.arange(roots.size) - np.repeat(first, counts) + 0.5) / np.repeat(counts, counts)
    return np.asarray(np.repeat(low, counts) + part * np.repeat(high - low, counts))


def _lowest_crowd(roots: Floats) -> tuple[float, float]:
    """Return the centre and half width of the lowest crowded stretch of the sorted values."""
    width = max(LEAST_BINS, roots.size // 16, min(roots.size // 4, 40))
    if roots.size < 2 * width:
        return float(np.median(roots)), float(np.median(roots) - roots[roots.size // 4])
    spans = roots[width - 1 :] - roots[: roots.size - width + 1]
    crowd = 1 / np.maximum(spans, 1e-3 * roots[: spans.size] + 1e-300)
    fallen = crowd < 0.35 * np.maximum.accumulate(crowd)
    end = int(np.argmax(fallen)) if fallen.any() else crowd.size
    peak = int(np.argmax(crowd[: max(end, 1)]))
    return float(roots[peak + width // 2]), float(spans[peak] / 2)


def _settle(roots: Floats, mean: float, deviation: float, least: float) -> tuple[float, float]:
    """Clip at 2.5 deviations around the mean until nothing changes; return mean and unclipped deviation."""
    for _ in range(60):
        deviation = min(max(deviation, least * mean), _MOST_DEVIATION * mean)
        first, last = np.searchsorted(roots, [mean - _CLIP * deviation, mean + _CLIP * deviation])
        kept = roots[first:last]
        if kept.size < 2:
            break
        was, mean = mean, float(kept.mean())
        deviation = float(kept.std()) / _CLIPPED_DEVIATION
        if abs(mean - was) < 1e-6 * mean:
            break
    return mean, deviation


@dataclass(slots=True, kw_only=True, eq=False)
class _Cell:
    """A stretch of bins between borders, with its own noise level and the floor it is given."""

    first: int
    last: int
    own: NoiseLevel | None
    hard_left: bool
    floor_db: float = float("nan")
    trusted: bool = False


def floor_of(*, power: Floats, centres_hz: Floats, widths_hz: Floats, hop_starts: Flags) -> Floats:
    """Return the noise floor of each bin in linear units; NaN where nothing tells noise from signals.

    The band is cut into cells at hop borders, at gaps and every 2 MHz (64 bins at least). Each cell has its
    `noise_level`; where all of it scatters as noise does in most cells, that is its mean. Through these levels the
    floor takes the course that `floor_path` finds: it drifts slowly, steps at the borders of hops, and passes below
    what a signal fills.
    """
    floor = np.full(power.shape, np.nan)
    for first, last in _regions(centres_hz):
        if centres_hz[last - 1] - centres_hz[first] + widths_hz[first] < LEAST_SPAN_HZ:
            continue
        cells = _cells(power, centres_hz, hop_starts, first, last)
        _settle_cells(cells, power, centres_hz)
        for group in _alike(cells):
            floor[group[0].first : group[-1].last] = _pooled(group, power)
    return floor


def _regions(centres_hz: Floats) -> Iterator[tuple[int, int]]:
    """Yield the runs of bins whose steps are alike: a gap of several bins ends one."""
    if not centres_hz.size:
        return
    steps = np.diff(centres_hz)
    padded = np.concatenate((steps[:1], steps, steps[-1:]))
    beside = np.maximum(padded[:-2], padded[2:])
    breaks = np.flatnonzero(steps > np.maximum(_REGION_STEPS * beside, 2 * LEAST_SPAN_HZ / 10)) + 1
    yield from zip([0, *breaks.tolist()], [*breaks.tolist(), centres_hz.size], strict=True)


def _cells(power: Floats, centres_hz: Floats, hop_starts: Flags, first: int, last: int) -> list[_Cell]:
    step = (centres_hz[last - 1] - centres_hz[first]) / max(last - first - 1, 1)
    size = max(_CELL_BINS, round(_CELL_HZ / max(step, 1e-3)))
    hard = {first, last}
    for start in (first + np.flatnonzero(hop_starts[first:last])).tolist():
        if start - max(edge for edge in (first, *_last_of(hard, start))) >= _CELL_BINS // 2 <= last - start:
            hard.add(start)
    cells = []
    borders = sorted(hard)
    for low, high in itertools.pairwise(borders):
        parts = max(1, (high - low) // size)
        cuts = [low + (high - low) * part // parts for part in range(parts + 1)]
        for left, right in itertools.pairwise(cuts):
            cells.append(
                _Cell(
                    first=left,
                    last=right,
                    own=noise_level(power[left:right]),
                    hard_left=left in hard,
                )
            )
    return cells


def _last_of(edges: set[int], start: int) -> tuple[int, ...]:
    return tuple(edge for edge in edges if edge < start)


def _settle_cells(cells: list[_Cell], power: Floats, centres_hz: Floats) -> None:
    """Give each cell its floor, and say whether its own level is that."""
    deviation = _usual_deviation(cells)
    if np.isnan(deviation):
        return
    for cell in cells:
        _look_again(cell, power[cell.first : cell.last], deviation)
    shape = 1 / (9 * deviation**2)  # of the gamma distribution with such a cube root (Wilson and Hilferty)
    stretches = [_stretch(cell, power, centres_hz, shape) for cell in cells]
    borders = [
        _border(one, two, power, centres_hz, shape) if two.hard_left else None for one, two in itertools.pairwise(cells)
    ]
    for cell, floor_db, trusted in zip(cells, *floor_path(stretches, borders), strict=True):
        cell.floor_db, cell.trusted = float(floor_db), bool(trusted)


def _usual_deviation(cells: list[_Cell]) -> float:
    known = [cell.own.deviation for cell in cells if cell.own is not None]
    return float(np.clip(np.median(known), _LEAST_DEVIATION, _MOST_DEVIATION)) if known else float("nan")


def _look_again(cell: _Cell, power: Floats, deviation: float) -> None:
    """Mend the level of a cell whose few values happen to lie closer together than noise does in most cells."""
    if cell.own is None:
        return
    roots = np.cbrt(power[np.isfinite(power) & (power > 0)])
    whole = float(roots.std() / roots.mean())
    chance = _CORRELATED / float(np.sqrt(2 * roots.size))  # the relative error of a deviation
    if whole <= (1 + _NOISE_ALONE * chance) * deviation:
        cell.own = NoiseLevel(power=float(np.mean(roots**3)), deviation=max(whole, _LEAST_DEVIATION), bins=roots.size)
    elif cell.own.deviation < _CLOSER * deviation:
        cell.own = noise_level(power, least_deviation=_CLOSER * deviation)


def _stretch(cell: _Cell, power: Floats, centres_hz: Floats, shape: float) -> Stretch:
    own_db = None if cell.own is None else 10 * float(np.log10(cell.own.power))
    step_hz = _step_hz(cell, centres_hz)
    ceiling, parted, resolved = float("inf"), False, False
    for dip_hz in _DIPS_HZ:
        bins = max(1, round(dip_hz / step_hz))
        means = _means(power[cell.first : cell.last], bins)
        if not means.size:
            continue
        least = _least_part(round(shape * bins / _CORRELATED**2, 1))
        resolved |= least >= _RESOLVED and step_hz <= dip_hz / 3
        ceiling = min(ceiling, max(float(means.min()), 1e-300) / least)
        parted |= int(np.count_nonzero(means > _PARTED * ceiling)) * step_hz >= _PARTED_HZ
    return Stretch(
        width_hz=step_hz * (cell.last - cell.first),
        own_db=own_db,
        error_db=_CORRELATED * _error_db(cell),
        ceiling_db=10 * float(np.log10(ceiling)),
        parted=parted,
        resolved=resolved,
    )


def _step_hz(cell: _Cell, centres_hz: Floats) -> float:
    return max(float(centres_hz[cell.last - 1] - centres_hz[cell.first]) / max(cell.last - cell.first - 1, 1), 1e-3)


def _means(power: Floats, bins: int) -> Floats:
    """Return the mean of each so many neighbouring bins that all were measured."""
    bins = min(bins, power.size)
    known = np.isfinite(power)
    sums = np.concatenate(([0.0], np.cumsum(np.where(known, power, 0.0))))
    counts = np.concatenate(([0], np.cumsum(known)))
    return np.asarray((sums[bins:] - sums[:-bins])[counts[bins:] - counts[:-bins] == bins] / bins)


@lru_cache(maxsize=4096)
def _least_part(shape: float) -> float:
    """Return the part of its mean that noise of a shape falls short of once in 10,000."""
    return max(gamma_excess(shape=min(max(shape, 0.1), _MOST_SHAPE), tail=1 - 1e-4), 1e-6)


def _border(below: _Cell, above: _Cell, power: Floats, centres_hz: Floats, shape: float) -> Border | None:
    """Return what the trace reads within a few bins of the border of two cells."""
    step_hz = _step_hz(above, centres_hz)
    bins = int(min(_BORDER_BINS, max(_LEAST_BORDER_BINS, _BORDER_HZ / step_hz)))
    reach = min(bins, below.last - below.first, above.last - above.first)
    left, right = _middle(power[above.first - reach : above.first]), _middle(power[above.first : above.first + reach])
    if not (left > 0 and right > 0):
        return None
    error = _CORRELATED * _OF_A_MEDIAN / float(np.sqrt(reach * shape))
    return Border(below=left, above=right, error=max(error, _SLOPE))


def _middle(power: Floats) -> float:
    kept = power[np.isfinite(power) & (power > 0)]
    return float(np.median(kept)) if kept.size else float("nan")


def _error_db(cell: _Cell) -> float:
    """Return the standard error of a cell's own level: that of the mean cube root, times three."""
    if cell.own is None:
        return 0.0
    return 4.34 * 3 * cell.own.deviation / float(np.sqrt(cell.own.bins))


def _alike(cells: list[_Cell]) -> Iterator[list[_Cell]]:
    """Yield runs of cells whose floors differ from the mean of those before by less than drift or chance explain."""
    group: list[_Cell] = []
    total = 0.0
    for cell in cells:
        if group and not abs(cell.floor_db - total / len(group)) < _likeness_db(cell):
            yield group
            group, total = [], 0.0
        group.append(cell)
        total += cell.floor_db
    if group:
        yield group


def _likeness_db(cell: _Cell) -> float:
    return max(_DRIFT_DB / 2, 2 * 1.2 * _error_db(cell))


def _pooled(group: list[_Cell], power: Floats) -> float:
    """Return one noise level from all trusted cells of a run of like floors: less chance, less bias to the low side."""
    trusted = [power[cell.first : cell.last] for cell in group if cell.trusted]
    pooled = noise_level(np.concatenate(trusted)) if trusted else None
    return pooled.power if pooled is not None else float(10 ** (group[0].floor_db / 10))


def floor_pieces(*, floor: Floats, low_edges_hz: Floats, high_edges_hz: Floats) -> tuple[FloorPiece, ...]:
    """Return the floor as stretches of one level in dB; stretches without a floor are left out."""
    if not floor.size:
        return ()
    same = np.isclose(floor[1:], floor[:-1], rtol=1e-3, atol=0, equal_nan=True)
    cuts = [0, *(np.flatnonzero(~same) + 1).tolist(), floor.size]
    return tuple(
        FloorPiece(
            low_hz=float(low_edges_hz[first]),
            high_hz=float(high_edges_hz[last - 1]),
            level_db=10 * float(np.log10(floor[first])),
        )
        for first, last in itertools.pairwise(cuts)
        if not np.isnan(floor[first])
    )

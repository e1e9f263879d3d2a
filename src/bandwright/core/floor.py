"""The noise floor of a trace: a robust level of the noise alone, and how it runs along the band."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

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
_TIE_REACH = 1.059  # of the cube root: 0.75 dB
_DRIFT_DB = 1.5  # a floor may rise this much from one cell to the next
_BORDER_BINS = 32
_BORDER_HZ = 150_000  # a multiplex leaves 195 kHz of its TV channel empty at each edge: look closer to the border
_LEAST_BORDER_BINS = 4
_MOST_STEP_DB = 8.0  # no instrument steps further from hop to hop; a signal that fills hops may
_PLATEAU_HZ = 30_000_000  # wider than three TV channels and than a 20 MHz mobile carrier: the instrument, not a signal
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


def noise_level(power: Floats) -> NoiseLevel | None:
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
    mean, deviation = _settle(roots, *_lowest_crowd(_spread_ties(roots)))
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


def _settle(roots: Floats, mean: float, deviation: float) -> tuple[float, float]:
    """Clip at 2.5 deviations around the mean until nothing changes; return mean and unclipped deviation."""
    for _ in range(60):
        deviation = min(max(deviation, _LEAST_DEVIATION * mean), _MOST_DEVIATION * mean)
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
    """A stretch of bins between borders, with its own noise level and the one it is given."""

    first: int
    last: int
    own: NoiseLevel | None
    hard_left: bool
    hard_right: bool
    floor_db: float = float("nan")
    trusted: bool = False


def floor_of(*, power: Floats, centres_hz: Floats, widths_hz: Floats, hop_starts: Flags) -> Floats:
    """Return the noise floor of each bin in linear units; NaN where nothing tells noise from signals.

    The band is cut into cells at hop borders, at gaps and every 2 MHz (64 bins at least). Each cell has its
    `noise_level`. From the lowest cell outwards the floor follows every fall and every slow drift (1.5 dB a cell). A
    cell that reads higher is taken as floor only where the trace itself jumps right at a hop border (an instrument's
    step, of 8 dB at most; a multiplex leaves the edge of its TV channel empty), or where one lowest level recurs over
    30 MHz without a dip below it; otherwise a signal fills the cell, and the floor beside it holds. The limits are
    common practice.
    """
    floor = np.full(power.shape, np.nan)
    for first, last in _regions(centres_hz):
        if centres_hz[last - 1] - centres_hz[first] + widths_hz[first] < LEAST_SPAN_HZ:
            continue
        cells = _cells(power, centres_hz, hop_starts, first, last)
        _walk(cells, power, centres_hz)
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
                    hard_right=right in hard,
                )
            )
    return cells


def _last_of(edges: set[int], start: int) -> tuple[int, ...]:
    return tuple(edge for edge in edges if edge < start)


def _walk(cells: list[_Cell], power: Floats, centres_hz: Floats) -> None:
    """Give each cell its floor, from the lowest cell to both ends."""
    known = [index for index, cell in enumerate(cells) if cell.own is not None]
    if not known:
        return
    start = min(known, key=lambda index: _own_db(cells[index]))
    _trust(cells[start])
    _walk_one_way(cells[start:], power, centres_hz, upwards=True)
    _walk_one_way(cells[start::-1], power, centres_hz, upwards=False)


def _own_db(cell: _Cell) -> float:
    return 10 * float(np.log10(cell.own.power)) if cell.own is not None else float("nan")


def _trust(cell: _Cell) -> None:
    cell.floor_db, cell.trusted = _own_db(cell), True


def _rise_limit_db(cell: _Cell) -> float:
    """How much a cell may read above its neighbour by drift and chance: 1.5 dB, or three standard errors."""
    if cell.own is None:
        return _DRIFT_DB
    error_db = 4.34 * 3 * cell.own.deviation / float(np.sqrt(cell.own.bins))
    return max(_DRIFT_DB, 3 * 1.4 * error_db)


def _walk_one_way(cells: list[_Cell], power: Floats, centres_hz: Floats, *, upwards: bool) -> None:
    position = 1
    while position < len(cells):
        floor_db, cell = cells[position - 1].floor_db, cells[position]
        if cell.own is None:
            cell.floor_db = floor_db
            position += 1
        elif _drifts(cell, floor_db) or _is_a_step(cells[position - 1], cell, power, centres_hz, upwards=upwards):
            _trust(cell)
            position += 1
        else:
            end = _end_of_rise(cells, position, floor_db)
            _settle_rise(cells[position:end], floor_db, centres_hz)
            position = end


def _drifts(cell: _Cell, floor_db: float) -> bool:
    return _own_db(cell) <= floor_db + _rise_limit_db(cell)


def _end_of_rise(cells: list[_Cell], start: int, floor_db: float) -> int:
    end = start
    while end < len(cells) and not _drifts(cells[end], floor_db):
        end += 1
    return end


def _settle_rise(run: list[_Cell], floor_db: float, centres_hz: Floats) -> None:
    """Give a raised run its floor: that beside it, or its own lowest level where that recurs over 30 MHz."""
    base_db = min(_own_db(cell) for cell in run if cell.own is not None)
    level = [cell for cell in run if _own_db(cell) <= base_db + _rise_limit_db(cell)]
    low, high = min(level[0].first, level[-1].first), max(level[0].last, level[-1].last)
    wide = centres_hz[high - 1] - centres_hz[low] > _PLATEAU_HZ
    if not (wide and base_db - floor_db <= _MOST_STEP_DB):
        level = []
    for cell in run:
        if cell in level:
            _trust(cell)
            floor_db = cell.floor_db
        else:
            cell.floor_db = floor_db


def _is_a_step(below: _Cell, above: _Cell, power: Floats, centres_hz: Floats, *, upwards: bool) -> bool:
    """Whether the floor itself steps up between two cells: at a hop border, right at it, by 8 dB at most."""
    if _own_db(above) - below.floor_db > _MOST_STEP_DB:
        return False
    step_hz = (centres_hz[above.last - 1] - centres_hz[above.first]) / max(above.last - above.first - 1, 1)
    bins = int(min(_BORDER_BINS, max(_LEAST_BORDER_BINS, _BORDER_HZ / max(step_hz, 1e-3))))
    return _jumps(below, above, power, bins, upwards=upwards)


def _jumps(below: _Cell, above: _Cell, power: Floats, bins: int, *, upwards: bool) -> bool:
    """Whether the trace rises right at a hop border, within `bins`, by at least half of what the two cells differ."""
    hard = above.hard_left if upwards else above.hard_right
    if not hard or below.own is None or above.own is None:
        return False
    reach = min(bins, below.last - below.first, above.last - above.first)
    border = above.first if upwards else above.last
    left, right = power[border - reach : border], power[border : border + reach]
    inside, outside = (right, left) if upwards else (left, right)
    difference_db = _own_db(above) - _own_db(below)
    jump_db = _middle_db(inside) - _middle_db(outside)
    return bool(jump_db >= 0.5 * difference_db)


def _middle_db(power: Floats) -> float:
    kept = power[np.isfinite(power) & (power > 0)]
    return 10 * float(np.log10(np.median(kept))) if kept.size else float("nan")


def _alike(cells: list[_Cell]) -> Iterator[list[_Cell]]:
    """Yield runs of cells whose floors differ by less than the drift limit from their first one."""
    group: list[_Cell] = []
    for cell in cells:
        if group and not abs(cell.floor_db - group[0].floor_db) < _DRIFT_DB / 2:
            yield group
            group = []
        group.append(cell)
    if group:
        yield group


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

"""Narrow signals in noise at a constant rate of false alarms: how the noise scatters is inferred from the trace."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from bandwright.core.gamma import gamma_excess, gamma_shape
from bandwright.core.runs import runs_of

__all__ = ["FALSE_ALARMS", "Noise", "noise_of", "signal_runs"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

FALSE_ALARMS = 1e-6
"""False signals for each bin of pure noise."""

LEAST_DB = 3.0
"""A floor is known to a few dB only: what stands less than this above it, over its own width, is no signal."""

_WIDEST_HZ = 250_000
_SCALES = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128)
_MOST_SHAPE = 5_000.0
_LEAST_BINS = 32
_START = 4.0
_MEANS = (0.7, 1.4)  # the floor is right to about 1.5 dB; where the rest seems to lie higher, signals fill it
_ALONE = 0.4  # neighbouring windows and widths exceed together: so many are signals apart, with four widths
_ALONE_RATE = 1e-3  # of windows that exceed, where one in 1000 does,
_ALONE_WIDTHS = -0.6  # fewer where widths are more,
_ALONE_RARER = -0.12  # and more where they are rarer; measured on noise, see the tests
_PER_BIN = 2.0  # neighbours in a windowed spectrum: 1 + 2 (4/9 + 1/36) count as one
_DELIMIT_TAIL = 0.01
_MOST_TAIL = 0.3
_SMOOTH_HZ = 25_000
_REACH_HZ = 100_000
_SKIRT = 10**-2.5  # of a signal within its reach: its own skirt
_FAR_REACH_HZ = 300_000
_FAR_SKIRT = 10**-5.0  # sidebands of FM, and the phase noise of what listens
_BRIDGE_HZ = 30_000  # FM leaves holes of this size in a short sweep
_BRIDGE_BINS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """How noise alone scatters around the floor in one bin.

    `shape` is that of a gamma distribution (averages; half the degrees of freedom), `mean` what it reads in units of
    the floor, `correlations` those of a bin with the next ones.
    """

    shape: float
    mean: float
    correlations: tuple[float, ...]

    def limit(self, bins: int, tail: float) -> float:
        """Return what the mean over neighbouring bins exceeds with a chance `tail`, in units of `mean`."""
        return _limit(round(self.shape, 2), tuple(round(r, 2) for r in self.correlations), bins, tail)


@lru_cache(maxsize=4096)
def _limit(shape: float, correlations: tuple[float, ...], bins: int, tail: float) -> float:
    """Return what the mean of correlated gamma variables of mean 1 exceeds with a chance `tail`.

    The power in correlated bins is a sum of independent ones times the eigenvalues of the matrix of the correlations
    of their amplitudes, the roots of those of their powers. A gamma distribution with its mean, variance and skewness
    takes its place (P. Hall, Aust. J. Stat. 25, 1983, 274-281; M. J. Buckley and G. K. Eagleson, ibid. 30A, 1988,
    150-159): its variance alone would make far tails too thin.
    """
    amplitudes = np.zeros(bins)
    amplitudes[: len(correlations) + 1] = np.sqrt((1.0, *correlations))[:bins]
    places = np.arange(bins)
    matrix = amplitudes[np.abs(places[:, None] - places)]
    square = matrix @ matrix
    variance = float(np.trace(square)) / shape
    third = 2 * float(np.sum(square * matrix)) / shape**2
    scale = third / (2 * variance)
    equal = 4 * variance**3 / third**2
    return 1 + equal * scale * (gamma_excess(shape=equal, tail=tail) - 1) / bins


def noise_of(ratio: Floats) -> Noise | None:
    """Return how the noise in levels relative to their floor scatters, signals left out; None from under 32 values.

    Values beyond one in a thousand of the distribution found so far are left out with their neighbours, until that
    settles. An averaged spectrum has a shape of at least 1 (a single shot); a windowed one correlates with its next
    two bins (Hann: 4/9 and 1/36 of the power; F. J. Harris, Proc. IEEE 66, 1978, 51-83).
    """
    keep = np.isfinite(ratio) & (ratio > 0)
    limit = _START  # a single shot passes it once in 55
    noise: Noise | None = None
    for _ in range(6):
        loud = np.flatnonzero(~(ratio <= limit))
        quiet = keep.copy()
        for shift in (-2, -1, 0, 1, 2):
            quiet[np.clip(loud + shift, 0, ratio.size - 1)] = False
        values = ratio[quiet]
        if values.size < _LEAST_BINS:
            return noise
        scatter = 1 - math.sqrt(2 * _PER_BIN / values.size)  # one standard error, to the safe side
        shape = min(max(gamma_shape(values) * scatter, 1.0), _MOST_SHAPE)
        noise = Noise(
            shape=shape, mean=float(np.clip(values.mean(), *_MEANS)), correlations=_correlations(ratio, quiet)
        )
        was, limit = limit, noise.mean * gamma_excess(shape=round(shape, 2), tail=1e-3)
        if abs(limit - was) < 1e-3 * limit:
            break
    return noise


def _correlations(ratio: Floats, quiet: Flags) -> tuple[float, ...]:
    values = ratio[quiet]
    variance = float(values.var())
    if variance <= 0:
        return (0.0, 0.0)
    centred = np.where(quiet, ratio - values.mean(), 0.0)
    found = []
    for lag in (1, 2):
        pairs = int(np.count_nonzero(quiet[lag:] & quiet[:-lag]))
        found.append(float(np.sum(centred[lag:] * centred[:-lag])) / max(pairs, 1) / variance)
    return tuple(min(max(value, 0.0), 0.7) for value in found)


def signal_runs(
    *,
    mean: Floats,
    held: Floats,
    sweeps: int,
    bin_hz: float,
    sections: Floats,
    false_alarms: float = FALSE_ALARMS,
    least_db: float = LEAST_DB,
) -> Iterator[tuple[int, int]]:
    """Yield first and last bin of each signal narrower than a multiplex, rising.

    Means over 1, 2, 3, 4, 6 ... bins, up to 250 kHz wide, of the mean trace are compared with what noise alone
    exceeds with a chance that adds up to `false_alarms` for each bin over all widths; so are single bins of the held
    trace, where there were several sweeps. A wider window counts only where no narrower one did. A signal then
    reaches as far as the trace stays above what noise exceeds once in 100, or above 25 dB below its peak within
    100 kHz and 50 dB within 300 kHz; holes of 30 kHz or two bins are bridged.

    Parameters
    ----------
    mean, held
        Mean and highest power of each bin relative to the floor in the mean trace; NaN where it must not be looked.
    sections
        A number for each bin: signals do not reach from one section to another.
    false_alarms
        False signals for each bin of pure noise, at most 0.01.
    least_db
        What a signal must stand above the floor over the window that shows it, beyond what chance asks.
    """
    noise = noise_of(mean)
    if noise is None:
        return
    scaled = np.where(np.isfinite(mean), mean / noise.mean, np.nan)
    widths = [width for width in _SCALES if width == 1 or width * bin_hz <= _WIDEST_HZ]
    tail = min(_MOST_TAIL, _tail(false_alarms, len(widths))) / (len(widths) + (sweeps > 1))
    least = 10 ** (least_db / 10)
    hits = np.zeros(mean.shape, dtype=np.bool_)
    windows = np.zeros(mean.shape, dtype=np.bool_)
    for width in widths:
        limit = max(least, noise.limit(width, tail))
        _mark(_running(scaled, width), limit, width, hits, windows)
    if sweeps > 1:
        single = Noise(shape=max(noise.shape / sweeps, 1.0), mean=noise.mean, correlations=noise.correlations)
        limit = single.limit(1, tail / sweeps)
        with np.errstate(invalid="ignore"):
            hits |= held / noise.mean > max(limit, least)
    if not hits.any():
        return
    yield from _runs(hits, _extent(scaled, noise, bin_hz, hits) | windows, bin_hz, sections)


def _tail(rate: float, widths: int) -> float:
    """Return how many windows of all widths may exceed by chance at one bin, for signals apart at this rate."""
    alone = _ALONE * (widths / 4) ** _ALONE_WIDTHS * _ALONE_RATE**-_ALONE_RARER
    return max(rate, float((rate / alone) ** (1 / (1 + _ALONE_RARER))))


def _running(values: Floats, width: int) -> Floats:
    """Return the mean of each window of so many bins, by its first bin; NaN where one is missing."""
    if width == 1:
        return values
    if values.size < width:
        return np.zeros(0)
    missing = np.isnan(values)
    sums = np.concatenate(([0.0], np.cumsum(np.where(missing, 0.0, values))))
    gaps = np.concatenate(([0], np.cumsum(missing)))
    return np.where(gaps[width:] == gaps[:-width], (sums[width:] - sums[:-width]) / width, np.nan)


def _mark(means: Floats, limit: float, width: int, hits: Flags, windows: Flags) -> None:
    """Mark the strongest window of each cluster above the limit that holds no bin marked before."""
    with np.errstate(invalid="ignore"):
        loud = means > limit
    if width == 1:
        hits |= loud
        return
    before = np.concatenate(([0], np.cumsum(hits)))
    loud &= before[width:] == before[: means.size]
    for first, end in runs_of(loud):
        start = first + int(np.argmax(means[first:end]))
        hits[start : start + width] = True
        windows[start : start + width] = True


def _extent(scaled: Floats, noise: Noise, bin_hz: float, hits: Flags) -> Flags:
    """Return the bins of signals that were found, and those in which they may go on; their skirts are left out."""
    width = max(1, 2 * (round(_SMOOTH_HZ / bin_hz) // 2) + 1) if bin_hz < _SMOOTH_HZ else 1
    limit = noise.limit(width, _DELIMIT_TAIL)
    smooth = np.full(scaled.shape, np.nan)
    smooth[width // 2 : scaled.size - width // 2] = _running(scaled, width)
    near, far = (
        _highest_within(np.nan_to_num(smooth, nan=0.0), max(1, round(reach_hz / bin_hz)))
        for reach_hz in (_REACH_HZ, _FAR_REACH_HZ)
    )
    with np.errstate(invalid="ignore"):
        skirt = 1 + np.maximum(_SKIRT * (near - 1), _FAR_SKIRT * (far - 1))
        return np.asarray((smooth > np.maximum(limit, skirt)) | (hits & ~(scaled <= skirt)))


def _highest_within(values: Floats, reach: int) -> Floats:
    """Return the highest value within so many bins on either side."""
    padded = np.pad(values, reach)
    size, wanted = 1, 2 * reach + 1
    while 2 * size <= wanted:
        padded = np.maximum(padded[: padded.size - size], padded[size:])
        size *= 2
    rest = wanted - size
    return np.maximum(padded[: padded.size - rest], padded[rest:]) if rest else padded


def _runs(hits: Flags, reach: Flags, bin_hz: float, sections: Floats) -> Iterator[tuple[int, int]]:
    bins = np.flatnonzero(reach)
    if not bins.size:
        return
    bridge = max(_BRIDGE_BINS, math.ceil(_BRIDGE_HZ / bin_hz))
    apart = (np.diff(bins) - 1 > bridge) | (np.diff(sections[bins]) != 0)
    starts = np.concatenate(([0], np.flatnonzero(apart) + 1))
    ends = np.append(starts[1:], bins.size) - 1
    before = np.concatenate(([0], np.cumsum(hits)))
    first, last = bins[starts], bins[ends]
    found = before[last + 1] > before[first]
    yield from zip(first[found].tolist(), last[found].tolist(), strict=True)

r"""The bins of a sweep as one grid, and windows of a bandwidth over it.

Formulas. Bins of reading :math:`p_i` tile stretches of spectrum; the power over a window from a to b is

.. math:: W = \sum_i p_i \frac{|bin_i \cap [a, b]|}{B_i}

with :math:`B_i` the noise bandwidth of a reading: the resolution bandwidth where it is known, else the bin. Between
the places where an edge of the window meets an edge of a bin, W is linear in the window's position, so those places
hold everything: a mean interpolated between them is exact, and a maximum over sweeps is bounded from above (the
maximum of linear functions is convex).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["BinShape", "SweepGrid", "Windows", "grid_of", "windows_of"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

_SAME_BIN = 0.75  # of the narrower bin: closer centres are one bin
_MEET = 0.5  # of the narrower bin: hops that miss each other by less do meet (steps are truncated in files)
_LISTENED = 2.0  # bins wider than this many resolution bandwidths were only listened to in their middle


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BinShape:
    """The bins of one hop: centres, widths that were listened to, noise bandwidth of a reading.

    `whole` says whether the widths are known to have been listened to, rather than taken from the spacing.
    """

    centres_hz: Floats
    widths_hz: Floats
    noise_hz: Floats
    whole: bool = True

    @classmethod
    def of(cls, *, centres_hz: Floats, widths_hz: Floats, rbw_hz: float | None, whole: bool = True) -> BinShape:
        """Return the shape; with a resolution bandwidth much below the bin width only that much was listened to."""
        if rbw_hz is None:
            return cls(centres_hz=centres_hz, widths_hz=widths_hz, noise_hz=widths_hz, whole=whole)
        heard = np.where(widths_hz > _LISTENED * rbw_hz, rbw_hz, widths_hz)
        return cls(centres_hz=centres_hz, widths_hz=heard, noise_hz=np.full(centres_hz.shape, rbw_hz))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SweepGrid:
    """All bins of a sweep, rising, none twice; bins that meet share an edge, others leave a gap."""

    centres_hz: Floats
    low_edges_hz: Floats
    high_edges_hz: Floats
    noise_hz: Floats
    whole: Flags
    hop_starts: Flags

    @property
    def size(self) -> int:
        """Number of bins."""
        return int(self.centres_hz.size)

    @property
    def widths_hz(self) -> Floats:
        """Width of each bin."""
        return self.high_edges_hz - self.low_edges_hz

    def width_near(self, frequencies_hz: npt.ArrayLike) -> Floats:
        """Return the width of the bin nearest to each frequency."""
        if not self.size:
            return np.zeros(np.shape(frequencies_hz))
        return self.widths_hz[self.nearest(np.asarray(frequencies_hz, dtype=np.float64))]

    def noise_near(self, frequency_hz: float) -> float:
        """Return the noise bandwidth of a reading at the bin nearest to a frequency."""
        return float(self.noise_hz[self.nearest(np.array([frequency_hz]))[0]])

    def nearest(self, frequencies_hz: Floats) -> Ints:
        """Return the index of the bin whose centre is nearest to each frequency."""
        after = np.searchsorted(self.centres_hz, frequencies_hz).clip(1, max(self.size - 1, 1))
        before = after - 1
        after = np.minimum(after, self.size - 1)
        closer = frequencies_hz - self.centres_hz[before] <= self.centres_hz[after] - frequencies_hz
        return np.where(closer, before, after).astype(np.int64)

    def section_starts(self) -> Ints:
        """Return the index of the first bin of each stretch without a gap."""
        if not self.size:
            return np.zeros(0, dtype=np.int64)
        return np.concatenate(([0], np.flatnonzero(self.low_edges_hz[1:] != self.high_edges_hz[:-1]) + 1))

    def measured_stretches(self, measured: Flags) -> list[tuple[float, float]]:
        """Return the edges of the stretches that were measured without a gap."""
        if not self.size:
            return []
        starts = np.zeros(self.size, dtype=np.bool_)
        starts[self.section_starts()] = True
        before = np.concatenate(([False], measured[:-1]))
        after = np.concatenate((measured[1:], [False]))
        ends = np.concatenate((starts[1:], [True]))
        first = np.flatnonzero(measured & (starts | ~before))
        last = np.flatnonzero(measured & (ends | ~after))
        return list(zip(self.low_edges_hz[first].tolist(), self.high_edges_hz[last].tolist(), strict=True))


def grid_of(shapes: Sequence[BinShape]) -> SweepGrid:
    """Return one grid of all bins: doubles become one bin, hops that nearly meet do meet."""
    centres = np.concatenate([shape.centres_hz for shape in shapes]) if shapes else np.zeros(0)
    widths = np.concatenate([shape.widths_hz for shape in shapes]) if shapes else np.zeros(0)
    noise = np.concatenate([shape.noise_hz for shape in shapes]) if shapes else np.zeros(0)
    whole = np.repeat([shape.whole for shape in shapes], [shape.centres_hz.size for shape in shapes]).astype(np.bool_)
    starts = np.zeros(centres.shape, dtype=np.bool_)
    starts[np.cumsum([0, *(shape.centres_hz.size for shape in shapes[:-1])]) if shapes else []] = True
    order = np.argsort(centres, kind="stable")
    centres, widths, noise, starts = centres[order], widths[order], noise[order], starts[order]
    keep = _without_doubles(centres, widths)
    starts = _starts_of_kept(starts, keep)
    centres, widths, noise = centres[keep], widths[keep], noise[keep]
    low, high = np.maximum(centres - widths / 2, 0), centres + widths / 2
    narrower = np.minimum(widths[1:], widths[:-1])
    meet = low[1:] - high[:-1] <= _MEET * narrower
    edge = np.clip((low[1:] + high[:-1]) / 2, centres[:-1], centres[1:])
    low[1:] = np.where(meet, edge, low[1:])
    high[:-1] = np.where(meet, edge, high[:-1])
    return SweepGrid(
        centres_hz=centres,
        low_edges_hz=low,
        high_edges_hz=high,
        noise_hz=noise,
        whole=whole[order][keep],
        hop_starts=starts,
    )


def _without_doubles(centres: Floats, widths: Floats) -> Flags:
    """Return which of the sorted bins stay: each is at least 3/4 of a bin above the one before it that stays."""
    keep = np.ones(centres.shape, dtype=np.bool_)
    close = np.diff(centres) < _SAME_BIN * np.minimum(widths[1:], widths[:-1])
    if not close.any():
        return keep
    last = 0
    places, sizes = centres.tolist(), widths.tolist()
    for index in range(1, len(places)):
        if places[index] - places[last] < _SAME_BIN * min(sizes[index], sizes[last]):
            keep[index] = False
        else:
            last = index
    return keep


def _starts_of_kept(starts: Flags, keep: Flags) -> Flags:
    """Move the mark of a hop's first bin to the bin that stands for it."""
    marks = np.zeros(int(np.count_nonzero(keep)), dtype=np.bool_)
    marks[(np.cumsum(keep) - 1)[starts]] = True
    return marks


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Windows:
    """Windows of one width at every place where their power bends; a window never reaches over a gap.

    `places_hz` are window centres, rising within a section and from section to section; `section` numbers the stretch
    without a gap that each lies in. The window at place k runs from the fraction `left_part` of bin `left` to the
    fraction `right_part` of bin `right`.
    """

    grid: SweepGrid
    bandwidth_hz: int
    width_hz: float
    places_hz: Floats
    section: Ints
    left: Ints
    left_part: Floats
    right: Ints
    right_part: Floats

    def power(self, readings: Floats) -> Floats:
        """Return the power in each window; `readings` are linear, bins last. NaN where any bin of it is NaN."""
        missing = np.isnan(readings)
        scaled = readings * (self.grid.widths_hz / self.grid.noise_hz)
        if not missing.any():
            return self._sums(scaled)
        sums = self._sums(np.where(missing, 0.0, scaled))
        return np.asarray(np.where(self._touches(missing), np.nan, sums))

    def _sums(self, scaled: Floats) -> Floats:
        if not self.places_hz.size:
            return np.zeros((*scaled.shape[:-1], 0))
        below = np.zeros((*scaled.shape[:-1], scaled.shape[-1] + 1))
        np.cumsum(scaled, axis=-1, out=below[..., 1:])
        sums: Floats = below.take(self.right, axis=-1)
        sums -= below.take(self.left, axis=-1)
        for part, bins in ((self.right_part, self.right), (-self.left_part, self.left)):
            if part.any():
                sums += part * scaled.take(bins, axis=-1)
        # Differences of running sums lose what is 15 digits below the loudest; the error must never read as quiet.
        return np.asarray(np.maximum(sums, below[..., -1:] * (1e-16 * scaled.shape[-1] ** 0.5), out=sums))

    def _touches(self, missing: Flags) -> Flags:
        counts = np.zeros((*missing.shape[:-1], missing.shape[-1] + 1), dtype=np.int32)
        np.cumsum(missing, axis=-1, out=counts[..., 1:])
        end = self.right + (self.right_part > 1e-6)
        return np.asarray(counts[..., end] > counts[..., self.left], dtype=np.bool_)

    def look_up(self, places_hz: npt.ArrayLike, values: Floats, reach_hz: Floats) -> tuple[Floats, Floats]:
        """Return the values at the places, and where they were read.

        Where there is none, it is read up to `reach_hz` away, the higher of both sides; NaN where there is none either.
        """
        wanted = np.asarray(places_hz, dtype=np.float64)
        found = self.interpolate(wanted, values)
        missing, at = np.isnan(found), wanted
        for moved in (wanted - reach_hz, wanted + reach_hz):
            beside = self.interpolate(moved, values)
            better = missing & np.isfinite(beside) & ~(beside <= found)
            found, at = np.where(better, beside, found), np.where(better, moved, at)
        return found, at

    def interpolate(self, wanted_hz: Floats, values: Floats) -> Floats:
        """Return the values between the windows' places; NaN outside and across gaps."""
        if not self.places_hz.size:
            return np.full(wanted_hz.shape, np.nan)
        slack = 1e-6 * self.width_hz
        after = np.searchsorted(self.places_hz, wanted_hz - slack).clip(0, self.places_hz.size - 1)
        before = np.where(self.places_hz[after] <= wanted_hz + slack, after, np.maximum(after - 1, 0))
        step = self.places_hz[after] - self.places_hz[before]
        part = np.where(step > 0, (wanted_hz - self.places_hz[before]) / np.where(step > 0, step, 1.0), 0.0)
        low, high = values[before], values[after]
        mixed = np.where(before == after, low, low + np.clip(part, 0, 1) * (high - low))
        inside = (self.places_hz[before] <= wanted_hz + slack) & (self.places_hz[after] >= wanted_hz - slack)
        return np.where(inside & (self.section[before] == self.section[after]), mixed, np.nan)


def windows_of(grid: SweepGrid, *, bandwidth_hz: int) -> Windows:
    """Return all windows of a bandwidth over a grid.

    In each stretch without a gap the width is the bandwidth, or its widest bin or resolution bandwidth where that is
    more (nothing finer was resolved there); `width_hz` is the widest of all. Where it is not known that bins were
    listened to from edge to edge, there are no windows narrower than a bin.
    """
    starts = grid.section_starts()
    ends = np.concatenate((starts[1:], [grid.size])) if starts.size else starts
    fineness = np.maximum(grid.widths_hz, grid.noise_hz)
    parts: list[tuple[Floats, Ints, Ints, Floats, Ints, Floats]] = []
    widest = 0.0
    sections = np.flatnonzero(grid.high_edges_hz[ends - 1] - grid.low_edges_hz[starts] >= bandwidth_hz * (1 - 1e-9))
    for number, (first, last) in enumerate(zip(starts[sections].tolist(), ends[sections].tolist(), strict=True)):
        width = max(float(bandwidth_hz), float(fineness[first:last].max()))
        if width > bandwidth_hz * (1 + 1e-6) and not grid.whole[first:last].all():
            continue
        edges = np.append(grid.low_edges_hz[first:last], grid.high_edges_hz[last - 1])
        places = _places(edges, width)
        if places.size:
            widest = max(widest, width)
            left, left_part = _locate(edges, places - width / 2, first)
            right, right_part = _locate(edges, places + width / 2, first)
            numbers = np.full(places.shape, number, dtype=np.int64)
            parts.append((places, numbers, left, left_part, right, right_part))
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)] if parts else []
    if not columns:
        nothing, none = np.zeros(0), np.zeros(0, dtype=np.int64)
        columns = [nothing, none, none, nothing, none, nothing]
    places, section, left, left_part, right, right_part = columns
    return Windows(
        grid=grid,
        bandwidth_hz=bandwidth_hz,
        width_hz=widest or float(bandwidth_hz),
        places_hz=places,
        section=section.astype(np.int64),
        left=left.astype(np.int64),
        left_part=left_part,
        right=right.astype(np.int64),
        right_part=right_part,
    )


def _places(edges: Floats, width: float) -> Floats:
    """Return the window centres at which an edge of the window meets an edge of a bin, inside the section."""
    slack = 1e-9 * width
    low, high = edges[0] + width / 2, edges[-1] - width / 2
    places = np.sort(np.concatenate((edges + width / 2, edges - width / 2)))
    places = places[(places >= low - slack) & (places <= high + slack)]
    if not places.size:
        return np.asarray(places)
    distinct: Floats = places[np.append(True, np.diff(places) > 1e-6 * width)]
    return np.asarray(np.clip(distinct, low, max(low, high)))


def _locate(edges: Floats, wanted: Floats, offset: int) -> tuple[Ints, Floats]:
    """Return bin and fraction of it at each frequency; within a millionth of an edge counts as that edge."""
    last = edges.size - 2
    bins = np.clip(np.searchsorted(edges, wanted, side="right") - 1, 0, last)
    part = np.clip((wanted - edges[bins]) / (edges[bins + 1] - edges[bins]), 0, 1)
    over = (part > 1 - 1e-6) & (bins < last)
    bins = np.where(over, bins + 1, bins)
    return np.asarray(bins + offset), np.where(over | (part < 1e-6), 0.0, part)

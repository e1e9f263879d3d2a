"""Where things go in the picture of a sweep: panels, scales, pixel columns and flags that do not cross each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.bands import Span, joined
from bandwright.core.drawing import Point

__all__ = [
    "Column",
    "Flag",
    "Limit",
    "Panel",
    "Trace",
    "columns_of",
    "lanes_of",
    "panels_for",
    "round_step",
    "runs",
    "shallow_spans",
    "unmeasured_spans",
]

_JOIN_HZ = 1_500_000
_PAD_PART = 0.04
_LEAST_PAD_HZ = 300_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Limit:
    """A level for each bin that matters for reading a trace, and what it is in words."""

    words: str
    db: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """A sweep as arrays over its bins, in rising order; NaN where nothing was measured.

    `level_words` says what a level is ("dBm in 25 kHz"), `highest_words` what the upper line is. `shallow` marks bins
    that were measured, but not deep enough (None: no bin).
    """

    low_edges_hz: NDArray[np.float64]
    high_edges_hz: NDArray[np.float64]
    highest_db: NDArray[np.float64]
    typical_db: NDArray[np.float64]
    floor_db: NDArray[np.float64]
    level_words: str
    highest_words: str = "highest"
    shallow: NDArray[np.bool_] | None = None
    limits: tuple[Limit, ...] = ()

    def __post_init__(self) -> None:
        sizes = {
            len(a) for a in (self.low_edges_hz, self.high_edges_hz, self.highest_db, self.typical_db, self.floor_db)
        }
        if len(sizes) != 1:
            raise ValueError(f"every bin has two edges and three levels; given arrays of {sorted(sizes)} values")

    @property
    def centres_hz(self) -> NDArray[np.float64]:
        """Middle of each bin."""
        return (self.low_edges_hz + self.high_edges_hz) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A stretch of spectrum drawn from `left` on, `width` wide."""

    span: Span
    left: float
    width: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.left + self.width

    def x_of(self, hz: float) -> float:
        """Return where a frequency stands, also outside the panel."""
        return self.left + (hz - self.span.low_hz) / self.span.width_hz * self.width

    def cut(self, span: Span) -> tuple[float, float] | None:
        """Return left and right edge of a stretch as far as it is inside, or None."""
        if not span.overlaps(self.span):
            return None
        return max(self.left, self.x_of(span.low_hz)), min(self.right, self.x_of(span.high_hz))


def panels_for(
    windows: Sequence[Span], *, left: float, width: float, gap: float, least: float, pad: bool = True
) -> tuple[Panel, ...]:
    """Return one panel for each group of windows that lie close together, side by side on one scale where that fits.

    With `pad`, each stretch gets a little of what is around it. A panel narrower than `least` gets that width,
    and the others share the rest in proportion.
    """
    spans = joined(windows, within_hz=_JOIN_HZ)
    if pad:
        spans = joined(_padded(span) for span in spans)
    free = width - gap * (len(spans) - 1)
    widths = _shares([span.width_hz for span in spans], total=free, least=min(least, free / len(spans)))
    panels, x = [], left
    for span, share in zip(spans, widths, strict=True):
        panels.append(Panel(span=span, left=x, width=share))
        x += share + gap
    return tuple(panels)


def _padded(span: Span) -> Span:
    pad = max(_LEAST_PAD_HZ, round(span.width_hz * _PAD_PART))
    return Span(max(0, span.low_hz - pad), span.high_hz + pad)


def _shares(sizes: Sequence[int], *, total: float, least: float) -> list[float]:
    """Share a length in proportion, but nobody gets less than `least`."""
    small: set[int] = set()
    while True:
        rest = total - least * len(small)
        whole = sum(size for k, size in enumerate(sizes) if k not in small)
        shares = [least if k in small else rest * size / whole for k, size in enumerate(sizes)]
        too_small = {k for k, share in enumerate(shares) if share < least - 1e-9}
        if not too_small:
            return shares
        small |= too_small


def round_step(*, length: float, pixels: float, least_pixels: float) -> float:
    """Return the smallest of 1, 2, 5, 10, ... (times a power of ten) that keeps marks `least_pixels` apart.

    >>> round_step(length=8.0, pixels=240.0, least_pixels=50.0)
    2.0
    """
    wanted = length * least_pixels / pixels
    power = 10.0 ** math.floor(math.log10(wanted))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= wanted * (1 - 1e-12))


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """Lowest and highest value of a trace in one pixel column."""

    x: float
    low: float
    high: float


def columns_of(panel: Panel, trace: Trace, values: NDArray[np.float64]) -> tuple[tuple[Column, ...], ...]:
    """Return a trace thinned to one lowest and highest value a pixel column, as runs without a gap.

    Nothing that stands out is lost, and a file of any size draws small. A gap is a bin without a value or a distance
    to the next bin of more than half a bin.
    """
    inside = (trace.high_edges_hz > panel.span.low_hz) & (trace.low_edges_hz < panel.span.high_hz)
    index = np.flatnonzero(inside & np.isfinite(values))
    if len(index) == 0:
        return ()
    width = trace.high_edges_hz - trace.low_edges_hz
    apart = trace.low_edges_hz[index[1:]] - trace.high_edges_hz[index[:-1]] > 0.5 * width[index[:-1]]
    return tuple(_thinned(panel, trace, values, part) for part in np.split(index, np.flatnonzero(apart) + 1))


def _thinned(panel: Panel, trace: Trace, values: NDArray[np.float64], index: NDArray[np.intp]) -> tuple[Column, ...]:
    x = panel.left + (trace.centres_hz[index] - panel.span.low_hz) / panel.span.width_hz * panel.width
    column = np.floor(x).astype(np.int64)
    starts = np.flatnonzero(np.diff(column, prepend=column[0] - 1))
    low = np.minimum.reduceat(values[index], starts)
    high = np.maximum.reduceat(values[index], starts)
    middle = np.add.reduceat(x, starts) / np.diff(starts, append=len(x))
    return tuple(
        Column(x=min(max(float(a), panel.left), panel.right), low=float(b), high=float(c))
        for a, b, c in zip(middle, low, high, strict=True)
    )


def unmeasured_spans(panel: Panel, trace: Trace) -> tuple[Span, ...]:
    """Return the stretches of a panel, a pixel wide or more, in which nothing was measured."""
    good = np.isfinite(trace.highest_db)
    good &= (trace.high_edges_hz > panel.span.low_hz) & (trace.low_edges_hz < panel.span.high_hz)
    low = np.append(trace.low_edges_hz[good], panel.span.high_hz)
    high = np.append(float(panel.span.low_hz), np.maximum.accumulate(trace.high_edges_hz[good]))
    wide = low - high >= panel.span.width_hz / panel.width
    return tuple(Span(int(a), int(b)) for a, b in zip(high[wide], low[wide], strict=True))


def shallow_spans(panel: Panel, trace: Trace) -> tuple[Span, ...]:
    """Return the stretches of a panel, a pixel wide or more, that were measured, but not deep enough."""
    if trace.shallow is None:
        return ()
    good = trace.shallow & (trace.high_edges_hz > panel.span.low_hz) & (trace.low_edges_hz < panel.span.high_hz)
    if not good.any():
        return ()
    pixel_hz = panel.span.width_hz / panel.width
    edges = zip(trace.low_edges_hz[good].tolist(), trace.high_edges_hz[good].tolist(), strict=True)
    found = joined((Span(int(low), int(high)) for low, high in edges), within_hz=round(pixel_hz))
    cut = [Span(max(s.low_hz, panel.span.low_hz), min(s.high_hz, panel.span.high_hz)) for s in found]
    return tuple(span for span in cut if span.width_hz >= pixel_hz)


def runs(points: Sequence[Point], *, most: int = 4000) -> tuple[tuple[Point, ...], ...]:
    """Return a line cut into pieces of at most `most` points that share their ends."""
    return tuple(tuple(points[k : k + most + 1]) for k in range(0, max(1, len(points) - 1), most))


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """A label beside the top of a stem at `x`; it covers from `left` to `right`."""

    x: float
    left: float
    right: float


def lanes_of(flags: Sequence[Flag]) -> tuple[int, ...]:
    """Return a lane for each flag (0 is the lowest) so that no flag covers another flag or another one's stem."""
    placed: list[tuple[Flag, int]] = []
    lanes = [0] * len(flags)
    for k in sorted(range(len(flags)), key=lambda k: (-flags[k].x, k)):
        lane = 0
        while any(_clash(flags[k], lane, other, taken) for other, taken in placed):
            lane += 1
        placed.append((flags[k], lane))
        lanes[k] = lane
    return tuple(lanes)


def _clash(flag: Flag, lane: int, other: Flag, other_lane: int) -> bool:
    if lane == other_lane:
        return flag.left < other.right and other.left < flag.right
    upper, lower = (flag, other) if lane > other_lane else (other, flag)
    return lower.left < upper.x < lower.right

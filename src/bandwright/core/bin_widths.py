"""How wide the bins of a trace are whose frequencies are not evenly spaced."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["bin_widths"]

Floats = npt.NDArray[np.float64]


def bin_widths(centres_hz: Floats, rbw_hz: float | None) -> Floats:
    """Return widths of unevenly spaced bins: half the way to each neighbour that is no gap away.

    A step is a gap when it is more than 1.75 times the usual one on both sides (median of four). A bin alone between
    gaps is as wide as the resolution bandwidth, and covers nothing where that is not known.
    """
    order = np.argsort(centres_hz, kind="stable")
    steps = np.diff(centres_hz[order])
    steps = steps[steps > 0]
    places = np.unique(centres_hz)
    if places.size < 2:
        return np.full(centres_hz.shape, rbw_hz or 1e-3)
    usual = np.fmax(_median_before(steps), _median_before(steps[::-1])[::-1])
    near = steps <= 1.75 * np.where(np.isnan(usual), steps, usual)
    left = np.concatenate(([np.nan], np.where(near, steps, np.nan)))
    right = np.concatenate((np.where(near, steps, np.nan), [np.nan]))
    widths = np.where(np.isnan(left), right, np.where(np.isnan(right), left, (left + right) / 2))
    widths = np.where(np.isnan(widths), rbw_hz or 1e-3, widths)
    return np.asarray(widths[np.searchsorted(places, centres_hz)], dtype=np.float64)


def _median_before(steps: Floats) -> Floats:
    """Return the median of the four steps before each one; NaN for the first."""
    padded = np.concatenate((np.full(4, np.nan), steps[:-1]))
    windows = np.sort(np.lib.stride_tricks.sliding_window_view(padded, 4), axis=1)
    known = np.minimum(np.arange(steps.size), 4)
    rows = np.arange(steps.size)
    low, high = windows[rows, np.maximum(known - 1, 0) // 2], windows[rows, np.maximum(known, 1) // 2]
    return np.where(known > 0, (low + np.where(known > 1, high, low)) / 2, np.nan)

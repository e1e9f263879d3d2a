"""Laying rows of readings out on a grid, and summing them over windows: the compiled ways for long logs."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bandwright.kernels.jit import compiled

__all__ = ["count_levels", "fold_windows", "lay_rows"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@compiled
def lay_rows(
    levels: Floats,
    first: Ints,
    kind: Ints,
    slot_start: Ints,
    slots: Ints,
    target: Ints,
    low: float,
    high: float,
    rows: Floats,
) -> None:
    """Write pieces of `levels` into `rows`; the higher value stays where two meet.

    Piece k starts at `levels[first[k]]`, belongs to row `target[k]` and to the columns
    `slots[slot_start[kind[k]] : slot_start[kind[k] + 1]]`. Values outside low < value < high (NaN too) are left out.
    """
    for k in range(first.shape[0]):
        begin = slot_start[kind[k]]
        row = target[k]
        at = first[k]
        for i in range(slot_start[kind[k] + 1] - begin):
            value = levels[at + i]
            column = slots[begin + i]
            if value > low and value < high and not rows[row, column] >= value:
                rows[row, column] = value


@compiled
def fold_windows(
    power: Floats,
    scale: Floats,
    left: Ints,
    left_part: Floats,
    right: Ints,
    right_part: Floats,
    highest: Floats,
    total: Floats,
    count: Ints,
) -> None:
    """Add the power in windows of each row of linear readings to highest, sum and count.

    Window k runs from the fraction `left_part[k]` of bin `left[k]` to the fraction `right_part[k]` of bin `right[k]`;
    one that touches a NaN is nobody's value. A sum is never below the rounding error of the running sum it comes from.
    """
    rows, bins = power.shape
    scaled = np.zeros((rows, bins))
    below = np.zeros((rows, bins + 1))
    missing = np.zeros((rows, bins + 1), dtype=np.int32)
    least = np.zeros(rows)
    whole = True
    for row in range(rows):
        for i in range(bins):
            value = power[row, i] * scale[i]
            gone = np.isnan(value)
            if gone:
                value = 0.0
                whole = False
            scaled[row, i] = value
            below[row, i + 1] = below[row, i] + value
            missing[row, i + 1] = missing[row, i] + (1 if gone else 0)
        least[row] = below[row, bins] * (1e-16 * bins**0.5)
    for k in range(left.shape[0]):
        a = left[k]
        b = right[k]
        end = b + 1 if right_part[k] > 1e-6 else b
        before = left_part[k]
        after = right_part[k]
        best = highest[k]
        added = 0.0
        seen = 0
        for row in range(rows):
            if not whole and missing[row, end] > missing[row, a]:
                continue
            value = below[row, b] - below[row, a] + after * scaled[row, b] - before * scaled[row, a]
            value = max(value, least[row])
            if not best >= value:
                best = value
            added += value
            seen += 1
        highest[k] = best
        total[k] += added
        count[k] += seen


@compiled
def count_levels(levels: Floats, base: float, per_unit: float, counts: npt.NDArray[np.unsignedinteger]) -> None:
    """Count levels (rows by bins) in cells `(level - base) * per_unit`, or the outermost ones; NaN counts nowhere."""
    rows, bins = levels.shape
    most = counts.shape[1] - 1
    for i in range(bins):
        for row in range(rows):
            value = (levels[row, i] - base) * per_unit
            if not np.isnan(value):
                counts[i, int(min(max(value, 0.0), most))] += 1

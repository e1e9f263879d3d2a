"""Which part of a carrier or product falls into a receiver, by its width and its offset."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.kernels import levels as kernel

__all__ = ["ShareTable", "share_table"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_EDGE_RMS = 4.0  # rms widths beyond the edge of a receiver, where less than 1/30,000 of a Gaussian is left


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShareTable:
    """The part of a carrier or product that falls into a receiver, by offset in steps of 256 Hz.

    `kind` is that of each member, and `one`, `two` (2A-B) and `three` (A+B-C) tell which row of `share` holds for the
    kinds of its generators and of the victim. Beyond `reach_hz`, 4 rms widths from the edge of a receiver's bandwidth,
    less than 1/30,000 falls into it, and nothing counts.
    """

    kind: Ints
    one: Ints
    two: Ints
    three: Ints
    share: Floats
    reach_hz: int


def share_table(rms_hz: Floats, bandwidth_hz: Floats) -> ShareTable:
    """Return which part of what kinds of members make falls into which kind of receiver, by offset.

    `rms_hz` is how wide each member sends, `bandwidth_hz` that of its receiver.
    """
    widths = np.stack([rms_hz, bandwidth_hz], axis=1).reshape(-1, 2)
    kinds, kind = np.unique(widths, axis=0, return_inverse=True)
    n = len(kinds)
    rows: dict[tuple[float, float], int] = {}
    variances, half = kinds[:, 0] ** 2, kinds[:, 1] / 2

    def row(variance: float, victim: int) -> int:
        return rows.setdefault((float(variance), float(half[victim])), len(rows))

    one, two, three = (np.zeros((n,) * (count + 1), np.int64) for count in (1, 2, 3))
    for v in range(n):
        for a in range(n):
            one[a, v] = row(variances[a], v)
            for b in range(n):
                two[a, b, v] = row(4 * variances[a] + variances[b], v)
                for c in range(n):
                    three[a, b, c, v] = row(variances[[a, b, c]].sum(), v)
    variance = np.array([key[0] for key in rows] or [0.0])
    halves = np.array([key[1] for key in rows] or [0.0])
    reach = int((halves + _EDGE_RMS * np.sqrt(variance)).max()) + 1
    share = np.zeros((len(variance), (reach >> kernel.STEP_BITS) + 2))
    kernel.shares(variance, halves, share)
    kind = kind.reshape(-1).astype(np.int64)
    return ShareTable(kind=kind, one=one, two=two, three=three, share=share, reach_hz=reach)

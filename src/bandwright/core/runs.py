"""Runs of neighbours for which something holds."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["runs_of"]


def runs_of(flags: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and end (the place after the last) of each run of true flags, in rising order.

    >>> runs_of(np.array([True, False, True, True]))
    [(0, 1), (2, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return [(first, end) for first, end in edges.reshape(-1, 2).tolist()]

"""A sweep as the arrays that a picture draws."""

from __future__ import annotations

import numpy as np

from bandwright.core.picture_layout import Trace
from bandwright.core.sweep import Sweep
from bandwright.units import khz_text

__all__ = ["trace_of"]


def trace_of(sweep: Sweep) -> Trace:
    """Return the levels of a sweep's bins with their edges; NaN where nothing was measured."""
    low, high = sweep.grid.low_edges_hz, sweep.grid.high_edges_hz
    widths = high - low
    width = f" in {khz_text(round(float(np.median(widths))))} kHz" if widths.size else ""
    highest = "highest" if sweep.sweeps == 1 else f"highest of {sweep.sweeps} sweeps"
    return Trace(
        low_edges_hz=low,
        high_edges_hz=high,
        highest_db=sweep.highest_db,
        typical_db=sweep.typical_db,
        floor_db=sweep.floor_db,
        level_words=f"{sweep.unit}{width}",
        highest_words=highest,
    )

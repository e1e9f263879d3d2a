"""A sweep as the arrays that a picture draws."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from bandwright.core.kit import RadioType
from bandwright.core.picture_layout import Limit, Trace
from bandwright.core.planning.heard import bearable_as_read
from bandwright.core.sweep import Sweep
from bandwright.units import khz_text

__all__ = ["trace_of"]

_MOST_LIMITS = 3


def trace_of(sweep: Sweep, radios: Sequence[RadioType] = ()) -> Trace:
    """Return the levels of a sweep's bins with their edges; NaN where nothing was measured.

    Where the sweep is calibrated, with what receivers of the radio types can bear, as it would read in one bin. A bin
    is not deep enough where nothing tells its noise from signals, or where that noise is above the lowest of these.
    """
    low, high = sweep.grid.low_edges_hz, sweep.grid.high_edges_hz
    widths = high - low
    width = f" in {khz_text(round(float(np.median(widths))))} kHz" if widths.size else ""
    highest = "highest" if sweep.sweeps == 1 else f"highest of {sweep.sweeps} sweeps"
    limits = tuple(sorted(_limits(sweep, radios), key=lambda limit: float(np.min(limit.db, initial=np.inf))))
    lowest = limits[0].db if limits else np.full(widths.size, np.inf)
    with np.errstate(invalid="ignore"):
        deep = sweep.floor_db <= lowest
    return Trace(
        low_edges_hz=low,
        high_edges_hz=high,
        highest_db=sweep.highest_db,
        typical_db=sweep.typical_db,
        floor_db=sweep.floor_db,
        level_words=f"{sweep.unit}{width}",
        highest_words=highest,
        shallow=np.isfinite(sweep.highest_db) & ~deep,
        limits=limits[:_MOST_LIMITS],
    )


def _limits(sweep: Sweep, radios: Sequence[RadioType]) -> Iterator[Limit]:
    """Yield what each radio type can bear, once each, when it is spread evenly over the bandwidth."""
    told = set()
    for radio in radios:
        as_read_db = bearable_as_read(radio, sweep)
        if as_read_db is None or radio.id in told:
            continue
        told.add(radio.id)
        share = np.minimum(sweep.grid.noise_hz / radio.bandwidth_hz, 1.0)
        words = f"what {radio.name} can bear, spread over {khz_text(radio.bandwidth_hz)} kHz"
        yield Limit(words=words, db=as_read_db + 10 * np.log10(share))

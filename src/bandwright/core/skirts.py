"""What a multiplex leaves beside its TV channel: skirts that are neither carriers nor multiplexes of their own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from bandwright.core.bands import Span
from bandwright.core.multiplex import SKIRT_DB, SKIRT_HZ
from bandwright.core.sweep import Sweep

__all__ = ["bins_of_multiplex", "is_skirt"]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

_REACH_HZ = 3_000_000
_SMOOTH_HZ = 100_000
_ENDED = 1.26  # of the floor (1 dB): the skirt has met it
_ABOVE = 4.0  # of what falls away from the edge (6 dB): something of its own
_WIDE_HZ = 400_000
_FAR_HZ = 8_000_000


def bins_of_multiplex(sweep: Sweep, span: Span) -> Flags:
    """Return the bins inside a multiplex's TV channel, and those of its skirts.

    Skirts lie 30 dB below its middle bin: all that does within 600 kHz of an edge, and further out, to 3 MHz, what
    falls steadily from there to the floor; 6 dB above that stands a carrier. The limits are common practice.
    """
    centres = sweep.centres_hz
    inside = (centres >= span.low_hz) & (centres <= span.high_hz)
    middle_db = _middle_db(sweep, inside)
    if not np.isfinite(middle_db):
        return np.asarray(inside)  # nobody measured it, so nothing beside it is its skirt
    beside = (centres >= span.low_hz - SKIRT_HZ) & (centres <= span.high_hz + SKIRT_HZ)
    with np.errstate(invalid="ignore"):
        weak = ~(sweep.highest_db >= middle_db - SKIRT_DB)
    found = inside | (beside & weak)
    above = np.flatnonzero((centres > span.high_hz) & (centres <= span.high_hz + _REACH_HZ))
    below = np.flatnonzero((centres < span.low_hz) & (centres >= span.low_hz - _REACH_HZ))[::-1]
    for outwards in (above, below):
        found[outwards[_falling(sweep, outwards)]] = True
    return np.asarray(found & (inside | weak))


def _middle_db(sweep: Sweep, inside: Flags) -> float:
    known = sweep.highest_db[inside & np.isfinite(sweep.highest_db)]
    return float(np.median(known)) if known.size else float("nan")


def _falling(sweep: Sweep, outwards: npt.NDArray[np.int64]) -> Flags:
    """Return which bins, from the edge outwards, belong to a skirt that falls until it meets the floor."""
    if outwards.size < 2:
        return np.zeros(outwards.size, dtype=np.bool_)
    over = 10 ** ((sweep.typical_db[outwards] - sweep.floor_db[outwards]) / 10)
    over = np.nan_to_num(over, nan=0.0, posinf=0.0)
    step_hz = abs(float(sweep.centres_hz[outwards[-1]] - sweep.centres_hz[outwards[0]])) / (outwards.size - 1)
    size = min(max(1, round(_SMOOTH_HZ / step_hz)), outwards.size)
    smooth = np.convolve(over, np.ones(size) / size)[size - 1 : size - 1 + outwards.size]
    least = np.minimum.accumulate(smooth)
    ended = np.flatnonzero(least <= _ENDED)
    end = int(ended[0]) if ended.size else outwards.size
    return np.asarray((np.arange(outwards.size) < end) & (over <= _ABOVE * least))


def is_skirt(sweep: Sweep, *, first: int, last: int, spans: Sequence[Span]) -> bool:
    """Whether a run of bins is the far skirt of one of these multiplexes: wide, near and 30 dB below it.

    OFDM reaches several MHz far at 40 to 50 dB below its top, in bursts as its symbols change.
    """
    low, high = float(sweep.grid.low_edges_hz[first]), float(sweep.grid.high_edges_hz[last])
    if high - low < _WIDE_HZ:
        return False
    highest_db = float(np.nanmax(sweep.highest_db[first : last + 1]))
    for span in spans:
        if low > span.high_hz + _FAR_HZ or high < span.low_hz - _FAR_HZ:
            continue
        inside = (sweep.centres_hz >= span.low_hz) & (sweep.centres_hz <= span.high_hz)
        if highest_db <= _middle_db(sweep, inside) - SKIRT_DB:
            return True
    return False

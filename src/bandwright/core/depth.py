"""How deep a sweep looked: stretches that were measured, but not deep enough for the links of a job."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from bandwright.core.job import Job
from bandwright.core.picture_trace import trace_of
from bandwright.core.planning.plan import Warn
from bandwright.core.runs import runs_of
from bandwright.core.sweep import Sweep
from bandwright.units import mhz_text

__all__ = ["Stretch", "shallow_stretches", "shallow_warnings"]

Stretch = tuple[float, float]
_MOST_NAMED = 4
_TOUCHING_HZ = 1.0


def shallow_stretches(job: Job, sweep: Sweep) -> tuple[Stretch, ...]:
    """Return low and high end in Hz of what a sweep measured, but not deep enough for the links at its place.

    That is where nothing tells its noise from signals, and, of a calibrated sweep, where its noise is above what one
    of these links can bear (`core.receiver`).
    """
    place = job.place_of(sweep)
    shallow = trace_of(sweep, [link.radio for link in job.links if job.place_of(link) == place]).shallow
    if shallow is None:
        return ()
    low, high = sweep.grid.low_edges_hz, sweep.grid.high_edges_hz
    apart = (np.flatnonzero(low[1:] > high[:-1] + _TOUCHING_HZ) + 1).tolist()
    return tuple(
        (float(low[start + first]), float(high[start + end - 1]))
        for start, stop in zip([0, *apart], [*apart, low.size], strict=True)
        for first, end in runs_of(shallow[start:stop])
    )


def shallow_warnings(sweep: Sweep, stretches: tuple[Stretch, ...]) -> Iterator[Warn]:
    """Say where a sweep may look quieter than it is."""
    if not stretches:
        return
    named = [f"{mhz_text(round(low))}-{mhz_text(round(high))}" for low, high in stretches[:_MOST_NAMED]]
    more = f" and {len(stretches) - _MOST_NAMED} more stretches" if len(stretches) > _MOST_NAMED else ""
    text = (
        f"{sweep.name} is not deep enough for the links of the brief on {', '.join(named)} MHz{more}: its noise floor "
        "there is not known, or above what they can bear. Sweep again with more gain, or a narrower RBW."
    )
    yield Warn(code="not-deep-enough", text=text, where=sweep.name)

"""At which pace this machine works just now, and what a promise is worth at it.

Promises were made on a machine that takes 40 ms for the reference kernel (`benchmarks.reference`). Other machines, and
the same one while it does other work, are slower or faster, so a promised time counts at the pace of the moment:

    promised here = promised x mean of the reference kernel, right before and right after / 40 ms

and a promised rate (MB/s) is divided by the same, as is the rate of edits that `benchmarks.app_echo` sends. Whatever no
processor sets (decibels, links, megabytes, shares) is judged as it was promised. What no faster processor would
shorten, such as the frames of a screen (16.7 ms) and waits that are agreed upon, is scaled with the rest: on a slow
machine such a promise asks for less than it says.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from benchmarks.measure import Benchmark, Figure, Reading, Timing, time_it
from benchmarks.reference import reference_s

__all__ = ["PROMISED_AT_S", "Judged", "judge", "measured", "pace_of", "timed"]

PROMISED_AT_S = 0.040
"""Seconds that the reference kernel takes on the machine of the promises."""

_SECONDS = {"s": 1.0, "s CPU": 1.0, "ms": 1e-3}
_RATES = ("MB/s",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a value is worth: as a multiple of the reference kernel, and beside its promise at the pace of the moment.

    `scale` is that pace; None of what no processor sets.
    """

    multiple: float | None
    scale: float | None
    kept: bool | None


def pace_of(reference: Sequence[float]) -> float:
    """Return how many times slower than promised at the machine works, by seconds of the reference kernel.

    >>> pace_of([0.090, 0.110])
    2.5
    """
    return statistics.mean(reference) / PROMISED_AT_S


def judge(
    value: float, *, unit: str, reference: Sequence[float], limit: float | None, at_least: bool = False
) -> Judged:
    """Return whether a promise is kept at the pace that the reference kernel shows.

    >>> judge(1900, unit="ms", reference=[0.1, 0.1], limit=800)
    Judged(multiple=19.0, scale=2.5, kept=True)
    """
    scale = pace_of(reference) if unit in _SECONDS or unit in _RATES else None
    multiple = value * _SECONDS[unit] / statistics.mean(reference) if unit in _SECONDS else None
    if limit is None:
        return Judged(multiple=multiple, scale=scale, kept=None)
    here = limit if scale is None else limit / scale if unit in _RATES else limit * scale
    return Judged(multiple=multiple, scale=scale, kept=value >= here if at_least else value < here)


def timed(benchmark: Benchmark) -> Timing:
    """Return the times of a benchmark, with the reference kernel right before and right after its rounds."""
    return time_it(benchmark, reference=reference_s)


def measured(figure: Figure, *, reference: Callable[[], float] = reference_s) -> Reading | None:
    """Return a figure with the reference kernel right before and right after it, or between its rounds."""
    before = reference()
    value = figure.measure()
    if value is None or isinstance(value, Reading):
        return value
    return Reading(value=value, reference_s=(before, reference()))

"""What a benchmark is, and how one is timed.

A module of benchmarks is a file `benchmarks/bench_NAME.py` with one function `benchmarks()` that returns `Benchmark`s
(something to time) and `Figure`s (a number it measures itself, such as memory in MB). It is found by its name. What is
promised of times is judged at the pace of the machine: see `benchmarks.pace`.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Benchmark", "Figure", "Reading", "Timing", "time_it"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Benchmark:
    """Something to time.

    `prepare` makes the input and returns the work, which is called once to compile and then `rounds` times; the
    median counts. `limit_s` is what we promise for it, where we do, on the machine that `benchmarks.pace` names.
    """

    name: str
    prepare: Callable[[], Callable[[], object]]
    rounds: int = 7
    limit_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A value together with the seconds of the reference kernel between its rounds, for what is measured for long."""

    value: float
    reference_s: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A number that is measured in its own way; at most `limit` is promised, or at least where `at_least` is set.

    `measure` returns None where what it needs is not here, and `without` says what that is. What is kept from an
    earlier measurement, or takes minutes, comes as a `Reading`, with the reference of its own time.
    """

    name: str
    measure: Callable[[], float | Reading | None]
    unit: str
    limit: float | None = None
    at_least: bool = False
    without: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """Median seconds of the work, and what the first call took beyond that (compilation, caches).

    `reference_s` is what was taken right before the rounds and right after them, where it was asked for.
    """

    median_s: float
    first_extra_s: float
    reference_s: tuple[float, ...] = ()


def time_it(benchmark: Benchmark, *, reference: Callable[[], float] | None = None) -> Timing:
    """Return the median of the rounds after one call that does not count."""
    work = benchmark.prepare()
    first = _seconds(work)
    around = [] if reference is None else [reference()]
    median = statistics.median(_seconds(work) for _ in range(benchmark.rounds))
    if reference is not None:
        around.append(reference())
    return Timing(median_s=median, first_extra_s=max(0.0, first - median), reference_s=tuple(around))


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start

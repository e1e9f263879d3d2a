"""Exact answers and upper bounds: how fast they are, and how far the bounds lie above what was found."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from ortools.sat.python import cp_model

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.problem import Problem, Wanted
from bandwright.engines.exact import most_placed, placeable
from bandwright.engines.rulers import LeastSpan, least_span
from benchmarks.bench_engine import RULES, SPACING_HZ, STEP_HZ, alike
from benchmarks.measure import Benchmark, Figure

__all__ = ["benchmarks"]

GOLOMB = (("2A-B", 1), ("A+B-C", 1))
# Carriers found in one block of 8 k - 1 MHz by an independent prototype.
FOUND = {1: 11, 2: 17, 4: 23, 8: 30, 28: 51}


def _golomb(marks: int, longest: int) -> LeastSpan:
    found = least_span(marks, spacing_hz=1, clearance_hz=GOLOMB, step_hz=1, longest_hz=longest, effort=100_000_000)
    if found is None or not found.finished:
        raise RuntimeError(f"no proof for {marks} marks within the effort")
    return found


def _usual(count: int) -> LeastSpan:
    found = least_span(
        count, spacing_hz=SPACING_HZ, clearance_hz=RULES, step_hz=STEP_HZ, longest_hz=STEP_HZ * 25 * count
    )
    if found is None or not found.finished:
        raise RuntimeError(f"no proof for {count} carriers within the effort")
    return found


def _cp_sat(count: int) -> int:
    """Return the least span in steps under the usual rules, proven by CP-SAT."""
    model = cp_model.CpModel()
    longest = 25 * count
    p = [model.new_int_var(0, longest, "") for _ in range(count)]

    def apart(values: list[cp_model.LinearExpr], width: int) -> None:
        intervals = []
        for value in values:
            start = model.new_int_var(0, 2 * longest, "")
            model.add(start == value)
            intervals.append(model.new_fixed_size_interval_var(start, width, ""))
        model.add_no_overlap(intervals)

    model.add(p[0] == 0)
    for i in range(count - 1):
        model.add(p[i + 1] - p[i] >= SPACING_HZ // STEP_HZ)
    apart([p[j] - p[i] for j in range(count) for i in range(j)], 2)
    for j in range(count):
        lefts, rights = [p[j] - p[i] for i in range(j)], [p[k] - p[j] for k in range(j + 1, count)]
        apart(lefts + rights, 4)
        apart(lefts + [2 * d for d in rights], 2)
        apart([2 * d for d in lefts] + rights, 2)
    model.add(p[1] - p[0] <= p[-1] - p[-2])
    model.minimize(p[-1])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if solver.solve(model) != cp_model.OPTIMAL:
        raise RuntimeError(f"CP-SAT has no proof for {count} carriers")
    return int(solver.objective_value)


def _times_cp_sat(count: int) -> float:
    """Return how many times less processor time we take than CP-SAT for the same proof; both must agree."""
    _usual(4)
    ours_s = min(_processor_s(lambda: _usual(count)) for _ in range(3))
    start = time.process_time()
    theirs = _cp_sat(count)
    theirs_s = time.process_time() - start
    if theirs * STEP_HZ != _usual(count).span_hz:
        raise RuntimeError(f"CP-SAT proves {theirs} steps for {count} carriers, we {_usual(count).span_hz // STEP_HZ}")
    return theirs_s / ours_s


def _processor_s(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def _golomb_twelve_s() -> float:
    """Return the processor time of the proof that 85 is the shortest ruler of 12 marks (OEIS A003022)."""
    _golomb(5, 20)
    seconds = _processor_s(lambda: _golomb(12, 120))
    if _golomb(12, 120).span_hz != 85:
        raise RuntimeError("a Golomb ruler of 12 marks is 85 long")
    return seconds


def _twelve_refuted_s() -> float:
    """Return the processor time of the proof that 12 links do not fit one TV channel."""
    placeable(alike(4, 0, 7_000_000))
    problem = alike(12, 606_500_000, 7_000_000)
    seconds = _processor_s(lambda: placeable(problem))
    if placeable(problem).verdict is not False:
        raise RuntimeError("12 links were not refuted")
    return seconds


def _gap(tv_channels: int) -> float:
    """Return the upper bound for one block of TV channels, in percent of what was found."""
    bound = upper_bound(alike(120, 470_000_000, (8 * tv_channels - 1) * 1_000_000)).upper_bound
    return 100 * bound / FOUND[tv_channels]


def _earshots(count: int, each: int) -> Problem:
    """Return links of one type in earshots that do not hear each other."""
    block = alike(count * each, 470_000_000, 138_000_000)
    near = np.zeros((count * each, count * each), np.int64)
    for n in range(count):
        inside = slice(n * each, (n + 1) * each)
        near[inside, inside] = SPACING_HZ
    np.fill_diagonal(near, 0)
    wanted = tuple(Wanted(id=str(i), choice=0, contexts=(i // each,)) for i in range(count * each))
    return Problem(choices=block.choices, wanted=wanted, near_hz=near, contexts=count)


def _bounding(problem: Problem) -> Callable[[], Callable[[], object]]:
    return lambda: lambda: upper_bound(problem)


def _searching(problem: Problem) -> Callable[[], Callable[[], object]]:
    return lambda: lambda: most_placed(problem)


def benchmarks() -> Sequence[Benchmark | Figure]:
    """Return what is measured."""
    return (
        Figure(name="exact: 12 links in one TV channel refuted", measure=_twelve_refuted_s, unit="s CPU", limit=2),
        Figure(name="exact: Golomb ruler of 12 marks proven", measure=_golomb_twelve_s, unit="s CPU", limit=5),
        *(
            Figure(
                name=f"exact: least span of {count} carriers, CP-SAT against ours",
                measure=partial(_times_cp_sat, count),
                unit="times",
                limit=10,
                at_least=True,
            )
            for count in (8, 9)
        ),
        Benchmark(
            name="exact: 11 of 12 in one TV channel found and proven",
            prepare=_searching(alike(12, 606_500_000, 7_000_000)),
            limit_s=2.0,
        ),
        Benchmark(
            name="bound: 60 links in 63 MHz",
            prepare=_bounding(alike(60, 470_000_000, 63_000_000)),
            limit_s=0.05,
        ),
        Benchmark(name="bound: 512 links in 16 earshots", prepare=_bounding(_earshots(16, 32)), limit_s=0.05),
        *(
            Figure(
                name=f"bound: upper bound, {tv_channels} TV channels in one block",
                measure=partial(_gap, tv_channels),
                unit="% of found",
            )
            for tv_channels in FOUND
        ),
    )

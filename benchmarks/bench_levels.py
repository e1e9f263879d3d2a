"""Levels: how fast they are checked and drawn, and what a second of search wins over plans by lot and by kHz rules.

Two generated stages for each number of links; `python -m benchmarks levels full` takes five and prints the table.

The second is one of the machine of the promises (`benchmarks.pace`): for each stage, plans by levels and by kHz rules
have 1 s x reference / 40 ms of processor time, where reference is the processor time of the reference kernel just then.
"""

from __future__ import annotations

import functools
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from bandwright.core.reach.levels import lie_of, mw
from bandwright.core.reach.levels_fronts import ceilings, front_factors
from bandwright.core.reach.levels_rows import rows_of
from bandwright.core.reach.stage_pictures import picture_model, ratios_in_pictures
from bandwright.engines.levels import raise_worst, worst_ratio_db
from bandwright.engines.prepare import prepare_kernels, prepare_levels
from bandwright.engines.solve import Outcome, solve
from benchmarks.level_stages import Case, case_of, random_plan, stage_with
from benchmarks.measure import Benchmark, Figure
from benchmarks.pace import pace_of
from benchmarks.reference import work

__all__ = ["benchmarks"]

_SIZES = ((11, 1), (16, 1), (16, 2), (24, 2), (32, 4))
_LIMIT_S = 1.0  # at the pace of the promises
_BY_LOT = 41


@dataclass(frozen=True, slots=True, kw_only=True)
class _Won:
    """Worst carrier to interference of one stage in dB: by lot (median), by kHz rules alone, by levels."""

    size: tuple[int, int]
    by_lot: float
    by_rules: float
    rules_scale: float
    by_levels: float
    limit_s: float


@functools.cache
def _wins() -> tuple[_Won, ...]:
    prepare_kernels()
    prepare_levels()
    stages = 5 if "full" in sys.argv else 2
    found = tuple(_won(size, seed, _LIMIT_S * _pace()) for size in _SIZES for seed in range(1, stages + 1))
    if "full" in sys.argv:
        _print_table(found)
    return found


def _pace() -> float:
    """Return how many times slower than promised at a processor works just now, whatever else waits for it."""
    took = []
    for _ in range(5):
        began = time.process_time()
        work()
        took.append(time.process_time() - began)
    return pace_of([statistics.median(took)])


def _won(size: tuple[int, int], seed: int, limit_s: float) -> _Won:
    links, tv = size
    case = case_of(links, tv=tv, seed=seed)
    random = np.random.default_rng(seed)
    by_lot = [worst_ratio_db(case.model, random_plan(case.free, random)) for _ in range(_BY_LOT)]
    scale, ruled = _by_rules(case, links, limit_s)
    began = time.process_time()
    start = solve(case.free, time_limit_s=limit_s, polish=False, seconds=time.process_time)
    left = limit_s - (time.process_time() - began)
    levels = raise_worst(case.free, case.model, start, time_limit_s=left, seconds=time.process_time)
    return _Won(
        size=size,
        by_lot=statistics.median(by_lot),
        by_rules=worst_ratio_db(case.model, ruled.carriers_hz),
        rules_scale=scale,
        by_levels=levels.worst_db,
        limit_s=limit_s,
    )


def _by_rules(case: Case, links: int, limit_s: float) -> tuple[float, Outcome]:
    """Return the plan by the strictest rules under which all are placed, with margins widened as far as time allows."""
    for scale, problem in case.by_scale.items():
        outcome = solve(problem, time_limit_s=limit_s, seconds=time.process_time)
        if outcome.placed == links:
            return scale, outcome
    raise RuntimeError("spacing alone leaves no room for so many links")


def _print_table(found: tuple[_Won, ...]) -> None:
    print(f"{'links/TV':>9} {'by lot':>7} {'rules':>7} {'scale':>6} {'levels':>7} {'won':>6} {'s each':>7}  (dB)")
    for one in found:
        size = "{}/{}".format(*one.size)
        won = one.by_levels - one.by_lot
        print(
            f"{size:>9} {one.by_lot:7.1f} {one.by_rules:7.1f} {one.rules_scale:6.2f} {one.by_levels:7.1f} {won:6.1f} "
            f"{one.limit_s:7.2f}"
        )


def _median_won(size: tuple[int, int], over: Callable[[_Won], float]) -> float:
    return statistics.median(one.by_levels - over(one) for one in _wins() if one.size == size)


# ---------------------------------------------------------------------------------------------------- how fast


def _check(links: int, tv: int) -> Callable[[], Callable[[], object]]:
    def prepare() -> Callable[[], object]:
        _, stage = stage_with(links, tv=tv, seed=1)
        model = picture_model(stage, np.random.default_rng(1))
        hz = 606_500_000 + 25_000 * np.random.default_rng(2).permutation(tv * 320)[:links].astype(np.int64)
        lie = lie_of(model, hz)
        air = mw(model.level_dbm[np.ix_(lie.members, lie.members)])
        made = mw(-model.made_db[np.ix_(lie.members, lie.members)])
        fronts = [model.fronts[member] for member in lie.members.tolist()]
        front, ceiling = front_factors(fronts, lie.f, model.makes[lie.members]) * air, ceilings(fronts)
        return lambda: lie.third(front, ceiling, air, made)

    return prepare


def _draw(links: int, pictures: int) -> Callable[[], Callable[[], object]]:
    def prepare() -> Callable[[], object]:
        _, stage = stage_with(links, tv=4, seed=1)
        hz = 606_500_000 + 25_000 * np.random.default_rng(2).permutation(4 * 320 - 40)[:links].astype(np.int64)
        rows = rows_of(stage.worst(), hz)
        return lambda: ratios_in_pictures(stage, rows, np.random.default_rng(3), pictures=pictures)

    return prepare


def benchmarks() -> list[Benchmark | Figure]:
    """Return what is measured."""
    checks = [
        Benchmark(name="levels of 100 links, all third order", prepare=_check(100, 28), limit_s=0.002, rounds=25),
        Benchmark(name="levels of 200 links, all third order", prepare=_check(200, 56), limit_s=0.020, rounds=9),
        Benchmark(name="levels in 10,000 stage pictures of 32 links", prepare=_draw(32, 10_000), limit_s=4.0, rounds=3),
    ]
    figures = []
    for size in _SIZES:
        called = "{} links in {} TV".format(*size)
        figures.append(
            Figure(
                name=f"levels, {called}: won over the median plan by lot",
                measure=functools.partial(_median_won, size, lambda one: one.by_lot),
                unit="dB",
                limit=10.0,
                at_least=True,
            )
        )
        figures.append(
            Figure(
                name=f"levels, {called}: won over kHz rules alone",
                measure=functools.partial(_median_won, size, lambda one: one.by_rules),
                unit="dB",
                limit=0.0,
                at_least=True,
            )
        )
    return [*checks, *figures]

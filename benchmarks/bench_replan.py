"""Replanning: how long it takes to mend a crowded plan, and how often the moves are proven the fewest.

Plans of 28 links in eight TV channels (63 MHz), where 30 are the most that searches find, lose one or two carriers
drawn by lot, each with its neighbours within half the bandwidth. Times are of the processor.
"""

from __future__ import annotations

import functools
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bandwright.core.planning.change import Mobility
from bandwright.core.planning.problem import Choice, Problem
from bandwright.engines.prepare import prepare_kernels, prepare_repair
from bandwright.engines.replan import replan
from bandwright.engines.solve import solve
from benchmarks.bench_engine import alike
from benchmarks.measure import Benchmark, Figure

__all__ = ["benchmarks"]

_LINKS = 28
_LOW_HZ = 606_500_000
_WIDTH_HZ = 63_000_000
_HALF_HZ = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mended:
    """One plan that lost carriers: seconds of the processor, moves, and whether these are proven the fewest."""

    seconds: float
    moves: int
    proven: bool


@functools.cache
def _all_mended(lost: int) -> tuple[_Mended, ...]:
    prepare_kernels()
    prepare_repair()
    seeds = 50 if "full" in sys.argv else 12
    return tuple(mended for seed in range(1, seeds + 1) if (mended := _mended(seed, lost)) is not None)


def _mended(seed: int, lost: int) -> _Mended | None:
    """Plan, lose carriers, mend; None where the plan itself was not found."""
    problem = alike(_LINKS, _LOW_HZ, _WIDTH_HZ)
    before = solve(problem, seed=seed, polish=False, time_limit_s=60.0).carriers_hz
    if min(before) < 0:
        return None
    gone = np.random.Generator(np.random.PCG64(seed)).choice(_LINKS, lost, replace=False)
    choice = problem.choices[0]
    far = np.array([np.abs(choice.carriers_hz - before[link]) > _HALF_HZ for link in gone.tolist()]).all(axis=0)
    open_hz = choice.carriers_hz[far]
    left = Choice(
        name="any", carriers_hz=open_hz, wish=np.zeros(len(open_hz), np.int64), clearance_hz=choice.clearance_hz
    )
    narrowed = Problem(choices=(left,), wanted=problem.wanted, near_hz=problem.near_hz)
    began = time.process_time()
    found = replan(narrowed, before=before, mobility=[Mobility.NOW] * _LINKS, time_limit_s=60.0)
    return _Mended(seconds=time.process_time() - began, moves=len(found.moved), proven=found.proven)


def _figures(lost: int) -> tuple[Figure, ...]:
    name = f"replan: {_LINKS} of 30 in 63 MHz, {lost} lost"
    return (
        Figure(
            name=f"{name}, worst",
            measure=lambda: max(mended.seconds for mended in _all_mended(lost)),
            unit="s",
            limit=1.0,
        ),
        Figure(
            name=f"{name}, median",
            measure=lambda: float(np.median([mended.seconds for mended in _all_mended(lost)])),
            unit="s",
        ),
        Figure(
            name=f"{name}, proven fewest",
            measure=lambda: 100 * float(np.mean([mended.proven for mended in _all_mended(lost)])),
            unit="%",
            limit=100,
            at_least=True,
        ),
        Figure(
            name=f"{name}, most moves",
            measure=lambda: float(max(mended.moves for mended in _all_mended(lost))),
            unit="links",
        ),
    )


def benchmarks() -> Sequence[Benchmark | Figure]:
    """Return what is measured; `python -m benchmarks replan full` asks 50 plans instead of 12."""
    return (*_figures(1), *_figures(2))

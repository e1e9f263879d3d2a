"""The search and the verifier: how fast they are, and how often the hard cases succeed.

`python -m benchmarks engine full` asks 50 seeds instead of 6 where a success rate is measured.
"""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Choice, Problem, Wanted
from bandwright.core.planning.verify import examine
from bandwright.engines.solve import solve
from benchmarks.measure import Benchmark, Figure
from benchmarks.plain import plain_hits

__all__ = ["benchmarks"]

RULES = (("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000))
SPACING_HZ = 350_000
STEP_HZ = 25_000
LIMIT_S = 10.0
_SOME_VICTIMS = 2
_PREPARE = (
    "import time; start = time.perf_counter(); from bandwright.engines.prepare import prepare_kernels; "
    "prepare_kernels(); print(time.perf_counter() - start)"
)


def alike(count: int, low_hz: int, width_hz: int) -> Problem:
    """Return a problem of interchangeable links in one block of spectrum."""
    carriers = np.arange(low_hz, low_hz + width_hz + 1, STEP_HZ, dtype=np.int64)
    near = np.full((count, count), SPACING_HZ, np.int64)
    np.fill_diagonal(near, 0)
    choice = Choice(name="any", carriers_hz=carriers, wish=np.zeros(len(carriers), np.int64), clearance_hz=RULES)
    return Problem(choices=(choice,), wanted=tuple(Wanted(id=str(i), choice=0) for i in range(count)), near_hz=near)


def quiet_set(prime: int, count: int) -> NDArray[np.int64]:
    """Return carriers that keep the rules.

    2 p k + (k^2 mod p) has pairwise different differences (Erdos and Turan 1941); in steps of 100 kHz that keeps 2A-B
    and A+B-C. What breaks 3A-2B is left out.
    """
    carriers = np.array([2 * prime * k + k * k % prime for k in range(prime)], np.int64) * 100_000
    while not (report := examine(alike(len(carriers), 0, 0), carriers)).clean:
        carriers = np.delete(carriers, sorted({hit.victim for hit in report.hits}))
    if len(carriers) < count:
        raise ValueError(f"{len(carriers)} carriers are left of {prime}; {count} are asked for")
    return carriers[:count]


def _searching(count: int, low_hz: int, width_hz: int) -> Callable[[], Callable[[], object]]:
    """Return work that plans with another seed at each call."""

    def prepare() -> Callable[[], object]:
        problem = alike(count, low_hz, width_hz)
        seeds = itertools.count(1)
        return lambda: solve(problem, seed=next(seeds), polish=False, time_limit_s=LIMIT_S)

    return prepare


def _examining(prime: int, count: int) -> Callable[[], Callable[[], object]]:
    def prepare() -> Callable[[], object]:
        problem, carriers = alike(count, 0, 0), quiet_set(prime, count)
        return lambda: examine(problem, carriers)

    return prepare


def _success_percent(count: int, width_hz: int) -> float:
    seeds = 50 if "full" in sys.argv else 6
    problem = alike(count, 470_000_000, width_hz)
    found = [solve(problem, seed=seed, polish=False, time_limit_s=LIMIT_S).placed for seed in range(1, seeds + 1)]
    return 100 * found.count(count) / seeds


def _times_plain() -> float:
    """Return how many times faster `examine` is than plain Python, which does a few of 256 victims and is scaled up."""
    problem, carriers = alike(256, 0, 0), quiet_set(409, 256)
    examine(problem, carriers)
    ours = min(_seconds(lambda: examine(problem, carriers)) for _ in range(20))
    plain = _seconds(lambda: plain_hits(carriers.tolist(), RULES, SPACING_HZ, victims=range(_SOME_VICTIMS)))
    return plain * len(carriers) / _SOME_VICTIMS / ours


def _preparing_s(*, calls: int) -> float:
    """Return how long the last of some new processes, the first with an empty cache, takes to make kernels ready."""
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"BANDWRIGHT_CACHE": folder, "BANDWRIGHT_UNCOMPILED": ""}
        for _ in range(calls):
            done = subprocess.run([sys.executable, "-c", _PREPARE], env=environment, stdout=subprocess.PIPE, check=True)
        return float(done.stdout)


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _success(count: int, width_hz: int) -> Figure:
    return Figure(
        name=f"engine: {count} links in {width_hz // 1_000_000} MHz within {LIMIT_S:g} s",
        measure=lambda: _success_percent(count, width_hz),
        unit="% of seeds",
    )


def benchmarks() -> Sequence[Benchmark | Figure]:
    """Return what is measured."""
    return (
        Figure(name="engine: kernels compiled afresh", measure=lambda: _preparing_s(calls=1), unit="s"),
        Figure(name="engine: kernels loaded by a new process", measure=lambda: _preparing_s(calls=2), unit="s"),
        Benchmark(
            name="engine: 11 links in 7 MHz (606.5-613.5)",
            prepare=_searching(11, 606_500_000, 7_000_000),
            rounds=25,
            limit_s=0.020,
        ),
        Benchmark(
            name="engine: 22 links in 31 MHz",
            prepare=_searching(22, 606_500_000, 31_000_000),
            rounds=25,
            limit_s=0.2,
        ),
        Benchmark(
            name="engine: 48 links in 223 MHz (470-693)",
            prepare=_searching(48, 470_000_000, 223_000_000),
            limit_s=1.0,
        ),
        *(
            _success(count, mhz * 1_000_000)
            for count, mhz in ((16, 15), (17, 15), (22, 31), (23, 31), (29, 63), (30, 63))
        ),
        Benchmark(name="engine: check of 256 carriers", prepare=_examining(409, 256), rounds=25, limit_s=0.002),
        Benchmark(name="engine: check of 1024 carriers", prepare=_examining(1601, 1024), rounds=15, limit_s=0.020),
        Figure(
            name=f"engine: check of 256, plain Python ({_SOME_VICTIMS} victims, scaled)",
            measure=_times_plain,
            unit="times",
            limit=1000,
            at_least=True,
        ),
    )

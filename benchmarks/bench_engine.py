"""The search and the verifier: how fast they are, and how often the hard cases succeed.

`python -m benchmarks engine full` asks 50 seeds instead of 6 where a success rate is measured.
"""

from __future__ import annotations

import functools
import itertools
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
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
    "import time; start = time.perf_counter(); from bandwright.engines.prepare import load_search; "
    "load_search(); print(time.perf_counter() - start)"
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


@functools.cache
def _successes(problem_of: Callable[[], Problem], limit_s: float) -> tuple[int, int]:
    """Return for how many seeds, of how many, everything is placed within the limit (seconds of processor time)."""
    seeds = 50 if "full" in sys.argv else 6
    problem = problem_of()
    found = [
        solve(problem, seed=seed, polish=False, time_limit_s=limit_s, seconds=time.process_time).placed
        for seed in range(1, seeds + 1)
    ]
    return found.count(len(problem.wanted)), seeds


def _percent(problem_of: Callable[[], Problem], limit_s: float) -> float:
    good, seeds = _successes(problem_of, limit_s)
    return 100 * good / seeds


def _at_least_percent(problem_of: Callable[[], Problem], limit_s: float) -> float:
    """Return the lower end of the 95 % interval of a success rate (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927)."""
    good, seeds = _successes(problem_of, limit_s)
    z = 1.959964
    share = good / seeds
    middle = share + z * z / (2 * seeds)
    spread = z * math.sqrt(share * (1 - share) / seeds + z * z / (4 * seeds * seeds))
    return 100 * (middle - spread) / (1 + z * z / seeds)


def mixed_kit(*, bodypacks: int, handhelds: int, in_ears: int) -> Problem:
    """Return an invented problem near its capacity: three types, two steps, presets for one, three other carriers.

    Four TV channels, 606-638 MHz. Body packs tune in 25 kHz, hand-helds in 50 kHz from another offset, in-ears have 40
    presets in steps of 5 kHz. One other carrier makes products, one only with ours, one only blocks.
    """
    lots = np.random.default_rng(5).integers(0, 5, 40)
    presets = 606_300_000 + 25_000 * np.round(np.linspace(0, 31_000_000, 40) / 25_000).astype(np.int64) + 5_000 * lots
    kit = (
        ("body pack", np.arange(606_100_000, 637_900_001, 25_000), {"2A-B": 50_000, "A+B-C": 25_000, "3A-2B": 25_000}),
        ("hand-held", np.arange(606_112_500, 637_900_001, 50_000), {"2A-B": 50_000, "A+B-C": 12_500}),
        ("in-ear", np.unique(presets), {"2A-B": 100_000}),
    )
    spacing_hz = np.array([350_000, 300_000, 500_000])
    kinds = np.repeat(np.arange(3), (bodypacks, handhelds, in_ears))
    others = ((611_300_000, Sends.FULLY), (622_112_500, Sends.WITH_OURS), (630_731_250, Sends.NOT))
    count, size = len(kinds), len(kinds) + len(others)
    near = np.zeros((size, size), np.int64)
    near[:count, :count] = np.maximum(spacing_hz[kinds][:, None], spacing_hz[kinds][None, :])
    near[:count, count:] = (spacing_hz[kinds] // 2 + 6_250)[:, None]
    near = np.maximum(near, near.T)
    np.fill_diagonal(near, 0)
    return Problem(
        choices=tuple(Choice.of(hz.tolist(), name=name, clearance_hz=asked) for name, hz, asked in kit),
        wanted=tuple(Wanted(id=str(i), choice=int(kind)) for i, kind in enumerate(kinds)),
        fixed=tuple(Fixed(id=f"other {i}", carrier_hz=hz, sends=how) for i, (hz, how) in enumerate(others)),
        near_hz=near,
    )


def earshots(count: int, each: int, *, across_hz: int) -> Problem:
    """Return alike links in earshots that hear each other only as far as carrier spacing, in 138 MHz."""
    carriers = np.arange(470_000_000, 608_000_001, STEP_HZ, dtype=np.int64)
    own = np.repeat(np.arange(count), each)
    near = np.where(own[:, None] == own[None, :], SPACING_HZ, across_hz).astype(np.int64)
    np.fill_diagonal(near, 0)
    return Problem(
        choices=(Choice.of(carriers.tolist(), clearance_hz=dict(RULES)),),
        wanted=tuple(Wanted(id=str(i), choice=0, contexts=(int(earshot),)) for i, earshot in enumerate(own)),
        near_hz=near,
        contexts=count,
    )


def _solving(problem_of: Callable[[], Problem]) -> Callable[[], Callable[[], object]]:
    def prepare() -> Callable[[], object]:
        problem = problem_of()
        return lambda: solve(problem, polish=False, time_limit_s=LIMIT_S)

    return prepare


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


def _success(name: str, problem_of: Callable[[], Problem], *, limit_s: float, promised: float) -> tuple[Figure, Figure]:
    return (
        Figure(
            name=f"engine: {name} within {limit_s:g} s",
            measure=partial(_percent, problem_of, limit_s),
            unit="% of seeds",
            limit=promised,
            at_least=True,
        ),
        Figure(
            name=f"engine: {name}: at least, at 95 % confidence",
            measure=partial(_at_least_percent, problem_of, limit_s),
            unit="% of seeds",
        ),
    )


def _alike_within(count: int, mhz: int, *, limit_s: float, promised: float) -> tuple[Figure, Figure]:
    problem_of = partial(alike, count, 470_000_000, mhz * 1_000_000)
    return _success(f"{count} links in {mhz} MHz", problem_of, limit_s=limit_s, promised=promised)


def benchmarks() -> Sequence[Benchmark | Figure]:
    """Return what is measured."""
    return (
        Figure(name="engine: kernels compiled afresh", measure=lambda: _preparing_s(calls=1), unit="s"),
        Figure(name="engine: kernels loaded by a new process", measure=lambda: _preparing_s(calls=2), unit="s"),
        Benchmark(
            name="engine: 11 links in 7 MHz (606.5-613.5)",
            prepare=_searching(11, 606_500_000, 7_000_000),
            rounds=25,
            limit_s=0.010,
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
        Benchmark(
            name="engine: 64 links in 358.4 MHz",
            prepare=_searching(64, 470_000_000, 358_400_000),
            limit_s=1.0,
        ),
        Benchmark(
            name="engine: 512 links in 16 earshots, 138 MHz, 200 kHz across",
            prepare=_solving(partial(earshots, 16, 32, across_hz=200_000)),
            limit_s=0.3,
        ),
        Benchmark(
            name="engine: 352 links in 16 earshots, 138 MHz, 350 kHz across",
            prepare=_solving(partial(earshots, 16, 22, across_hz=350_000)),
            limit_s=0.3,
        ),
        Benchmark(
            name="engine: a twelfth link in 7 MHz, proven not to fit",
            prepare=_solving(partial(alike, 12, 606_500_000, 7_000_000)),
            limit_s=2.0,
        ),
        *_alike_within(17, 15, limit_s=LIMIT_S, promised=90),
        *_alike_within(23, 31, limit_s=LIMIT_S, promised=60),
        *_alike_within(30, 63, limit_s=LIMIT_S, promised=90),
        *_alike_within(51, 223, limit_s=30.0, promised=90),
        *_alike_within(52, 223, limit_s=30.0, promised=90),
        *_success(
            "24 mixed links in four TV channels",
            partial(mixed_kit, bodypacks=12, handhelds=8, in_ears=4),
            limit_s=LIMIT_S,
            promised=90,
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

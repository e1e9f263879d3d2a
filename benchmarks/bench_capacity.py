"""How many links fit, and what cannot hold together: how fast that is told, and how far it reaches.

FOUND and BOUNDS are what an independent prototype came to under the same rules: carriers found in one block of 8 k - 1
MHz, and the bound it could prove by counting differences.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache, partial

from bandwright.core.planning.crowd import Crowd
from bandwright.core.planning.problem import Choice
from bandwright.core.planning.room import Capacity
from bandwright.engines.capacity import capacity
from bandwright.engines.conflict import clashes
from benchmarks.bench_engine import RULES, SPACING_HZ, STEP_HZ, alike
from benchmarks.measure import Benchmark, Figure

__all__ = ["benchmarks"]

FOUND = {2: 17, 4: 23, 8: 30, 28: 51}
BOUNDS = {2: 19, 4: 28, 8: 40, 28: 74}
LIMIT_S = 600.0  # effort ends it long before


def _block(tv_channels: int) -> Crowd:
    width_hz = (8 * tv_channels - 1) * 1_000_000
    return Crowd(choice=Choice.of(range(0, width_hz + 1, STEP_HZ), clearance_hz=dict(RULES)), spacing_hz=SPACING_HZ)


@cache
def _count(tv_channels: int) -> Capacity:
    return capacity(_block(tv_channels), time_limit_s=LIMIT_S)


def _found(tv_channels: int) -> float:
    return _count(tv_channels).found


def _bound(tv_channels: int) -> float:
    return _count(tv_channels).upper_bound


def _counting() -> Callable[[], object]:
    crowd = _block(1)
    return lambda: capacity(crowd, time_limit_s=LIMIT_S)


def _naming() -> Callable[[], object]:
    problem, carriers = alike(14, 0, 7_000_000), [-1] * 14
    return lambda: clashes(problem, carriers)


def benchmarks() -> Sequence[Benchmark | Figure]:
    """Return what is measured."""
    return (
        Benchmark(name="capacity: 11 in one TV channel, found and proven", prepare=_counting, limit_s=2.0),
        Benchmark(name="conflict: name the 12 of 14 that cannot share one TV channel", prepare=_naming, limit_s=2.0),
        *(
            Figure(
                name=f"capacity: links found in {channels} TV channels",
                measure=partial(_found, channels),
                unit="links",
                limit=FOUND[channels],
                at_least=True,
            )
            for channels in FOUND
        ),
        *(
            Figure(
                name=f"capacity: bound of {channels} TV channels",
                measure=partial(_bound, channels),
                unit="links",
                limit=BOUNDS[channels],
            )
            for channels in BOUNDS
        ),
    )

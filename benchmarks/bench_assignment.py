"""Frequency assignment: the Philadelphia instances, a minute of processor time each.

Each instance gives two figures: the span that the worst seed found, and the median seconds until its search ended,
which is at the published span or after a minute. `python -m benchmarks assignment full` asks 10 seeds instead of one.
P2 and P4 are taken harder than published, with a conflict also at exactly the reuse distance.
"""

from __future__ import annotations

import functools
import json
import statistics
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from bandwright.core.planning.network import Network, expanded
from bandwright.core.planning.verify import examine
from bandwright.engines.assignment import Assignment, SpanStep, minimum_span
from benchmarks.measure import Benchmark, Figure

__all__ = ["benchmarks"]

LIMIT_S = 60.0
TABLE = Path(__file__).parents[1] / "tests" / "authorities" / "philadelphia.json"
# Squared distances up to which two calls conflict on one slot and on neighbouring ones.
REACH = {"P2": (7, 2), "P4": (7, 2), "P6": (6, 2), "P8": (11, 3)}
# What is promised: at most 1 % above the published span, P3 and P5 at it.
PROMISED = {"P1": 430, "P2": 430, "P3": 257, "P4": 254, "P5": 239, "P8": 529}


def instance(name: str) -> tuple[Network, int]:
    """Return an instance and its published span."""
    table = json.loads(TABLE.read_text(encoding="utf-8"))
    q, r = np.array(table["axial_q"]), np.array(table["axial_r"])
    dq, dr = q[:, None] - q, r[:, None] - r
    squared = dq * dq + dr * dr + dq * dr
    one, two = REACH.get(name, (11, 2))
    separation = np.select([squared == 0, squared <= two, squared <= one], [5, 2, 1], 0)
    given = table["instances"][name]
    network = Network(demand=np.array(given["demand"]), separation=separation)
    return network, int(given["published_optimal_span_fmax_minus_fmin"])


@functools.cache
def searched(name: str) -> list[tuple[Assignment, float]]:
    """Return what each seed found and the processor time it took."""
    network, published = instance(name)
    minimum_span(network, effort=1)
    return [_one_search(network, published, seed) for seed in range(1, 11 if "full" in sys.argv else 2)]


def _one_search(network: Network, published: int, seed: int) -> tuple[Assignment, float]:
    reached: list[int] = []

    def note(step: SpanStep) -> None:
        if step.span <= published:
            reached.append(step.span)

    start = time.process_time()
    found = minimum_span(
        network,
        seed=seed,
        effort=10**9,
        time_limit_s=LIMIT_S,
        seconds=time.process_time,
        progress=note,
        cancelled=lambda: bool(reached),
    )
    seconds = time.process_time() - start
    carriers = np.array([slot for row in found.slots for slot in row], np.int64) - min(min(row) for row in found.slots)
    if found.placed < network.calls or not examine(expanded(network, slots=found.span + 1), carriers).clean:
        raise AssertionError("an assignment that the verifier refuses")
    return found, seconds


def _worst_span(name: str) -> float:
    return max(found.span for found, _ in searched(name))


def _median_s(name: str) -> float:
    return statistics.median(seconds for _, seconds in searched(name))


def _figures(name: str) -> tuple[Figure, Figure]:
    network, published = instance(name)
    bound = minimum_span(network, effort=1).lower_bound
    return (
        Figure(
            name=f"assignment: {name} span ({published} published, {bound} bound)",
            measure=functools.partial(_worst_span, name),
            unit="slots",
            limit=PROMISED[name] + 1 if name in PROMISED else None,
        ),
        Figure(name=f"assignment: {name} until then", measure=functools.partial(_median_s, name), unit="s"),
    )


def benchmarks() -> Sequence[Benchmark | Figure]:
    """Return what is measured."""
    return tuple(figure for number in range(1, 10) for figure in _figures(f"P{number}"))

"""The fixed reference kernel: plain Python, no library, the same work for ever.

Seconds say how long it takes here; multiples of this kernel, timed in the same process, can be compared across
machines. Changing anything in this file makes old figures useless.
"""

from __future__ import annotations

from benchmarks.measure import Benchmark, time_it

__all__ = ["reference_s", "work"]

COUNT = 100_000
# Park and Miller's minimal standard generator (Communications of the ACM 31(10), 1988): x -> 16807 x mod (2^31 - 1).
MULTIPLIER = 16_807
MODULUS = 2**31 - 1


def work() -> int:
    """Draw 100,000 numbers, sort them, and return the sum of every number times its rank, mod 2^31 - 1."""
    x = 1
    numbers = []
    for _ in range(COUNT):
        x = x * MULTIPLIER % MODULUS
        numbers.append(x)
    numbers.sort()
    return sum(rank * number for rank, number in enumerate(numbers)) % MODULUS


def reference_s(rounds: int = 7) -> float:
    """Return the median seconds of the reference kernel on this machine, now."""
    return time_it(Benchmark(name="reference", prepare=lambda: work, rounds=rounds)).median_s

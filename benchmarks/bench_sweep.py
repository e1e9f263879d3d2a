"""Reading sweep logs: memory that does not grow, and speed."""

from __future__ import annotations

from collections.abc import Sequence

from benchmarks.measure import Figure
from benchmarks.sweep_memory import megabytes_a_second, most_memory_mb

__all__ = ["benchmarks"]


def benchmarks() -> Sequence[Figure]:
    """Return what is measured."""
    return (
        Figure(
            name="sweep: memory at a 1 GB log minus at 100 MB",
            measure=lambda: most_memory_mb(1000) - most_memory_mb(100),
            unit="MB",
            limit=20,
        ),
        Figure(name="sweep: rtl_power log read", measure=lambda: megabytes_a_second(100), unit="MB/s", at_least=True),
    )

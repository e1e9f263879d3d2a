"""Reading sweep logs: memory that does not grow, and speed."""

from __future__ import annotations

from collections.abc import Sequence

from benchmarks.measure import Figure
from benchmarks.sweep_memory import megabytes_a_second, most_memory_mb, times_polars, write_interleaved_log

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
        Figure(
            name="sweep: rtl_power log read on one core",
            measure=lambda: megabytes_a_second(1000),
            unit="MB/s",
            limit=100,
            at_least=True,
        ),
        Figure(
            name="sweep: hackrf_sweep log read on one core",
            measure=lambda: megabytes_a_second(300, write_interleaved_log),
            unit="MB/s",
            limit=100,
            at_least=True,
        ),
        Figure(
            name="sweep: reading, as a multiple of polars reading and casting",
            measure=lambda: times_polars(300),
            unit="times",
            limit=2,
            without="polars is not here (pip install .[bench])",
        ),
    )

"""The local app: what a page feels."""

from __future__ import annotations

from collections.abc import Sequence

from benchmarks.app_echo import echo_p95_ms, shut_down_s
from benchmarks.measure import Figure

__all__ = ["benchmarks"]


def benchmarks() -> Sequence[Figure]:
    """Return what is measured."""
    return (
        Figure(
            name="app: echo of an edit, 20 pages, 5 edits a second, p95",
            measure=lambda: echo_p95_ms(pages=20, edits_a_second=0.25, links=100),
            unit="ms",
            limit=150,
        ),
        Figure(
            name="app: the same with 5 edits a second from each page, p95",
            measure=lambda: echo_p95_ms(pages=20, edits_a_second=5, links=20),
            unit="ms",
            limit=150,
        ),
        Figure(
            name="app: end of a server with an open page",
            measure=shut_down_s,
            unit="s",
            limit=3,
        ),
    )

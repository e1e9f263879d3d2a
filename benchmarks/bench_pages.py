"""The pages in a browser: ready to use, and a carrier under the hand."""

from __future__ import annotations

from collections.abc import Sequence

from benchmarks.measure import Figure, Reading
from benchmarks.page_visits import DRAGGED, LINKS, POINTS, figures

__all__ = ["benchmarks"]

_WITHOUT = "no Chromium, or Playwright is not installed"
_WITH = f"{POINTS:,} points"


def benchmarks() -> Sequence[Figure]:
    """Return what is measured."""
    return (
        _figure(f"pages: Plan ready to use, {_WITH}, {LINKS} links", "ready", limit=800),
        _figure("pages: the same with the processor slowed 4 times", "ready throttled", limit=2200),
        _figure(f"pages: drag of a carrier to its paint, {DRAGGED} links", "drag paint", limit=16),
        _figure(f"pages: drag of a carrier to its new verdict, {DRAGGED} links", "drag verdict", limit=30),
    )


def _figure(name: str, key: str, *, limit: float) -> Figure:
    def measure() -> Reading | None:
        found = figures()
        return None if found is None else found[key]

    return Figure(name=name, measure=measure, unit="ms", limit=limit, without=_WITHOUT)

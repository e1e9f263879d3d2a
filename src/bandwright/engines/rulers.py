"""The least span in which a number of alike carriers fit, by exact search."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.groups import group_members
from bandwright.core.planning.problem import Choice, Problem, Wanted
from bandwright.core.planning.rulers import ENDLESS, Rulers, Widths

__all__ = ["LeastSpan", "least_span"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastSpan:
    """Carriers (Hz from the first one) of the least span; `finished` says that no shorter one exists."""

    span_hz: int
    carriers_hz: tuple[int, ...]
    finished: bool
    nodes: int


def least_span(
    count: int,
    *,
    spacing_hz: int,
    clearance_hz: tuple[tuple[str, int], ...],
    step_hz: int,
    longest_hz: int,
    effort: int = 16_000_000,
) -> LeastSpan | None:
    """Return the least span in which so many carriers fit on a raster, or None where `longest_hz` is too short.

    Parameters
    ----------
    count
        Carriers, all with the same rules, nothing else on the air.
    spacing_hz, clearance_hz
        What any two carriers keep, and the clearance for each IM family.
    step_hz
        The raster of the carriers.
    longest_hz
        The longest span that is looked at.
    effort
        Nodes; where they do not suffice the shortest found is returned with `finished` False.
    """
    problem = _alike(count, spacing_hz, clearance_hz, np.arange(0, longest_hz + 1, step_hz, dtype=np.int64))
    rulers = Rulers(Widths(group_members(problem, range(count)), (0,)).keeps((0,), step_hz), longest_hz // step_hz)
    rulers.left = effort
    next(rulers.measure(count, quota=ENDLESS), None)
    cells = rulers.known.get(count)
    if cells is None:
        return None
    return LeastSpan(
        span_hz=int(cells[-1]) * step_hz,
        carriers_hz=tuple((cells * step_hz).tolist()),
        finished=count < len(rulers.spans),
        nodes=rulers.nodes,
    )


def _alike(
    count: int, spacing_hz: int, clearance_hz: tuple[tuple[str, int], ...], carriers: NDArray[np.int64]
) -> Problem:
    near = np.full((count, count), spacing_hz, np.int64)
    np.fill_diagonal(near, 0)
    choice = Choice(name="any", carriers_hz=carriers, wish=np.zeros_like(carriers), clearance_hz=clearance_hz)
    return Problem(choices=(choice,), wanted=tuple(Wanted(id=str(i), choice=0) for i in range(count)), near_hz=near)

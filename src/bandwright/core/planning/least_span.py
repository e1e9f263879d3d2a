"""Lower bounds of the span: how far apart the lowest and the highest slot must at least be. Pure, and never too high.

Two arguments, the better of which counts:

* *clique*: calls that all ask for `t` slots between any two of them, n in number, span at least t (n - 1);
* *gaps*: a group with many calls leaves gaps between them. A gap of g slots holds only so many calls of a clique of its
  neighbours, so all gaps together must be long enough for the neighbours' demand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.network import Network

__all__ = ["SpanBound", "heaviest_clique", "least_span"]

_NODES = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanBound:
    """No assignment of all calls has a smaller span than `span`; `method` says by which argument."""

    span: int
    method: str


def least_span(network: Network) -> SpanBound:
    """Return the largest lower bound of the span found by the arguments of this module."""
    asked = np.where(np.diag(network.separation) > 0, network.demand, np.minimum(network.demand, 1))
    none = SpanBound(span=0, method="clique")
    bounds = [none, *_cliques(asked, network.separation), *_gaps(asked, network.separation)]
    return max(bounds, key=lambda bound: bound.span)


def _cliques(demand: NDArray[np.int64], separation: NDArray[np.int64]) -> Iterator[SpanBound]:
    """Yield, for each separation that is asked for, the bound of the heaviest clique that asks for it throughout."""
    for asked in np.unique(separation[separation > 0]).tolist():
        weight = np.where(np.diag(separation) >= asked, demand, np.minimum(demand, 1))
        clique = heaviest_clique(separation >= asked, weight)
        calls = int(weight[clique].sum())
        yield SpanBound(span=asked * max(0, calls - 1), method="clique")


def heaviest_clique(joined: NDArray[np.bool_], weight: NDArray[np.int64], *, nodes: int = _NODES) -> list[int]:
    """Return a clique of the graph with the most weight (the best that was met, after so many nodes)."""
    best: list[int] = []
    best_weight = 0
    left = nodes
    order = np.argsort(-weight, kind="stable")
    stack: list[tuple[list[int], NDArray[np.int64]]] = [([], order[weight[order] > 0])]
    while stack and left > 0:
        clique, rest = stack.pop()
        left -= 1
        have = int(weight[clique].sum())
        if have > best_weight:
            best, best_weight = clique, have
        if have + _colours(joined, weight, rest) <= best_weight:
            continue
        first, others = int(rest[0]), rest[1:]
        stack.append((clique, others))
        stack.append(([*clique, first], others[joined[first, others]]))
    return sorted(best)


def _colours(joined: NDArray[np.bool_], weight: NDArray[np.int64], rest: NDArray[np.int64]) -> int:
    """Return what a clique among these can weigh at most: a heaviest member of each class of pairwise unjoined ones."""
    bound = 0
    while len(rest):
        bound += int(weight[rest].max())
        kept: list[int] = []
        for vertex in rest.tolist():
            if not joined[vertex, kept].any():
                kept.append(vertex)
        rest = np.setdiff1d(rest, kept, assume_unique=True)
    return bound


def _gaps(demand: NDArray[np.int64], separation: NDArray[np.int64]) -> Iterator[SpanBound]:
    for hub in np.flatnonzero(demand >= 2).tolist():
        others = (np.arange(len(demand)) != hub) & (demand > 0)
        for away in np.unique(separation[hub][others & (separation[hub] > 0)]).tolist():
            weight = np.where(others & (separation[hub] >= away), demand, 0)
            clique = heaviest_clique(separation >= 1, weight)
            yield _with_gaps(int(separation[hub, hub]), int(demand[hub]), away, int(weight[clique].sum()))


def _with_gaps(own: int, calls: int, away: int, beside: int) -> SpanBound:
    """Return the bound from `calls` calls `own` apart and `beside` others, one on a slot, `away` from the former.

    A gap of g slots holds max(0, g - 2 away + 1) others at most: what a gap of `own` slots holds, and one more for each
    further slot. The row beyond the outermost of the former holds no more than one for each slot.
    """
    free = max(0, own - 2 * away + 1) * (calls - 1)
    return SpanBound(span=own * (calls - 1) + max(0, beside - free), method="gaps")

"""Exact answers by branch and bound: the most that can be placed together, and whether all of some members can.

Effort is a number of nodes, so that answers do not depend on the machine. Members that have nothing to do with one
another are searched apart. What is returned is held against `core.planning.verify` before it leaves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.groups import group_members
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.verify import examine
from bandwright.engines.branching import MixedSearch, Part, parts_of
from bandwright.engines.kinds import KindSearch
from bandwright.engines.ladder import Ladder, RulerSearch
from bandwright.errors import BrokenPromise

__all__ = ["EFFORT", "Placeable", "Proof", "Reached", "most_placed", "placeable"]

EFFORT = 300_000  # nodes; a few seconds
_SLICE = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """Progress: members placed in the best set so far, what cannot be exceeded, and nodes searched."""

    placed: int
    upper_bound: int
    nodes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """Carriers in the order of `Problem.wanted` (-1 = not placed), and what is proven about them.

    `placed` members have a carrier; no more than `upper_bound` can. `finished` says that the search came to its end:
    the set is then the best there is (for `by_priority`: in the order of priorities).
    """

    carriers_hz: tuple[int, ...]
    placed: int
    upper_bound: int
    finished: bool
    nodes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Placeable:
    """Whether all can be placed together: True with carriers, False (proven), None where effort ran out."""

    verdict: bool | None
    carriers_hz: tuple[int, ...]
    nodes: int


def most_placed(
    problem: Problem,
    *,
    members: Sequence[int] | None = None,
    by_priority: bool = False,
    known_hz: Sequence[int] | None = None,
    effort: int = EFFORT,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Reached], None] = lambda _: None,
) -> Proof:
    """Return a largest set of members that can be placed together, or the best found within the effort.

    Parameters
    ----------
    problem
        Candidates and rules.
    members
        Indices into `problem.wanted`; all of them by default. The others are left out as if they were not there.
    by_priority
        Whether members of higher priority count for more than all of lower priority together.
    known_hz : shape (wanted,)
        Carriers already found (-1 = not placed): only what places more is searched for.
    effort
        Nodes after which the best so far is returned; parts that do not meet share them.
    """
    chosen = _chosen(problem, members)
    known = _kept(problem, chosen, known_hz)
    carriers = known.copy()
    parts = list(parts_of(group_members(problem, chosen, by_priority=by_priority)))
    limits = [min(part.upper_bound, upper_bound(problem, part.members).upper_bound) for part in parts]
    nodes, finished = 0, True
    for index, part in enumerate(parts):
        here = np.array(part.members, np.int64)
        search = _search(part, known[here], limit=limits[index])
        share = (effort - nodes) // (len(parts) - index)
        while search.go_on(min(_SLICE, share - search.nodes)):
            progress(Reached(placed=_placed(carriers), upper_bound=sum(limits), nodes=nodes + search.nodes))
            if search.nodes >= share or cancelled():
                break
        nodes += search.nodes
        finished = finished and search.finished
        limits[index] = min(limits[index], search.upper_bound)
        carriers[here] = search.carriers_hz
    _refuse_what_breaks_a_rule(problem, carriers)
    progress(Reached(placed=_placed(carriers), upper_bound=sum(limits), nodes=nodes))
    return Proof(
        carriers_hz=tuple(carriers.tolist()),
        placed=_placed(carriers),
        upper_bound=sum(limits),
        finished=finished,
        nodes=nodes,
    )


def placeable(
    problem: Problem,
    *,
    members: Sequence[int] | None = None,
    effort: int = EFFORT,
    cancelled: Callable[[], bool] = lambda: False,
) -> Placeable:
    """Return whether all of the members (all wanted ones by default) can be placed together.

    The others are left out as if they were not there. `verdict` None means that the effort (nodes) did not decide it.
    """
    chosen = _chosen(problem, members)
    carriers = np.full(len(problem.wanted), -1, np.int64)
    parts = list(parts_of(group_members(problem, chosen)))
    if any(upper_bound(problem, part.members).upper_bound < len(part.members) for part in parts):
        return Placeable(verdict=False, carriers_hz=tuple(carriers.tolist()), nodes=0)
    nodes, verdict = 0, True
    for index, part in enumerate(parts):
        here = np.array(part.members, np.int64)
        search = _search(part, carriers[here], limit=len(here), all_or_nothing=True)
        share = (effort - nodes) // (len(parts) - index)
        while search.go_on(min(_SLICE, share - search.nodes)):
            if search.nodes >= share or cancelled():
                break
        nodes += search.nodes
        if search.finished and not search.all_placed:
            return Placeable(verdict=False, carriers_hz=(-1,) * len(problem.wanted), nodes=nodes)
        verdict = verdict and search.all_placed
        carriers[here] = search.carriers_hz
    if not verdict:
        return Placeable(verdict=None, carriers_hz=(-1,) * len(problem.wanted), nodes=nodes)
    _refuse_what_breaks_a_rule(problem, carriers)
    return Placeable(verdict=True, carriers_hz=tuple(carriers.tolist()), nodes=nodes)


def _chosen(problem: Problem, members: Sequence[int] | None) -> tuple[int, ...]:
    chosen = range(len(problem.wanted)) if members is None else sorted(set(members))
    if any(not 0 <= member < len(problem.wanted) for member in chosen):
        raise ValueError(f"members are indices from 0 to {len(problem.wanted) - 1}; given {list(chosen)}")
    return tuple(chosen)


def _kept(problem: Problem, chosen: tuple[int, ...], known_hz: Sequence[int] | None) -> NDArray[np.int64]:
    """Return the known carriers of the chosen members, after a look by the verifier."""
    known = np.full(len(problem.wanted), -1, np.int64)
    if known_hz is None:
        return known
    if len(known_hz) != len(known):
        raise ValueError(f"known_hz holds one carrier for each of {len(known)} wanted members; given {len(known_hz)}")
    known[list(chosen)] = np.asarray(known_hz, np.int64)[list(chosen)]
    if not examine(problem, known).clean:
        raise ValueError("the known carriers break a rule; give a clean set or none")
    return known


def _placed(carriers: NDArray[np.int64]) -> int:
    return int(np.sum(carriers >= 0))


def _refuse_what_breaks_a_rule(problem: Problem, carriers: NDArray[np.int64]) -> None:
    """Raise BrokenPromise unless every carrier is a candidate of its choice and the verifier finds nothing."""
    for item, hz in zip(problem.wanted, carriers.tolist(), strict=True):
        if hz >= 0 and hz not in problem.choices[item.choice].carriers_hz:
            raise BrokenPromise(f"the exact search returned {hz} Hz for {item.id}, which is none of its candidates")
    report = examine(problem, carriers)
    if not report.clean:
        raise BrokenPromise(f"the exact search returned carriers that the verifier refuses: {report.hits[0]}")


def _search(
    part: Part, known_hz: NDArray[np.int64], *, limit: int, all_or_nothing: bool = False
) -> MixedSearch | Ladder:
    """Return the search that fits: rulers where all are alike, then a few kinds that all meet, else the general one."""
    for kind in (RulerSearch, KindSearch):
        if kind.fits(part):
            return kind(part, known_hz, limit=limit, all_or_nothing=all_or_nothing)
    return MixedSearch(part, known_hz, limit=limit, all_or_nothing=all_or_nothing)

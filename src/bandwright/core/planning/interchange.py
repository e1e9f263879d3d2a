"""Who of interchangeable members goes without: the last in the order of the brief, not whoever the search left over."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from bandwright.core.planning.groups import group_members
from bandwright.core.planning.problem import Problem

__all__ = ["first_in_order"]


def first_in_order(problem: Problem, carriers_hz: Sequence[int], *, staying: Collection[int] = ()) -> tuple[int, ...]:
    """Return the same carriers, given to the first of interchangeable members of one priority where not all have one.

    Members are interchangeable as `core.planning.groups` says: the same candidates and contexts, and bound alike to
    everybody else, so that no rule can tell which of them has which carrier. As few as can be change hands: each of the
    first without a carrier takes that of the last who has one.

    Parameters
    ----------
    problem
        The problem that the carriers answer.
    carriers_hz
        In the order of `Problem.wanted`; -1 = not placed.
    staying
        Members that are left as they are.
    """
    given = list(carriers_hz)
    if all(hz >= 0 for hz in given):
        return tuple(given)
    for alike in group_members(problem, range(len(given)), by_priority=True).classes:
        free = [member for member in alike if member not in staying]
        placed = [member for member in free if given[member] >= 0]
        waiting = [member for member in free[: len(placed)] if given[member] < 0]
        for first, last in zip(waiting, reversed(placed), strict=False):
            given[first], given[last] = given[last], -1
    return tuple(given)

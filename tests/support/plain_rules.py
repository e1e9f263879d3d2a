"""The rules of a separation problem by plain enumeration: the definition, written out."""

from __future__ import annotations

import itertools

from bandwright.core.planning.problem import Sends
from bandwright.core.products import FAMILIES

__all__ = ["in_standing_order", "plain_hits"]


def plain_hits(problem, carriers):
    """Every broken rule by plain enumeration over ordered tuples: the definition, written out."""
    f = [*carriers, *(item.carrier_hz for item in problem.fixed)]
    sends = [Sends.FULLY] * len(problem.wanted) + [item.sends for item in problem.fixed]
    placed = [i for i in range(problem.size) if f[i] >= 0]
    ours = set(range(len(problem.wanted)))
    found = set()
    for i, j in itertools.combinations(placed, 2):
        gap = abs(f[i] - f[j])
        near, far = problem.near_hz[i, j], problem.far_hz[i, j]
        if (gap < near or (far and gap > far)) and ours & {i, j}:
            found.add(("spacing", i, (j,)))
    for victim in placed:
        for family, clearance in problem.clearance_of(victim):
            c = FAMILIES[family].coefficients
            for generators in itertools.permutations(placed, len(c)):
                if in_standing_order(family, generators) != generators:
                    continue
                shared = set(problem.contexts_of(victim)).intersection(*(problem.contexts_of(g) for g in generators))
                weakest = min(sends[g] for g in generators)
                makes = weakest == Sends.FULLY or (weakest == Sends.WITH_OURS and ours.intersection(generators))
                if not shared or not makes or not ours & {victim, *generators}:
                    continue
                if victim in generators and c[generators.index(victim)] == 1:
                    continue
                if abs(sum(k * f[g] for k, g in zip(c, generators, strict=True)) - f[victim]) < clearance:
                    found.add((family, victim, generators))
    return found


def in_standing_order(family, members):
    """Generators whose coefficients are equal are interchangeable: sort them."""
    if family == "A+B-C":
        return (*sorted(members[:2]), members[2])
    if family == "3A-B-C":
        return (members[0], *sorted(members[1:]))
    return members

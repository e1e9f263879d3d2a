"""What would have to move: the fewest members whose removal leaves nothing broken."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = ["Fewest", "fewest_to_move"]

_NODES = 50_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Fewest:
    """Members that meet every group; `proven` when no fewer do."""

    members: tuple[int, ...]
    proven: bool


def fewest_to_move(groups: Iterable[Iterable[int]], rank: Sequence[int], *, nodes: int = _NODES) -> Fewest | None:
    """Return the fewest members that meet every group: a smallest hitting set.

    Parameters
    ----------
    groups
        For each broken rule the members of which one must go.
    rank
        By member: of equally few, those of low rank go.
    nodes
        The effort of the exact search; beyond it the best found is returned, without proof.

    Returns
    -------
    Fewest or None
        None when a group is empty, so that nothing that moves can help.

    Examples
    --------
    >>> fewest_to_move([{0, 1}, {1, 2}, {3}], rank=[0, 0, 0, 0])
    Fewest(members=(1, 3), proven=True)
    """
    sets = _smallest({frozenset(group) for group in groups})
    if sets and not sets[0]:
        return None
    best = _greedily(sets, rank)
    left = [nodes]
    for size in range(_disjoint(sets), len(best)):
        found = _search(sets, size, rank, left)
        if found is not None:
            return Fewest(members=tuple(sorted(found)), proven=True)
        if left[0] <= 0:
            return Fewest(members=tuple(sorted(best)), proven=False)
    return Fewest(members=tuple(sorted(best)), proven=True)


def _smallest(sets: set[frozenset[int]]) -> list[frozenset[int]]:
    """Return the sets that hold no other, small ones first."""
    kept: list[frozenset[int]] = []
    for one in sorted(sets, key=lambda s: (len(s), sorted(s))):
        if not any(other <= one for other in kept):
            kept.append(one)
    return kept


def _greedily(sets: Sequence[frozenset[int]], rank: Sequence[int]) -> set[int]:
    chosen: set[int] = set()
    rest = list(sets)
    while rest:
        members = {member for group in rest for member in group}
        one = min(members, key=lambda m: (-sum(m in group for group in rest), rank[m], m))
        chosen.add(one)
        rest = [group for group in rest if one not in group]
    return chosen


def _disjoint(sets: Sequence[frozenset[int]]) -> int:
    """Return how many sets share nothing with those counted before: at least as many must go."""
    seen: set[int] = set()
    count = 0
    for group in sets:
        if seen.isdisjoint(group):
            seen |= group
            count += 1
    return count


def _search(sets: Sequence[frozenset[int]], size: int, rank: Sequence[int], left: list[int]) -> set[int] | None:
    """Return `size` members that meet all sets, or None; `left` holds the nodes that may still be looked at."""
    if not sets:
        return set()
    left[0] -= 1
    if left[0] < 0 or _disjoint(sets) > size:
        return None
    group = min(sets, key=len)
    for member in sorted(group, key=lambda m: (rank[m], m)):
        found = _search([other for other in sets if member not in other], size - 1, rank, left)
        if found is not None:
            return found | {member}
    return None

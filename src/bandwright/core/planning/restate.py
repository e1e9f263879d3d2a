"""Products that say no more than that two carriers are too near to each other: told with the spacing, not each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from bandwright.core.planning.plan import Violation
from bandwright.core.products import family_named

__all__ = ["folded"]


def folded(broken: Sequence[Violation]) -> list[tuple[Violation, int]]:
    """Return the broken rules without products that only restate a spacing, and how many of them each line stands for.

    Take carriers that are nearer than their spacing, to each other or to another user, as one and the same. A product
    that then falls on its victim whatever the frequencies (X + L1 - L2 on X; 2 x L1 - L2 on L1) restates the spacing:
    the sum of coefficients, the victim's being -1, is zero for each of these groups.
    """
    groups = _groups(broken)
    kept: list[Violation] = []
    follow: Counter[str] = Counter()
    for item in broken:
        named = _restated(item, groups)
        if named is None:
            kept.append(item)
        else:
            follow[named] += 1
    lines = []
    for item in kept:
        group = groups.get(item.victim) if _is_pair(item) else None
        lines.append((item, follow.pop(group, 0) if group is not None else 0))
    return lines


def _is_pair(item: Violation) -> bool:
    return item.rule in ("spacing", "other") and len(item.sources) == 1


def _groups(broken: Sequence[Violation]) -> dict[str, str]:
    """Return for each member of a group of carriers that are too near the name that stands for the group."""
    groups: dict[str, str] = {}
    for item in filter(_is_pair, broken):
        one = groups.setdefault(item.victim, item.victim)
        two = groups.setdefault(item.sources[0], item.sources[0])
        groups.update({name: one for name, group in groups.items() if group == two})
    return groups


def _restated(item: Violation, groups: dict[str, str]) -> str | None:
    """Return the group whose nearness a product restates; None for whatever is no such product."""
    if item.family is None:
        return None
    sums: Counter[str] = Counter({groups.get(item.victim, item.victim): -1})
    for name, coefficient in zip(item.sources, family_named(item.family).coefficients, strict=True):
        sums[groups.get(name, name)] += coefficient
    if any(sums.values()):
        return None
    return next((groups[name] for name in (*item.sources, item.victim) if name in groups), None)

"""Links whose signals go the same way, together."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence

from bandwright.core.reach.link import LinkReach

__all__ = ["links_alike", "links_on_one_way"]


def links_alike(links: Sequence[LinkReach]) -> list[list[LinkReach]]:
    """Return links that differ in nothing but their carriers together, the one with the least margin first."""
    return _grouped(links, lambda item: (_way(item), item.link.distance_m, item.link.walls, item.state))


def links_on_one_way(links: Sequence[LinkReach]) -> list[list[LinkReach]]:
    """Return links that differ in carriers, distance and walls only together, the one with the least margin first."""
    return _grouped(links, _way)


def _grouped(links: Sequence[LinkReach], key: Callable[[LinkReach], Hashable]) -> list[list[LinkReach]]:
    groups: dict[Hashable, list[LinkReach]] = {}
    for item in links:
        groups.setdefault(key(item), []).append(item)
    return [sorted(group, key=_margin_db) for group in groups.values()]


def _margin_db(item: LinkReach) -> float:
    return math.inf if item.margin_db is None else item.margin_db


def _way(item: LinkReach) -> Hashable:
    """Return what the way of a signal depends on beside its carrier, its length and walls."""
    facts = item.facts
    runs = tuple(branch.run.id if branch.run is not None else None for branch in item.branches)
    return item.link.radio.id, item.link.worn, facts.place.id, facts.power_mw, facts.body_db, runs

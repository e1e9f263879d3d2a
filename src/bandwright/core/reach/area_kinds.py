"""Maps of links that differ in nothing but their carriers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.coverage import Coverage
from bandwright.core.reach.facts import LinkFacts
from bandwright.core.rig import Antenna, Run

__all__ = ["KindMap", "KindMaps", "kind_key"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class KindMap:
    """The map of links that differ in nothing but their carriers: at each point of the grid the one that has least.

    `levels_dbm` and `margins_db` have shape (antennas, points); `reserve_db` and `outage` (points,). None is what
    cannot be told. Points outside the outline have values too; `AreaReach.inside` tells them.
    """

    links: tuple[str, ...]
    antennas: tuple[Antenna, ...]
    levels_dbm: Floats
    margins_db: Floats | None
    outages: Floats | None
    reserve_db: Floats | None
    outage: Floats | None


class KindMaps:
    """Maps of links that differ in nothing but their carriers, put together as they come."""

    def __init__(self) -> None:
        self._found: dict[object, KindMap] = {}

    def add(self, found: Coverage, on_grid: slice) -> None:
        """Take a link in; at each point its kind keeps what is least."""
        if not found.heard:
            return
        link, key = found.facts.link, kind_key(found.facts, [item.run for item in found.heard if item.run is not None])
        margins = [item.margins_db for item in found.heard if item.margins_db is not None]
        chances = [item.outages for item in found.heard if item.outages is not None]
        one = KindMap(
            links=(link.id,),
            antennas=tuple(item.antenna for item in found.heard),
            levels_dbm=np.stack([item.levels_dbm[on_grid] for item in found.heard]),
            margins_db=np.stack([item[on_grid] for item in margins]) if margins else None,
            outages=np.stack([item[on_grid] for item in chances]) if chances else None,
            reserve_db=None if found.reserve_db is None else found.reserve_db[on_grid],
            outage=None if found.together is None else found.together[on_grid],
        )
        known = self._found.get(key)
        self._found[key] = one if known is None else _least(known, one)

    def maps(self) -> tuple[KindMap, ...]:
        """Return the maps in the order in which their first links came."""
        return tuple(self._found.values())


def kind_key(facts: LinkFacts, runs: Sequence[Run]) -> object:
    """Return what links have in common that differ in nothing but their carriers."""
    link = facts.link
    return (link.radio.id, link.worn, facts.power_mw, facts.body_db, tuple(run.id for run in runs))


def _least(one: KindMap, two: KindMap) -> KindMap:
    def least(first: Floats | None, second: Floats | None) -> Floats | None:
        return None if first is None or second is None else np.minimum(first, second)

    def most(first: Floats | None, second: Floats | None) -> Floats | None:
        return None if first is None or second is None else np.maximum(first, second)

    return replace(
        one,
        links=(*one.links, *two.links),
        levels_dbm=np.minimum(one.levels_dbm, two.levels_dbm),
        margins_db=least(one.margins_db, two.margins_db),
        outages=most(one.outages, two.outages),
        reserve_db=least(one.reserve_db, two.reserve_db),
        outage=most(one.outage, two.outage),
    )

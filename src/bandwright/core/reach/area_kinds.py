"""Maps of links that differ in nothing but their carriers."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.coverage import Coverage
from bandwright.core.reach.coverage_fading import outages
from bandwright.core.reach.coverage_needs import dropouts_per_min
from bandwright.core.reach.facts import LinkFacts
from bandwright.core.reach.fading import Fading
from bandwright.core.rig import Antenna, Run

__all__ = ["KindMap", "KindMaps", "kind_key"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class KindMap:
    """The map of links that differ in nothing but their carriers: at each point of the grid the one that has least.

    `levels_dbm`, `margins_db` and `outages` have shape (antennas, points); `reserve_db`, `outage` and
    `dropouts_per_min` (points,), with antennas that fade as much alike as at any of the carriers. `dropouts_per_min`
    counts those that are heard, at the lowest carrier; NaN where the signal is mostly gone. None is what cannot be
    told. Points outside the outline have values too; `AreaReach.inside` tells them.
    """

    links: tuple[str, ...]
    antennas: tuple[Antenna, ...]
    levels_dbm: Floats
    margins_db: Floats | None
    outages: Floats | None
    reserve_db: Floats | None
    outage: Floats | None
    dropouts_per_min: Floats | None


class KindMaps:
    """Maps of links that differ in nothing but their carriers, put together as they come."""

    def __init__(self) -> None:
        self._found: dict[Hashable, _Gathered] = {}

    def add(self, kind: Hashable, found: Coverage, on_grid: slice) -> None:
        """Take a way in that links of a kind go; at each point the kind keeps what is least."""
        if not found.heard:
            return
        one = _Gathered.of(found, on_grid)
        if kind in self._found:
            self._found[kind].take(one)
        else:
            self._found[kind] = one

    def maps(self, links: Mapping[Hashable, Sequence[str]]) -> tuple[KindMap, ...]:
        """Return the maps of kinds with these links, in their order."""
        return tuple(self._found[kind].map(ids) for kind, ids in links.items() if kind in self._found)


def kind_key(facts: LinkFacts, runs: Sequence[Run]) -> Hashable:
    """Return what links have in common that differ in nothing but their carriers."""
    link = facts.link
    return (link.radio.id, link.worn, facts.power_mw, facts.body_db, tuple(run.id for run in runs))


@dataclass(slots=True, kw_only=True)
class _Gathered:
    """One kind while its links come in; of how antennas fade the one counts with which they fade most alike."""

    antennas: tuple[Antenna, ...]
    levels_dbm: Floats
    margins_db: Floats | None
    used_db: Floats | None
    reserve_db: Floats | None
    fading: Fading
    facts: LinkFacts

    @classmethod
    def of(cls, found: Coverage, on_grid: slice) -> _Gathered:
        margins = [item.margins_db[on_grid] for item in found.heard if item.margins_db is not None]
        return cls(
            antennas=tuple(item.antenna for item in found.heard),
            levels_dbm=np.stack([item.levels_dbm[on_grid] for item in found.heard]),
            margins_db=np.stack(margins) if margins else None,
            used_db=None if found.used_db is None else found.used_db[:, on_grid],
            reserve_db=None if found.reserve_db is None else found.reserve_db[on_grid],
            fading=found.fading,
            facts=found.facts,
        )

    def take(self, other: _Gathered) -> None:
        """Keep what is least of both."""
        self.levels_dbm = np.minimum(self.levels_dbm, other.levels_dbm)
        self.margins_db = _least(self.margins_db, other.margins_db)
        self.used_db = _least(self.used_db, other.used_db)
        self.reserve_db = _least(self.reserve_db, other.reserve_db)
        self.fading = max(self.fading, other.fading, key=lambda fading: fading.correlation)
        self.facts = min(self.facts, other.facts, key=lambda facts: facts.carrier_hz)

    def map(self, links: Sequence[str]) -> KindMap:
        """Return the map of these links."""
        alone = self.fading.one()
        margins, used = self.margins_db, self.used_db
        return KindMap(
            links=tuple(links),
            antennas=self.antennas,
            levels_dbm=self.levels_dbm,
            margins_db=margins,
            outages=None if margins is None else np.stack([outages(one[None], alone) for one in margins]),
            reserve_db=self.reserve_db,
            outage=None if used is None else outages(used, self.fading),
            dropouts_per_min=None if used is None else dropouts_per_min(self.facts, used, self.fading),
        )


def _least(one: Floats | None, two: Floats | None) -> Floats | None:
    return None if one is None or two is None else np.minimum(one, two)

"""Carriers so close to each other that their signals go the same way over a plan: links on them share one map."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import replace

from bandwright.core.reach.area import Area
from bandwright.core.reach.area_kinds import kind_key
from bandwright.core.reach.budget import Branch, branch_of, wall_db
from bandwright.core.reach.facts import LinkFacts
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Run

__all__ = ["MOST_DB", "STEP", "Steps", "stepped_hz"]

STEP = 0.008
"""One step of carriers on a plan, as a part of the carrier; half of it is worth 0.035 dB in free space."""

MOST_DB = 0.05
"""By so much a level, a margin or a wall may differ at the carrier of the step: half of the last digit on screen."""

_FROM_HZ = 1_000_000
_SOMEWHERE_M = 10.0


def stepped_hz(carrier_hz: int) -> int:
    """Return the carrier of the step that a carrier belongs to: the nearest one, steps being 0.8 % apart.

    >>> stepped_hz(606_700_000) == stepped_hz(607_000_000)
    True
    """
    number = round(math.log(carrier_hz / _FROM_HZ) / math.log1p(STEP))
    return round(_FROM_HZ * (1 + STEP) ** number)


class Steps:
    """At which carriers the ways of links over a plan are reckoned: that of their step, where it makes no difference.

    A link stays on its own carrier where a filter, a table or a wall makes more than `MOST_DB` of the step. What comes
    out for a link does not depend on which other links there are.
    """

    def __init__(self, area: Area, tables: ReachTables) -> None:
        self._area = area
        self._tables = tables
        self._known: dict[Hashable, tuple[Branch, ...]] = {}
        self._walls: dict[int, tuple[float, ...]] = {}

    def reckoned(self, facts: LinkFacts, runs: Sequence[Run]) -> LinkFacts:
        """Return the facts of a link on the carrier at which its way is reckoned."""
        carrier_hz = stepped_hz(facts.carrier_hz)
        if carrier_hz == facts.carrier_hz or not runs:
            return facts
        stepped = replace(facts, carrier_hz=carrier_hz)
        key = (kind_key(facts, runs), carrier_hz)
        if key not in self._known:
            self._known[key] = self._branches(stepped, runs)
        own = self._branches(facts, runs)
        same = all(_same(one, two) for one, two in zip(own, self._known[key], strict=True))
        return stepped if same and self._same_walls(facts.carrier_hz, carrier_hz) else facts

    def _branches(self, facts: LinkFacts, runs: Sequence[Run]) -> tuple[Branch, ...]:
        somewhere = replace(facts, link=replace(facts.link, distance_m=_SOMEWHERE_M, walls=()))
        return tuple(branch_of(somewhere, run, self._tables) for run in runs)

    def _same_walls(self, one_hz: int, two_hz: int) -> bool:
        return all(_close(one, two) for one, two in zip(self._costs(one_hz), self._costs(two_hz), strict=True))

    def _costs(self, carrier_hz: int) -> tuple[float, ...]:
        if carrier_hz not in self._walls:
            costs = (wall_db(item.wall, carrier_hz, self._tables) for item in self._area.walls)
            self._walls[carrier_hz] = tuple(costs)
        return self._walls[carrier_hz]


def _same(one: Branch, two: Branch) -> bool:
    figures = ("level_dbm", "lowest_dbm", "margin_db")
    told = one.gaps == two.gaps and (one.path is None) == (two.path is None)
    return told and all(_close(getattr(one, name), getattr(two, name)) for name in figures)


def _close(one: float | None, two: float | None) -> bool:
    return one is two if one is None or two is None else abs(one - two) <= MOST_DB

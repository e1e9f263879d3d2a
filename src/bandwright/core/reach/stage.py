"""A stage with everybody somewhere in their area: what arrives of whom at whose receiver, at worst.

The worst picture is that of each single product: its generators as near to the receiver as they may come, with the
least body loss, and the wanted carrier at its weakest point with the most. Its sum over all products is an upper one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job
from bandwright.core.kit import Link, Other
from bandwright.core.planning.earshot import weaker_by_db
from bandwright.core.reach.area import Metres
from bandwright.core.reach.facts import Gap
from bandwright.core.reach.levels import LevelModel
from bandwright.core.reach.stage_actors import Actor, actor_of, other_of
from bandwright.core.reach.stage_spots import distances_m
from bandwright.core.reach.stage_ways import walls_on_ways_db
from bandwright.core.reach.tables import ReachTables

__all__ = ["LEAST_M", "SIDE_BY_SIDE_M", "Stage", "stage_of"]

Floats = NDArray[np.float64]

LEAST_M = 1.0
"""Nobody comes nearer to an antenna than this; common practice."""

SIDE_BY_SIDE_M = 0.5
"""Two packs side by side; common practice."""

_COMBINER_DB = 35.0  # between in-ear transmitters on one antenna; common practice


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """Who is where: our links first, then other users; `weaker_db[v, j]` is what earshots take from j at v.

    `gaps` tells what is missing and what counts in its place. `asked` are the links whose carrier to interference is
    asked for, None: all.
    """

    actors: tuple[Actor, ...]
    wanted: int
    weaker_db: Floats
    gaps: tuple[Gap, ...]
    asked: frozenset[int] | None = None
    walls: tuple[tuple[Metres, Metres], ...] = ()

    def known(self, member: int) -> bool:
        """Whether a link's carrier to interference can be told: its level and its receiver's intercept point."""
        actor = self.actors[member]
        return actor.eirp_dbm is not None and actor.front is not None

    def asks(self, member: int) -> bool:
        """Whether a link's carrier to interference is asked for."""
        return member < self.wanted and (self.asked is None or member in self.asked)

    def worst(self) -> LevelModel:
        """Return levels at worst: see the head of this module."""
        size = len(self.actors)
        level = np.full((size, size), -math.inf)
        made = np.full((size, size), math.inf)
        for v in range(self.wanted):
            for j in range(size):
                if not np.isfinite(self.weaker_db[v, j]):
                    continue
                if self.asks(v):
                    level[v, j] = self._level_dbm(v, j) - self.weaker_db[v, j]
                if j != v and j < self.wanted:
                    made[v, j] = self._made_db(v, j)
        return self.model(level, made)

    def model(self, level_dbm: Floats, made_db: Floats) -> LevelModel:
        """Return these levels with what is known of transmitters and receivers."""
        fronts = tuple(actor.front if self.asks(i) else None for i, actor in enumerate(self.actors))
        iip3 = [None if front is None else front.iip3_dbm for front in fronts]
        return LevelModel(
            level_dbm=level_dbm,
            fronts=fronts,
            iip5_dbm=np.array([math.nan if value is None else value for value in iip3]),
            made_db=made_db,
            rms_hz=np.array([actor.rms_hz for actor in self.actors]),
            bandwidth_hz=np.array([actor.bandwidth_hz for actor in self.actors]),
            victim=np.array([self.asks(i) and self.known(i) for i in range(len(self.actors))], np.bool_),
            makes=np.array([actor.makes_products for actor in self.actors], np.bool_),
        )

    def _level_dbm(self, v: int, j: int) -> float:
        here, there = self.actors[v], self.actors[j]
        if there.level_dbm is not None:
            return there.level_dbm
        if there.eirp_dbm is None:
            return -math.inf
        body = there.body_db[2] + here.hears_body_db[2] if v == j else there.body_db[0] + here.hears_body_db[0]
        return there.eirp_dbm - body - self._way_db(v, j) + here.gain_dbi

    def _way_db(self, v: int, j: int) -> float:
        """Return the loss of the way from j to v at worst: a wanted carrier's most, of others at their nearest.

        Others that move may come into the beam and from behind walls, so that neither takes anything from them.
        """
        here, there = self.actors[v], self.actors[j]
        among_packs = not here.inward and there.inward
        near, far = distances_m(there.sends_from, here.hears_at)
        if v == j and there.walls_db is not None:
            sent, heard = there.sends_from.spread(), here.hears_at.spread()
            from_m, to_m = np.broadcast_arrays(sent, heard) if len(sent) == 1 or len(heard) == 1 else (sent, heard)
            away = np.maximum(np.hypot(*(from_m - to_m).T), LEAST_M)
            return float((there.loss_db(away) + self.between_db(j, v, from_m, to_m)).max())
        way = np.array([max(far if v == j else near, LEAST_M)])
        loss = float(there.loss_db(way, among_packs=among_packs)[0])
        if v == j:
            return loss + there.stated_walls_db
        if not (there.sends_from.fixed and here.hears_at.fixed):
            return loss
        ends = [np.array([spot.middle_m]) for spot in (there.sends_from, here.hears_at)]
        return loss + float(self.between_db(j, v, *ends)[0])

    def between_db(self, j: int, v: int, from_m: Floats, to_m: Floats) -> Floats:
        """Return what walls on the way and the patterns of antennas at its ends take from j at v, for many ways.

        Only what stands on the plan counts: without a position for its antenna neither is known of a link.
        """
        there, here = self.actors[j], self.actors[v]
        found: Floats = np.zeros(len(to_m))
        if there.walls_db is None or here.walls_db is None:
            return found
        if self.walls:
            found += walls_on_ways_db(self.walls, there.walls_db, from_m, to_m)
        if here.inward and here.look is not None:
            found -= here.look.gain_db(from_m)
        if not there.inward and there.look is not None:
            found -= there.look.gain_db(to_m)
        return found

    def _made_db(self, a: int, c: int) -> float:
        """Return how far 2A-C made in A's transmitter lies below A, C being as near as it may come."""
        one, two = self.actors[a], self.actors[c]
        if one.made_db is None or one.eirp_dbm is None or two.eirp_dbm is None:
            return math.inf
        near, _ = distances_m(one.sends_from, two.sends_from)
        coupled = self.coupling_db(a, c, np.array([near]), one.body_db[0] + two.body_db[0])
        return one.made_db + one.eirp_dbm - two.eirp_dbm + float(coupled[0])

    def coupling_db(self, a: int, c: int, distance_m: Floats, body_db: float | Floats) -> Floats:
        """Return the loss from one transmitter's antenna to the other's, both taken as 0 dBi, with bodies between.

        Walls do not count: who makes a product strongly stands close.
        """
        one, two = self.actors[a], self.actors[c]
        if not one.inward and not two.inward and one.sends_from == two.sends_from:
            return np.full(len(distance_m), _COMBINER_DB)
        found: Floats = two.loss_db(np.maximum(distance_m, SIDE_BY_SIDE_M), among_packs=True) + body_db
        return found


def stage_of(job: Job, seats: Sequence[Link], *, tables: ReachTables) -> Stage:
    """Return the stage of a job: its links and spare carriers (in this order), then other users.

    A link is anywhere in its zone, without one anywhere on the plan of its place; where there is no plan, in a disc of
    `distance_m` round its antenna, or of 20 m (assumed). A spare carrier is where the farthest link of its type may be.
    """
    gaps: list[Gap] = []
    actors = [actor_of(job, _standing(job, seat), tables, gaps) for seat in seats]
    actors += [other_of(other, gaps) for other in job.others]
    members: list[Link | Other] = [*seats, *job.others]
    weaker = np.zeros((len(members), len(members)))
    for v, one in enumerate(members):
        for j, two in enumerate(members):
            if v != j:
                weaker[v, j] = weaker_by_db(job, one, two)
    walls = () if job.area is None else tuple((item.start_m, item.end_m) for item in job.area.walls)
    return Stage(
        actors=tuple(actors), wanted=len(seats), weaker_db=weaker, gaps=tuple(dict.fromkeys(gaps)), walls=walls
    )


def _standing(job: Job, seat: Link) -> Link:
    """Return a spare carrier as if it were the farthest link of its type."""
    if not seat.spare_at:
        return seat
    alike = [link for link in job.links if link.radio.id == seat.radio.id]
    far = max(alike, key=lambda link: link.distance_m or 0.0, default=None)
    if far is None:
        return seat
    return replace(far, id=seat.id, name=seat.name, hold_hz=None, spare_at=seat.spare_at, worn=seat.worn)

"""The whole plan judged: maps of links alike, the worst point of each link, walks, spots for antennas, near limits."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.reach.area import Area
from bandwright.core.reach.area_kinds import KindMap, KindMaps, kind_key
from bandwright.core.reach.area_points import Judged, PlanPoints, judged_link, sampled
from bandwright.core.reach.area_spots import Bearers, placing_of, senders_of
from bandwright.core.reach.area_steps import Steps
from bandwright.core.reach.coverage import Grid, coverage
from bandwright.core.reach.facts import Gap, LinkFacts, link_facts, runs_of
from bandwright.core.reach.near_far import NearLimit, Strong, near_limits, strong_signals
from bandwright.core.reach.placing import Apart, Placing
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Antenna, Run

__all__ = ["AreaReach", "area_reach", "bearers_of", "judged_on_plan", "on_plan", "with_distance"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaReach:
    """A plan judged. `kinds` holds maps, `judged` each link, `strong` what transmitters that stay put do to antennas.

    `elsewhere` names links of other places, which are not on this plan.
    """

    area: Area
    grid: Grid
    inside: NDArray[np.bool_]
    every_s: float
    antennas: tuple[Antenna, ...]
    kinds: tuple[KindMap, ...]
    judged: tuple[Judged, ...]
    placing: tuple[Placing, ...]
    apart: Apart | None
    near: tuple[NearLimit, ...]
    strong: tuple[Strong, ...]
    elsewhere: tuple[str, ...]
    gaps: tuple[Gap, ...]

    @property
    def weakest(self) -> Judged | None:
        """The link whose worst point is the worst of all."""
        known = [one for one in self.judged if one.worst is not None]
        return min(known, key=lambda one: one.worst.reserve_db if one.worst else 0.0, default=None)

    @property
    def enough(self) -> bool:
        """Whether every link on the plan can be judged, and has what it needs at its worst point."""
        return all(one.worst is not None and one.worst.reserve_db >= 0 for one in self.judged)

    @property
    def now_db(self) -> float | None:
        """What the worst point of links that hear a person has with the antennas as they stand; None if unknown."""
        known = [one.worst.reserve_db for one in self.judged if one.facts.inward and one.worst is not None]
        return min(known, default=None)

    def sampled(self, values: Floats, *, every: int, most: bool = False) -> tuple[tuple[float | None, ...], ...]:
        """Return values of the grid in blocks of so many points each way, rows up the plan: the least of each block.

        With `most` the largest. None where all of a block lies outside the outline.
        """
        return sampled(self.grid, self.inside, values, every=every, most=most)


def bearers_of(job: Job, links: Sequence[Link], *, carriers: Mapping[str, int], tables: ReachTables) -> Bearers:
    """Return what is known of links at the place of the job's plan, with the runs that feed them."""
    here = [link for link in links if on_plan(job, link)]
    return [(link_facts(job, link, carriers=carriers, tables=tables), runs_of(job, link)) for link in here]


def area_reach(
    job: Job,
    links: Sequence[Link],
    *,
    carriers: Mapping[str, int],
    tables: ReachTables,
    every_s: float,
    cells: int = 200,
) -> AreaReach | None:
    """Return the plan of a job with links judged all over it, or None where the job has no plan.

    Parameters
    ----------
    job
        With an area, antennas, runs and places.
    links
        The links to judge; those of other places are named and left out.
    carriers
        Carriers of a plan by link, in Hz.
    every_s
        No more than one dropout in so many seconds of walking is wanted.
    cells
        Points of the grid along the longer side of the area.
    """
    area = job.area
    if area is None:
        return None
    bearers = bearers_of(job, links, carriers=carriers, tables=tables)
    spots = PlanPoints.over(area, cells=cells)
    judged, kinds = judged_on_plan(area, bearers, spots, tables, every_s)
    near, lacking = near_limits(area, bearers, tables=tables)
    here = {facts.link.id for facts, _ in bearers}
    antennas = {run.antenna.id: run.antenna for _, runs in bearers for run in runs if run.antenna.at_m is not None}
    now_db = {one.facts.link.id: one.worst.reserve_db for one in judged if one.worst is not None}
    placing, apart = placing_of(area, bearers, tables, every_s, now_db)
    return AreaReach(
        area=area,
        grid=spots.grid,
        inside=spots.in_zone(None)[spots.on_grid],
        every_s=every_s,
        antennas=tuple(antennas.values()),
        kinds=kinds,
        judged=judged,
        placing=placing,
        apart=apart,
        near=near,
        strong=strong_signals(area, bearers, senders_of(area, bearers, tables), tables=tables),
        elsewhere=tuple(link.id for link in links if link.id not in here),
        gaps=tuple(dict.fromkeys([*(gap for one in judged for gap in one.gaps), *lacking])),
    )


def judged_on_plan(
    area: Area, bearers: Bearers, spots: PlanPoints, tables: ReachTables, every_s: float
) -> tuple[tuple[Judged, ...], tuple[KindMap, ...]]:
    """Return each link over its part of the plan, and the maps; links whose signals go the same way share theirs.

    Ways are looked at one after another, so that no more than one is held.
    """
    steps, kinds = Steps(area, tables), KindMaps()
    links: dict[Hashable, list[str]] = {}
    ways: dict[Hashable, list[tuple[int, LinkFacts, Sequence[Run]]]] = {}
    for number, (facts, runs) in enumerate(bearers):
        reckoned, kind = steps.reckoned(facts, runs), kind_key(facts, runs)
        links.setdefault(kind, []).append(facts.link.id)
        alone = None if runs else facts.link.id  # what it lacks is told by its name
        ways.setdefault((kind, reckoned.carrier_hz, alone), []).append((number, reckoned, runs))
    found: dict[int, Judged] = {}
    firsts = [(members[0][1], members[0][2]) for members in ways.values()]
    for members, one in zip(
        ways.values(), coverage(area, firsts, spots.points_m, tables=tables, every_s=every_s), strict=True
    ):
        kinds.add(kind_key(*members[0][1:]), one, spots.on_grid)
        parts: dict[Hashable, Judged] = {}
        for number, reckoned, _ in members:
            part = (reckoned.link.zone, area.walks_of(reckoned.link.id))
            if part not in parts:
                parts[part] = judged_link(area, reckoned, one, spots)
            found[number] = replace(parts[part], facts=bearers[number][0])
    return tuple(found[number] for number in range(len(bearers))), kinds.maps(links)


def with_distance(job: Job, link: Link) -> Link:
    """Return a link with `distance_m` from the plan where nobody stated it: its farthest corner from its antennas.

    It stays as it is where no plan of its place is there, or one of its antennas has no position.
    """
    area = job.area
    if area is None or link.distance_m is not None or not on_plan(job, link):
        return link
    spots = [run.antenna.at_m for run in runs_of(job, link)]
    zone = area.zone(link.zone)
    corners = area.outline_m if zone is None else zone.corners_m
    known = [spot for spot in spots if spot is not None]
    if not known or len(known) < len(spots):
        return link
    far_m = max(math.dist(corner, spot) for corner in corners for spot in known)
    return replace(link, distance_m=max(round(far_m, 1), 0.1))


def on_plan(job: Job, link: Link) -> bool:
    """Whether a link is at the place that the job's plan shows."""
    place = job.places[0].id if job.area is None or job.area.place is None else job.area.place
    return job.place_of(link).id == place

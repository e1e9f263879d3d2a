"""The map of one kind of link at a glance, while somebody moves an antenna: few points, and one antenna elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job
from bandwright.core.reach.area import Area, Metres
from bandwright.core.reach.area_kinds import KindMap, kind_key
from bandwright.core.reach.area_points import Judged, PlanPoints
from bandwright.core.reach.area_reach import bearers_of, judged_on_plan
from bandwright.core.reach.area_spots import Bearers
from bandwright.core.reach.coverage import Grid
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Run

__all__ = ["CELLS", "Glance", "Sight", "sight_of"]

CELLS = 40
"""Points along the longer side: as many as the map on screen has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """What a glance stands on: the plan, its points, and a link with all links of its kind (the link comes first)."""

    area: Area
    points: PlanPoints
    bearers: Bearers
    every_s: float

    def glance(self, antenna: str, at_m: Metres, tables: ReachTables) -> Glance:
        """Return the map and the worst point of the link with an antenna (by its id) at another spot."""
        moved = [(facts, [_at(run, antenna, at_m) for run in runs]) for facts, runs in self.bearers]
        judged, kinds = judged_on_plan(self.area, moved, self.points, tables, self.every_s)
        return Glance(
            grid=self.points.grid,
            inside=self.points.in_zone(None)[self.points.on_grid],
            kind=next(iter(kinds), None),
            judged=judged[0],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """The map of a kind of link (None where nothing can be told), and one of its links over its part of the plan."""

    grid: Grid
    inside: NDArray[np.bool_]
    kind: KindMap | None
    judged: Judged


def sight_of(
    job: Job, link_id: str, *, carriers: Mapping[str, int], tables: ReachTables, every_s: float
) -> Sight | None:
    """Return what glances at a link of a job stand on; None where it is not on the plan of a place."""
    bearers = bearers_of(job, job.links, carriers=carriers, tables=tables)
    own = [(facts, runs) for facts, runs in bearers if facts.link.id == link_id]
    if job.area is None or not own:
        return None
    kind = kind_key(*own[0])
    others = [one for one in bearers if one[0].link.id != link_id and kind_key(*one) == kind]
    points = PlanPoints.over(job.area, cells=CELLS)
    return Sight(area=job.area, points=points, bearers=(*own, *others), every_s=every_s)


def _at(run: Run, antenna: str, at_m: Metres) -> Run:
    return replace(run, antenna=replace(run.antenna, at_m=at_m)) if run.antenna.id == antenna else run

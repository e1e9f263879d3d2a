"""Each link over its part of a plan: its worst point, walks, and where it is enough."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.area import Area, Metres, Walkway
from bandwright.core.reach.area_geometry import along
from bandwright.core.reach.coverage import Coverage, Grid
from bandwright.core.reach.facts import Gap, LinkFacts
from bandwright.core.rig import Antenna

__all__ = ["Judged", "PlanPoints", "Point", "judged_link", "sampled"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One link at one point: what its margin has over what fading asks for, and how it comes to that.

    `margins_db` is by antenna; `outage` the part of the time below what is needed with all antennas that count;
    `dropouts_per_min` how often that is heard, None where the signal is mostly gone; `kept` the chance that this is
    there at all, where levels scatter.
    """

    at_m: Metres
    reserve_db: float
    margins_db: tuple[tuple[str, float], ...]
    levels_dbm: tuple[tuple[str, float], ...]
    outage: float
    dropouts_per_min: float | None
    kept: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One link over its zone (or the whole area), and along the walks that are its own.

    `enough` is the part of the zone where its reserve is at least 0 dB, `kept` the part that is to be expected where
    levels scatter. What cannot be told is None; `gaps` says what is lacking.
    """

    facts: LinkFacts
    zone: str | None
    antennas: tuple[Antenna, ...]
    worst: Point | None
    walks: tuple[tuple[Walkway, Point], ...]
    enough: float | None
    kept: float | None
    needed_db: tuple[float, ...]
    lower_db: float
    outside: tuple[str, ...]
    gaps: tuple[Gap, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPoints:
    """All points that are looked at: the grid, then the edges of the outline and of zones, then the walks."""

    area: Area
    grid: Grid
    points_m: Floats
    on_grid: slice
    edges: Mapping[str | None, slice]
    walks: Mapping[str, slice]
    within: Mapping[str | None, NDArray[np.bool_]]

    @classmethod
    def over(cls, area: Area, *, cells: int) -> PlanPoints:
        """Return the points of a plan, with so many cells along its longer side."""
        grid = Grid.over(area, cells=cells)
        parts, at = [grid.points_m()], {}
        rings: dict[str | None, tuple[Metres, ...]] = {None: area.outline_m}
        rings |= {zone.id: zone.corners_m for zone in area.zones}
        lines = {("edge", name): (*corners, corners[0]) for name, corners in rings.items()}
        lines |= {("walk", walk.id): walk.along_m for walk in area.walks}
        for key, line in lines.items():
            part = along(line, step_m=grid.step_m)
            start = sum(map(len, parts))
            at[key] = slice(start, start + len(part))
            parts.append(part)
        return cls(
            area=area,
            grid=grid,
            points_m=np.concatenate(parts),
            on_grid=slice(0, len(parts[0])),
            edges={name: at["edge", name] for name in rings},
            walks={walk.id: at["walk", walk.id] for walk in area.walks},
            within={name: grid.within(corners) for name, corners in rings.items()},
        )

    def in_zone(self, zone: str | None) -> NDArray[np.bool_]:
        """Return which points belong to a zone, its edge included (None: to the whole area)."""
        found = np.zeros(len(self.points_m), dtype=np.bool_)
        found[self.on_grid] = self.within[zone]
        found[self.edges[zone]] = True
        return found


def sampled(
    grid: Grid, inside: NDArray[np.bool_], values: Floats, *, every: int, most: bool = False
) -> tuple[tuple[float | None, ...], ...]:
    """Return values of a grid in blocks of so many points each way, rows up the plan: the least of each block.

    With `most` the largest. None where all of a block lies outside.
    """
    beyond = -np.inf if most else np.inf
    rows, columns = (math.ceil(count / every) for count in (grid.rows, grid.columns))
    padded = np.full((rows * every, columns * every), beyond)
    padded[: grid.rows, : grid.columns] = np.where(inside, values, beyond).reshape(grid.rows, grid.columns)
    blocks = padded.reshape(rows, every, columns, every)
    found = blocks.max(axis=(1, 3)) if most else blocks.min(axis=(1, 3))
    return tuple(tuple(value if math.isfinite(value) else None for value in row) for row in found.tolist())


def judged_link(area: Area, facts: LinkFacts, found: Coverage, spots: PlanPoints) -> Judged:
    """Return what a link has over its part of the plan, from its coverage of all points."""
    zone = area.zone(facts.link.zone)
    name = None if zone is None else zone.id
    worst = enough = kept = None
    walks: list[tuple[Walkway, Point]] = []
    if found.reserve_db is not None:
        here = spots.in_zone(name)
        worst = _point(found, spots, np.flatnonzero(here))
        walks = [
            (walk, _point(found, spots, np.arange(*spots.walks[walk.id].indices(len(here)))))
            for walk in area.walks_of(facts.link.id)
        ]
        inner = np.flatnonzero(here[spots.on_grid])
        sample = inner if inner.size else np.flatnonzero(here)
        enough = float(np.mean(found.reserve_db[sample] >= 0))
        kept = None if found.kept is None else float(np.mean(found.kept[sample]))
    return Judged(
        facts=facts,
        zone=name,
        antennas=tuple(item.antenna for item in found.heard),
        worst=worst,
        walks=tuple(walks),
        enough=enough,
        kept=kept,
        needed_db=found.needed_db,
        lower_db=max((item.lower_db for item in found.heard), default=0.0),
        outside=found.outside,
        gaps=tuple(gap for gap in found.gaps if gap.key != "distance_m"),
    )


def _point(found: Coverage, spots: PlanPoints, among: NDArray[np.intp]) -> Point:
    """Return the point with the least reserve among some."""
    assert found.reserve_db is not None
    at = int(among[np.argmin(found.reserve_db[among])])
    outage = found.outage(np.array([at]))
    dropouts = found.dropouts_per_min(np.array([at]))
    assert outage is not None
    assert dropouts is not None
    x, y = spots.points_m[at]
    margins = [(item.antenna.id, item.margins_db) for item in found.heard]
    return Point(
        at_m=(float(x), float(y)),
        reserve_db=float(found.reserve_db[at]),
        margins_db=tuple((name, float(values[at])) for name, values in margins if values is not None),
        levels_dbm=tuple((item.antenna.id, float(item.levels_dbm[at])) for item in found.heard),
        outage=float(outage[0]),
        dropouts_per_min=None if np.isnan(dropouts[0]) else float(dropouts[0]),
        kept=None if found.kept is None else float(found.kept[at]),
    )

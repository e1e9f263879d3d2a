"""Levels, margins and dropouts of links at many points of a plan at once.

What a link has at a point is its budget at some distance with the way exchanged: the decibels that do not depend on
the way come from `branch_of`, so that one point here and one budget there agree.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.area import Area, Metres
from bandwright.core.reach.area_antenna import bearing_deg, facing_towards_deg, pattern_db
from bandwright.core.reach.area_geometry import inside, walls_crossed
from bandwright.core.reach.budget import WORN_HEIGHT_M, Branch, branch_of, wall_db
from bandwright.core.reach.coverage_fading import chances_above, outages
from bandwright.core.reach.coverage_needs import dropouts_per_min, needed_db, reserves_db
from bandwright.core.reach.facts import Gap, LinkFacts
from bandwright.core.reach.fading import Fading
from bandwright.core.reach.link import fading_of
from bandwright.core.reach.models import FREE_SPACE, PathFacts, PathModel, path_models
from bandwright.core.reach.path import wavelength_m
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Antenna, Run

__all__ = ["Coverage", "Grid", "Heard", "coverage", "least_spacing_m"]

Floats = NDArray[np.float64]

_SOMEWHERE_M = 10.0  # where the budget is taken; any distance gives the same rest


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Square cells over the box around an area; rows run up the plan, and a point stands in the middle of its cell."""

    left_m: float
    low_m: float
    step_m: float
    columns: int
    rows: int

    @classmethod
    def over(cls, area: Area, *, cells: int = 200) -> Grid:
        """Return a grid with so many cells along the longer side."""
        left, low, right, high = area.box_m
        step_m = max(right - left, high - low) / cells
        columns, rows = (max(1, math.ceil(length / step_m - 1e-9)) for length in (right - left, high - low))
        return cls(left_m=left, low_m=low, step_m=step_m, columns=columns, rows=rows)

    def points_m(self) -> Floats:
        """Return the middle of each cell, row after row; shape (rows x columns, 2)."""
        x = self.left_m + (np.arange(self.columns) + 0.5) * self.step_m
        y = self.low_m + (np.arange(self.rows) + 0.5) * self.step_m
        return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)

    def within(self, corners_m: Sequence[Metres]) -> NDArray[np.bool_]:
        """Return which points lie inside a polygon; shape (rows x columns,)."""
        return inside(self.points_m(), corners_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One antenna of a link over all points: levels in dBm at the receiver's input, and what they are over the need.

    `lower_db` is how much lower a level is with body and cables at their most. `margins_db` is None where it is not
    known what the receiver needs.
    """

    run: Run | None
    antenna: Antenna
    levels_dbm: Floats
    lower_db: float
    margins_db: Floats | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """One link over all points.

    `used_db` holds the margins of the antennas that its receiver can use, `reserve_db` what its margin has over what
    fading asks for there, `kept` the chance that this reserve is there at all, where the path model scatters.
    `needed_db` is the margin asked for with one antenna, two, and so on. None is what cannot be told; `gaps` says why.
    """

    facts: LinkFacts
    heard: tuple[Heard, ...]
    fading: Fading
    needed_db: tuple[float, ...]
    used_db: Floats | None
    reserve_db: Floats | None
    kept: Floats | None
    outside: tuple[str, ...]
    gaps: tuple[Gap, ...]

    def outage(self, at: slice | NDArray[np.intp] = slice(None)) -> Floats | None:
        """Return the dropout probability at some of the points, with the antennas that its receiver can use."""
        return None if self.used_db is None else outages(self.used_db[:, at], self.fading)

    def dropouts_per_min(self, at: slice | NDArray[np.intp] = slice(None)) -> Floats | None:
        """Return how many audible dropouts a minute there are at some of the points; NaN where it is mostly gone."""
        return None if self.used_db is None else dropouts_per_min(self.facts, self.used_db[:, at], self.fading)


@dataclass(slots=True, kw_only=True)
class _Ways:
    """Distances, directions and walls from antennas to points, worked out once for each spot and way of looking."""

    area: Area
    points_m: Floats
    known: dict[object, Floats] = field(default_factory=dict)
    crossed: dict[Metres, Floats] = field(default_factory=dict)

    def ground_m(self, at_m: Metres) -> Floats:
        if ("far", at_m) not in self.known:
            self.known["far", at_m] = np.hypot(self.points_m[:, 0] - at_m[0], self.points_m[:, 1] - at_m[1])
        return self.known["far", at_m]

    def through(self, at_m: Metres) -> Floats:
        """Return 1 where a wall lies between the antenna and a point; shape (walls, points)."""
        if at_m not in self.crossed:
            walls = [(wall.start_m, wall.end_m) for wall in self.area.walls]
            self.crossed[at_m] = walls_crossed(at_m, self.points_m, walls).astype(np.float64)
        return self.crossed[at_m]

    def pattern_db(self, antenna: Antenna, at_m: Metres) -> Floats:
        key = ("pattern", at_m, antenna.pattern, antenna.facing_deg)
        if antenna.pattern is None:
            return np.zeros(len(self.points_m))
        if key not in self.known:
            facing = antenna.facing_deg
            towards = facing_towards_deg(at_m, self.area.middle_m) if facing is None else facing
            self.known[key] = pattern_db(antenna.pattern, bearing_deg(at_m, self.points_m) - towards)
        return self.known[key]


def coverage(
    area: Area,
    links: Iterable[tuple[LinkFacts, Sequence[Run]]],
    points_m: Floats,
    *,
    tables: ReachTables,
    every_s: float,
) -> Iterator[Coverage]:
    """Yield each link over all points; links from the same antennas share distances, directions and walls.

    Walls and distances are those of the plan: `walls` and `distance_m` of the links do not count. An antenna of which
    the height is known is as far away as the slanting line to 1.2 m above the ground is long (the two-ray model takes
    the distance over the ground); nothing is closer than a wavelength.

    Parameters
    ----------
    area
        The plan.
    links
        What is known of each link, and the runs that feed it; antennas without a position are left out, and told.
    points_m
        Shape (points, 2).
    every_s
        No more than one audible dropout in so many seconds of walking is wanted.
    """
    ways = _Ways(area=area, points_m=points_m)
    for facts, runs in links:
        yield _covered(facts, runs, ways, tables, every_s)


def _covered(facts: LinkFacts, runs: Sequence[Run], ways: _Ways, tables: ReachTables, every_s: float) -> Coverage:
    model = path_models(tables)[facts.place.path or FREE_SPACE]
    somewhere = replace(facts, link=replace(facts.link, distance_m=_SOMEWHERE_M, walls=()))
    branches = [branch_of(somewhere, run, tables) for run in runs]
    gaps = [gap for branch in branches for gap in branch.gaps]
    if not runs:
        gaps.append(Gap(table="run", id=facts.link.id, key="feeds", meanwhile="it is left out of the map"))
    gaps += _gaps_of_antennas(runs)
    heard = tuple(
        _heard(facts, branch, model, ways, tables)
        for branch in branches
        if branch.level_dbm is not None and branch.run is not None and branch.run.antenna.at_m is not None
    )
    spots = [item.antenna.at_m for item in heard if item.antenna.at_m is not None]
    fading = fading_of(facts, count=len(heard), spacing_m=least_spacing_m(spots))
    needed = needed_db(facts, fading, every_s=every_s)
    margins = [item.margins_db for item in heard if item.margins_db is not None]
    used = reserve = kept = None
    if heard and len(margins) == len(heard):
        used = np.stack(margins[: fading.branches])
        reserve = reserves_db(used, needed)
        sigma_db = facts.place.shadowing_db if facts.place.shadowing_db is not None else model.sigma_db
        kept = None if sigma_db is None else chances_above(reserve, sigma_db=sigma_db)
    return Coverage(
        facts=facts,
        heard=heard,
        fading=fading,
        needed_db=needed,
        used_db=used,
        reserve_db=reserve,
        kept=kept,
        outside=_outside(facts, model, heard, ways),
        gaps=tuple(dict.fromkeys(gaps)),
    )


def _heard(facts: LinkFacts, branch: Branch, model: PathModel, ways: _Ways, tables: ReachTables) -> Heard:
    """Return one antenna over all points, from its budget somewhere."""
    assert branch.run is not None
    assert branch.path is not None
    assert branch.level_dbm is not None
    antenna, at_m = branch.run.antenna, branch.run.antenna.at_m
    assert at_m is not None
    loss = model.loss_db(
        PathFacts(
            distance_m=_distances_m(facts, model, antenna, ways.ground_m(at_m)),
            frequency_hz=float(facts.carrier_hz),
            exponent=facts.place.path_exponent,
            low_m=WORN_HEIGHT_M,
            high_m=antenna.height_m,
        )
    )
    levels = branch.level_dbm + branch.path.loss_db - loss + ways.pattern_db(antenna, at_m)
    if ways.area.walls:
        costs = [wall_db(item.wall, facts.carrier_hz, tables) for item in ways.area.walls]
        levels -= np.array(costs) @ ways.through(at_m)
    need = None if branch.margin_db is None else branch.level_dbm - branch.margin_db
    return Heard(
        run=branch.run,
        antenna=antenna,
        levels_dbm=levels,
        lower_db=branch.level_dbm - branch.lowest_dbm if branch.lowest_dbm is not None else 0.0,
        margins_db=None if need is None else levels - need,
    )


def _distances_m(facts: LinkFacts, model: PathModel, antenna: Antenna, ground_m: Floats) -> Floats:
    slanting = antenna.height_m is not None and "height_m" not in model.needs
    far_m = np.hypot(ground_m, (antenna.height_m or 0.0) - WORN_HEIGHT_M) if slanting else ground_m
    return np.maximum(far_m, wavelength_m(facts.carrier_hz))


def least_spacing_m(spots_m: Sequence[Metres]) -> float | None:
    """Return how far apart the two nearest of some spots are; None with fewer than two."""
    return min((math.dist(one, two) for one, two in itertools.combinations(spots_m, 2)), default=None)


def _gaps_of_antennas(runs: Sequence[Run]) -> Iterable[Gap]:
    for run in runs:
        antenna = run.antenna
        if antenna.at_m is None:
            yield Gap(table="antenna", id=antenna.id, key="at_m", meanwhile="it is left out of the map")
        elif antenna.pattern is not None and antenna.pattern.name != "omni" and antenna.facing_deg is None:
            yield Gap(table="antenna", id=antenna.id, key="facing_deg", meanwhile="it looks at the middle of the area")


def _outside(facts: LinkFacts, model: PathModel, heard: Sequence[Heard], ways: _Ways) -> tuple[str, ...]:
    """Return in words which ranges of the path model the nearest and the farthest point leave."""
    found: dict[str, None] = {}
    for item in heard:
        assert item.antenna.at_m is not None
        far_m = _distances_m(facts, model, item.antenna, ways.ground_m(item.antenna.at_m))
        for distance_m in (round(float(far_m.min()), 1), round(float(far_m.max()), 1)):
            known = PathFacts(distance_m=distance_m, frequency_hz=facts.carrier_hz)
            found |= dict.fromkeys(text for text in model.outside(known) if "wavelength" not in text)
    return tuple(found)

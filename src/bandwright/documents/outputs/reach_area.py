"""The `area` part of the `reach` document: a sampled map, worst points, spots for antennas, near limits."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.area_glance import Glance
from bandwright.core.reach.area_kinds import KindMap
from bandwright.core.reach.area_points import Judged, Point, sampled
from bandwright.core.reach.area_reach import AreaReach
from bandwright.core.reach.coverage import Grid
from bandwright.core.reach.near_far import NearLimit, Strong
from bandwright.core.reach.placing import Placing, Spots
from bandwright.documents.outputs.common import Level, Model, Number
from bandwright.documents.outputs.gaps import GapModel, gap_model

__all__ = ["AreaModel", "GlanceModel", "area_model", "glance_model"]

_EVERY = 5  # points of the map in one of the document, each way

Position = tuple[Number, Number]
Rows = tuple[tuple[Level | None, ...], ...]


class AntennaSpotModel(Model):
    """An antenna on the plan; `facing_deg` is null where nobody stated it, and then it looks at the middle."""

    id: str
    name: str
    at_m: Position
    height_m: Number | None
    facing_deg: Number | None
    pattern: str | None


class KindMapModel(Model):
    """The map of links alike but for their carriers: rows up the plan, in each place the least of some points.

    `reserve_db` is what the margin has over what fading asks for with all antennas, `outage` the part of the time
    below what is needed, `audible_dropouts_per_min` how often that is heard (null where the signal is mostly
    gone); `levels_dbm`, `margins_db` and `outages` are by antenna. Null lies outside the outline, or cannot be told.
    """

    links: tuple[str, ...]
    antennas: tuple[str, ...]
    reserve_db: Rows | None
    outage: Rows | None
    audible_dropouts_per_min: Rows | None
    levels_dbm: tuple[Rows, ...]
    margins_db: tuple[Rows, ...] | None
    outages: tuple[Rows, ...] | None


class PlanPointModel(Model):
    """A link at a point; margins in dB and levels in dBm are by antenna.

    `audible_dropouts_per_min` is null where the signal is mostly gone.
    """

    at_m: Position
    reserve_db: Level
    margins_db: dict[str, Level]
    levels_dbm: dict[str, Level]
    outage: Number
    audible_dropouts_per_min: Number | None
    kept: Number | None


class WalkPointModel(Model):
    """Where a walk is lowest for a link."""

    walk: str
    name: str
    lowest: PlanPointModel


class AreaLinkModel(Model):
    """A link on the plan: its worst point (null: cannot be told), and in which part of its zone it is enough.

    `needed_db` is the margin asked for with one antenna, two, and so on; `lower_db` how much lower levels are with body
    and cables at their most; `kept` the part to be expected to be enough where levels scatter.
    """

    id: str
    zone: str | None
    antennas: tuple[str, ...]
    worst: PlanPointModel | None
    walks: tuple[WalkPointModel, ...]
    enough: Number | None
    kept: Number | None
    needed_db: tuple[Level, ...]
    lower_db: Level
    outside: tuple[str, ...]


class SpotsModel(Model):
    """Spots taken together, and what the worst point of the links that count has with them."""

    candidates: tuple[str, ...]
    reserve_db: Level
    link: str
    at_m: Position


class PlacingModel(Model):
    """The best sets of spots for some links, best first.

    `every`: all sets were looked at, and no better one exists among them. `links` are those that count: `inward` ones,
    which antennas receive, or those that antennas send to. `zones` are theirs, null for the whole area; `now_db` is
    what their worst point has as antennas stand.
    """

    antennas: int
    candidates: int
    sets: int
    every: bool
    best: tuple[SpotsModel, ...]
    inward: bool = True
    links: tuple[str, ...] = ()
    zones: tuple[str | None, ...] = ()
    now_db: Level | None = None


class ApartModel(Model):
    """One antenna at a spot, and two of them 2 m apart there."""

    spot: str
    one: SpotsModel
    two: SpotsModel


class NearModel(Model):
    """How close a link's pack may come to an antenna; `limit_dbm` is at its terminals, `stated` a stated 1 dB point."""

    antenna: str
    link: str
    zone: str | None
    radius_m: Number
    limit_dbm: Level
    stated: bool
    first: str
    enters: bool
    ring_m: tuple[Position, ...]


class StrongSenderModel(Model):
    """What a transmitter that stays put brings to an antenna's terminals, and at which level there something clips."""

    transmitter: str
    antenna: str
    level_dbm: Level
    limit_dbm: Level


class AreaModel(Model):
    """The plan judged. The map's first place has its middle half a step from `left_m` and `low_m`."""

    ok: bool
    outline_m: tuple[Position, ...]
    left_m: Number
    low_m: Number
    step_m: Number
    columns: int
    rows: int
    antennas: tuple[AntennaSpotModel, ...]
    maps: tuple[KindMapModel, ...]
    links: tuple[AreaLinkModel, ...]
    now_db: Level | None
    placing: tuple[PlacingModel, ...]
    two_apart: ApartModel | None
    near: tuple[NearModel, ...]
    strong: tuple[StrongSenderModel, ...]
    elsewhere: tuple[str, ...]
    missing: tuple[GapModel, ...]


class GlanceModel(Model):
    """The map of a link's kind while an antenna is moved: `map` is as in the document, null where nothing can be told.

    `worst` is the worst point of the link itself, and `needed_db` the margin asked for with one antenna, two, and so
    on.
    """

    left_m: Number
    low_m: Number
    step_m: Number
    map: KindMapModel | None
    worst: PlanPointModel | None
    needed_db: tuple[Level, ...]


def glance_model(found: Glance) -> GlanceModel:
    """Return a glance as it is sent to a page."""
    grid = found.grid
    return GlanceModel(
        left_m=round(grid.left_m, 3),
        low_m=round(grid.low_m, 3),
        step_m=round(grid.step_m, 4),
        map=None if found.kind is None else _map(grid, found.inside, found.kind, every=1),
        worst=None if found.judged.worst is None else _point(found.judged.worst),
        needed_db=tuple(round(value, 2) for value in found.judged.needed_db),
    )


def area_model(reach: AreaReach) -> AreaModel:
    """Return a judged plan as a part of the document."""
    grid = reach.grid
    return AreaModel(
        ok=reach.enough,
        outline_m=tuple(map(_spot, reach.area.outline_m)),
        left_m=round(grid.left_m, 3),
        low_m=round(grid.low_m, 3),
        step_m=round(grid.step_m * _EVERY, 4),
        columns=-(-grid.columns // _EVERY),
        rows=-(-grid.rows // _EVERY),
        antennas=tuple(
            AntennaSpotModel(
                id=one.id,
                name=one.name,
                at_m=_spot(one.at_m),
                height_m=one.height_m,
                facing_deg=one.facing_deg,
                pattern=None if one.pattern is None else one.pattern.name,
            )
            for one in reach.antennas
            if one.at_m is not None
        ),
        maps=tuple(_map(grid, reach.inside, kind, every=_EVERY) for kind in reach.kinds),
        links=tuple(map(_link, reach.judged)),
        now_db=None if reach.now_db is None else round(reach.now_db, 2),
        placing=tuple(map(_placing, reach.placing)),
        two_apart=None
        if reach.apart is None
        else ApartModel(spot=reach.apart.spot, one=_spots(reach.apart.one), two=_spots(reach.apart.two)),
        near=tuple(map(_near, reach.near)),
        strong=tuple(map(_strong, reach.strong)),
        elsewhere=reach.elsewhere,
        missing=tuple(map(gap_model, reach.gaps)),
    )


def _map(grid: Grid, inside: NDArray[np.bool_], kind: KindMap, *, every: int) -> KindMapModel:
    def rows(values: np.ndarray) -> Rows:
        return _rounded(sampled(grid, inside, values, every=every), 1)

    def chances(values: np.ndarray) -> Rows:
        found = sampled(grid, inside, values, every=every, most=True)
        return tuple(tuple(None if one is None else _significant(one) for one in row) for row in found)

    return KindMapModel(
        links=kind.links,
        antennas=tuple(one.id for one in kind.antennas),
        reserve_db=None if kind.reserve_db is None else rows(kind.reserve_db),
        outage=None if kind.outage is None else chances(kind.outage),
        audible_dropouts_per_min=None if kind.dropouts_per_min is None else chances(kind.dropouts_per_min),
        levels_dbm=tuple(map(rows, kind.levels_dbm)),
        margins_db=None if kind.margins_db is None else tuple(map(rows, kind.margins_db)),
        outages=None if kind.outages is None else tuple(map(chances, kind.outages)),
    )


def _rounded(rows: Iterable[Iterable[float | None]], digits: int) -> Rows:
    return tuple(tuple(None if one is None else round(one, digits) for one in row) for row in rows)


def _link(one: Judged) -> AreaLinkModel:
    return AreaLinkModel(
        id=one.facts.link.id,
        zone=one.zone,
        antennas=tuple(antenna.id for antenna in one.antennas),
        worst=None if one.worst is None else _point(one.worst),
        walks=tuple(WalkPointModel(walk=way.id, name=way.name, lowest=_point(point)) for way, point in one.walks),
        enough=None if one.enough is None else round(one.enough, 4),
        kept=None if one.kept is None else round(one.kept, 4),
        needed_db=tuple(round(value, 2) for value in one.needed_db),
        lower_db=round(one.lower_db, 2),
        outside=one.outside,
    )


def _point(one: Point) -> PlanPointModel:
    return PlanPointModel(
        at_m=_spot(one.at_m),
        reserve_db=round(one.reserve_db, 2),
        margins_db={name: round(value, 2) for name, value in one.margins_db},
        levels_dbm={name: round(value, 2) for name, value in one.levels_dbm},
        outage=_significant(one.outage),
        audible_dropouts_per_min=None if one.dropouts_per_min is None else _significant(one.dropouts_per_min),
        kept=None if one.kept is None else round(one.kept, 4),
    )


def _placing(one: Placing) -> PlacingModel:
    return PlacingModel(
        antennas=one.antennas,
        candidates=one.candidates,
        sets=one.sets,
        every=one.every,
        best=tuple(map(_spots, one.best)),
        inward=one.inward,
        links=one.links,
        zones=one.zones,
        now_db=None if one.now_db is None else round(one.now_db, 2),
    )


def _spots(one: Spots) -> SpotsModel:
    return SpotsModel(candidates=one.ids, reserve_db=round(one.reserve_db, 2), link=one.link, at_m=_spot(one.at_m))


def _near(one: NearLimit) -> NearModel:
    return NearModel(
        antenna=one.antenna.id,
        link=one.link,
        zone=one.zone,
        radius_m=round(one.radius_m, 2),
        limit_dbm=round(one.limit_dbm, 2),
        stated=one.stated,
        first=one.first,
        enters=one.enters,
        ring_m=tuple(map(_spot, one.ring_m)),
    )


def _strong(one: Strong) -> StrongSenderModel:
    return StrongSenderModel(
        transmitter=one.sender.name,
        antenna=one.antenna.id,
        level_dbm=round(one.level_dbm, 2),
        limit_dbm=round(one.limit_dbm, 2),
    )


def _spot(at_m: tuple[float, float]) -> Position:
    return round(at_m[0], 2), round(at_m[1], 2)


def _significant(value: float) -> float:
    return float(f"{value:.3g}")

"""Where a pack may not come near an antenna: the receivers behind it would be driven to where their gain falls."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from bandwright.core.kit import PowerKind
from bandwright.core.reach.area import Area, Metres
from bandwright.core.reach.area_antenna import bearing_deg, facing_towards_deg, pattern_db
from bandwright.core.reach.area_geometry import along, inside, walls_crossed
from bandwright.core.reach.budget import WORN_HEIGHT_M, wall_db
from bandwright.core.reach.chain import Chain
from bandwright.core.reach.facts import Gap, LinkFacts
from bandwright.core.reach.parts import antenna_gain_dbi
from bandwright.core.reach.path import free_space_loss_db, wavelength_m
from bandwright.core.reach.receiver_front import FrontEnd, front_end
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Antenna, Run
from bandwright.units import ERP_TO_EIRP_DB, dbm_from_mw

__all__ = ["NearLimit", "Sender", "Strong", "eirp_dbm", "near_limits", "radiated_dbm", "strong_signals"]

Floats = NDArray[np.float64]

_AROUND: Floats = np.arange(0.0, 360.0, 5.0)  # directions in which a limit is drawn, in degrees
_EDGE_M = 0.25  # between points on the edge of a zone


@dataclass(frozen=True, slots=True, kw_only=True)
class Sender:
    """A transmitter that stays put: where, what it radiates in dBm e.i.r.p., and its carrier.

    `of` are the ids of a link and its antenna, None for one of the plan itself.
    """

    name: str
    at_m: Metres
    eirp_dbm: float
    carrier_hz: int
    of: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NearLimit:
    """How close one kind of pack may come to one antenna, over the ground, in m.

    `link` is the pack of this zone that reaches farthest, with the body at its least; `first` names what clips first,
    at `limit_dbm` at the antenna's terminals (`stated`: a 1 dB point, else 9.6 dB under the intercept point). `ring_m`
    are the corners of the limit on the plan; `enters` says whether the pack's zone reaches into it.
    """

    antenna: Antenna
    link: str
    zone: str | None
    limit_dbm: float
    stated: bool
    first: str
    radius_m: float
    ring_m: tuple[Metres, ...]
    enters: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Strong:
    """What a transmitter that stays put brings to an antenna, and the level there at which something clips."""

    sender: Sender
    antenna: Antenna
    level_dbm: float
    limit_dbm: float


def near_limits(
    area: Area,
    links: Sequence[tuple[LinkFacts, Sequence[Run]]],
    *,
    tables: ReachTables,
) -> tuple[tuple[NearLimit, ...], tuple[Gap, ...]]:
    """Return how close packs may come to antennas, the farthest limit of each antenna and zone; and what is lacking.

    In free space, whatever the path model of the place: that close nothing helps, and reflections may add as much. The
    pack with the most power and the least body loss counts, with the body's least loss and nothing in the way.
    """
    gaps: dict[Gap, None] = {}
    by_run: dict[str, tuple[Run, dict[str, list[FrontEnd]]]] = {}
    for run, radio_id, front in _fronts(links, tables, gaps):
        by_run.setdefault(run.id, (run, {}))[1].setdefault(radio_id, []).append(front)
    farthest: dict[tuple[str, str | None], tuple[float, Run, _Clips, LinkFacts]] = {}
    for run, by_radio in by_run.values():
        most_db = float(_pattern_db(area, run.antenna, _AROUND).max())
        tuned = [sorted(fronts, key=_carrier_hz) for fronts in by_radio.values()]
        for facts, _ in links:
            if not facts.inward or facts.power_mw is None:
                continue
            nearest = (_nearest(fronts, facts.carrier_hz) for fronts in tuned)
            clips = min((_clips(front, facts.carrier_hz) for front in nearest), key=lambda item: item[0])
            above_db = _above_db(run.antenna, clips, facts) + most_db
            radius_m = float(_reach_m(run.antenna, facts, np.array(above_db)))
            key = (run.antenna.id, facts.link.zone)
            if key not in farthest or radius_m > farthest[key][0]:
                farthest[key] = (radius_m, run, clips, facts)
    return tuple(_limit(area, run, clips, facts) for _, run, clips, facts in farthest.values()), tuple(gaps)


def strong_signals(
    area: Area,
    links: Sequence[tuple[LinkFacts, Sequence[Run]]],
    senders: Iterable[Sender],
    *,
    tables: ReachTables,
) -> tuple[Strong, ...]:
    """Return what transmitters that stay put bring to each antenna that receives, the one closest to clipping first."""
    found: dict[tuple[str, tuple[str, str] | str, Metres], Strong] = {}
    senders = list(senders)
    for run, _, front in _fronts(links, tables, {}):
        for sender in senders:
            level_dbm = _level_dbm(area, run, front, sender, tables)
            limit_dbm, _, _ = _clips(front, sender.carrier_hz)
            one = Strong(sender=sender, antenna=run.antenna, level_dbm=level_dbm, limit_dbm=limit_dbm)
            key = (run.antenna.id, sender.of or sender.name, sender.at_m)
            if key not in found or limit_dbm < found[key].limit_dbm:
                found[key] = one
    return tuple(sorted(found.values(), key=lambda one: one.limit_dbm - one.level_dbm))


def _fronts(
    links: Sequence[tuple[LinkFacts, Sequence[Run]]], tables: ReachTables, gaps: dict[Gap, None]
) -> Iterator[tuple[Run, str, FrontEnd]]:
    """Yield each run with radio type and front end of each receiver behind it, where its clipping level is known."""
    seen = set()
    for facts, runs in links:
        for run in runs:
            key = (run.id, facts.link.radio.id, facts.carrier_hz)
            if not facts.inward or run.antenna.at_m is None or key in seen:
                continue
            seen.add(key)
            radio = facts.link.radio
            front = front_end(Chain.of(run, radio, frequency_hz=facts.carrier_hz, tables=tables), radio)
            if front.p1db_dbm is not None:
                yield run, radio.id, front
            elif radio.iip3_dbm is None and radio.p1db_dbm is None:
                gaps[Gap(table="radio", id=radio.id, key="iip3_dbm or p1db_dbm")] = None
            else:
                gaps[Gap(table="run", id=run.id, key="iip3_dbm or p1db_dbm of what is active in it")] = None


def _carrier_hz(front: FrontEnd) -> int:
    return front.carrier_hz


def _nearest(fronts: Sequence[FrontEnd], carrier_hz: int) -> FrontEnd:
    """Return which of some receivers, rising in carriers, is tuned nearest."""
    at = bisect_left(fronts, carrier_hz, key=_carrier_hz)
    return min(fronts[max(at - 1, 0) : at + 1], key=lambda front: abs(front.carrier_hz - carrier_hz))


_Clips: TypeAlias = tuple[float, bool, str]


def _clips(front: FrontEnd, carrier_hz: int) -> _Clips:
    """Return the level at the antenna at which a carrier makes something clip, whether that is stated, and what."""
    levels = [
        (stage.clips_dbm + float(stage.weakened_db(carrier_hz, carrier_hz=front.carrier_hz)), stage)
        for stage in front.stages
        if stage.clips_dbm is not None
    ]
    level_dbm, stage = min(levels, key=lambda item: item[0])
    return level_dbm, stage.clips_stated, stage.name


def _above_db(antenna: Antenna, clips: _Clips, facts: LinkFacts) -> float:
    """Return by how much a pack without any way between would exceed what clips, in the antenna's best direction."""
    return eirp_dbm(facts) - facts.body_db[0] + antenna_gain_dbi(antenna, facts.carrier_hz) - clips[0]


def _limit(area: Area, run: Run, clips: _Clips, facts: LinkFacts) -> NearLimit:
    antenna, at_m = run.antenna, run.antenna.at_m
    assert at_m is not None
    limit_dbm, stated, first = clips
    above_db = _above_db(antenna, clips, facts)
    reach_m = _reach_m(antenna, facts, above_db + _pattern_db(area, antenna, _AROUND))
    turn = np.radians(_AROUND)
    ring = np.stack([at_m[0] + reach_m * np.sin(turn), at_m[1] + reach_m * np.cos(turn)], axis=1)
    return NearLimit(
        antenna=antenna,
        link=facts.link.id,
        zone=facts.link.zone,
        limit_dbm=limit_dbm,
        stated=stated,
        first=first,
        radius_m=float(reach_m.max()),
        ring_m=tuple((float(x), float(y)) for x, y in ring),
        enters=_enters(area, facts, antenna, above_db),
    )


def _reach_m(antenna: Antenna, facts: LinkFacts, above_db: Floats) -> Floats:
    """Return the distance over the ground where the level has fallen to the limit, for each direction."""
    slanting = wavelength_m(facts.carrier_hz) / (4 * math.pi) * 10 ** (above_db / 20)
    higher_m = 0.0 if antenna.height_m is None else antenna.height_m - WORN_HEIGHT_M
    return np.asarray(np.sqrt(np.maximum(slanting**2 - higher_m**2, 0.0)))


def _enters(area: Area, facts: LinkFacts, antenna: Antenna, above_db: float) -> bool:
    """Whether a link's zone has a point within the limit: on its edge, or the antenna itself stands inside."""
    assert antenna.at_m is not None
    zone = area.zone(facts.link.zone)
    corners = area.outline_m if zone is None else zone.corners_m
    points = along([*corners, corners[0]], step_m=_EDGE_M)
    bearing = bearing_deg(antenna.at_m, points)
    reach_m = _reach_m(antenna, facts, above_db + _pattern_db(area, antenna, bearing))
    far_m = np.hypot(points[:, 0] - antenna.at_m[0], points[:, 1] - antenna.at_m[1])
    if bool(np.any(far_m < reach_m)):
        return True
    own = bool(inside(np.array([antenna.at_m]), corners)[0])
    return own and bool(np.any(_reach_m(antenna, facts, np.array([above_db])) > 0))


def _pattern_db(area: Area, antenna: Antenna, bearing: Floats) -> Floats:
    if antenna.pattern is None or antenna.at_m is None:
        return np.zeros_like(bearing)
    facing = antenna.facing_deg
    towards = facing_towards_deg(antenna.at_m, area.middle_m) if facing is None else facing
    return pattern_db(antenna.pattern, bearing - towards)


def eirp_dbm(facts: LinkFacts) -> float:
    """Return what a pack radiates; conducted power is taken to go into a half-wave antenna."""
    return radiated_dbm(facts.power_mw or 1.0, facts.link.radio.power_kind)


def radiated_dbm(power_mw: float, kind: PowerKind | None) -> float:
    """Return a power of a kind as e.i.r.p. in dBm."""
    return dbm_from_mw(power_mw) + (0.0 if kind is PowerKind.EIRP else ERP_TO_EIRP_DB)


def _level_dbm(area: Area, run: Run, front: FrontEnd, sender: Sender, tables: ReachTables) -> float:
    """Return what a transmitter that stays put brings to an antenna's terminals, in free space and through walls."""
    antenna, at_m = run.antenna, run.antenna.at_m
    assert at_m is not None
    spot = np.array([sender.at_m])
    far_m = max(math.dist(at_m, sender.at_m), wavelength_m(sender.carrier_hz))
    walls = walls_crossed(at_m, spot, [(item.start_m, item.end_m) for item in area.walls])[:, 0]
    costs = [wall_db(item.wall, sender.carrier_hz, tables) for item, hit in zip(area.walls, walls, strict=True) if hit]
    pattern = float(_pattern_db(area, antenna, bearing_deg(at_m, spot))[0])
    loss_db = free_space_loss_db(distance_m=far_m, frequency_hz=sender.carrier_hz) + sum(costs)
    return sender.eirp_dbm - loss_db + antenna_gain_dbi(antenna, sender.carrier_hz) + pattern

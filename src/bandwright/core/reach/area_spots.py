"""What a plan asks of `placing` and `near_far`: kinds of links with their points, and transmitters that stay put."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

from bandwright.core.reach.area import Area, Candidate
from bandwright.core.reach.area_kinds import kind_key
from bandwright.core.reach.area_points import PlanPoints
from bandwright.core.reach.budget import branch_of
from bandwright.core.reach.facts import LinkFacts
from bandwright.core.reach.near_far import Sender, radiated_dbm
from bandwright.core.reach.placing import Apart, Kind, Placing, best_of, hear, two_apart
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Run

__all__ = ["Bearers", "placing_of", "sender_name", "senders_of"]

Bearers: TypeAlias = Sequence[tuple[LinkFacts, Sequence[Run]]]
"""Links with what is known of them, and the runs that feed each."""

_CELLS = 40


def placing_of(
    area: Area, bearers: Bearers, tables: ReachTables, every_s: float, now_db: Mapping[str, float]
) -> tuple[tuple[Placing, ...], Apart | None]:
    """Return the best spots for antennas, and what two antennas on one stand bring to links that hear a person.

    Antennas that receive are ranked apart from those that send to people; each for all zones together, where there are
    several, and for each zone. `now_db` is what the worst point of a link has now, by its id.
    """
    found: list[Placing] = []
    apart = None
    for inward in (True, False):
        ours = [(facts, runs) for facts, runs in bearers if facts.inward is inward and runs]
        kinds = list(_kinds_to_place(area, ours))
        heard = hear(area, kinds, tables=tables, every_s=every_s)
        most = max(2, *(len(runs) for _, runs in ours)) if ours and inward else 1
        zones = list(dict.fromkeys(_zone_of(area, one.kind.facts) for one in heard))
        for wanted in ([zones] if len(zones) > 1 else []) + [[zone] for zone in zones]:
            some = [one for one in heard if _zone_of(area, one.kind.facts) in wanted]
            links = tuple(facts.link.id for facts, _ in ours if _zone_of(area, facts) in wanted)
            known = [now_db[link] for link in links if link in now_db]
            for antennas in sorted({1, most}):
                best = best_of(area, some, antennas=antennas)
                if best is not None:
                    now = min(known, default=None)
                    found.append(replace(best, inward=inward, links=links, zones=tuple(wanted), now_db=now))
        if inward:
            spot = _single_spot(area, next(iter(found), None), ours)
            apart = None if spot is None else two_apart(area, kinds, spot, tables=tables, every_s=every_s)
    return tuple(found), apart


def _zone_of(area: Area, facts: LinkFacts) -> str | None:
    zone = area.zone(facts.link.zone)
    return None if zone is None else zone.id


def _single_spot(area: Area, single: Placing | None, inward: Bearers) -> Candidate | None:
    """Return the best single spot, or else where the first antenna stands now."""
    if single is not None:
        return next(one for one in area.candidates if one.id == single.best[0].ids[0])
    antennas = [run.antenna for _, runs in inward for run in runs if run.antenna.at_m is not None]
    for antenna in antennas[:1]:
        assert antenna.at_m is not None
        return Candidate(
            id=antenna.id,
            name=antenna.name,
            at_m=antenna.at_m,
            height_m=antenna.height_m,
            facing_deg=antenna.facing_deg,
        )
    return None


def _kinds_to_place(area: Area, bearers: Bearers) -> Iterator[Kind]:
    """Yield kinds of links by the one on the highest carrier, zone by zone, with a coarse grid of their points."""
    spots = PlanPoints.over(area, cells=_CELLS)
    highest: dict[object, tuple[LinkFacts, Sequence[Run]]] = {}
    for facts, runs in bearers:
        key = (kind_key(facts, runs), facts.link.zone)
        if key not in highest or facts.carrier_hz > highest[key][0].carrier_hz:
            highest[key] = (facts, runs)
    for facts, runs in highest.values():
        chosen = spots.in_zone(_zone_of(area, facts))
        for walk in area.walks_of(facts.link.id):
            chosen[spots.walks[walk.id]] = True
        yield Kind(facts=facts, runs=tuple(runs), points_m=spots.points_m[chosen])


def senders_of(area: Area, bearers: Bearers, tables: ReachTables) -> Iterator[Sender]:
    """Yield transmitters that stay put: those of the plan, and antennas that send to people."""
    for one in area.transmitters:
        eirp = radiated_dbm(one.power_mw, one.power_kind)
        yield Sender(name=one.name, at_m=one.at_m, eirp_dbm=eirp, carrier_hz=one.carrier_hz)
    seen = set()
    for facts, runs in bearers:
        for run in runs:
            if facts.inward or run.antenna.at_m is None or (facts.link.id, run.antenna.id) in seen:
                continue
            seen.add((facts.link.id, run.antenna.id))
            known = branch_of(replace(facts, link=replace(facts.link, distance_m=10.0)), run, tables)
            if known.radiated_dbm is not None:
                yield Sender(
                    name=sender_name(facts, run),
                    at_m=run.antenna.at_m,
                    eirp_dbm=known.radiated_dbm,
                    carrier_hz=facts.carrier_hz,
                    of=(facts.link.id, run.antenna.id),
                )


def sender_name(facts: LinkFacts, run: Run) -> str:
    """Return how the antenna of a link that sends to people is called."""
    return f"{facts.link.name} from {run.antenna.name}"

"""How a link stands all in all: at the farthest point that is stated, and at its worst point of the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bandwright.core.reach.area import Area, Metres
from bandwright.core.reach.area_points import Judged
from bandwright.core.reach.area_reach import AreaReach
from bandwright.core.reach.link import LinkReach, State

__all__ = ["Found", "Standing", "standing_of", "standings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a margin has over what fading asks for, and where: "at 30 m", or "at the worst point of Stage".

    `at_m` is the point of the plan, None where only the distance counts.
    """

    reserve_db: float
    where: str
    at_m: Metres | None = None

    @property
    def words(self) -> str:
        """It in words, such as "3.2 dB short at 30 m"."""
        word = "short" if self.reserve_db < 0 else "over what it needs"
        return f"{abs(self.reserve_db):.1f} dB {word} {self.where}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a link stands: `lowest` is what counts, `besides` the other of the two; None is not known.

    `state` is open where something cannot be told and nothing that is known falls short.
    """

    state: State
    lowest: Found | None
    besides: Found | None


def standing_of(link: LinkReach, judged: Judged | None, area: Area | None) -> Standing:
    """Return how a link stands, on the plan too where it is on one.

    A distance that somebody stated counts as much as the plan; one that was taken from the plan (`with_distance`, to
    the farthest corner) only stands beside it, since no point may be that far from all antennas.
    """
    far, worst = _at_its_distance(link), _on_the_plan(judged, area)
    stated = judged is None or judged.facts.link.distance_m is not None
    found = [one for one in (worst, far) if one is not None]
    if stated or worst is None:
        found.sort(key=lambda one: one.reserve_db)
    lowest, besides, *_ = [*found, None, None]
    known = far is not None and (judged is None or worst is not None)
    short = lowest is not None and lowest.reserve_db < 0
    state = State.SHORT if short else State.ENOUGH if known else State.OPEN
    return Standing(state=state, lowest=lowest, besides=besides)


def _at_its_distance(link: LinkReach) -> Found | None:
    if link.walk is None:
        return None
    return Found(reserve_db=link.walk.margin_db - link.walk.needed_db, where=f"at {link.link.distance_m:g} m")


def _on_the_plan(judged: Judged | None, area: Area | None) -> Found | None:
    worst = None if judged is None else judged.worst
    if judged is None or worst is None:
        return None
    zone = None if area is None else area.zone(judged.zone)
    where = f"at the worst point of {'the whole area' if zone is None else zone.name}"
    return Found(reserve_db=worst.reserve_db, where=where, at_m=worst.at_m)


def standings(links: Sequence[LinkReach], area: AreaReach | None) -> dict[str, Standing]:
    """Return how links stand, by id, on a plan judged where there is one."""
    on_plan = {} if area is None else {one.facts.link.id: one for one in area.judged}
    where = None if area is None else area.area
    return {one.link.id: standing_of(one, on_plan.get(one.link.id), where) for one in links}

"""How a link stands all in all: at the farthest point that is stated, and at its worst point of the plan."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.core.reach.area import Area, Metres
from bandwright.core.reach.area_points import Judged
from bandwright.core.reach.link import LinkReach, State

__all__ = ["Found", "Standing", "standing_of"]


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
    """How a link stands: `lowest` is what counts, `besides` what it has where it stands better; None is not known.

    `state` is open where something cannot be told and nothing that is known falls short.
    """

    state: State
    lowest: Found | None
    besides: Found | None


def standing_of(link: LinkReach, judged: Judged | None, area: Area | None) -> Standing:
    """Return how a link stands, on the plan too where it is on one."""
    found: list[Found] = []
    if link.walk is not None:
        where = f"at {link.link.distance_m:g} m"
        found.append(Found(reserve_db=link.walk.margin_db - link.walk.needed_db, where=where))
    worst = None if judged is None else judged.worst
    if judged is not None and worst is not None:
        zone = None if area is None else area.zone(judged.zone)
        where = f"at the worst point of {'the whole area' if zone is None else zone.name}"
        found.append(Found(reserve_db=worst.reserve_db, where=where, at_m=worst.at_m))
    lowest, besides, *_ = [*sorted(found, key=lambda one: one.reserve_db), None, None]
    known = link.walk is not None and (judged is None or worst is not None)
    short = lowest is not None and lowest.reserve_db < 0
    state = State.SHORT if short else State.ENOUGH if known else State.OPEN
    return Standing(state=state, lowest=lowest, besides=besides)

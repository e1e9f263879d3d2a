"""How a link stands all in all: at the farthest point that is stated, and at its worst point of the plan."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.core.reach.area import Metres
from bandwright.core.reach.area_points import Judged
from bandwright.core.reach.link import LinkReach, State

__all__ = ["Standing", "standing_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The lowest of what is known of a link: `reserve_db` is its margin less what fading asks for there.

    `at_m` is the point of the plan where that is, None where it is the farthest point as stated. `state` is open where
    either cannot be told and nothing that is known falls short.
    """

    state: State
    reserve_db: float | None
    at_m: Metres | None


def standing_of(link: LinkReach, judged: Judged | None) -> Standing:
    """Return how a link stands, on the plan too where it is on one."""
    found: list[tuple[float, Metres | None]] = []
    if link.walk is not None:
        found.append((link.walk.margin_db - link.walk.needed_db, None))
    worst = None if judged is None else judged.worst
    if worst is not None:
        found.append((worst.reserve_db, worst.at_m))
    if not found:
        return Standing(state=State.OPEN, reserve_db=None, at_m=None)
    reserve_db, at_m = min(found, key=lambda one: one[0])
    known = link.walk is not None and (judged is None or worst is not None)
    state = State.SHORT if reserve_db < 0 else State.ENOUGH if known else State.OPEN
    return Standing(state=state, reserve_db=reserve_db, at_m=at_m)

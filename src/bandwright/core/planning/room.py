"""How much room there is: how many links of one type fit, and what each single relaxation would gain."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.core.planning.plan import BoundStatus, Reason

__all__ = ["Capacity", "Eased", "Room", "by_gain"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """The largest clean set that was found, rising in Hz, and what is proven about more.

    `stopped` is proof (found = upper bound), effort, time or cancelled; `method` tells what the bound stands on.
    """

    carriers_hz: tuple[int, ...]
    upper_bound: int
    method: str
    stopped: str

    @property
    def found(self) -> int:
        """How many were placed together."""
        return len(self.carriers_hz)

    @property
    def status(self) -> BoundStatus:
        """Whether the number found is proven to be the largest."""
        return BoundStatus.PROVEN if self.found == self.upper_bound else BoundStatus.BOUNDED


@dataclass(frozen=True, slots=True, kw_only=True)
class Eased:
    """What would fit after one change, which is named by a short stable code and in words."""

    code: str
    change: str
    capacity: Capacity


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """How many links of a radio type fit at a place: alone, or beside a plan of so many carriers there.

    `closing` says what closes the carriers of the type where none is open.
    """

    radio_id: str
    radio_name: str
    place_name: str
    capacity: Capacity
    eased: tuple[Eased, ...] = ()
    plan_number: int | None = None
    plan_phrase: str | None = None
    plan_carriers: int = 0
    closing: tuple[Reason, ...] = ()


def by_gain(eased: list[Eased]) -> tuple[Eased, ...]:
    """Return relaxations with the largest gain first; among equal ones, what might still gain more."""
    return tuple(sorted(eased, key=lambda item: (-item.capacity.found, -item.capacity.upper_bound)))

"""One production: places, permits, kit, links, other users and wishes, as one frozen value."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from bandwright.core.bands import TvRaster
from bandwright.core.kit import Link, Other, RadioType, Unit
from bandwright.core.permits import Permit

__all__ = ["Isolation", "Job", "PairRule", "Place", "Wishes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where it happens: time zone, TV raster, and the TV channels known to be on the air there (all labels)."""

    id: str
    name: str
    timezone: str
    raster: TvRaster | None = None
    tv_closed: tuple[str, ...] = ()
    tv_guard_hz: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRule:
    """A spacing between two kinds of links that overrides what their types ask.

    `one` and `two` each name a radio type, a role or a link id. `where` is "anywhere", "same-wearer" or "same-rack".
    """

    id: str
    one: str
    two: str
    spacing_hz: int
    where: str = "anywhere"


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolation:
    """What two earshots hear of each other: dB of isolation, or None for: they do not hear each other at all."""

    one: str
    two: str
    isolation_db: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the plan is asked for. `unmeasured` is "avoid" (used last), "allow" or "close"."""

    spares: tuple[tuple[str, int], ...] = ()
    close_above_floor_db: float = 10.0
    unmeasured: str = "avoid"
    seed: int = 1
    time_limit_s: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Everything a brief says. Links are already counted out; ids are unique across all lists."""

    title: str
    dates: tuple[date, ...] = ()
    places: tuple[Place, ...]
    permits: tuple[Permit, ...]
    radios: tuple[RadioType, ...]
    units: tuple[Unit, ...] = ()
    links: tuple[Link, ...] = ()
    others: tuple[Other, ...] = ()
    pairs: tuple[PairRule, ...] = ()
    isolations: tuple[Isolation, ...] = ()
    wishes: Wishes = field(default_factory=Wishes)
    hours: str | None = None
    note: str | None = None
    invented: bool = False

    def radio(self, radio_id: str) -> RadioType:
        """Return the radio type with this id; raises KeyError when there is none."""
        return {radio.id: radio for radio in self.radios}[radio_id]

    def place_of(self, item: Link | Other) -> Place:
        """Return the place an item belongs to: its own, or the first one."""
        return next((place for place in self.places if place.id == item.place), self.places[0])

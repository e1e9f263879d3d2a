"""One production: places, permits, kit, links, other users and wishes, as one frozen value."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum
from typing import Protocol

from bandwright.core.audio import Feed, Microphone, Source
from bandwright.core.bands import Span, TvRaster
from bandwright.core.kit import Link, Other, RadioType, Unit
from bandwright.core.permits import Permit
from bandwright.core.reach.area import Area
from bandwright.core.rig import Run

__all__ = [
    "KHZ_RULES",
    "OBJECTIVES",
    "Binds",
    "Block",
    "Isolation",
    "Job",
    "PairRule",
    "Place",
    "Placed",
    "Wishes",
]


OBJECTIVES = ("room", "levels")
"""What is best once all are placed: room in kHz, or the worst carrier to interference."""

KHZ_RULES = ("kept", "relaxed", "off")
"""Product clearances of receivers whose intercept point is stated: as they are, halved, or not asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where it happens: time zone, TV raster, and the TV channels known to be on the air there (all labels).

    `path` names the path model that fits it best, `path_exponent` goes with one of them; `shadowing_db` is how far
    levels scatter there, `rice_k_db` how strong the direct wave is over what is scattered, `temperature_c` how warm it
    is. None: nobody stated it.
    """

    id: str
    name: str
    timezone: str
    raster: TvRaster | None = None
    tv_closed: tuple[str, ...] = ()
    tv_guard_hz: int = 0
    path: str | None = None
    path_exponent: float | None = None
    shadowing_db: float | None = None
    rice_k_db: float | None = None
    temperature_c: float | None = None


class Placed(Protocol):
    """What may name a place of the job by its id."""

    @property
    def place(self) -> str | None:
        """The id of its place; None where nobody named one."""
        ...


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
class Block:
    """Windows that some links must lie in; with `keep_out` all others must lie outside.

    `names` holds radio types, roles or link ids. `place` is the only place where it counts, None for all.
    """

    id: str
    names: tuple[str, ...]
    windows: tuple[Span, ...]
    keep_out: bool = False
    place: str | None = None


class Binds(IntEnum):
    """Which rules still bind two carriers."""

    NOTHING = 0
    SPACING = 1
    ALL = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Isolation:
    """What two earshots hear of each other: dB of isolation, or None for: they do not hear each other at all.

    `binds` says outright which rules bind across it, where that is not to follow from the dB.
    """

    one: str
    two: str
    isolation_db: float | None
    binds: Binds | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the plan is asked for. `unmeasured` is "avoid" (used last), "allow" or "close".

    `objective` is one of `OBJECTIVES`, `khz_rules` one of `KHZ_RULES`.
    """

    spares: tuple[tuple[str, int], ...] = ()
    close_above_floor_db: float = 10.0
    unmeasured: str = "avoid"
    objective: str = "room"
    khz_rules: str = "kept"
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
    blocks: tuple[Block, ...] = ()
    runs: tuple[Run, ...] = ()
    microphones: tuple[Microphone, ...] = ()
    sources: tuple[Source, ...] = ()
    feeds: tuple[Feed, ...] = ()
    area: Area | None = None
    wishes: Wishes = field(default_factory=Wishes)
    hours: str | None = None
    note: str | None = None
    invented: bool = False

    def radio(self, radio_id: str) -> RadioType:
        """Return the radio type with this id; raises KeyError when there is none."""
        return {radio.id: radio for radio in self.radios}[radio_id]

    def place_of(self, item: Placed) -> Place:
        """Return the place that a link, another user or a sweep belongs to: its own, or the first one."""
        return next((place for place in self.places if place.id == item.place), self.places[0])

    def places_of(self, item: Link | Other) -> tuple[Place, ...]:
        """Return the places an item must be judged at: its own, or for a spare carrier all those it stands by for."""
        if isinstance(item, Link) and item.spare_at:
            return tuple(place for place in self.places if place.id in item.spare_at)
        return (self.place_of(item),)

    def places_using(self, radio_id: str) -> tuple[Place, ...]:
        """Return the places where links of a radio type work, or all places where none does."""
        used = {self.place_of(link).id for link in self.links if link.radio.id == radio_id}
        return tuple(place for place in self.places if not used or place.id in used)

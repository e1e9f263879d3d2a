"""The plan of a place: its outline, walls, zones and walks, where antennas may stand, and transmitters that stay put.

Lengths are in metres, x to the right and y away from whoever looks at the plan. Directions are in degrees as on a
compass: 0 towards larger y, 90 towards larger x.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from bandwright.core.kit import PowerKind
from bandwright.core.rig import Wall

__all__ = ["Area", "AreaWall", "Candidate", "FixedTransmitter", "Metres", "Walkway", "Zone"]

Metres: TypeAlias = tuple[float, float]
"""A point of the plan: x and y in m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaWall:
    """A straight wall between two points, and what it costs a signal that goes through it."""

    start_m: Metres
    end_m: Metres
    wall: Wall
    name: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A named part of the area in which links are worn or held: a polygon, its corners in order."""

    id: str
    name: str
    corners_m: tuple[Metres, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Walkway:
    """A way that people walk: a line through points, for the links named, or for all."""

    id: str
    name: str
    along_m: tuple[Metres, ...]
    links: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """Where an antenna may be put up; without `facing_deg` it looks at the middle of the area."""

    id: str
    name: str
    at_m: Metres
    height_m: float | None = None
    facing_deg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedTransmitter:
    """A transmitter that stands in one spot, for what its signal does to antennas near it."""

    name: str
    at_m: Metres
    power_mw: float
    power_kind: PowerKind
    carrier_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """The plan of one place; `outline_m` holds the corners of a polygon in order."""

    outline_m: tuple[Metres, ...]
    place: str | None = None
    walls: tuple[AreaWall, ...] = ()
    zones: tuple[Zone, ...] = ()
    walks: tuple[Walkway, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    transmitters: tuple[FixedTransmitter, ...] = ()

    def zone(self, zone_id: str | None) -> Zone | None:
        """Return the zone with this id, or None."""
        return next((zone for zone in self.zones if zone.id == zone_id), None)

    def walks_of(self, link_id: str) -> tuple[Walkway, ...]:
        """Return the walks that are a link's own: those that name it, or name nobody."""
        return tuple(walk for walk in self.walks if not walk.links or link_id in walk.links)

    @property
    def box_m(self) -> tuple[float, float, float, float]:
        """The least x and y and the largest x and y of the outline."""
        xs, ys = [x for x, _ in self.outline_m], [y for _, y in self.outline_m]
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def middle_m(self) -> Metres:
        """The middle of the box around the outline, which antennas look at unless stated otherwise."""
        left, low, right, high = self.box_m
        return (left + right) / 2, (low + high) / 2

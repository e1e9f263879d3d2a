"""What the picture of a sweep shows, and the measures that all of its parts share."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.drawing import Ink, Item, Rect, Shape
from bandwright.core.job import Job
from bandwright.core.kit import Direction, Link, Other
from bandwright.core.permits import Permit
from bandwright.core.picture_layout import Panel, Trace
from bandwright.core.planning.plan import Plan

__all__ = [
    "AXIS_ROOM",
    "HEAD",
    "LABEL",
    "LANE",
    "LEAST_PANEL",
    "MARGIN",
    "MARK",
    "OVERVIEW",
    "PANEL_GAP",
    "PLOT",
    "ROW",
    "SHAPES",
    "SMALL",
    "TICK_ROOM",
    "TITLE",
    "UNIT_ROOM",
    "CarrierKind",
    "Content",
    "Frame",
    "Part",
    "PictureCarrier",
    "carriers_of",
]


class CarrierKind(StrEnum):
    """What a carrier is for; the value is the word in the legend."""

    MICROPHONE = "microphone"
    IN_EAR = "in-ear"
    TALKBACK = "talkback"
    SPARE = "spare carrier"
    OTHER = "other user"
    FOUND = "found by the sweep"


SHAPES: dict[CarrierKind, Shape] = {
    CarrierKind.MICROPHONE: Shape.DISC,
    CarrierKind.IN_EAR: Shape.TRIANGLE,
    CarrierKind.TALKBACK: Shape.SQUARE,
    CarrierKind.SPARE: Shape.RING,
    CarrierKind.OTHER: Shape.DIAMOND,
    CarrierKind.FOUND: Shape.PEAK,
}

_KIND_OF = {
    Direction.FROM_PERSON: CarrierKind.MICROPHONE,
    Direction.TO_PERSON: CarrierKind.IN_EAR,
    Direction.BOTH: CarrierKind.TALKBACK,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureCarrier:
    """A carrier to be drawn; `name` is read out and shown on hovering, `label` stands at the stem."""

    label: str
    name: str
    carrier_hz: int
    bandwidth_hz: int
    kind: CarrierKind

    @property
    def ours(self) -> bool:
        """Whether it is one of our own links or spare carriers."""
        return self.kind not in (CarrierKind.OTHER, CarrierKind.FOUND)

    @property
    def ink(self) -> Ink:
        """Ours in the accent, everybody else's in plain ink."""
        return Ink.OURS if self.ours else Ink.OTHER


def carriers_of(
    job: Job, plan: Plan | None = None, *, place: str | None = None, named: bool = True
) -> tuple[PictureCarrier, ...]:
    """Return the carriers of a plan and of the other users of a job, at all its places or at one.

    Without `named`, links go by their id alone.
    """
    links = {link.id: link for link in job.links}
    items: tuple[Link | Other, ...] = (*job.links, *job.others)
    here = {item.id for item in items if place in (None, job.place_of(item).id)}
    found = [
        PictureCarrier(
            label=item.id,
            name=f"{item.id} {item.name}" if named else item.id,
            carrier_hz=item.carrier_hz,
            bandwidth_hz=links[item.id].radio.bandwidth_hz,
            kind=_KIND_OF[links[item.id].radio.direction],
        )
        for item in (plan.links if plan else ())
        if item.id in here
    ]
    found += [
        PictureCarrier(
            label=spare.id,
            name=f"spare carrier {spare.id}",
            carrier_hz=spare.carrier_hz,
            bandwidth_hz=job.radio(spare.radio).bandwidth_hz,
            kind=CarrierKind.SPARE,
        )
        for spare in (plan.spares if plan else ())
        if place is None or place in {item.id for item in job.places_using(spare.radio)}
    ]
    found += [
        PictureCarrier(
            label=other.name,
            name=f"other user: {other.name}",
            carrier_hz=other.carrier_hz,
            bandwidth_hz=other.bandwidth_hz,
            kind=CarrierKind.OTHER,
        )
        for other in job.others
        if other.id in here
    ]
    return tuple(found)


TITLE, LABEL, SMALL = 21.0, 13.0, 12.0
MARGIN, AXIS_ROOM, PANEL_GAP, LEAST_PANEL = 20.0, 58.0, 14.0, 96.0
HEAD, LANE, MARK, UNIT_ROOM = 66.0, 17.0, 9.0, 36.0
PLOT, OVERVIEW = 290.0, 74.0
TICK_ROOM, ROW = 24.0, 19.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """Everything to be shown."""

    trace: Trace
    permits: tuple[Permit, ...]
    raster: TvRaster | None
    taken: frozenset[str]
    closed: frozenset[str]
    carriers: tuple[PictureCarrier, ...]

    def word_for(self, channel: TvChannel) -> str | None:
        """Return why a TV channel is not ours: taken (the sweep hears it) or closed (the brief says so)."""
        if channel.label in self.taken:
            return "taken"
        if channel.label in self.closed:
            return "closed"
        return None

    def usable(self, panel: Panel) -> tuple[Span, ...]:
        """Return the permit windows that reach into a panel; without any permit the whole panel."""
        if not self.permits:
            return (panel.span,)
        return tuple(w for permit in self.permits for w in permit.windows if w.overlaps(panel.span))


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Panels between two heights on one level axis."""

    panels: tuple[Panel, ...]
    top: float
    bottom: float
    low_db: float
    high_db: float

    def y_of(self, db: float) -> float:
        """Return the height of a level, within the frame."""
        part = (db - self.low_db) / (self.high_db - self.low_db)
        return min(max(self.bottom - part * (self.bottom - self.top), self.top), self.bottom)

    def box(self, panel: Panel) -> Rect:
        """Return a panel as a rectangle."""
        return Rect(x=panel.left, y=self.top, width=panel.width, height=self.bottom - self.top)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Items, and where they end."""

    items: tuple[Item, ...]
    bottom: float

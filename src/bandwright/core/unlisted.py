"""What sweeps show and the brief does not list: narrow carriers of others, to be told and never taken over silently."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from bandwright.core.air import NEAR_HZ, StrayCarrier, stray_carriers
from bandwright.core.job import Job, Place
from bandwright.core.planning.carriers import closed_tv
from bandwright.core.planning.places import sweeps_at
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.units import HZ_PER_KHZ, khz_text, mhz_text

__all__ = ["Unlisted", "as_unlisted", "unlisted_carriers", "unlisted_warnings"]

_TOLD = 6  # in a sentence; a list of all can be written
_NOTE_THEM = (
    "bandwright sweep FILE --brief BRIEF --others NEW.toml writes [[other]] entries to look through and copy into the "
    "brief."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unlisted:
    """A carrier that a sweep shows. Centre and width are what was measured, to the kHz: not what its owner set."""

    place: str
    sweep: str
    carrier_hz: int
    width_hz: int
    level_db: float
    unit: str
    above_floor_db: float

    @property
    def words(self) -> str:
        """Where it is, how strong and how wide."""
        return f"{mhz_text(self.carrier_hz)} MHz ({self.above_floor_db:.0f} dB above the floor, {self.width} kHz wide)"

    @property
    def width(self) -> str:
        """Its width in kHz."""
        return khz_text(self.width_hz)


def as_unlisted(found: StrayCarrier, sweep: Sweep, *, place: str = "") -> Unlisted:
    """Return a carrier of a sweep with its figures rounded to what they are worth."""
    return Unlisted(
        place=place,
        sweep=sweep.name,
        carrier_hz=round(found.centre_hz / HZ_PER_KHZ) * HZ_PER_KHZ,
        width_hz=max(1, round(found.width_hz / HZ_PER_KHZ)) * HZ_PER_KHZ,
        level_db=round(found.level_db, 1),
        unit=sweep.unit,
        above_floor_db=found.above_floor_db,
    )


def unlisted_carriers(
    job: Job, sweeps: Sequence[Sweep], taken: Mapping[str, Sequence[str]] = MappingProxyType({})
) -> tuple[Unlisted, ...]:
    """Return the carriers that sweeps show and nothing in the brief accounts for, place by place, rising.

    Only what is loud enough to close a carrier counts, outside the TV channels that are closed or (`taken`: labels by
    place id) show a multiplex. What lies on an `[[other]]` of that place is accounted for; with own transmitters on, so
    is what lies on a held link. Of several sweeps the one that shows a carrier loudest tells it.
    """
    return tuple(item for place in job.places for item in _at_place(job, place, sweeps, taken.get(place.id, ())))


def _at_place(job: Job, place: Place, sweeps: Sequence[Sweep], taken: Sequence[str]) -> Iterator[Unlisted]:
    shut = [channel.span for channel in closed_tv(place) if channel.use == "tv"]
    shut += [channel.span for channel in (place.raster.channels if place.raster else ()) if channel.label in taken]
    found = [
        as_unlisted(carrier, sweep, place=place.id)
        for sweep in sweeps_at(place, sweeps)
        for carrier in stray_carriers(sweep, outside=shut)
        if carrier.above_floor_db >= job.wishes.close_above_floor_db and not _known(job, place, sweep, carrier)
    ]
    return iter(_once_each(found))


def _known(job: Job, place: Place, sweep: Sweep, carrier: StrayCarrier) -> bool:
    stated = [(other.carrier_hz, other.bandwidth_hz) for other in job.others if job.place_of(other) == place]
    if sweep.own_transmitters == "on":
        here = [link for link in job.links if job.place_of(link) == place]
        stated += [(link.hold_hz, link.radio.bandwidth_hz) for link in here if link.hold_hz is not None]
    return any(abs(carrier.centre_hz - hz) <= max(carrier.width_hz, width) / 2 + NEAR_HZ for hz, width in stated)


def _once_each(found: Iterable[Unlisted]) -> list[Unlisted]:
    """Return each carrier once, as the sweep tells it in which it is loudest."""
    kept: list[Unlisted] = []
    for item in sorted(found, key=lambda item: -item.above_floor_db):
        if not any(abs(item.carrier_hz - one.carrier_hz) <= max(item.width_hz, one.width_hz) / 2 for one in kept):
            kept.append(item)
    return sorted(kept, key=lambda item: item.carrier_hz)


def unlisted_warnings(job: Job, found: Sequence[Unlisted], sweeps: Sequence[Sweep]) -> Iterator[Warn]:
    """Name, for each place, the strongest of what sweeps show and the brief does not list."""
    for place in job.places:
        here = [item for item in found if item.place == place.id]
        if not here:
            continue
        strongest = sorted(here, key=lambda item: -item.above_floor_db)[:_TOLD]
        told = ", ".join(item.words for item in sorted(strongest, key=lambda item: item.carrier_hz))
        more = f" and {len(here) - _TOLD} weaker ones" if len(here) > _TOLD else ""
        where = f" at {place.name}" if len(job.places) > 1 else ""
        carriers = "a carrier" if len(here) == 1 else f"{len(here)} carriers"
        states = {sweep.name: sweep.own_transmitters for sweep in sweeps_at(place, sweeps)}
        ours = "" if all(states[item.sweep] == "off" for item in here) else " Some may be your own transmitters."
        text = (
            f"The sweep{where} shows {carriers} that the brief does not list: {told}{more}.{ours} A plan keeps off "
            "what is there, but counts no products of it until it is noted as another user."
        )
        yield Warn(code="carriers-not-listed", text=text, where=place.id, command=_NOTE_THEM)

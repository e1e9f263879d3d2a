"""The air of an open job: what a sweep shows, what changed between two, and everything that a spectrum draws."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from bandwright.core.air import describe_air
from bandwright.core.depth import shallow_stretches, shallow_warnings
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, RadioType
from bandwright.core.planning.assess import sweep_places_unknown, taken_tv
from bandwright.core.planning.carriers import closed_tv
from bandwright.core.unlisted import unlisted_carriers, unlisted_warnings
from bandwright.documents.outputs import CompareDocument, Input, SweepDocument, sweep_document
from bandwright.service.compare import check_place, compared
from bandwright.service.desk import Desk
from bandwright.service.job_plans import plan_in_force
from bandwright.service.job_runs import ground_of
from bandwright.service.job_sweeps import read_sweep, row_of
from bandwright.service.seats import seats_of

__all__ = [
    "DrawnLink",
    "DrawnOther",
    "DrawnPermit",
    "DrawnPlace",
    "DrawnPreset",
    "DrawnRadio",
    "DrawnTv",
    "Spectrum",
    "air_of",
    "compare_here",
    "spectrum_of",
]

Range = tuple[int, int]

KindWord = Literal["microphone", "in-ear", "talkback"]
_KINDS: Mapping[Direction, KindWord] = {
    Direction.FROM_PERSON: "microphone",
    Direction.TO_PERSON: "in-ear",
    Direction.BOTH: "talkback",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPlace:
    """A place of the job."""

    id: str
    name: str
    timezone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPermit:
    """What a permit opens and closes, in Hz; `place` is None where it counts everywhere."""

    id: str
    reference: str
    state: str
    place: str | None
    windows_hz: tuple[Range, ...]
    closed_hz: tuple[Range, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnTv:
    """A TV channel at a place: "taken" by what the sweeps show, "closed" by the brief, or None."""

    place: str
    channel: str
    low_hz: int
    high_hz: int
    word: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPreset:
    """A carrier that a radio type has under a label."""

    label: str
    hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnRadio:
    """A radio type that a link or a spare carrier uses: what it can be set to, in Hz."""

    id: str
    name: str
    kind: KindWord
    bandwidth_hz: int
    spacing_hz: int
    tuning: tuple[tuple[int, int, int], ...]
    presets: tuple[DrawnPreset, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLink:
    """A link, one for each that a count makes; `held_hz` is the carrier that it must keep."""

    uid: str
    id: str
    name: str
    radio: str
    place: str
    held_hz: int | None
    movable: str
    worn: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnOther:
    """Somebody else's transmitter."""

    uid: str | None
    id: str
    name: str
    place: str
    carrier_hz: int
    bandwidth_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """Everything that a drawing of the spectrum shows beside sweeps and the plan, resolved; all in whole Hz."""

    seq: int
    places: tuple[DrawnPlace, ...]
    permits: tuple[DrawnPermit, ...]
    tv: tuple[DrawnTv, ...]
    radios: tuple[DrawnRadio, ...]
    links: tuple[DrawnLink, ...]
    others: tuple[DrawnOther, ...]


def air_of(desk: Desk, uid: str) -> SweepDocument:
    """Return what is in the air according to one sweep of the job, as `bandwright sweep --brief` tells it.

    Where the brief cannot be read as a job, TV channels and who is known to be there are left out.
    """
    row = row_of(desk, uid)
    sweep = read_sweep(desk, row)
    inputs = (Input(name=row.name, sha256=row.sha256).of_sweep(sweep),)
    job = desk.brief().job

    def make() -> SweepDocument:
        if job is None:
            return sweep_document([describe_air(sweep, raster=None)], inputs=inputs)
        report = describe_air(sweep, raster=job.place_of(sweep).raster)
        unlisted = unlisted_carriers(job, [sweep], taken_tv(job, [sweep]))
        warnings = (*sweep_places_unknown(job, [sweep]), *unlisted_warnings(job, unlisted, [sweep]))
        shallow = shallow_stretches(job, sweep)
        warnings = (*warnings, *shallow_warnings(sweep, shallow))
        return sweep_document([report], inputs=inputs, warnings=warnings, shallow=[shallow])

    return desk.keep_apart(f"air {uid}", (sweep, desk.file.seq_of("entry")), make)


def compare_here(desk: Desk, old: str, new: str) -> CompareDocument:
    """Return what changed between two sweeps of the job (by uid), whose it is, and which links it touches.

    Raises
    ------
    InputError
        When there is no such sweep, or the two are of two places.
    """
    rows = row_of(desk, old), row_of(desk, new)
    before, after = (read_sweep(desk, row) for row in rows)
    check_place(before, after, file=rows[1].name)
    plan = plan_in_force(desk)
    job = desk.job()
    held = {link.id: link.hold_hz for link in job.links if link.hold_hz is not None}
    inputs = [Input(name=row.name, sha256=row.sha256) for row in rows]
    found = compared(
        job,
        before,
        after,
        carriers=held if plan is None else plan.carriers(),
        inputs=[one.of_sweep(sweep) for one, sweep in zip(inputs, (before, after), strict=True)],
    )
    return found.document()


def spectrum_of(desk: Desk) -> Spectrum:
    """Return everything that a drawing of the spectrum shows beside sweeps and the plan.

    Raises
    ------
    CellFaults
        When the brief is not one that can be planned.
    """
    ground = ground_of(desk)
    return desk.keep_apart("spectrum", ground.stands_on, lambda: _spectrum(desk, ground.job))


def _spectrum(desk: Desk, job: Job) -> Spectrum:
    ground = ground_of(desk)
    taken = taken_tv(job, ground.sweeps)
    entries = desk.brief().entries
    uids = {seat.id: seat.uid for seat in seats_of(entries)}
    others = {row.id: row.uid for row in entries if row.kind == "other"}
    return Spectrum(
        seq=ground.stands_on,
        places=tuple(DrawnPlace(id=place.id, name=place.name, timezone=place.timezone) for place in job.places),
        permits=tuple(
            DrawnPermit(
                id=permit.id,
                reference=permit.reference,
                state=permit.state.value,
                place=permit.place,
                windows_hz=tuple((span.low_hz, span.high_hz) for span in permit.windows),
                closed_hz=tuple((span.low_hz, span.high_hz) for span in permit.closed),
            )
            for permit in job.permits
        ),
        tv=tuple(channel for place in job.places for channel in _tv(place, taken.get(place.id, ()))),
        radios=tuple(map(_radio, _radios(job))),
        links=tuple(
            DrawnLink(
                uid=uids[link.id],
                id=link.id,
                name=link.name,
                radio=link.radio.id,
                place=job.place_of(link).id,
                held_hz=link.hold_hz,
                movable=link.movable,
                worn=link.worn.value,
            )
            for link in job.links
        ),
        others=tuple(
            DrawnOther(
                uid=others.get(other.id),
                id=other.id,
                name=other.name,
                place=job.place_of(other).id,
                carrier_hz=other.carrier_hz,
                bandwidth_hz=other.bandwidth_hz,
            )
            for other in job.others
        ),
    )


def _tv(place: Place, taken: tuple[str, ...]) -> Iterator[DrawnTv]:
    closed = {channel.label for channel in closed_tv(place)}
    for channel in place.raster.channels if place.raster is not None else ():
        word = "taken" if channel.label in taken else "closed" if channel.label in closed else None
        yield DrawnTv(
            place=place.id,
            channel=channel.label,
            low_hz=channel.span.low_hz,
            high_hz=channel.span.high_hz,
            word=word,
        )


def _radios(job: Job) -> Iterator[RadioType]:
    """Yield the radio types that links or wished spare carriers use, each once."""
    wished = [name for name, _ in job.wishes.spares]
    used = {link.radio.id: link.radio for link in job.links}
    used |= {radio.id: radio for radio in job.radios if radio.id in wished}
    return iter(used.values())


def _radio(radio: RadioType) -> DrawnRadio:
    return DrawnRadio(
        id=radio.id,
        name=radio.name,
        kind=_KINDS[radio.direction],
        bandwidth_hz=radio.bandwidth_hz,
        spacing_hz=radio.spacing_hz,
        tuning=tuple((part.low_hz, part.high_hz, part.step_hz) for part in radio.tuning),
        presets=tuple(DrawnPreset(label=preset.label, hz=preset.carrier_hz) for preset in radio.presets),
    )

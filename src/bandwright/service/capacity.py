"""How many links of one radio type fit: alone or beside a plan, and what each single change would gain."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from bandwright.core.job import Job, Place
from bandwright.core.kit import RadioType
from bandwright.core.planning.assess import own_transmitters_unknown, sweep_places_unknown
from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import spare_links
from bandwright.core.planning.closing import closing_reasons
from bandwright.core.planning.crowd import Crowd, alike, crowd_of
from bandwright.core.planning.heard import floor_alone_warnings
from bandwright.core.planning.plan import Warn
from bandwright.core.planning.relax import Relaxation, relaxations
from bandwright.core.planning.room import Capacity, Eased, Room, by_gain
from bandwright.core.sweep import Sweep
from bandwright.core.sweep_age import age_warnings
from bandwright.core.words import and_list
from bandwright.documents.faults import list_text
from bandwright.documents.outputs import CapacityDocument, Input, StoredPlan, capacity_document
from bandwright.engines.capacity import capacities
from bandwright.engines.prepare import prepare_kernels
from bandwright.engines.solve import Step
from bandwright.errors import Cancelled, InputError
from bandwright.service.context import PREPARING, Context, Progress
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.names import named
from bandwright.service.planned import minute_at, sweeps_text
from bandwright.service.stored import PlanAtHand, load_plan
from bandwright.sheets.room_text import room_text
from bandwright.sheets.terminal import wrapped

__all__ = ["Counted", "count_room", "counted", "radio_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """How much room there is, with the inputs it stands on."""

    room: Room
    warnings: tuple[Warn, ...]
    inputs: tuple[Input, ...]
    seed: int
    seconds: float
    job: Job
    sweeps: tuple[Sweep, ...]
    made: datetime

    @property
    def exit_code(self) -> int:
        """How a command ends that shows this: 130 when stopped by hand."""
        return Cancelled.exit_code if self.room.capacity.stopped == "cancelled" else 0

    def document(self) -> CapacityDocument:
        """Return it as the JSON document."""
        return capacity_document(
            self.room, inputs=self.inputs, warnings=self.warnings, seed=self.seed, seconds=self.seconds
        )

    def text(self, *, columns: int) -> str:
        """Return it for a terminal of so many columns."""
        about = sweeps_text(self.sweeps, self.job, now=self.made, columns=columns)
        notes = "".join(f"{line}\n" for w in self.warnings for line in wrapped(w.in_terminal, columns, first="Note: "))
        told = f"{about}{notes}"
        return room_text(self.room, columns=columns) + (f"\n{told}" if told else "")


def count_room(
    context: Context,
    brief: Path,
    *,
    radio_id: str | None = None,
    beside: Path | None = None,
    sweep_paths: Sequence[Path] = (),
    place_id: str | None = None,
    own_transmitters: str = "unknown",
    time_limit_s: float | None = None,
    seed: int | None = None,
) -> Counted:
    """Return how many links of a radio type fit at a place, and what each single change would gain.

    Raises
    ------
    InputError
        When the brief, a sweep or the plan cannot be read, a name is unknown, or the plan is one of another job.
    """
    brought = load_brief(context, brief)
    job = brought.job
    radio = radio_of(job, radio_id, str(brief))
    place = (
        named(place_id, {p.id: p for p in job.places}, what="place", file=str(brief))
        if place_id is not None
        else job.places[0]
    )
    plan = load_plan(beside, brought) if beside is not None else None
    sweeps, sweep_inputs = load_sweeps(context, brought.sweeps_or(sweep_paths), job, own_transmitters=own_transmitters)
    return counted(
        context,
        job,
        radio,
        place,
        sweeps,
        plan=plan,
        inputs=(*brought.inputs, *((plan.input,) if plan is not None else ()), *sweep_inputs),
        seed=seed,
        time_limit_s=time_limit_s,
    )


def counted(
    context: Context,
    job: Job,
    radio: RadioType,
    place: Place,
    sweeps: Sequence[Sweep],
    *,
    plan: PlanAtHand | None,
    inputs: Sequence[Input],
    seed: int | None = None,
    time_limit_s: float | None = None,
) -> Counted:
    """Return how many links of a radio type fit at a place of a job that is already read."""
    prepare_kernels(lambda: context.progress(PREPARING))
    made = minute_at(context, job)
    began = time.monotonic()
    seed = job.wishes.seed if seed is None else seed
    room = _room(
        context,
        job,
        radio,
        place,
        sweeps,
        plan=plan.plan if plan is not None else None,
        seed=seed,
        time_limit_s=job.wishes.time_limit_s if time_limit_s is None else time_limit_s,
    )
    return Counted(
        room=room,
        warnings=(*_warnings(job, sweeps, plan, room), *age_warnings(job, sweeps, made=made, ago=True)),
        inputs=tuple(inputs),
        seed=seed,
        seconds=round(time.monotonic() - began, 3),
        job=job,
        sweeps=tuple(sweeps),
        made=made,
    )


def radio_of(job: Job, radio_id: str | None, file: str) -> RadioType:
    """Return a radio type of a job by its id, or the only one; raises InputError in words."""
    radios = {radio.id: radio for radio in job.radios}
    if radio_id is None and len(radios) > 1:
        text = f"say of which radio type: --radio with one of {list_text(radios)}."
        raise InputError.single("no-radio", text, file=file, key="--radio", allowed=list_text(radios))
    return named(radio_id or next(iter(radios)), radios, what="radio", file=file)


def _room(
    context: Context,
    job: Job,
    radio: RadioType,
    place: Place,
    sweeps: Sequence[Sweep],
    *,
    plan: StoredPlan | None,
    seed: int,
    time_limit_s: float,
) -> Room:
    held = plan.carriers if plan is not None else {}
    crowd, facts = crowd_of(job, radio, sweeps, place=place, beside=held)
    easier = list(_easier(crowd, job, radio, sweeps, place=place, held=held))

    def tell(step: Step) -> None:
        context.progress(Progress(text=f"{step.doing}: {step.placed} found, at most {step.wanted}"))

    found = capacities(
        crowd,
        [eased for _, eased in easier],
        seed=seed,
        time_limit_s=time_limit_s,
        cancelled=context.cancelled,
        progress=tell,
    )
    return Room(
        radio_id=radio.id,
        radio_name=radio.name,
        place_name=place.name,
        capacity=found[0],
        eased=_named_by(easier, found[1:]),
        plan_number=plan.number if plan is not None else None,
        plan_phrase=plan.check_phrase if plan is not None else None,
        plan_carriers=len(held),
        closing=() if facts.open.any() else closing_reasons(facts),
    )


def _easier(
    crowd: Crowd, job: Job, radio: RadioType, sweeps: Sequence[Sweep], *, place: Place, held: dict[str, int]
) -> list[tuple[Relaxation, Crowd]]:
    """Return the changes that change anything for the crowd, each with the crowd under it."""
    changes = [(item, held) for item in relaxations(job, radio, place, sweeps)]
    if held:
        changes.append((Relaxation(code="plan", change="the carriers of the plan off the air", job=job), {}))
    crowds = [
        (item, crowd_of(item.job, item.job.radio(radio.id), sweeps, place=place, beside=beside)[0])
        for item, beside in changes
    ]
    return [(item, eased) for item, eased in crowds if not alike(eased, crowd)]


def _named_by(easier: Sequence[tuple[Relaxation, Crowd]], found: Sequence[Capacity]) -> tuple[Eased, ...]:
    pairs = zip(easier[: len(found)], found, strict=True)
    return by_gain([Eased(code=item.code, change=item.change, capacity=capacity) for (item, _), capacity in pairs])


_EARLY = {
    "time": "The time limit ended the count; given more time it may find more.",
    "cancelled": "The count was stopped by hand; this is the most it had found by then.",
}


def _warnings(job: Job, sweeps: Sequence[Sweep], plan: PlanAtHand | None, room: Room) -> list[Warn]:
    found = [*own_transmitters_unknown(sweeps), *sweep_places_unknown(job, sweeps)]
    found.extend(floor_alone_warnings([job.radio(room.radio_id)], sweeps))
    if not sweeps:
        found.append(Warn(code="no-sweep", text="No sweep was given: what is on the air was not looked at."))
    if room.capacity.stopped in _EARLY:
        found.append(Warn(code=f"ended-by-{room.capacity.stopped}", text=_EARLY[room.capacity.stopped]))
    if plan is not None:
        found.extend([*plan.warnings, *_about_plan(job, sweeps, plan.plan)])
    return found


def _about_plan(job: Job, sweeps: Sequence[Sweep], plan: StoredPlan) -> list[Warn]:
    known = {link.id for link in (*job.links, *spare_links(job))}
    held = {name: hz for name, hz in plan.carriers.items() if name in known}
    broken = check_carriers(job, held, sweeps, more=spare_links(job))
    missing = [link.id for link in job.links if link.id not in plan.links]
    found = []
    if broken:
        ids = and_list(sorted({violation.victim for violation in broken}))
        text = f"The plan itself breaks rules of this brief or sweep at {ids}."
        found.append(Warn(code="plan-broken", text=text, command="bandwright check names them."))
    if missing:
        text = f"The plan has no carrier for {and_list(missing)}, so nothing is kept free for them."
        found.append(Warn(code="not-in-plan", text=text))
    return found

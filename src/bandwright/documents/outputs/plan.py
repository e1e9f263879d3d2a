"""The `plan` document: carriers, evidence for each, what found no place, and how good the plan is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Final, Literal

from pydantic import Field

from bandwright.core.job import Job
from bandwright.core.planning.plan import (
    AtAntenna,
    Bound,
    BoundStatus,
    Closest,
    Conflict,
    Kept,
    Noise,
    NoiseState,
    PlacedLink,
    Plan,
    Spare,
    Status,
    Unplaced,
)
from bandwright.core.sweep import Sweep
from bandwright.core.sweep_age import age_of, age_words
from bandwright.documents.outputs.common import (
    Document,
    Input,
    Level,
    Model,
    Number,
    RuleWord,
    Run,
    khz,
    level,
    plain,
    warned,
)
from bandwright.documents.outputs.plan_levels import (
    CarrierToInterferenceModel,
    PlanLevelsModel,
    carrier_to_interference_model,
    plan_levels_model,
)
from bandwright.units import mhz_text

__all__ = ["SCHEMA", "PlanDocument", "closest_model", "plan_document"]

SCHEMA: Final = "bandwright.plan/1"


class AtAntennaModel(Model):
    """Levels at the antenna over the occupied bandwidth, in dBm, the gain behind it taken out.

    `outside_dbm` is the highest level less the instrument's own noise, `depth_dbm` that noise; `bears_dbm` is the
    highest level from outside that the link's receiver can bear, null where its radio type does not tell.
    """

    outside_dbm: Level | None
    depth_dbm: Level | None
    bears_dbm: Level | None
    bears_because: str | None


class NoiseModel(Model):
    """The highest level over the occupied bandwidth; null where nothing was measured, and `state` says so.

    `at_antenna` is null where the sweep is not calibrated: dBm, with antenna and gain ahead stated.
    """

    value: Level | None
    unit: str | None
    over_khz: Number | None
    state: NoiseState
    above_floor_db: Level | None
    sweep: str | None
    sweep_started: str | None
    at_antenna: AtAntennaModel | None


class ClosestModel(Model):
    """The rule with the smallest slack. `level` is the predicted level in dBm at the receiver, where it is known."""

    rule: RuleWord
    family: str | None
    sources: tuple[str, ...]
    product_hz: int | None
    offset_khz: Number
    required_khz: Number
    slack_khz: Number
    level: Level | None


class NoteModel(Model):
    """Something worth knowing that breaks no rule, and whom it is about: two links that share a carrier, and may."""

    code: str
    text: str
    sources: tuple[str, ...]


class PlacedModel(Model):
    """A link with its carrier; `was_*` is the one it had in the plan that this one keeps to, null where it had none."""

    id: str
    name: str
    radio: str
    carrier_hz: int
    carrier_mhz: str
    status: Status
    cautions: tuple[str, ...]
    permit: str | None
    tv_channel: str | None
    preset: str | None
    power_mw: Number | None
    noise: NoiseModel | None
    closest: ClosestModel | None
    notes: tuple[NoteModel, ...]
    was_hz: int | None = None
    was_mhz: str | None = None
    carrier_to_interference: CarrierToInterferenceModel | None = None


class SpareModel(Model):
    """A spare carrier; `was_*` as for a link."""

    id: str
    radio: str
    carrier_hz: int
    carrier_mhz: str
    preset: str | None
    tv_channel: str | None
    permit: str | None
    noise: NoiseModel | None
    was_hz: int | None = None
    was_mhz: str | None = None


class ReasonModel(Model):
    """A reason: a short stable code, and a sentence."""

    code: str
    text: str


class UnplacedModel(Model):
    """A link, or a wished spare carrier, without a carrier."""

    id: str
    name: str
    reasons: tuple[ReasonModel, ...]


class ConflictModel(Model):
    """Links that are not placed at once, while any one fewer of them are.

    Proven: no carriers for all of them exist. Suspected: none were found. Each of the remedies is one change under
    which all of them were placed.
    """

    links: tuple[str, ...]
    status: Literal["proven", "suspected"]
    remedies: tuple[str, ...]
    text: str


class BoundModel(Model):
    """How good the plan is."""

    about: str
    status: BoundStatus
    found: int
    upper_bound: int | None
    method: str


class MovedModel(Model):
    """A link, or a spare carrier, that is not on its earlier carrier; null where it has none now."""

    id: str
    from_hz: int
    from_mhz: str
    to_hz: int | None
    to_mhz: str | None


class KeptModel(Model):
    """What the plan keeps of an earlier one: of so many carriers how many, who moved, and who had none before.

    Proven: no plan that places as much keeps more. Found: none was found that does.
    """

    of: str
    status: Literal[BoundStatus.PROVEN, BoundStatus.FOUND]
    had: int
    kept: int
    moved: tuple[MovedModel, ...]
    new: tuple[str, ...]


class PlaceModel(Model):
    """A place of the job."""

    id: str
    name: str


class JobModel(Model):
    """The job that was planned."""

    title: str
    places: tuple[PlaceModel, ...]
    dates: tuple[date, ...]


class SweepAgeModel(Model):
    """How long before the plan a sweep began, in seconds and in words; null where nobody knows when."""

    sweep: str
    age_s: int | None
    age: str | None


class PlanRun(Run):
    """How the search went, the minute of the plan with its offset from UTC (ISO 8601), and how old the sweeps were."""

    made: str
    sweeps: tuple[SweepAgeModel, ...]


class PlanDocument(Document):
    """What `bandwright plan --json` prints, and what stands in plan.json."""

    schema_: Literal["bandwright.plan/1"] = Field(default=SCHEMA, alias="schema")
    job: JobModel
    number: int
    check_phrase: str
    links: tuple[PlacedModel, ...]
    spares: tuple[SpareModel, ...]
    unplaced: tuple[UnplacedModel, ...]
    bound: BoundModel
    conflicts: tuple[ConflictModel, ...]
    kept: KeptModel | None = None
    levels: PlanLevelsModel | None = None
    run: PlanRun


def plan_document(
    job: Job, plan: Plan, *, inputs: Sequence[Input], made: datetime, run: Run, sweeps: Sequence[Sweep] = ()
) -> PlanDocument:
    """Return a plan as its document; `made` carries the time zone of the place, `sweeps` are those that it stands on.

    The minute and the ages of the sweeps stand under `run`, so that two plans of the same input compare equal without.
    """
    return PlanDocument(
        job=_job(job),
        number=plan.number,
        check_phrase=plan.check_phrase,
        links=tuple(_placed(link) for link in plan.links),
        spares=tuple(_spare(spare) for spare in plan.spares),
        unplaced=tuple(_unplaced(item) for item in plan.unplaced),
        bound=_bound(plan.bound),
        conflicts=tuple(_conflict(item) for item in plan.conflicts),
        kept=_kept(plan.kept),
        levels=plan_levels_model(plan.levels),
        inputs=tuple(inputs),
        warnings=warned(plan.warnings),
        run=PlanRun(
            seed=run.seed,
            stopped=run.stopped,
            seconds=run.seconds,
            made=made.isoformat(timespec="minutes"),
            sweeps=tuple(_age(sweep, job, made) for sweep in sweeps),
        ),
    )


def _age(sweep: Sweep, job: Job, made: datetime) -> SweepAgeModel:
    age = age_of(sweep, job, made=made)
    seconds = None if age is None else round(age.total_seconds())
    return SweepAgeModel(sweep=sweep.name, age_s=seconds, age=age_words(sweep, job, made=made))


def _job(job: Job) -> JobModel:
    places = tuple(PlaceModel(id=place.id, name=place.name) for place in job.places)
    return JobModel(title=job.title, places=places, dates=job.dates)


def _placed(link: PlacedLink) -> PlacedModel:
    return PlacedModel(
        id=link.id,
        name=link.name,
        radio=link.radio,
        carrier_hz=link.carrier_hz,
        carrier_mhz=mhz_text(link.carrier_hz),
        status=link.status,
        cautions=link.cautions,
        permit=link.permit,
        tv_channel=link.tv_channel,
        preset=link.preset,
        power_mw=plain(link.power_mw),
        noise=_noise(link.noise),
        closest=closest_model(link.closest),
        notes=tuple(NoteModel(code=note.code, text=note.text, sources=note.sources) for note in link.notes),
        was_hz=link.was_hz,
        was_mhz=_mhz(link.was_hz),
        carrier_to_interference=carrier_to_interference_model(link.carrier_to_interference),
    )


def _spare(spare: Spare) -> SpareModel:
    return SpareModel(
        id=spare.id,
        radio=spare.radio,
        carrier_hz=spare.carrier_hz,
        carrier_mhz=mhz_text(spare.carrier_hz),
        preset=spare.preset,
        tv_channel=spare.tv_channel,
        permit=spare.permit,
        noise=_noise(spare.noise),
        was_hz=spare.was_hz,
        was_mhz=_mhz(spare.was_hz),
    )


def _mhz(hz: int | None) -> str | None:
    return None if hz is None else mhz_text(hz)


def _noise(noise: Noise | None) -> NoiseModel | None:
    if noise is None:
        return None
    return NoiseModel(
        value=level(noise.value),
        unit=noise.unit,
        over_khz=khz(noise.over_hz),
        state=noise.state,
        above_floor_db=level(noise.above_floor_db),
        sweep=noise.sweep,
        sweep_started=noise.sweep_started.isoformat(timespec="seconds") if noise.sweep_started else None,
        at_antenna=_at_antenna(noise.at_antenna),
    )


def _at_antenna(there: AtAntenna | None) -> AtAntennaModel | None:
    if there is None:
        return None
    return AtAntennaModel(
        outside_dbm=level(there.outside_dbm),
        depth_dbm=level(there.depth_dbm),
        bears_dbm=level(there.bears_dbm),
        bears_because=there.bears_because,
    )


def closest_model(closest: Closest | None) -> ClosestModel | None:
    """Return what comes closest as part of a document."""
    if closest is None:
        return None
    return ClosestModel(
        rule=closest.rule,
        family=closest.family,
        sources=closest.sources,
        product_hz=closest.product_hz,
        offset_khz=khz(closest.offset_hz),
        required_khz=khz(closest.required_hz),
        slack_khz=khz(closest.slack_hz),
        level=level(closest.level_dbm),
    )


def _unplaced(item: Unplaced) -> UnplacedModel:
    reasons = tuple(ReasonModel(code=reason.code, text=reason.text) for reason in item.reasons)
    return UnplacedModel(id=item.id, name=item.name, reasons=reasons)


def _conflict(item: Conflict) -> ConflictModel:
    return ConflictModel(
        links=item.links,
        status="proven" if item.proven else "suspected",
        remedies=item.remedies,
        text=item.text,
    )


def _bound(bound: Bound) -> BoundModel:
    return BoundModel(
        about=bound.about,
        status=bound.status,
        found=bound.found,
        upper_bound=bound.upper_bound,
        method=bound.method,
    )


def _kept(kept: Kept | None) -> KeptModel | None:
    if kept is None:
        return None
    moved = tuple(
        MovedModel(
            id=item.id,
            from_hz=item.from_hz,
            from_mhz=mhz_text(item.from_hz),
            to_hz=item.to_hz,
            to_mhz=_mhz(item.to_hz),
        )
        for item in kept.moved
    )
    return KeptModel(of=kept.of, status=kept.status, had=kept.had, kept=kept.kept, moved=moved, new=kept.new)

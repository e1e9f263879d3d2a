"""The `plan` document: carriers, evidence for each, what found no place, and how good the plan is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Final, Literal

from pydantic import Field

from bandwright.core.job import Job
from bandwright.core.planning.plan import (
    Bound,
    BoundStatus,
    Closest,
    Noise,
    NoiseState,
    PlacedLink,
    Plan,
    Spare,
    Status,
    Unplaced,
)
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
from bandwright.units import mhz_text

__all__ = ["SCHEMA", "PlanDocument", "plan_document"]

SCHEMA: Final = "bandwright.plan/1"


class NoiseModel(Model):
    """The highest level over the occupied bandwidth; null where nothing was measured, and `state` says so."""

    value: Level | None
    unit: str | None
    over_khz: Number | None
    state: NoiseState
    above_floor_db: Level | None
    sweep: str | None


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


class PlacedModel(Model):
    """A link with its carrier."""

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


class SpareModel(Model):
    """A spare carrier."""

    id: str
    radio: str
    carrier_hz: int
    carrier_mhz: str
    preset: str | None
    tv_channel: str | None
    permit: str | None
    noise: NoiseModel | None


class ReasonModel(Model):
    """Why a link has no carrier."""

    code: str
    text: str


class UnplacedModel(Model):
    """A link, or a wished spare carrier, without a carrier."""

    id: str
    name: str
    reasons: tuple[ReasonModel, ...]


class BoundModel(Model):
    """How good the plan is."""

    about: str
    status: BoundStatus
    found: int
    upper_bound: int | None
    method: str


class PlaceModel(Model):
    """A place of the job."""

    id: str
    name: str


class JobModel(Model):
    """The job that was planned."""

    title: str
    places: tuple[PlaceModel, ...]
    dates: tuple[date, ...]


class PlanRun(Run):
    """How the search went, and the minute of the plan with its offset from UTC (ISO 8601)."""

    made: str


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
    run: PlanRun


def plan_document(job: Job, plan: Plan, *, inputs: Sequence[Input], made: datetime, run: Run) -> PlanDocument:
    """Return a plan as its document; `made` carries the time zone of the place.

    The minute stands under `run`, so that two plans of the same input compare equal without it.
    """
    return PlanDocument(
        job=_job(job),
        number=plan.number,
        check_phrase=plan.check_phrase,
        links=tuple(_placed(link) for link in plan.links),
        spares=tuple(_spare(spare) for spare in plan.spares),
        unplaced=tuple(_unplaced(item) for item in plan.unplaced),
        bound=_bound(plan.bound),
        inputs=tuple(inputs),
        warnings=warned(plan.warnings),
        run=PlanRun(
            seed=run.seed,
            stopped=run.stopped,
            seconds=run.seconds,
            made=made.isoformat(timespec="minutes"),
        ),
    )


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
        closest=_closest(link.closest),
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
    )


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
    )


def _closest(closest: Closest | None) -> ClosestModel | None:
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


def _bound(bound: Bound) -> BoundModel:
    return BoundModel(
        about=bound.about,
        status=bound.status,
        found=bound.found,
        upper_bound=bound.upper_bound,
        method=bound.method,
    )

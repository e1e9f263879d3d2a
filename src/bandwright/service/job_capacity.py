"""How much room an open job has left beside its plan: counted in the worker, and waited for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from bandwright.core.job import Place
from bandwright.core.kit import RadioType
from bandwright.documents.outputs import CapacityDocument, StoredPlan
from bandwright.service.capacity import counted, radio_of
from bandwright.service.context import Context, Progress
from bandwright.service.desk import Desk
from bandwright.service.job_plans import PlanNow, plan_in_force
from bandwright.service.job_runs import Ground, ground_of
from bandwright.service.names import named
from bandwright.service.runs import ask_worker
from bandwright.service.stored import PlanAtHand

__all__ = ["capacity_here"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CapacityTask:
    """What the worker is given to count the room for a radio type beside a plan."""

    ground: Ground
    radio: RadioType
    place: Place
    plan: PlanAtHand | None
    time_limit_s: float | None
    now: datetime


def capacity_here(
    desk: Desk, radio_id: str | None = None, *, place_id: str | None = None, time_limit_s: float | None = None
) -> CapacityDocument:
    """Return how many links of a radio type still fit beside the plan in force; waits for the worker.

    A run that begins meanwhile stops the count, which then tells what it has found.

    Raises
    ------
    RunGoing
        When a run is going on.
    InputError
        When the brief cannot be planned, or a name is unknown.
    """
    ground, plan = ground_of(desk), plan_in_force(desk)
    job, file = ground.job, desk.path.name
    radio = radio_of(job, radio_id, file)
    places = {place.id: place for place in job.places}
    place = job.places[0] if place_id is None else named(place_id, places, what="place", file=file)
    task = CapacityTask(
        ground=ground,
        radio=radio,
        place=place,
        plan=None if plan is None else _at_hand(plan),
        time_limit_s=time_limit_s,
        now=desk.context.now(),
    )
    return CapacityDocument.model_validate_json(ask_worker(desk, capacity_in_worker, task))


def capacity_in_worker(
    task: CapacityTask, *, progress: Callable[[Progress], None], cancelled: Callable[[], bool]
) -> str:
    """Return how much room there is as the text of its document; runs in the worker."""
    context = Context(now=lambda: task.now, progress=progress, cancelled=cancelled)
    ground, plan = task.ground, task.plan
    brief, *sweeps = ground.inputs
    found = counted(
        context,
        ground.job,
        task.radio,
        task.place,
        ground.sweeps,
        plan=plan,
        inputs=(brief, *((plan.input,) if plan is not None else ()), *sweeps),
        time_limit_s=task.time_limit_s,
    )
    return found.document().model_dump_json(by_alias=True)


def _at_hand(plan: PlanNow) -> PlanAtHand:
    """Return the plan in force as one that was brought along, with the links called as they are today."""
    carriers = plan.carriers()
    spares = {spare.id for spare in plan.plan.spares}
    return PlanAtHand(
        plan=StoredPlan(
            title=plan.document.job.title,
            number=plan.number,
            check_phrase=plan.row.check_phrase,
            links={name: hz for name, hz in carriers.items() if name not in spares},
            spares={name: hz for name, hz in carriers.items() if name in spares},
            unplaced=frozenset(plan.without()),
            inputs=frozenset(item.sha256 for item in plan.document.inputs),
        ),
        input=plan.input,
        warnings=(),
    )

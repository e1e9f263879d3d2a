"""Plans of an open job: run beside it, and kept under a number."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Any

from bandwright.core.job import Job
from bandwright.core.sweep import Sweep
from bandwright.core.words import kept_words
from bandwright.documents.outputs import Input, PlanDocument
from bandwright.documents.outputs.plan_back import plan_of
from bandwright.service.context import Context, Progress
from bandwright.service.desk import Changed, Desk
from bandwright.service.differences import differences_since
from bandwright.service.earlier import Earlier
from bandwright.service.entries import readable, write_row
from bandwright.service.job_brief import brief_input
from bandwright.service.job_plans import (
    PlanNow,
    changed_for_plans,
    plan_in_force,
    plan_kept,
    put_in_force,
    tuned_by,
)
from bandwright.service.job_sweeps import sweeps_in_use
from bandwright.service.plan import plan_job
from bandwright.service.runs import RunState, Work, start_run
from bandwright.service.seats import ids_at
from bandwright.store import Draft

__all__ = [
    "Ground",
    "Kept",
    "earlier_of",
    "ground_of",
    "keep_plan",
    "number_made",
    "run_plan",
]

Tell = Callable[[Progress], None]
Asked = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """What plans of a job stand on: the brief and the sweeps as an event left them.

    `stands_on` is the number of the last event about either.
    """

    stands_on: int
    job: Job
    sweeps: tuple[Sweep, ...]
    inputs: tuple[Input, ...]


def ground_of(desk: Desk) -> Ground:
    """Return what a plan of the job stands on now.

    Raises
    ------
    CellFaults
        When the brief is not one that can be planned.
    """
    while True:
        stands_on = desk.file.seq_of("entry", "sweep")
        ground = desk.keep_apart("ground", stands_on, partial(_ground, desk, stands_on))
        if desk.file.seq_of("entry", "sweep") == stands_on:  # nobody changed anything while sweeps were read
            return ground


def _ground(desk: Desk, stands_on: int) -> Ground:
    brief = desk.brief()
    job = brief.whole()
    sweeps, inputs = sweeps_in_use(desk)
    return Ground(stands_on=stands_on, job=job, sweeps=sweeps, inputs=(brief_input(brief, desk.path.name), *inputs))


# --------------------------------------------------------------------------------------------------------- plan


def run_plan(
    desk: Desk, *, who: str, time_limit_s: float | None = None, seed: int | None = None, keep: bool = False
) -> RunState:
    """Plan the job in the worker; what comes out is a new numbered plan.

    It is put in force unless something is ticked of the plan that is: nobody on the air is retuned unasked. With `keep`
    as many links as can be keep the carriers of the plan in force, once everything that can be is placed.
    """
    ground = ground_of(desk)
    before = plan_in_force(desk) if keep else None
    wishes = ground.job.wishes
    wishes = replace(
        wishes,
        seed=wishes.seed if seed is None else seed,
        time_limit_s=wishes.time_limit_s if time_limit_s is None else time_limit_s,
    )
    job = replace(ground.job, wishes=wishes)

    def keep_it(text: str) -> tuple[str, bool, int | None]:
        document = PlanDocument.model_validate_json(text)
        kept = keep_plan(desk, document, who=who, stands_on=ground.stands_on, what="Planned")
        words = _outcome(document, kept.number, in_force=kept.in_force)
        return words, document.run.stopped == "cancelled", kept.number

    work = Work(
        kind="plan",
        function=plan_in_worker,
        arguments=(job, ground.sweeps, ground.inputs, desk.context.now(), before and earlier_of(before)),
        limit_s=wishes.time_limit_s,
        stale=lambda: changed_for_plans(differences_since(desk.file, ground.stands_on, "entry", "sweep")),
        keep=keep_it,
    )
    return start_run(desk, work)


def earlier_of(plan: PlanNow) -> Earlier:
    """Return a plan of the job as one to start from, or to keep to, by the ids that its links have today."""
    return Earlier(
        carriers=plan.carriers(),
        without=frozenset(plan.without()),
        number=plan.number,
        called=f"Plan {plan.number} ({plan.row.check_phrase})",
        input=plan.input,
        warnings=(),
    )


def plan_in_worker(
    job: Job,
    sweeps: Sequence[Sweep],
    inputs: Sequence[Input],
    now: datetime,
    earlier: Earlier | None = None,
    *,
    progress: Tell,
    cancelled: Asked,
) -> str:
    """Return the plan of a job as the text of its document, keeping to an earlier one; runs in the worker."""
    context = Context(now=lambda: now, progress=progress, cancelled=cancelled)
    inputs = inputs if earlier is None else (*inputs, earlier.input)
    return plan_job(context, job, sweeps, inputs=inputs, earlier=earlier).document().model_dump_json(by_alias=True)


def _outcome(document: PlanDocument, number: int, *, in_force: bool) -> str:
    left = f"; {len(document.unplaced)} found no carrier" if document.unplaced else ""
    what = f"Plan {number}: {len(document.links)} links placed{left}."
    if (kept := plan_of(document).kept) is not None:
        what = f"{what} {kept_words(kept)}"
    return (
        what if in_force else f"{what} Links are set by the plan in force, so it stays; put this one in force yourself."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A plan that was kept: its number, whether it is in force now, and the change that did it."""

    number: int
    in_force: bool
    changed: Changed


def keep_plan(
    desk: Desk,
    document: PlanDocument,
    *,
    who: str,
    stands_on: int,
    what: str,
    force: bool = False,
    others: Sequence[Mapping[str, Any]] = (),
    also: Callable[[Draft], None] | None = None,
    client_key: str | None = None,
) -> Kept:
    """Keep a plan under the next number, and put it in force.

    Without `force` the plan in force stays where anything is ticked of its links. `others` are tables of transmitters
    that the plan has taken account of already and the brief does not list yet: they are written into it. `also` is done
    in the same change.
    """
    with desk.lock:
        in_force = force or not _is_ticked(desk)

        def make(draft: Draft) -> None:
            number, data = plan_kept(document, draft.next_plan)
            base = _with_others(desk, draft, others, stands_on)
            draft.add_plan(data, check_phrase=document.check_phrase, stands_on=base)
            if in_force:
                put_in_force(desk, draft, number, _tuned(desk, document, stands_on))
            if also is not None:
                also(draft)
            draft.say(f"{what}: plan {number}")

        changed = desk.change(make, who=who, client_key=client_key)
        return Kept(number=number_made(desk, changed), in_force=in_force, changed=changed)


def _with_others(desk: Desk, draft: Draft, others: Sequence[Mapping[str, Any]], stands_on: int) -> int:
    """Write transmitters into the brief, and return the event that a plan stands on which knew of them already.

    Where the brief is another one since in any way, that is still the event it was made on.
    """
    unchanged = desk.file.seq_of("entry", "sweep") == stands_on
    for other in others:
        table = readable("other", other, uid=None, file=desk.path.name)
        write_row(draft, "other", table, after=None)
    return desk.file.seq_of("entry", "sweep") if unchanged else stands_on


def number_made(desk: Desk, changed: Changed) -> int:
    """Return the number of the plan that a change made."""
    uids = {uid for noun, uid in changed.touched if noun == "plan"}
    return next(row.number for row in desk.file.plans() if row.uid in uids)


def _tuned(desk: Desk, document: PlanDocument, stands_on: int) -> dict[str, tuple[int, str]]:
    differences = differences_since(desk.file, stands_on, "entry")
    return tuned_by(document, ids_at(desk.brief().entries, differences))


def _is_ticked(desk: Desk) -> bool:
    """Whether anything is ticked of links under the plan in force."""
    plan = plan_in_force(desk)
    return plan is not None and any(
        item.about is not None and item.plan_number is not None for item in desk.file.statements()
    )

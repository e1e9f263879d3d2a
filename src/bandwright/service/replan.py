"""Replan: check a plan as things are now, then move as few links as possible."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.planning.assess import assess_plan, taken_tv
from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import Compiled, compile_job
from bandwright.core.planning.change import Change, change_between, mobility_of, with_blocked, with_lost
from bandwright.core.planning.own_air import own_carriers_unknown, without_own
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.core.sweep_age import age_warnings
from bandwright.core.words import and_list
from bandwright.documents.faults import list_text
from bandwright.documents.outputs import Input, ReplanDocument, Run, replan_document
from bandwright.engines.prepare import prepare_kernels, prepare_repair
from bandwright.engines.replan import Repaired, replan
from bandwright.engines.solve import Outcome
from bandwright.errors import Cancelled
from bandwright.service import plan_levels as levels
from bandwright.service.context import PREPARING, Context, Progress
from bandwright.service.earlier import Earlier, load_earlier
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.names import named
from bandwright.service.planned import Planned, minute_at
from bandwright.service.sheets import next_number, write_sheets
from bandwright.sheets.replan_text import replan_text

__all__ = ["Replanned", "mend", "new_to_the_plan", "replan_brief"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Replanned:
    """The change from the plan before, and the plan it leads to."""

    change: Change
    planned: Planned
    warnings: tuple[Warn, ...]
    before: str
    looked_at: tuple[str, ...]

    @property
    def exit_code(self) -> int:
        """130 when stopped by hand, 1 when something has no carrier or breaks a rule where it has to stay, else 0."""
        code = self.planned.exit_code
        return 1 if self.change.stuck and code != Cancelled.exit_code else code

    def text(self, *, columns: int = 100) -> str:
        """Return verdict and steps for a terminal."""
        return replan_text(
            self.change,
            self.planned.plan,
            before=self.before,
            looked_at=self.looked_at,
            sweeps=self.planned.facts().sweep,
            warnings=self.warnings,
            columns=columns,
        )

    def document(self) -> ReplanDocument:
        """Return the change as the JSON document."""
        plan = self.planned.document()
        run = Run(seed=plan.run.seed, stopped=plan.run.stopped, seconds=plan.run.seconds)
        return replan_document(self.change, plan, inputs=self.planned.inputs, run=run, warnings=self.warnings)


def replan_brief(
    context: Context,
    brief: Path,
    plan: Path,
    sweep_paths: Sequence[Path] = (),
    *,
    lost: Sequence[str] = (),
    own_transmitters: str = "unknown",
    off_air: bool = False,
    time_limit_s: float | None = None,
    out: Path | None = None,
    names: str = "full",
    paper: str = "a4",
) -> Replanned:
    """Check a plan against brief, sweeps and lost carriers as they are now, and move as few links as possible.

    Parameters
    ----------
    plan
        A plan.json, its folder, or a list of carriers.
    lost
        Links on whose carriers interference was heard: they cannot be used where they stand.
    off_air
        Whether nobody is on the air yet, so that in-ears are in nobody's ears.
    out
        Where to write the new plan and its sheets, all or nothing.
    """
    brought = load_brief(context, brief)
    earlier = load_earlier(plan, brought)
    lost_hz = {name: named(name, earlier.carriers, what="link", file=str(plan)) for name in lost}
    job = with_lost(_limited(brought.job, time_limit_s), lost_hz)
    sweeps, sweep_inputs = load_sweeps(context, brought.sweeps_or(sweep_paths), job, own_transmitters=own_transmitters)
    change, planned = mend(context, job, earlier, sweeps, lost_hz=lost_hz, off_air=off_air)
    inputs = (*brought.inputs, earlier.input, *sweep_inputs)
    planned = replace(planned, inputs=inputs, notes=brought.notes)
    if out is not None:
        number = max(planned.plan.number, next_number(out, job.title))
        planned = replace(planned, plan=replace(planned.plan, number=number))
        planned = write_sheets(context, planned, out, names=names, paper=paper)
    return Replanned(
        change=change,
        planned=planned,
        warnings=(*earlier.warnings, *new_to_the_plan(job, earlier)),
        before=earlier.called,
        looked_at=_looked_at(sweep_inputs, lost),
    )


def mend(
    context: Context,
    job: Job,
    earlier: Earlier,
    sweeps: Sequence[Sweep],
    *,
    lost_hz: Mapping[str, int],
    off_air: bool,
) -> tuple[Change, Planned]:
    """Return the change and the plan it leads to; the plan stands on the sweeps without what our own links sent."""
    _prepare(context)
    levels.prepare(context, job)
    began = time.monotonic()
    heard = without_own(job, earlier.carriers, sweeps)
    compiled = compile_job(job, heard)
    carriers = {seat.id: earlier.carriers[seat.id] for seat in compiled.seats if seat.id in earlier.carriers}
    before = [carriers.get(seat.id, -1) for seat in compiled.seats]
    mobility = mobility_of(job, compiled.seats, carriers, context.now(), off_air=off_air)
    context.progress(Progress(text="looking for the fewest moves"))
    repaired = replan(
        compiled.problem,
        before=before,
        mobility=mobility,
        spare=[spare or seat.id in earlier.without for seat, spare in zip(compiled.seats, compiled.spare, strict=True)],
        time_limit_s=job.wishes.time_limit_s,
        cancelled=context.cancelled,
    )
    after, stopped, no_levels = _raised(context, compiled, before, repaired, began=began)
    change = change_between(
        compiled,
        before=before,
        after=after,
        mobility=mobility,
        stuck=repaired.stuck,
        proven=repaired.proven,
        broken=check_carriers(job, carriers, heard),
        lost=lost_hz,
    )
    taken = taken_tv(job, sweeps)
    made = minute_at(context, job)
    plan = assess_plan(
        compiled,
        after,
        heard,
        number=earlier.number + 1,
        warnings=(*_ended(repaired), *no_levels, *own_carriers_unknown(sweeps), *age_warnings(job, sweeps, made=made)),
        taken=taken,
    )
    planned = Planned(
        job=job,
        plan=with_blocked(levels.told_levels(compiled, plan, after), change.stuck),
        sweeps=tuple(sweeps),
        taken_tv=taken,
        inputs=(),
        made=made,
        stopped=stopped,
        seconds=round(time.monotonic() - began, 3),
    )
    return change, planned


def _raised(
    context: Context, compiled: Compiled, before: Sequence[int], repaired: Repaired, *, began: float
) -> tuple[tuple[int, ...], str, tuple[Warn, ...]]:
    """Return carriers that move no more links, of those that move the ones with better levels where the brief asks.

    Nothing is looked for while somebody breaks a rule and has to stay: a plan by levels keeps every rule.
    """
    after = repaired.carriers_hz
    if repaired.stuck and compiled.job.wishes.objective == "levels":
        ids = [compiled.seats[seat].id for seat in repaired.stuck]
        text = f"Carriers were not chosen by their levels: {and_list(ids)} cannot move and {_breaks(len(ids))} a rule."
        return after, repaired.stopped, (Warn(code="levels-not-raised", text=text, where=list_text(ids)),)
    found = Outcome(
        carriers_hz=after,
        stopped=repaired.stopped,
        moves=0,
        margin=1.0,
        upper_bound=len(after),
        method="the fewest moves",
    )
    raised, warnings = levels.raised(
        context,
        compiled,
        found,
        stays=[seat for seat, hz in enumerate(after) if hz >= 0 and hz == before[seat]],
        time_limit_s=levels.time_left_s(compiled.job, began),
    )
    by_hand = raised.stopped == "cancelled"
    return raised.carriers_hz, raised.stopped if by_hand else repaired.stopped, warnings


def _breaks(count: int) -> str:
    return "breaks" if count == 1 else "break"


def _limited(job: Job, time_limit_s: float | None) -> Job:
    if time_limit_s is None:
        return job
    return replace(job, wishes=replace(job.wishes, time_limit_s=time_limit_s))


def _prepare(context: Context) -> None:
    prepare_kernels(lambda: context.progress(PREPARING))
    prepare_repair(lambda: context.progress(PREPARING))


def new_to_the_plan(job: Job, earlier: Earlier) -> tuple[Warn, ...]:
    """Say how links are treated that have no carrier yet: nobody moves for one that had none before."""
    missing = [link.id for link in job.links if link.id not in earlier.carriers]
    waiting = [link_id for link_id in missing if link_id in earlier.without]
    fresh = [link_id for link_id in missing if link_id not in earlier.without]
    warnings = []
    if fresh:
        text = f"The plan has no carrier for {and_list(fresh)}; each is placed like a new link."
        warnings.append(Warn(code="not-in-plan", text=text, where=list_text(fresh)))
    if waiting:
        text = f"The plan had no carrier for {and_list(waiting)}; nobody moves for a link that was not on the air."
        warnings.append(Warn(code="unplaced-before", text=text, where=list_text(waiting)))
    return tuple(warnings)


def _looked_at(sweeps: Sequence[Input], lost: Sequence[str]) -> tuple[str, ...]:
    heard = f"interference heard on {and_list(lost)}" if lost else None
    return tuple(part for part in ("the brief", *(item.name for item in sweeps), heard) if part)


_EARLY = {
    "time": "The time limit ended the search; given more time it may find fewer moves.",
    "cancelled": "The search was stopped by hand; this is the best it had found by then.",
    "effort": "The search met its limit before it had tried everything; there may be fewer moves.",
}


def _ended(repaired: Repaired) -> tuple[Warn, ...]:
    """Say that fewer moves are not ruled out, and why."""
    if repaired.proven or repaired.stopped not in _EARLY:
        return ()
    return (Warn(code=f"ended-by-{repaired.stopped}", text=_EARLY[repaired.stopped]),)

"""Plan a job: from a brief and sweeps to carriers with evidence."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.planning.assess import assess_plan, taken_tv
from bandwright.core.planning.build import Compiled, compile_job
from bandwright.core.planning.interchange import first_in_order
from bandwright.core.planning.kept import with_kept
from bandwright.core.planning.own_air import own_carriers_unknown, without_own
from bandwright.core.planning.plan import Bound, BoundStatus, Warn
from bandwright.core.sweep import Sweep
from bandwright.core.sweep_age import age_warnings
from bandwright.core.words import and_list
from bandwright.documents.outputs import Input
from bandwright.engines.conflict import until
from bandwright.engines.keeping import Kept, solve_keeping
from bandwright.engines.prepare import prepare_kernels, prepare_repair
from bandwright.engines.solve import Outcome, Step
from bandwright.service import plan_levels as levels
from bandwright.service.conflict import look_into_shortfall
from bandwright.service.context import PREPARING, Context, Progress
from bandwright.service.earlier import Earlier, load_earlier
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.planned import Planned, minute_at

__all__ = ["plan_brief", "plan_job"]


def plan_brief(
    context: Context,
    brief: Path,
    sweep_paths: Sequence[Path] = (),
    *,
    own_transmitters: str = "unknown",
    time_limit_s: float | None = None,
    seed: int | None = None,
    number: int = 1,
    keep: Path | None = None,
) -> Planned:
    """Plan the job of a brief; `time_limit_s` and `seed` override what the brief says.

    `keep` is an earlier plan (a plan.json, its folder, or a list of carriers), of which as much as can be is kept.
    """
    brought = load_brief(context, brief)
    earlier = None if keep is None else load_earlier(keep, brought)
    wishes = brought.job.wishes
    job = replace(
        brought.job,
        wishes=replace(
            wishes,
            seed=wishes.seed if seed is None else seed,
            time_limit_s=wishes.time_limit_s if time_limit_s is None else time_limit_s,
        ),
    )
    sweeps, sweep_inputs = load_sweeps(context, brought.sweeps_or(sweep_paths), job, own_transmitters=own_transmitters)
    own = () if earlier is None else (earlier.input,)
    inputs = (*brought.inputs, *own, *sweep_inputs)
    planned = plan_job(context, job, sweeps, inputs=inputs, number=number, earlier=earlier)
    return replace(planned, notes=brought.notes)


def plan_job(
    context: Context,
    job: Job,
    sweeps: Sequence[Sweep],
    *,
    inputs: Sequence[Input] = (),
    number: int = 1,
    earlier: Earlier | None = None,
) -> Planned:
    """Plan a job that is already read, keeping to an earlier plan where there is one.

    What its links send in a sweep made with own transmitters on closes no carrier.
    """
    prepare_kernels(lambda: context.progress(PREPARING))
    if earlier is not None:
        prepare_repair(lambda: context.progress(PREPARING))
    levels.prepare(context, job)
    began = time.monotonic()
    heard = sweeps if earlier is None else without_own(job, earlier.carriers, sweeps)
    compiled = compile_job(job, heard)
    kept = _solve(context, compiled, earlier=earlier, cancelled=context.cancelled)
    outcome = kept.outcome
    shortfall = look_into_shortfall(context, compiled, heard, outcome)
    outcome = _in_order(compiled, replace(outcome, carriers_hz=shortfall.carriers_hz), earlier)
    before = _before(compiled, earlier)
    outcome, no_levels = levels.raised(
        context,
        compiled,
        outcome,
        stays=[seat for seat, hz in before.items() if outcome.carriers_hz[seat] == hz],
        time_limit_s=levels.time_left_s(job, began),
    )
    made = minute_at(context, job)
    warnings = (
        *no_levels,
        *_cost_of_unknown_levels(context, job, heard, outcome),
        *(own_carriers_unknown(sweeps) if earlier is not None else ()),
        *age_warnings(job, sweeps, made=made),
    )
    taken = taken_tv(job, sweeps)
    plan = assess_plan(
        compiled,
        outcome.carriers_hz,
        heard,
        number=number if earlier is None else max(number, earlier.number + 1),
        warnings=warnings,
        taken=taken,
        ceiling=shortfall.ceiling,
        conflicts=shortfall.conflicts,
    )
    plan = levels.told_levels(compiled, plan, outcome.carriers_hz)
    told = () if earlier is None else earlier.warnings
    plan = replace(plan, warnings=(*told, *_ended_early(outcome, plan.bound), *plan.warnings))
    if earlier is not None:
        most = kept.most and outcome.carriers_hz == kept.outcome.carriers_hz
        plan = with_kept(plan, earlier.carriers, of=earlier.called, most=most)
    return Planned(
        job=job,
        plan=plan,
        sweeps=tuple(sweeps),
        taken_tv=taken,
        inputs=tuple(inputs),
        made=made,
        stopped=outcome.stopped,
        seconds=round(time.monotonic() - began, 3),
    )


def _solve(
    context: Context,
    compiled: Compiled,
    *,
    cancelled: Callable[[], bool],
    earlier: Earlier | None = None,
    polish: bool = True,
) -> Kept:
    def tell(step: Step) -> None:
        context.progress(
            Progress(
                text=f"{step.doing}: {step.placed} of {step.wanted} placed",
                done=step.placed / step.wanted if step.wanted else 1.0,
                placed=step.placed,
                wanted=step.wanted,
                bound=step.upper_bound,
                elapsed_s=step.seconds,
            )
        )

    wishes = compiled.job.wishes
    kept = solve_keeping(
        compiled.problem,
        _before(compiled, earlier),
        seed=wishes.seed,
        time_limit_s=wishes.time_limit_s,
        polish=polish,
        cancelled=cancelled,
        progress=tell,
    )
    return replace(kept, outcome=_in_order(compiled, kept.outcome, earlier))


def _before(compiled: Compiled, earlier: Earlier | None) -> dict[int, int]:
    """Return the carriers of the earlier plan by seat."""
    before = {} if earlier is None else earlier.carriers
    return {index: before[seat.id] for index, seat in enumerate(compiled.seats) if seat.id in before}


def _in_order(compiled: Compiled, outcome: Outcome, earlier: Earlier | None) -> Outcome:
    """Return the outcome with the last of alike links going without, but for those that keep their carriers."""
    staying = {seat for seat, hz in _before(compiled, earlier).items() if outcome.carriers_hz[seat] == hz}
    return replace(outcome, carriers_hz=first_in_order(compiled.problem, outcome.carriers_hz, staying=staying))


_EARLY = {
    "time": "The time limit ended the search; given more time it may place more {what}.",
    "cancelled": "The search was stopped by hand; this is the best it had found by then.",
}


def _ended_early(outcome: Outcome, bound: Bound) -> tuple[Warn, ...]:
    """Say that the search was cut short, where that may have cost a link or a spare carrier its place."""
    if outcome.stopped not in _EARLY or outcome.placed == len(outcome.carriers_hz):
        return ()
    what = "spare carriers" if bound.status is BoundStatus.PROVEN else "links"
    return (Warn(code=f"ended-by-{outcome.stopped}", text=_EARLY[outcome.stopped].format(what=what)),)


def _cost_of_unknown_levels(context: Context, job: Job, sweeps: Sequence[Sweep], outcome: Outcome) -> tuple[Warn, ...]:
    """Say how many links it costs that other users of unknown level are taken to make products."""
    unknown = [other.id for other in job.others if other.level_dbm is None and other.makes_products == "auto"]
    if not unknown:
        return ()
    whose = ("level", "is", "its") if len(unknown) == 1 else ("levels", "are", "their")
    assumed = f"The {whose[0]} of {and_list(unknown)} {whose[1]} not known, so {whose[2]} products count in full"
    if outcome.placed == len(outcome.carriers_hz):
        return (Warn(code="unknown-level", text=f"{assumed}; {_COST_NOTHING}."),)
    if outcome.stopped in _EARLY or context.cancelled():
        text = f"{assumed}; what that costs was not counted, since the search was cut short."
        return (Warn(code="unknown-level", text=text),)
    eased = compile_job(job, sweeps, others_make_products=False)
    ended = until(job.wishes.time_limit_s, context.cancelled)
    without = _solve(context, eased, cancelled=ended, polish=False).outcome
    return (Warn(code="unknown-level", text=f"{assumed}; {_price(outcome, without)}."),)


_COST_NOTHING = "it cost no link its place"


def _price(outcome: Outcome, without: Outcome) -> str:
    """Return what an assumption cost, from what is placed without it: a search that was cut short proves no more."""
    cost = max(0, without.placed - outcome.placed)
    certain = without.stopped not in _EARLY
    if cost:
        return f"without that, {'' if certain else 'at least '}{cost} more would have been placed"
    return _COST_NOTHING if certain else "a short search placed no more without that"

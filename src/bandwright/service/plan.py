"""Plan a job: from a brief and sweeps to carriers with evidence."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from bandwright.core.job import Job
from bandwright.core.planning.assess import assess_plan, taken_tv
from bandwright.core.planning.build import Compiled, compile_job
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.documents.outputs import Input
from bandwright.engines.prepare import prepare_kernels
from bandwright.engines.solve import Outcome, Step, solve
from bandwright.kernels.jit import kernels_are_prepared
from bandwright.service.context import Context, Progress
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.planned import Planned

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
) -> Planned:
    """Plan the job of a brief; `time_limit_s` and `seed` override what the brief says."""
    brought = load_brief(context, brief)
    wishes = brought.job.wishes
    job = replace(
        brought.job,
        wishes=replace(
            wishes,
            seed=wishes.seed if seed is None else seed,
            time_limit_s=wishes.time_limit_s if time_limit_s is None else time_limit_s,
        ),
    )
    sweeps, sweep_inputs = load_sweeps(context, sweep_paths, job, own_transmitters=own_transmitters)
    return plan_job(context, job, sweeps, inputs=(*brought.inputs, *sweep_inputs), number=number)


def plan_job(
    context: Context, job: Job, sweeps: Sequence[Sweep], *, inputs: Sequence[Input] = (), number: int = 1
) -> Planned:
    """Plan a job that is already read."""
    if not kernels_are_prepared():
        context.progress(Progress(text="preparing the kernels: once on this machine, about half a minute"))
    prepare_kernels()
    began = time.monotonic()
    compiled = compile_job(job, sweeps)
    outcome = _solve(context, compiled)
    warnings = (*_ended_early(outcome), *_cost_of_unknown_levels(context, job, sweeps, outcome))
    taken = taken_tv(job, sweeps)
    plan = assess_plan(compiled, outcome.carriers_hz, sweeps, number=number, warnings=warnings, taken=taken)
    return Planned(
        job=job,
        plan=plan,
        sweeps=tuple(sweeps),
        taken_tv=taken,
        inputs=tuple(inputs),
        made=_minute(context, job),
        stopped=outcome.stopped,
        seconds=round(time.monotonic() - began, 3),
    )


def _solve(context: Context, compiled: Compiled, *, polish: bool = True) -> Outcome:
    def tell(step: Step) -> None:
        share = step.placed / step.wanted if step.wanted else 1.0
        context.progress(Progress(text=f"{step.doing}: {step.placed} of {step.wanted} placed,", done=share))

    wishes = compiled.job.wishes
    return solve(
        compiled.problem,
        seed=wishes.seed,
        time_limit_s=wishes.time_limit_s,
        polish=polish,
        cancelled=context.cancelled,
        progress=tell,
    )


_EARLY = {
    "time": "The time limit ended the search; given more time it may place more links.",
    "cancelled": "The search was stopped by hand; this is the best it had found by then.",
}


def _ended_early(outcome: Outcome) -> tuple[Warn, ...]:
    """Say that the search was cut short, where that may have cost a link its place."""
    if outcome.stopped not in _EARLY or outcome.placed == len(outcome.carriers_hz):
        return ()
    return (Warn(code=f"ended-by-{outcome.stopped}", text=_EARLY[outcome.stopped]),)


def _cost_of_unknown_levels(context: Context, job: Job, sweeps: Sequence[Sweep], outcome: Outcome) -> tuple[Warn, ...]:
    """Say how many links it costs that other users of unknown level are taken to make products."""
    unknown = [other.id for other in job.others if other.level_dbm is None and other.makes_products == "auto"]
    if not unknown:
        return ()
    assumed = f"The level of {', '.join(unknown)} is not known, so their products count in full"
    cost = 0
    if outcome.stopped in _EARLY and outcome.placed < len(outcome.carriers_hz):
        text = f"{assumed}; what that costs was not counted, since the search was cut short."
        return (Warn(code="unknown-level", text=text),)
    if outcome.placed < len(outcome.carriers_hz) and not context.cancelled():
        without = _solve(context, compile_job(job, sweeps, others_make_products=False), polish=False)
        cost = max(0, without.placed - outcome.placed)
    price = f"without that, {cost} more would have been placed" if cost else "it cost no link its place"
    return (Warn(code="unknown-level", text=f"{assumed}; {price}."),)


def _minute(context: Context, job: Job) -> datetime:
    zone = ZoneInfo(job.places[0].timezone)
    return context.now().astimezone(zone).replace(second=0, microsecond=0)

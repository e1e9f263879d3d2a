"""Plan a job: from a brief and sweeps to carriers with evidence, and the folder of sheets."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from bandwright.core.drawing import Drawing
from bandwright.core.job import Job
from bandwright.core.picture import carriers_of, sweep_picture
from bandwright.core.picture_trace import trace_of
from bandwright.core.planning.assess import assess_plan
from bandwright.core.planning.build import Compiled, compile_job
from bandwright.core.planning.plan import Plan, Warn
from bandwright.core.sheet import SheetFacts, build_sheet
from bandwright.core.sweep import Sweep
from bandwright.documents.carriers import carriers_csv
from bandwright.documents.outputs import Input, PlanDocument, Run, plan_document, read_plan
from bandwright.engines.prepare import prepare_kernels
from bandwright.engines.solve import Outcome, Step, solve
from bandwright.errors import InputError
from bandwright.kernels.jit import kernels_are_prepared
from bandwright.service.context import Context, Progress
from bandwright.service.inputs import load_brief, load_sweeps, read_text
from bandwright.service.output import recover, write_folder
from bandwright.sheets.html import onepage_html
from bandwright.sheets.onepage import onepage_pdf
from bandwright.sheets.svg import svg
from bandwright.sheets.text import plan_text

__all__ = ["FILES", "Planned", "plan_brief", "plan_job", "write_sheets"]

# What `--out` writes; plan.json changes last.
FILES = ("carriers.csv", "sheet.pdf", "sheet.html", "sweep.svg", "plan.json")


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A plan with the job, sweeps and inputs it stands on, and how the search ended."""

    job: Job
    plan: Plan
    sweeps: tuple[Sweep, ...]
    inputs: tuple[Input, ...]
    made: datetime
    stopped: str
    seconds: float

    @property
    def satisfied(self) -> bool:
        """Whether every link and spare carrier has a place."""
        return not self.plan.unplaced

    def facts(self) -> SheetFacts:
        """Return what a sheet says beyond job and plan."""
        sweep = "; ".join(_sweep_words(sweep) for sweep in self.sweeps) or None
        return SheetFacts(made=self.made, sweep=sweep, hours=self.job.hours)

    def text(self, *, columns: int = 100, names: str = "full") -> str:
        """Return the plan for a terminal."""
        return plan_text(self.job, self.plan, self.facts(), columns=columns, names=names)

    def document(self) -> PlanDocument:
        """Return the plan as the JSON document."""
        run = Run(seed=self.job.wishes.seed, stopped=self.stopped, seconds=self.seconds)
        return plan_document(self.job, self.plan, inputs=self.inputs, made=self.made, run=run)


def plan_brief(
    context: Context,
    brief: Path,
    sweep_paths: Sequence[Path] = (),
    *,
    out: Path | None = None,
    names: str = "full",
    paper: str = "a4",
    own_transmitters: str = "unknown",
    time_limit_s: float | None = None,
    seed: int | None = None,
) -> Planned:
    """Plan the job of a brief; with `out`, write plan and sheets into that folder, all or nothing.

    `time_limit_s` and `seed` override what the brief says.
    """
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
    number = _next_number(out, job)
    planned = plan_job(context, job, sweeps, inputs=(*brought.inputs, *sweep_inputs), number=number)
    if out is None:
        return planned
    return write_sheets(context, planned, out, names=names, paper=paper)


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
    warnings = _cost_of_unknown_levels(context, job, sweeps, outcome)
    plan = assess_plan(compiled, outcome.carriers_hz, sweeps, number=number, warnings=warnings)
    return Planned(
        job=job,
        plan=plan,
        sweeps=tuple(sweeps),
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


def _cost_of_unknown_levels(context: Context, job: Job, sweeps: Sequence[Sweep], outcome: Outcome) -> tuple[Warn, ...]:
    """Say how many links it costs that other users of unknown level are taken to make products."""
    unknown = [other.id for other in job.others if other.level_dbm is None and other.makes_products == "auto"]
    if not unknown:
        return ()
    cost = 0
    if outcome.placed < len(outcome.carriers_hz) and not context.cancelled():
        without = _solve(context, compile_job(job, sweeps, others_make_products=False), polish=False)
        cost = max(0, without.placed - outcome.placed)
    price = f"without that, {cost} more would have been placed" if cost else "it cost no link its place"
    text = f"The level of {', '.join(unknown)} is not known, so their products count in full; {price}."
    return (Warn(code="unknown-level", text=text),)


def _minute(context: Context, job: Job) -> datetime:
    zone = ZoneInfo(job.places[0].timezone)
    return context.now().astimezone(zone).replace(second=0, microsecond=0)


def _next_number(out: Path | None, job: Job) -> int:
    """Return 1, or one more than the plan of the same job that already lies in the folder."""
    if out is None:
        return 1
    if out.is_dir():
        recover(out)
    before = out / "plan.json"
    if not before.is_file():
        return 1
    try:
        stored = read_plan(read_text(before, "plan"), file=str(before))
    except InputError:
        return 1
    return stored.number + 1 if stored.title == job.title else 1


def write_sheets(context: Context, planned: Planned, out: Path, *, names: str = "full", paper: str = "a4") -> Planned:
    """Write plan and sheets into a folder, all or nothing; returns the plan with what the sheets had to say."""
    context.progress(Progress(text="drawing the sheets"))
    facts = planned.facts()
    sheet = build_sheet(planned.job, planned.plan, facts, names=names)
    drawing = _drawing(planned, names) if planned.sweeps else None
    pdf = onepage_pdf(sheet, paper=paper, drawing=drawing)
    planned = replace(planned, plan=replace(planned.plan, warnings=(*planned.plan.warnings, *pdf.warnings)))
    files = {
        "carriers.csv": carriers_csv(planned.job, planned.plan).encode(),
        "sheet.pdf": pdf.data,
        "sheet.html": onepage_html(sheet, drawing=drawing).encode(),
        "plan.json": planned.document().model_dump_json(by_alias=True, indent=2).encode() + b"\n",
    }
    if drawing is not None:
        files["sweep.svg"] = svg(drawing).encode()
    write_folder(out, files, last="plan.json")
    return planned


def _drawing(planned: Planned, names: str) -> Drawing:
    place = planned.job.places[0]
    sweep = planned.sweeps[0]
    return sweep_picture(
        title=planned.job.title,
        subtitle=_sweep_words(sweep),
        trace=trace_of(sweep),
        permits=planned.job.permits,
        raster=place.raster,
        taken=planned.facts().taken_tv,
        closed=place.tv_closed,
        carriers=carriers_of(planned.job, planned.plan, named=names == "full"),
    )


def _sweep_words(sweep: Sweep) -> str:
    when = f"{sweep.started:%Y-%m-%d %H:%M}" if sweep.started else "time unknown"
    state = {"off": "own transmitters off", "on": "own transmitters on"}.get(
        sweep.own_transmitters, "state of own transmitters unknown"
    )
    return f"{sweep.name}, {when}, {state}"

"""A plan together with everything it stands on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from bandwright.core.job import Job
from bandwright.core.planning.plan import Plan
from bandwright.core.sheet import SheetFacts
from bandwright.core.sound.sheet_lines import sheet_lines
from bandwright.core.sweep import Sweep
from bandwright.core.sweep_age import age_words
from bandwright.core.words import one_line
from bandwright.documents.outputs import Input, PlanDocument, Run, plan_document
from bandwright.errors import Cancelled
from bandwright.reference import tables as reference
from bandwright.service.context import Context
from bandwright.sheets.terminal import wrapped
from bandwright.sheets.text import plan_text

__all__ = ["Planned", "minute_at", "sweep_words", "sweeps_text"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A plan with the job, sweeps and inputs it stands on, how the search ended, and what people noted in the job."""

    job: Job
    plan: Plan
    sweeps: tuple[Sweep, ...]
    inputs: tuple[Input, ...]
    taken_tv: Mapping[str, tuple[str, ...]]
    made: datetime
    stopped: str
    seconds: float
    notes: tuple[str, ...] = ()

    @property
    def satisfied(self) -> bool:
        """Whether every link and spare carrier has a place."""
        return not self.plan.unplaced

    @property
    def exit_code(self) -> int:
        """How a command ends that shows this plan: 130 when stopped by hand, 1 when something found no place."""
        if self.stopped == "cancelled":
            return Cancelled.exit_code
        return 0 if self.satisfied else 1

    def facts(self) -> SheetFacts:
        """Return what a sheet says beyond job and plan."""
        sweep = "; ".join(sweep_words(sweep, self.job, made=self.made) for sweep in self.sweeps) or None
        line_up = sheet_lines(self.job, reference.sound_tables())
        hours = self.job.hours
        return SheetFacts(
            made=self.made, sweep=sweep, hours=hours, taken_tv=self.taken_tv, line_up=line_up, notes=self.notes
        )

    def text(self, *, columns: int = 100, names: str = "full") -> str:
        """Return the plan for a terminal."""
        return plan_text(self.job, self.plan, self.facts(), columns=columns, names=names)

    def document(self) -> PlanDocument:
        """Return the plan as the JSON document."""
        run = Run(seed=self.job.wishes.seed, stopped=self.stopped, seconds=self.seconds)
        return plan_document(self.job, self.plan, inputs=self.inputs, made=self.made, run=run, sweeps=self.sweeps)


def minute_at(context: Context, job: Job) -> datetime:
    """Return the minute it is now at the first place of a job."""
    zone = ZoneInfo(job.places[0].timezone)
    return context.now().astimezone(zone).replace(second=0, microsecond=0)


def sweeps_text(sweeps: Sequence[Sweep], job: Job, *, now: datetime, columns: int) -> str:
    """Return the sweeps that counted, each with its age as of now, for a terminal of so many columns."""
    told = "; ".join(sweep_words(sweep, job, made=now, ago=True) for sweep in sweeps)
    return "".join(f"{line}\n" for line in wrapped(one_line(told), columns, first="Sweep: ")) if told else ""


def sweep_words(sweep: Sweep, job: Job, *, made: datetime, ago: bool = False) -> str:
    """Return a sweep's name, place (where the job has several), time, age and state of the own transmitters."""
    age = age_words(sweep, job, made=made, ago=ago)
    when = f"{sweep.started:%Y-%m-%d %H:%M}" if sweep.started else "time unknown"
    when = f"{when} ({age})" if age else when
    state = {"off": "own transmitters off", "on": "own transmitters on"}.get(
        sweep.own_transmitters, "state of own transmitters unknown"
    )
    names = {place.id: f"at {place.name}, " for place in job.places}
    where = names.get(sweep.place or "", "at a place that nobody stated, ") if len(names) > 1 else ""
    return f"{sweep.name}, {where}{when}, {state}"

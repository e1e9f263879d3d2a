"""A plan together with everything it stands on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bandwright.core.job import Job
from bandwright.core.planning.plan import Plan
from bandwright.core.sheet import SheetFacts
from bandwright.core.sweep import Sweep
from bandwright.documents.outputs import Input, PlanDocument, Run, plan_document
from bandwright.errors import Cancelled
from bandwright.sheets.text import plan_text

__all__ = ["Planned", "sweep_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A plan with the job, sweeps and inputs it stands on, and how the search ended."""

    job: Job
    plan: Plan
    sweeps: tuple[Sweep, ...]
    inputs: tuple[Input, ...]
    taken_tv: tuple[str, ...]
    made: datetime
    stopped: str
    seconds: float

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
        sweep = "; ".join(sweep_words(sweep) for sweep in self.sweeps) or None
        return SheetFacts(made=self.made, sweep=sweep, hours=self.job.hours, taken_tv=self.taken_tv)

    def text(self, *, columns: int = 100, names: str = "full") -> str:
        """Return the plan for a terminal."""
        return plan_text(self.job, self.plan, self.facts(), columns=columns, names=names)

    def document(self) -> PlanDocument:
        """Return the plan as the JSON document."""
        run = Run(seed=self.job.wishes.seed, stopped=self.stopped, seconds=self.seconds)
        return plan_document(self.job, self.plan, inputs=self.inputs, made=self.made, run=run)


def sweep_words(sweep: Sweep) -> str:
    """Return a sweep's name, time and state of the own transmitters."""
    when = f"{sweep.started:%Y-%m-%d %H:%M}" if sweep.started else "time unknown"
    state = {"off": "own transmitters off", "on": "own transmitters on"}.get(
        sweep.own_transmitters, "state of own transmitters unknown"
    )
    return f"{sweep.name}, {when}, {state}"

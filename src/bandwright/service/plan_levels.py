"""Levels of a plan: carrier to interference of each link, and the search that raises the worst."""

from __future__ import annotations

import time
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from bandwright.core.job import Job
from bandwright.core.planning.build import Compiled
from bandwright.core.planning.plan import CarrierToInterference, Plan, Warn
from bandwright.core.reach.plan_levels import levels_wanted
from bandwright.core.reach.stage import stage_of
from bandwright.engines.levels import adverse_levels, leveled_plan, raise_worst, ratios_on
from bandwright.engines.prepare import prepare_levels
from bandwright.engines.solve import Outcome, Step
from bandwright.reference import tables as reference
from bandwright.service.context import PREPARING, Context, Progress

__all__ = ["FEW_PICTURES", "levels_on", "prepare", "raised", "time_left_s", "told_levels"]

FEW_PICTURES = 1_000
"""Enough while somebody drags a carrier and waits."""

_LEAST_S = 1.0

_NOTHING_KNOWN = (
    "The plan is by kHz rules alone: for no two links is enough known to predict levels; state iip3_dbm and power_mw "
    "of radio types, and where links are."
)


def time_left_s(job: Job, began: float) -> float:
    """Return how long a search for levels may take after what came before it, by the monotonic clock."""
    return max(_LEAST_S, job.wishes.time_limit_s - (time.monotonic() - began))


def prepare(context: Context, job: Job) -> None:
    """Compile what levels need, before any clock runs."""
    if levels_wanted(job):
        prepare_levels(lambda: context.progress(PREPARING))


def told_levels(compiled: Compiled, plan: Plan, carriers_hz: Sequence[int], *, pictures: int = 10_000) -> Plan:
    """Return a plan with its levels, where the brief gives reason to predict any."""
    if not levels_wanted(compiled.job):
        return plan
    stage = stage_of(compiled.job, compiled.seats, tables=reference.reach_tables())
    return leveled_plan(compiled, plan, carriers_hz, stage, pictures=pictures)


def levels_on(
    context: Context, job: Job, carriers: Mapping[str, int], *, asked: Collection[str] | None = None
) -> dict[str, CarrierToInterference]:
    """Return carrier to interference of links on the carriers of a plan, by id; empty where none can be told.

    `asked` names the links that are asked for, by somebody who waits, so that fewer pictures are drawn; None: all.
    """
    if not carriers or not levels_wanted(job) or (asked is not None and not asked):
        return {}
    prepare(context, job)
    stage = stage_of(job, job.links, tables=reference.reach_tables())
    if asked is None:
        return ratios_on(job, stage, carriers)
    members = frozenset(number for number, link in enumerate(job.links) if link.id in asked)
    return ratios_on(job, replace(stage, asked=members), carriers, pictures=FEW_PICTURES)


def raised(
    context: Context, compiled: Compiled, outcome: Outcome, *, stays: Collection[int], time_limit_s: float
) -> tuple[Outcome, tuple[Warn, ...]]:
    """Return carriers with a higher worst carrier to interference where the brief asks for it, and what to tell.

    Those in `stays` keep their carriers.
    """
    if compiled.job.wishes.objective != "levels":
        return outcome, ()
    stage = stage_of(compiled.job, compiled.seats, tables=reference.reach_tables())
    known = sum(stage.known(member) for member in range(stage.wanted))
    if not known:
        return outcome, (Warn(code="no-levels", text=_NOTHING_KNOWN),)

    def tell(step: Step) -> None:
        context.progress(Progress(text=step.doing, placed=step.placed, wanted=step.wanted, elapsed_s=step.seconds))

    found = raise_worst(
        compiled.problem,
        adverse_levels(compiled, stage),
        outcome,
        stays=stays,
        seed=compiled.job.wishes.seed,
        time_limit_s=time_limit_s,
        cancelled=context.cancelled,
        progress=tell,
    )
    return found.outcome, ()

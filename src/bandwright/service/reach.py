"""Whether the signal will be there: each link at the farthest point of its area, through antenna and devices."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from bandwright.core.drawing import Drawing
from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.picture_area import area_pictures
from bandwright.core.planning.plan import CarrierToInterference, Warn
from bandwright.core.reach.advice import CAUTIONS, Advice, advice_on
from bandwright.core.reach.area_again import AreaMemory
from bandwright.core.reach.area_reach import AreaReach, with_distance
from bandwright.core.reach.link import LinkReach, State, link_reach
from bandwright.core.reach.standing import standings
from bandwright.core.reach.sweep_blockers import heard_others, unread_warnings
from bandwright.core.sheet_names import names_shown
from bandwright.core.sweep import Sweep
from bandwright.documents.outputs import Input, ReachDocument, reach_document
from bandwright.reference import tables as reference
from bandwright.service.context import Context
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.names import links_asked_for
from bandwright.service.plan_levels import levels_on
from bandwright.service.stored import load_plan
from bandwright.sheets.reach_text import reach_text

__all__ = ["EVERY_S", "NO_PLAN", "Reached", "judged", "reach_links"]


NO_PLAN = "no plan: carriers held, or the middle of what is permitted"
"""Whose carriers count where there is no plan."""

EVERY_S = 600.0
"""No more than one audible dropout in ten minutes of walking is wanted, where nobody says otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """How links stand, with the job and the inputs that it rests on; `carriers_from` says whose carriers count.

    `ratios` holds carrier to interference by link, where there is a plan and enough is known.
    """

    links: tuple[LinkReach, ...]
    area: AreaReach | None
    advice: Mapping[str, Sequence[Advice]]
    warnings: tuple[Warn, ...]
    inputs: tuple[Input, ...]
    job: Job
    carriers_from: str
    ratios: Mapping[str, CarrierToInterference]

    @property
    def exit_code(self) -> int:
        """How a command ends that shows this: 1 when a margin is short or cannot be told."""
        stand = standings(self.links, self.area)
        return 0 if all(one.state is State.ENOUGH for one in stand.values()) else 1

    def document(self) -> ReachDocument:
        """Return it as the JSON document."""
        return reach_document(
            self.links,
            self.advice,
            area=self.area,
            cautions=CAUTIONS,
            inputs=self.inputs,
            warnings=self.warnings,
            ratios=self.ratios,
        )

    def text(self, *, columns: int) -> str:
        """Return it for a terminal of so many columns."""
        notes = [warning.in_terminal for warning in self.warnings]
        return reach_text(
            self.links,
            self.advice,
            area=self.area,
            ratios=self.ratios,
            cautions=CAUTIONS,
            notes=notes,
            columns=columns,
        )

    def maps(self, *, names: str = "full") -> tuple[Drawing, ...]:
        """Return the maps of the plan, one for each kind of links; none without a plan. `names` is as for sheets."""
        if self.area is None:
            return ()
        return area_pictures(self.area, title=self.job.title, names=names_shown(self.job, names))


def reach_links(
    context: Context,
    brief: Path,
    *,
    link_ids: Sequence[str] = (),
    plan_path: Path | None = None,
    sweep_paths: Sequence[Path] = (),
    every_s: float,
) -> Reached:
    """Return how the links of a brief stand, or the named ones, on the carriers of a plan where one is given.

    Strong signals that calibrated sweeps show are held against what the runs bear.

    Raises
    ------
    InputError
        When the brief or the plan cannot be read, the brief has no links, or a link is unknown.
    """
    brought = load_brief(context, brief)
    job = brought.job
    links = links_asked_for(job, link_ids, file=str(brief))
    plan = load_plan(plan_path, brought) if plan_path is not None else None
    sweeps, sweep_inputs = load_sweeps(context, brought.sweeps_or(sweep_paths), job)
    found = judged(
        context,
        job,
        links,
        carriers=plan.plan.carriers if plan is not None else {},
        carriers_from=NO_PLAN if plan is None else f"Plan {plan.plan.number}, {plan.plan.check_phrase}",
        sweeps=sweeps,
        every_s=every_s,
    )
    inputs = (*brought.inputs, *((plan.input,) if plan is not None else ()), *sweep_inputs)
    return replace(found, inputs=inputs, warnings=(*(plan.warnings if plan is not None else ()), *found.warnings))


def judged(
    context: Context,
    job: Job,
    links: Sequence[Link],
    *,
    carriers: Mapping[str, int],
    carriers_from: str = NO_PLAN,
    sweeps: Sequence[Sweep] = (),
    every_s: float = EVERY_S,
    ratios_of: Collection[str] | None = None,
) -> Reached:
    """Return how links of a job stand on these carriers, with strong signals that these sweeps show.

    No more than one dropout in `every_s` of walking is wanted. `ratios_of` names the links whose carrier to
    interference is asked for, in fewer stage pictures, since somebody waits; None: all, in all pictures.
    """
    tables = reference.reach_tables()
    heard = replace(job, others=(*job.others, *heard_others(job, sweeps)))
    area = _memory().area_reach(job, links, carriers=carriers, every_s=every_s)
    found = tuple(
        link_reach(heard, with_distance(job, link), carriers=carriers, tables=tables, every_s=every_s) for link in links
    )
    return Reached(
        links=found,
        area=area,
        advice={item.link.id: advice_on(item) for item in found},
        warnings=tuple(unread_warnings(sweeps)),
        inputs=(),
        job=job,
        carriers_from=carriers_from,
        ratios=levels_on(context, job, carriers, asked=ratios_of),
    )


@cache
def _memory() -> AreaMemory:
    """Return the plans that this process judged last: an edit that moves nothing on them costs nothing."""
    return AreaMemory(reference.reach_tables())

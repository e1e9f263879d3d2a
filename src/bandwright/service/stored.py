"""A plan that was made before: read whole from its folder, and held against the brief it is used with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.planning.build import spare_links
from bandwright.core.planning.plan import Warn
from bandwright.core.words import and_list
from bandwright.documents.faults import list_text
from bandwright.documents.outputs import Input, StoredPlan, read_plan
from bandwright.errors import InputError
from bandwright.service.inputs import Brought, read_output

__all__ = ["PlanAtHand", "load_plan"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanAtHand:
    """A plan, the file it came from, and what speaks against using it with this brief."""

    plan: StoredPlan
    input: Input
    warnings: tuple[Warn, ...]


def load_plan(path: Path, brought: Brought) -> PlanAtHand:
    """Return the plan in a plan.json or its folder, warning of each way in which it is not the plan of this brief.

    Raises
    ------
    InputError
        When it is no plan, or the brief knows none of its links.
    """
    file = path / "plan.json" if path.is_dir() else path
    output = read_output(file, "plan")
    plan = read_plan(output.text, file=str(file))
    job = brought.job
    known = {link.id for link in (*job.links, *spare_links(job))}
    strange = [name for name in plan.carriers if name not in known]
    if plan.links and known.isdisjoint(plan.links):
        text = f'this is a plan of "{plan.title}", and the brief knows none of its links ({list_text(plan.links)}).'
        hint = f'Name a plan that was made from this brief, "{job.title}".'
        raise InputError.single("other-job", text, file=str(file), given=plan.title, allowed=job.title, hint=hint)
    warnings = _warnings(plan, job, brought, strange)
    return PlanAtHand(plan=plan, input=output.input, warnings=(*output.warnings, *warnings))


def _warnings(plan: StoredPlan, job: Job, brought: Brought, strange: list[str]) -> Iterator[Warn]:
    named = f"Plan {plan.number} ({plan.check_phrase})"
    if plan.title != job.title:
        text = f'{named} was made for "{plan.title}", and this brief is of "{job.title}".'
        yield Warn(code="plan-of-another-job", text=text, where=plan.title)
    elif plan.inputs and not any(item.sha256 in plan.inputs for item in brought.inputs):
        text = f"{named} was made from another version of this brief; plan again to know that it still holds."
        yield Warn(code="brief-changed", text=text)
    if strange:
        text = f"{named} has carriers that this brief does not know, and they do not count here: {and_list(strange)}."
        yield Warn(code="plan-links-unknown", text=text, where=list_text(strange))

"""What may be heard on a link or a frequency, and which packs to lower to find out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.planning.plan import Warn
from bandwright.core.reach.facts import power_mw_of
from bandwright.core.reach.suspect_levels import suspect_levels
from bandwright.core.reach.suspect_noise import under_noise
from bandwright.core.reach.switch_off import Suspicion, suspicion
from bandwright.documents.outputs import Input, SuspectDocument, suspect_document
from bandwright.errors import InputError
from bandwright.reference import tables as reference
from bandwright.service.context import Context
from bandwright.service.inputs import load_brief
from bandwright.service.names import named
from bandwright.service.stored import load_plan
from bandwright.service.why import carrier_of
from bandwright.sheets.suspect_text import suspect_text

__all__ = ["Suspected", "suspect", "suspected"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspected:
    """A suspicion, the link that hears it where one was named, and the files it stands on."""

    suspicion: Suspicion
    link: str | None
    inputs: tuple[Input, ...]
    warnings: tuple[Warn, ...]

    @property
    def exit_code(self) -> int:
        """How a command ends that shows this: 1 when a product is suspected."""
        return 1 if self.suspicion.suspects else 0

    def document(self) -> SuspectDocument:
        """Return it as the JSON document."""
        return suspect_document(self.suspicion, link=self.link, inputs=self.inputs, warnings=self.warnings)

    def text(self, *, columns: int) -> str:
        """Return it for a terminal of so many columns."""
        return suspect_text(self.suspicion, link=self.link, warnings=self.warnings, columns=columns)


def suspect(context: Context, brief: Path, heard: str, *, plan_path: Path) -> Suspected:
    """Return which products may be heard on a link, or at a frequency in MHz, on the carriers of a plan.

    Raises
    ------
    InputError
        When the brief or the plan cannot be read, or `heard` is no link of the plan and no frequency.
    """
    brought = load_brief(context, brief)
    plan = load_plan(plan_path, brought)
    inputs = (*brought.inputs, plan.input)
    return suspected(brought.job, plan.plan.carriers, heard, file=str(brief), inputs=inputs, warnings=plan.warnings)


def suspected(
    job: Job,
    carriers: Mapping[str, int],
    heard: str,
    *,
    file: str,
    inputs: Sequence[Input] = (),
    warnings: Sequence[Warn] = (),
) -> Suspected:
    """Return which products may be heard on a link, or at a frequency in MHz, on these carriers."""
    link, at_hz = _heard(job, carriers, heard, file)
    powers = {one.id: power_mw_of(job, one, carriers[one.id]) for one in job.links if one.id in carriers}
    levels_of = partial(suspect_levels, job, carriers, link, tables=reference.reach_tables())
    found = suspicion(job, carriers, at_hz=at_hz, victim=link, powers_mw=powers, levels_of=levels_of)
    faint = [under_noise(one.radio, found.suspects) for one in job.links if one.id == link]
    told = (*warnings, *(warning for warning in faint if warning is not None))
    return Suspected(suspicion=found, link=link, inputs=tuple(inputs), warnings=told)


def _heard(job: Job, carriers: Mapping[str, int], heard: str, file: str) -> tuple[str | None, int]:
    """Return the link that is named and its carrier, or no link and the frequency."""
    links = {link.id: link for link in job.links}
    if heard in carriers:
        return heard, carriers[heard]
    if heard in links:
        text = f"link {heard} has no carrier in the plan."
        raise InputError.single("not-placed", text, file=file, key="heard", given=heard)
    if not any(character.isdigit() for character in heard) or heard[0].isalpha():
        named(heard, links, what="link", file=file)
    return None, carrier_of(heard)

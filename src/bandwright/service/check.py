"""Check a list of carriers against a brief and sweeps: a verdict on any plan, ours or not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.planning.assess import own_transmitters_unknown
from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import spare_links
from bandwright.core.planning.carriers import noise_of
from bandwright.core.planning.plan import NoiseState, Violation, Warn
from bandwright.core.sweep import Sweep
from bandwright.core.words import and_list
from bandwright.documents.carriers import read_carriers
from bandwright.documents.outputs import CheckDocument, Input, check_document
from bandwright.service.context import Context
from bandwright.service.inputs import input_of, load_brief, load_sweeps, read_text

__all__ = ["Checked", "check_list"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What is broken, out of how many carriers."""

    violations: tuple[Violation, ...]
    warnings: tuple[Warn, ...]
    inputs: tuple[Input, ...]
    carriers: int

    @property
    def ok(self) -> bool:
        """Whether nothing is broken."""
        return not self.violations

    def document(self) -> CheckDocument:
        """Return the verdict as the JSON document."""
        return check_document(self.violations, inputs=self.inputs, warnings=self.warnings)


def check_list(
    context: Context,
    brief: Path,
    carriers: Path,
    sweep_paths: Sequence[Path] = (),
    *,
    own_transmitters: str = "unknown",
) -> Checked:
    """Return every rule that the listed carriers break; links that are not listed do not count and are named."""
    brought = load_brief(context, brief)
    job = brought.job
    spares = spare_links(job)
    known = [link.id for link in (*job.links, *spares)]
    listed = read_carriers(read_text(carriers, "list of carriers"), file=str(carriers), known=known)
    sweeps, sweep_inputs = load_sweeps(context, sweep_paths, job, own_transmitters=own_transmitters)
    violations = check_carriers(job, listed, sweeps, more=spares)
    missing = [link.id for link in job.links if link.id not in listed]
    warnings = []
    if missing:
        text = f"{len(missing)} links of the brief are not in the list and were not checked: {', '.join(missing)}."
        warnings.append(Warn(code="not-listed", text=text))
    if not sweeps:
        warnings.append(Warn(code="no-sweep", text="No sweep was given: what is on the air was not looked at."))
    else:
        warnings.extend([*_not_measured(job, listed, sweeps), *own_transmitters_unknown(sweeps)])
    return Checked(
        violations=violations,
        warnings=tuple(warnings),
        inputs=(*brought.inputs, input_of(carriers), *sweep_inputs),
        carriers=len(listed),
    )


_UNKNOWN = {
    NoiseState.UNMEASURED: "No sweep measured the carrier of {ids}: what is on the air there is not known.",
    NoiseState.SHALLOW: "The sweeps are not deep enough on the carrier of {ids}: it may be less quiet than it looks.",
}


def _not_measured(job: Job, listed: Mapping[str, int], sweeps: Sequence[Sweep]) -> Iterator[Warn]:
    """Name the links and spare carriers of which the sweeps say nothing."""
    states = {
        link.id: noise_of(job, link, listed[link.id], sweeps).state
        for link in (*job.links, *spare_links(job))
        if link.id in listed
    }
    for state, text in _UNKNOWN.items():
        ids = [link_id for link_id, found in states.items() if found is state]
        if ids:
            yield Warn(code=_CODES[state], text=text.format(ids=and_list(ids)))


_CODES = {NoiseState.UNMEASURED: "unmeasured", NoiseState.SHALLOW: "not-deep-enough"}

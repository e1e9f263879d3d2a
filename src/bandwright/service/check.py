"""Check a list of carriers against a brief and sweeps: a verdict on any plan, ours or not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.planning.assess import assess_plan, own_transmitters_unknown, sweep_places_unknown
from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.bridges import bridge_warnings
from bandwright.core.planning.build import compile_job, spare_links
from bandwright.core.planning.earshot import isolation_warnings
from bandwright.core.planning.heard import floor_alone_warnings, noise_of
from bandwright.core.planning.plan import NoiseState, Plan, Violation, Warn
from bandwright.core.planning.sharing import sharing_notes
from bandwright.core.reach.plan_levels import levels_wanted
from bandwright.core.reach.receiver_facts import receiver_warnings
from bandwright.core.sweep import Sweep
from bandwright.core.sweep_age import age_warnings
from bandwright.core.words import and_list
from bandwright.documents.carriers import read_carriers
from bandwright.documents.outputs import CheckDocument, Input, check_document
from bandwright.service import plan_levels as levels
from bandwright.service.context import Context
from bandwright.service.inputs import load_brief, load_sweeps, read_output
from bandwright.service.planned import minute_at, sweeps_text
from bandwright.sheets.check_text import check_text

__all__ = ["Checked", "check_list"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What is broken, out of how many carriers; `leveled` tells each link's levels, None where none are predicted."""

    violations: tuple[Violation, ...]
    warnings: tuple[Warn, ...]
    inputs: tuple[Input, ...]
    carriers: int
    job: Job
    sweeps: tuple[Sweep, ...]
    made: datetime
    leveled: Plan | None = None

    @property
    def ok(self) -> bool:
        """Whether nothing is broken."""
        return not self.violations

    def document(self) -> CheckDocument:
        """Return the verdict as the JSON document."""
        return check_document(self.violations, inputs=self.inputs, warnings=self.warnings, leveled=self.leveled)

    def text(self, *, columns: int = 100) -> str:
        """Return the verdict for a terminal of so many columns."""
        links = () if self.leveled is None else self.leveled.links
        verdict = check_text(self.violations, self.warnings, links, carriers=self.carriers, columns=columns)
        return verdict + sweeps_text(self.sweeps, self.job, now=self.made, columns=columns)


def check_list(
    context: Context,
    brief: Path,
    carriers: Path,
    sweep_paths: Sequence[Path] = (),
    *,
    own_transmitters: str = "unknown",
) -> Checked:
    """Return every rule that the listed carriers break; links that are not listed do not count and are named.

    Where the brief gives reason to predict levels, each link's carrier to interference is told as a plan does.
    """
    brought = load_brief(context, brief)
    job = brought.job
    spares = spare_links(job)
    known = [link.id for link in (*job.links, *spares)]
    output = read_output(carriers, "list of carriers")
    listed = read_carriers(output.text, file=str(carriers), known=known)
    sweeps, sweep_inputs = load_sweeps(context, brought.sweeps_or(sweep_paths), job, own_transmitters=own_transmitters)
    made = minute_at(context, job)
    violations = check_carriers(job, listed, sweeps, more=spares)
    missing = [link.id for link in job.links if link.id not in listed]
    warnings = list(output.warnings)
    if missing:
        warnings.append(_not_listed(missing))
    warnings.extend(_shared(job, listed))
    if not sweeps:
        warnings.append(Warn(code="no-sweep", text="No sweep was given: what is on the air was not looked at."))
    else:
        warnings.extend(
            [*_not_measured(job, listed, sweeps), *own_transmitters_unknown(sweeps), *sweep_places_unknown(job, sweeps)]
        )
        warnings.extend(age_warnings(job, sweeps, made=made, ago=True))
        warnings.extend(floor_alone_warnings([link.radio for link in job.links if link.id in listed], sweeps))
    warnings.extend(isolation_warnings(job, [link for link in job.links if link.id in listed]))
    warnings.extend(bridge_warnings(job, listed))
    warnings.extend(receiver_warnings(job, listed))
    leveled = _leveled(context, job, listed, sweeps)
    warnings.extend(() if leveled is None else leveled.warnings)
    return Checked(
        violations=violations,
        warnings=tuple(warnings),
        inputs=(*brought.inputs, output.input, *sweep_inputs),
        carriers=len(listed),
        job=job,
        sweeps=sweeps,
        made=made,
        leveled=leveled,
    )


def _leveled(context: Context, job: Job, listed: Mapping[str, int], sweeps: Sequence[Sweep]) -> Plan | None:
    """Return the listed carriers as a plan with its levels, whose notes are about these alone; None without any."""
    if not levels_wanted(job):
        return None
    levels.prepare(context, job)
    compiled = compile_job(job, sweeps)
    carriers_hz = [listed.get(seat.id, -1) for seat in compiled.seats]
    plan = assess_plan(compiled, carriers_hz, sweeps)
    return levels.told_levels(compiled, replace(plan, warnings=()), carriers_hz)


def _not_listed(missing: Sequence[str]) -> Warn:
    """Say how many links are not in the list, by the first of them; `where` names all."""
    links = "link of the brief is" if len(missing) == 1 else "links of the brief are"
    were = "was" if len(missing) == 1 else "were"
    told = and_list(missing) if len(missing) <= _MOST_NAMED else f"{', '.join(missing[:5])} and {len(missing) - 5} more"
    text = f"{len(missing)} {links} not in the list and {were} not checked: {told}."
    return Warn(code="not-listed", text=text, where=", ".join(missing))


_MOST_NAMED = 8


def _shared(job: Job, listed: Mapping[str, int]) -> Iterator[Warn]:
    """Name, once each, the links that share or overlap a carrier and may."""
    told: set[str] = set()
    for link_id, notes in sharing_notes(job, listed).items():
        told.add(link_id)
        for note in notes:
            if not told.issuperset(note.sources):
                yield Warn(code=note.code, text=f"{link_id} {note.text}.", where=link_id)


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

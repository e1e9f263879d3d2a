"""Why a carrier may or may not be used by a link or a radio type."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.kit import Link, Worn
from bandwright.core.planning.assess import sweep_places_unknown
from bandwright.core.planning.build import spare_links
from bandwright.core.planning.explain import Explanation, explain
from bandwright.core.planning.heard import floor_alone_warnings
from bandwright.core.planning.plan import CarrierToInterference, Warn
from bandwright.core.reach.receiver_facts import receiver_warnings
from bandwright.core.sweep import Sweep
from bandwright.core.sweep_age import age_warnings
from bandwright.documents.faults import given_text, list_text
from bandwright.documents.frequency import MHZ_ALLOWED, read_mhz
from bandwright.documents.outputs import Input, WhyDocument, why_document
from bandwright.errors import InputError
from bandwright.service.context import Context
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.names import named
from bandwright.service.plan_levels import levels_on
from bandwright.service.planned import minute_at, sweeps_text
from bandwright.service.stored import load_plan
from bandwright.sheets.terminal import wrapped
from bandwright.sheets.why_text import why_text

__all__ = ["Explained", "carrier_of", "explain_carrier", "explained"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """The explanation, and the files it stands on; `ratio` is None where no levels can be predicted."""

    explanation: Explanation
    inputs: tuple[Input, ...]
    warnings: tuple[Warn, ...]
    job: Job
    sweeps: tuple[Sweep, ...]
    made: datetime
    ratio: CarrierToInterference | None = None

    def document(self) -> WhyDocument:
        """Return the explanation as the JSON document."""
        return why_document(self.explanation, inputs=self.inputs, warnings=self.warnings, ratio=self.ratio)

    def text(self, *, columns: int) -> str:
        """Return the explanation for a terminal of so many columns."""
        notes = "".join(f"{line}\n" for w in self.warnings for line in wrapped(w.in_terminal, columns, first="Note: "))
        about = sweeps_text(self.sweeps, self.job, now=self.made, columns=columns)
        return why_text(self.explanation, self.ratio, columns=columns) + (f"\n{about}{notes}" if about or notes else "")


def explain_carrier(
    context: Context,
    brief: Path,
    mhz: str,
    *,
    link_id: str | None = None,
    radio_id: str | None = None,
    plan: Path | None = None,
    sweep_paths: Sequence[Path] = (),
) -> Explained:
    """Return every rule that allows or stops a carrier for a link, or for any link of a radio type.

    Any link of a type is judged as a spare carrier is: at every place where links of that type work.
    """
    carrier_hz = carrier_of(mhz)
    brought = load_brief(context, brief)
    job = brought.job
    link = _subject(job, link_id, radio_id, str(brief))
    beside = load_plan(plan, brought) if plan is not None else None
    sweeps, sweep_inputs = load_sweeps(context, brought.sweeps_or(sweep_paths), job)
    files, about_plan = ((beside.input,), beside.warnings) if beside else ((), ())
    return explained(
        context,
        job,
        link,
        carrier_hz,
        sweeps,
        placed=beside.plan.carriers if beside else None,
        inputs=(*brought.inputs, *files, *sweep_inputs),
        warnings=about_plan,
    )


def explained(
    context: Context,
    job: Job,
    link: Link,
    carrier_hz: int,
    sweeps: Sequence[Sweep],
    *,
    placed: Mapping[str, int] | None,
    inputs: Sequence[Input],
    warnings: Sequence[Warn] = (),
) -> Explained:
    """Return every rule that allows or stops a carrier for a link, beside the carriers of a plan where there is one.

    Its carrier to interference there is told too, where levels can be predicted.
    """
    made = minute_at(context, job)
    with_it, carriers = _with(job, link, carrier_hz, placed or {})
    return Explained(
        explanation=explain(job, link, carrier_hz, sweeps, placed=placed, more=spare_links(job)),
        inputs=tuple(inputs),
        warnings=(
            *warnings,
            *sweep_places_unknown(job, sweeps),
            *age_warnings(job, sweeps, made=made, ago=True),
            *floor_alone_warnings([link.radio], sweeps),
            *receiver_warnings(with_it, carriers, about=link.id),
        ),
        job=job,
        sweeps=tuple(sweeps),
        made=made,
        ratio=levels_on(context, with_it, carriers, asked=(link.id,)).get(link.id),
    )


def _with(job: Job, link: Link, carrier_hz: int, placed: Mapping[str, int]) -> tuple[Job, dict[str, int]]:
    """Return the job with a link (which may be any of its type), and the carriers of all with the link on its own."""
    beside = {other.id: hz for other in job.links if (hz := placed.get(other.id, other.hold_hz)) is not None}
    with_it = replace(job, links=(*(other for other in job.links if other.id != link.id), link))
    return with_it, {**beside, link.id: carrier_hz}


def carrier_of(mhz: str) -> int:
    """Return the carrier in Hz that a text in MHz means; raises InputError in words."""
    found = read_mhz(mhz)
    if found.hz is None:
        text = f"{given_text(mhz)} {found.words}."
        raise InputError.single(found.code, text, key="MHZ", given=mhz, allowed=MHZ_ALLOWED, hint=found.hint)
    return found.hz


def _subject(job: Job, link_id: str | None, radio_id: str | None, file: str) -> Link:
    if link_id is not None and radio_id is not None:
        text = "--link and --radio each say for whom; give one of them."
        raise InputError.single("two-subjects", text, given=f"{link_id}, {radio_id}", allowed="--link ID or --radio ID")
    if link_id is not None:
        links = {link.id: link for link in (*job.links, *spare_links(job))}
        return named(link_id, links, what="link", file=file)
    radios = {radio.id: radio for radio in (*job.radios, *(link.radio for link in job.links))}
    if radio_id is None and len(radios) == 1:
        radio_id = next(iter(radios))
    if radio_id is None:
        text = f"say for whom: --link ID, or --radio with one of {list_text(radios)}."
        raise InputError.single("no-subject", text, allowed="--link ID or --radio ID")
    radio = named(radio_id, radios, what="radio", file=file)
    places = job.places_using(radio_id)
    return Link(
        id=f"any {radio_id}",
        name=radio.name,
        radio=radio,
        worn=Worn.BODY,
        place=places[0].id,
        spare_at=tuple(place.id for place in places),
    )

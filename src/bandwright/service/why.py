"""Why a carrier may or may not be used by a link or a radio type."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.kit import Link, Worn
from bandwright.core.planning.build import spare_links
from bandwright.core.planning.explain import Explanation, explain
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.documents.outputs import Input, WhyDocument, read_plan, why_document
from bandwright.errors import InputError
from bandwright.service.context import Context
from bandwright.service.inputs import input_of, load_brief, load_sweeps, read_text
from bandwright.units import hz_from_mhz

__all__ = ["Explained", "explain_carrier"]

_HIGHEST_HZ = 300_000_000_000  # as in a brief


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """The explanation, and the files it stands on."""

    explanation: Explanation
    inputs: tuple[Input, ...]

    def document(self) -> WhyDocument:
        """Return the explanation as the JSON document."""
        return why_document(self.explanation, inputs=self.inputs)


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
    """Return every rule that allows or stops a carrier for a link, or for any link of a radio type."""
    carrier_hz = _carrier(mhz)
    brought = load_brief(context, brief)
    job = brought.job
    link = _subject(job, link_id, radio_id, str(brief))
    placed = read_plan(read_text(plan, "plan"), file=str(plan)).carriers if plan is not None else None
    sweeps, sweep_inputs = load_sweeps(context, sweep_paths, job)
    found = explain(job, link, carrier_hz, sweeps, placed=placed, more=spare_links(job))
    files = (input_of(plan),) if plan is not None else ()
    return Explained(explanation=found, inputs=(*brought.inputs, *files, *sweep_inputs))


def _carrier(mhz: str) -> int:
    text = mhz.strip().removesuffix("MHz").strip().replace(",", ".")
    try:
        carrier_hz = hz_from_mhz(Decimal(text))
    except (ArithmeticError, ValueError) as error:
        raise InputError.single(
            "not-a-frequency",
            f'"{mhz}" is no frequency in MHz.',
            key="MHZ",
            given=mhz,
            allowed="a number of MHz, at most six decimals, such as 606.700",
        ) from error
    if not 0 < carrier_hz <= _HIGHEST_HZ:
        text, allowed = "a carrier lies above 0 MHz and at most on 300 GHz.", "0.000001 to 300000"
        raise InputError.single("not-a-frequency", text, key="MHZ", given=mhz, allowed=allowed)
    return carrier_hz


def _subject(job: Job, link_id: str | None, radio_id: str | None, file: str) -> Link:
    if link_id is not None and radio_id is not None:
        text = "--link and --radio each say for whom; give one of them."
        raise InputError.single("two-subjects", text, given=f"{link_id}, {radio_id}", allowed="--link ID or --radio ID")
    if link_id is not None:
        links = {link.id: link for link in (*job.links, *spare_links(job))}
        if link_id not in links:
            raise _unknown("link", link_id, list(links), file)
        return links[link_id]
    radios = {radio.id: radio for radio in (*job.radios, *(link.radio for link in job.links))}
    if radio_id is None and len(radios) == 1:
        radio_id = next(iter(radios))
    if radio_id is None:
        text = f"say for whom: --link ID, or --radio with one of {list_text(radios)}."
        raise InputError.single("no-subject", text, allowed="--link ID or --radio ID")
    if radio_id not in radios:
        raise _unknown("radio", radio_id, list(radios), file)
    return Link(id=f"any {radio_id}", name=radios[radio_id].name, radio=radios[radio_id], worn=Worn.BODY)


def _unknown(what: str, given: str, known: Sequence[str], file: str) -> InputError:
    return InputError.single(
        f"unknown-{what}",
        f'there is no {what} "{given}"; known: {list_text(known)}.',
        file=file,
        key=what,
        given=given,
        allowed=list_text(known),
        hint=nearest_hint(given, known),
    )

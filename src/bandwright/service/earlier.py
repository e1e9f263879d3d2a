"""An earlier plan to start from, or to keep to: a plan.json, its folder, or a list of carriers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from bandwright.core.planning.build import spare_links
from bandwright.core.planning.plan import Warn
from bandwright.core.words import and_list
from bandwright.documents.carriers import read_carriers
from bandwright.documents.faults import list_text
from bandwright.documents.outputs import Input
from bandwright.errors import InputError
from bandwright.service.inputs import Brought, read_output
from bandwright.service.stored import load_plan

__all__ = ["Earlier", "load_earlier"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """The plan to start from: its carriers by id, its number (0 where nobody numbered it), and how it is called.

    `without` are the links for which it found no carrier.
    """

    carriers: Mapping[str, int]
    without: frozenset[str]
    number: int
    called: str
    input: Input
    warnings: tuple[Warn, ...]


def load_earlier(path: Path, brought: Brought) -> Earlier:
    """Return the plan in a plan.json or its folder, or the carriers of a list.

    Raises
    ------
    InputError
        When it is neither, or the brief knows none of its links.
    """
    if path.suffix.casefold() in _LISTS and not path.is_dir():
        return _listed(path, brought)
    at_hand = load_plan(path, brought)
    plan = at_hand.plan
    return Earlier(
        carriers=plan.carriers,
        without=plan.unplaced,
        number=plan.number,
        called=f"Plan {plan.number} ({plan.check_phrase})",
        input=at_hand.input,
        warnings=tuple(warn for warn in at_hand.warnings if warn.code != _HELD_AGAINST_IT),
    )


_HELD_AGAINST_IT = "brief-changed"  # the plan is checked against the brief as it is now in any case
_LISTS = {".csv", ".tsv", ".txt"}


def _listed(file: Path, brought: Brought) -> Earlier:
    """Return the carriers of a list, with a warning for those that the brief does not know."""
    job = brought.job
    output = read_output(file, "list of carriers")
    carriers = read_carriers(output.text, file=str(file), known=None)
    known = {link.id for link in (*job.links, *spare_links(job))}
    strange = [name for name in carriers if name not in known]
    if known.isdisjoint(carriers):
        text = f"the brief knows none of the links in this list ({list_text(carriers)})."
        hint = f'Name a list that was made from this brief, "{job.title}".'
        raise InputError.single("other-job", text, file=str(file), allowed=list_text(known), hint=hint)
    return Earlier(
        carriers=carriers,
        without=frozenset(),
        number=0,
        called=file.name,
        input=output.input,
        warnings=(*output.warnings, *_strange(file, strange)),
    )


def _strange(file: Path, ids: Sequence[str]) -> tuple[Warn, ...]:
    if not ids:
        return ()
    text = f"{file.name} has carriers that this brief does not know, and they do not count here: {and_list(ids)}."
    return (Warn(code="plan-links-unknown", text=text, where=list_text(ids)),)

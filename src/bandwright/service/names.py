"""Names that a command is given: found, or refused in words with the nearest known one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.errors import InputError

__all__ = ["links_asked_for", "named"]

T = TypeVar("T")


def named(given: str, known: Mapping[str, T], *, what: str, file: str) -> T:
    """Return what a name stands for in a file; `what` says what it names ("radio", "link", "place").

    Raises
    ------
    InputError
        When there is no such name, with those there are.
    """
    if given in known:
        return known[given]
    raise InputError.single(
        f"unknown-{what}",
        f'there is no {what} "{given}"; known: {list_text(known)}.',
        file=file,
        key=what,
        given=given,
        allowed=list_text(known),
        hint=nearest_hint(given, known),
    )


def links_asked_for(job: Job, link_ids: Sequence[str], *, file: str) -> list[Link]:
    """Return the named links of a brief, each once, or all of them where none is named.

    Raises
    ------
    InputError
        When the brief has no links, or one is unknown.
    """
    if not job.links:
        text = "the brief has no links; add a [[link]] for each carrier."
        raise InputError.single("no-links", text, file=file, key="link")
    known = {link.id: link for link in job.links}
    return [named(name, known, what="link", file=file) for name in dict.fromkeys(link_ids)] or list(job.links)

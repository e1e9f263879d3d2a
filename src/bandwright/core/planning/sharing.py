"""Links whose carriers overlap, and may: the brief keeps them apart in earshot or time. No rule, but worth a note."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bandwright.core.job import Binds, Job
from bandwright.core.kit import Link
from bandwright.core.planning.earshot import binding
from bandwright.core.planning.plan import Note
from bandwright.core.when import share_a_moment
from bandwright.core.words import and_list
from bandwright.units import mhz_text

__all__ = ["overlapping", "sharing_notes"]


def overlapping(job: Job, carriers_hz: Mapping[str, int]) -> dict[tuple[str, str], str]:
    """Return the pairs of links whose occupied bandwidths overlap while no rule binds them, each with the reason.

    Links at different places are left out. Pairs stand once, in the order of the job; those that a rule binds break
    their carrier spacing, which is told elsewhere.
    """
    order = {link.id: number for number, link in enumerate(job.links)}
    rising = sorted((link for link in job.links if link.id in carriers_hz), key=lambda link: carriers_hz[link.id])
    widest = max((link.radio.bandwidth_hz for link in rising), default=0)
    found = {}
    for position, one in enumerate(rising):
        for two in rising[position + 1 :]:
            offset = carriers_hz[two.id] - carriers_hz[one.id]
            if offset >= widest:
                break
            reason = _reason(job, one, two) if 2 * offset < one.radio.bandwidth_hz + two.radio.bandwidth_hz else None
            if reason is not None:
                found[one.id, two.id] = reason
    pairs = (((one, two) if order[one] < order[two] else (two, one), reason) for (one, two), reason in found.items())
    return dict(sorted(pairs, key=lambda item: (order[item[0][0]], order[item[0][1]])))


def _reason(job: Job, one: Link, two: Link) -> str | None:
    if job.place_of(one).id != job.place_of(two).id or binding(job, one, two) is not Binds.NOTHING:
        return None
    if not share_a_moment(one.on_air, two.on_air):
        return "the brief says they are not on the air at the same time"
    between = [frozenset((a, b)) for a in one.earshots for b in two.earshots]
    stated = [item.isolation_db for item in job.isolations if frozenset((item.one, item.two)) in between]
    known = [db for db in stated if db is not None]
    if not known:
        return "the brief says they do not hear each other"
    return f"the brief says they are isolated by {min(known):g} dB"


def sharing_notes(job: Job, carriers_hz: Mapping[str, int]) -> dict[str, tuple[Note, ...]]:
    """Return for each link what it shares its carrier with, or overlaps, and why that may be."""
    beside: dict[str, dict[tuple[int, str], list[str]]] = {}
    for pair, reason in overlapping(job, carriers_hz).items():
        for one, two in (pair, pair[::-1]):
            beside.setdefault(one, {}).setdefault((carriers_hz[two], reason), []).append(two)
    return {
        one: tuple(_note(carriers_hz[one], hz, names, reason) for (hz, reason), names in groups.items())
        for one, groups in beside.items()
    }


def _note(own_hz: int, hz: int, names: Sequence[str], reason: str) -> Note:
    if own_hz == hz:
        what, code = f"shares {mhz_text(hz)} MHz with {and_list(names)}", "shares-carrier"
    else:
        what, code = f"overlaps {and_list(names)} on {mhz_text(hz)} MHz", "overlaps-carrier"
    return Note(code=code, text=f"{what} ({reason})", sources=tuple(names))

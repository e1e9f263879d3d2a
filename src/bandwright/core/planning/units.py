"""Which box receives which link: a lead and its backup on two boxes, no more links than receiver channels."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import combinations

from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.planning.plan import Violation, Warn
from bandwright.core.words import and_list

__all__ = ["unit_violations", "unit_warnings"]


def unit_violations(seats: Sequence[Link]) -> Iterator[Violation]:
    """Yield each two links that are to be apart (`apart_from`) and name one unit: one fault would take both."""
    for one, two in combinations(seats, 2):
        if one.unit is not None and one.unit == two.unit and (two.id in one.apart_from or one.id in two.apart_from):
            text = f"{one.id} and {two.id} are to be apart (apart_from), but both are received by unit {one.unit}."
            yield Violation(rule="unit", victim=one.id, sources=(two.id,), text=text)


def unit_warnings(job: Job) -> Iterator[Warn]:
    """Yield what no choice of carriers mends: links to be apart on one unit, and units with too few channels."""
    for violation in unit_violations(job.links):
        text = f"{violation.text} Another carrier does not mend that: name another unit for one of them."
        yield Warn(code="same-unit", text=text, where=violation.victim)
    channels = {radio.id: radio.channels_per_unit for radio in job.radios}
    for unit in job.units:
        at_once = _most_at_once([link for link in job.links if link.unit == unit.id])
        has = channels.get(unit.radio, 1)
        if len(at_once) > has:
            channel = "receiver channel" if has == 1 else "receiver channels"
            text = (
                f"Unit {unit.id} has {has} {channel} (channels_per_unit of {unit.radio}), but "
                f"{and_list([link.id for link in at_once])} are on the air through it at once."
            )
            yield Warn(code="unit-full", text=text, where=unit.id)


def _most_at_once(links: Sequence[Link]) -> list[Link]:
    """Return the most links that are on the air at one moment: after one of the starts."""
    always = [link for link in links if not link.on_air]
    starts = sorted({span.start for link in links for span in link.on_air})
    groups = ([link for link in links if not link.on_air or _covers(link, moment)] for moment in starts)
    return max((always, *groups), key=len)


def _covers(link: Link, moment: datetime) -> bool:
    return any(span.start <= moment < span.end for span in link.on_air)

"""Links that hear earshots which do not hear each other: products that only their own receivers could make.

The rules ask about products of carriers that all hear each other. A link in two earshots, or in none while others are,
hears both sides, so its receiver may also make products of carriers that never meet anywhere else. No plan is refused
for those; they are told where they come nearer than the link's clearances.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from bandwright.core.job import Binds, Job
from bandwright.core.kit import Link, Other
from bandwright.core.planning.breaches import hit_violation
from bandwright.core.planning.build import seats_problem
from bandwright.core.planning.earshot import binding
from bandwright.core.planning.plan import Violation, Warn
from bandwright.core.planning.problem import Choice, Problem
from bandwright.core.planning.verify import examine
from bandwright.core.words import and_list

__all__ = ["bridge_products", "bridge_warnings"]


def bridge_warnings(job: Job, carriers_hz: Mapping[str, int]) -> Iterator[Warn]:
    """Yield, in one sentence, which links such products come too near to, how many they are, and the nearest."""
    placed = [link for link in job.links if link.id in carriers_hz]
    found = {link.id: products for link in placed if (products := bridge_products(job, link, placed, carriers_hz))}
    if found:
        names = list(found)
        nearest = min((v for products in found.values() for v in products), key=_slack_hz)
        hear = "hears" if len(names) == 1 else "hear"
        count = sum(map(len, found.values()))
        fall = "1 IM product of those falls" if count == 1 else f"{count} IM products of those fall"
        text = (
            f"{and_list(names)} {hear} carriers that do not hear each other. {fall} too near; they could only be "
            f"made in those receivers, and no rule here asks about them: {nearest.text.partition('; at least')[0]}."
        )
        yield Warn(code="heard-from-two-sides", text=text, where=and_list(names))


def _slack_hz(violation: Violation) -> int:
    return (violation.offset_hz or 0) - (violation.required_hz or 0)


def bridge_products(
    job: Job, link: Link, placed: Sequence[Link], carriers_hz: Mapping[str, int]
) -> tuple[Violation, ...]:
    """Return the products too near to a link of carriers that it hears while they do not hear each other."""
    if not _hears_two_sides(link, placed):
        return ()
    seats = [link, *(seat for seat in placed if seat.id != link.id and binding(job, link, seat) is Binds.ALL)]
    others = [other for other in job.others if binding(job, link, other) is Binds.ALL]
    problem = _only_first_is_a_victim(job, seats, others)
    carriers = [carriers_hz[seat.id] for seat in seats]
    f = [*carriers, *(item.carrier_hz for item in problem.fixed)]
    members: list[Link | Other] = [*seats, *others]
    return tuple(
        hit_violation(problem, f, hit)
        for hit in examine(problem, np.array(carriers, np.int64)).hits
        if _apart(job, [members[m] for m in hit.members])
    )


def _apart(job: Job, members: Sequence[Link | Other]) -> bool:
    return any(binding(job, one, two) is not Binds.ALL for i, one in enumerate(members) for two in members[:i])


def _hears_two_sides(link: Link, placed: Sequence[Link]) -> bool:
    return len(link.earshots) > 1 or (not link.earshots and any(seat.earshots for seat in placed))


def _only_first_is_a_victim(job: Job, seats: Sequence[Link], others: Sequence[Other]) -> Problem:
    """Return the products that all these make at the first, as if they heard each other when they are on air."""
    everywhere = tuple(replace(other, earshots=frozenset()) for other in others)
    rules = seats_problem(replace(job, others=everywhere), [replace(seat, earshots=frozenset()) for seat in seats])
    nothing = np.zeros(0, np.int64)
    silent = Choice(name="silent", carriers_hz=nothing, wish=nothing, clearance_hz=())
    return replace(
        rules,
        choices=(rules.choices[0], silent),
        wanted=tuple(replace(item, choice=min(1, index)) for index, item in enumerate(rules.wanted)),
        fixed=tuple(replace(item, clearance_hz=()) for item in rules.fixed),
        near_hz=np.zeros_like(rules.near_hz),
        far_hz=np.zeros_like(rules.far_hz),
    )

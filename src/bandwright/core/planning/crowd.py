"""As many links of one radio type as fit: alike members, any number of them, beside carriers that are given."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job, Place
from bandwright.core.kit import Link, RadioType
from bandwright.core.planning.build import compile_job, seats_problem, spare_links
from bandwright.core.planning.carriers import CarrierFacts
from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.products import family_named
from bandwright.core.sweep import Sweep

__all__ = ["Crowd", "alike", "crowd_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crowd:
    """What binds each of many alike members: their candidates, the spacing between any two, and what is given.

    `fixed_spacing_hz[i]` is the least offset from `fixed[i]`. `spacing_hz` 0 asks for nothing but different carriers.
    """

    choice: Choice
    spacing_hz: int
    fixed: tuple[Fixed, ...] = ()
    fixed_spacing_hz: tuple[int, ...] = ()
    members_in: tuple[int, ...] = (0,)
    contexts: int = 1

    def problem(self, count: int) -> Problem:
        """Return the problem of placing this many."""
        near = np.zeros((count + len(self.fixed), count + len(self.fixed)), np.int64)
        near[:count, :count] = max(1, self.spacing_hz)
        np.fill_diagonal(near, 0)
        near[:count, count:] = self.fixed_spacing_hz
        near[count:, :count] = near[:count, count:].T
        return Problem(
            choices=(self.choice,),
            wanted=tuple(Wanted(id=f"{n + 1}", choice=0, contexts=self.members_in) for n in range(count)),
            fixed=self.fixed,
            near_hz=near,
            contexts=self.contexts,
        )

    def most_by_spacing(self) -> int:
        """Return how many fit where nothing but the carrier spacing counts: from the left, each as low as it goes."""
        count, at = 0, -1
        carriers = self.choice.carriers_hz
        while at < len(carriers):
            at = int(np.searchsorted(carriers, carriers[at] + max(1, self.spacing_hz))) if at >= 0 else 0
            count += at < len(carriers)
        return count


def crowd_of(
    job: Job,
    radio: RadioType,
    sweeps: Sequence[Sweep] = (),
    *,
    place: Place,
    beside: Mapping[str, int] | None = None,
) -> tuple[Crowd, CarrierFacts]:
    """Return the crowd of one radio type at a place, and what the rules say of every carrier it can be set to.

    The links of the job do not count but for those in `beside` (carriers in Hz by the id of link or spare carrier):
    they keep their carriers, send, and are victims.
    """
    seats = [seat for seat in (*job.links, *spare_links(job)) if seat.id in (beside or {})]
    some = tuple(_member(job, radio, place, number) for number in (1, 2))
    alone = compile_job(replace(job, links=some[:1], wishes=replace(job.wishes, spares=())), sweeps)
    rules = seats_problem(job, (*some, *seats))
    held = [(beside or {})[seat.id] for seat in seats]
    given = (
        *(
            Fixed(id=seat.id, carrier_hz=hz, clearance_hz=seat.radio.clearance_hz, contexts=rules.contexts_of(i))
            for i, (seat, hz) in enumerate(zip(seats, held, strict=True), start=len(some))
        ),
        *rules.fixed,
    )
    choice = alone.problem.choices[0]
    kept = ~_closed_by_given(choice, given, ours=len(seats))
    crowd = Crowd(
        choice=replace(choice, carriers_hz=choice.carriers_hz[kept], wish=choice.wish[kept]),
        spacing_hz=int(rules.near_hz[0, 1]),
        fixed=given,
        fixed_spacing_hz=tuple(rules.near_hz[0, len(some) :].tolist()),
        members_in=rules.contexts_of(0),
        contexts=rules.contexts,
    )
    return crowd, alone.facts[0]


def alike(one: Crowd, two: Crowd) -> bool:
    """Whether the same rules bind two crowds, on the same carriers."""
    numbers = [
        (crowd.choice.clearance_hz, crowd.spacing_hz, crowd.fixed, crowd.fixed_spacing_hz, crowd.members_in)
        for crowd in (one, two)
    ]
    return numbers[0] == numbers[1] and np.array_equal(one.choice.carriers_hz, two.choice.carriers_hz)


def _member(job: Job, radio: RadioType, place: Place, number: int) -> Link:
    """Return one of the crowd: always on air, heard everywhere at its place, worn as links of the type usually are."""
    usual = spare_links(replace(job, wishes=replace(job.wishes, spares=((radio.id, 1),))))[0]
    return Link(id=f"any {radio.id} {number}", name=radio.name, radio=radio, worn=usual.worn, place=place.id)


def _closed_by_given(choice: Choice, given: Sequence[Fixed], *, ours: int) -> NDArray[np.bool_]:
    """Return the candidates on products of our given carriers with others that count together with ours only.

    To the problem a given carrier is nobody's; that some of them are ours can only matter here.
    """
    closed = np.zeros(len(choice.carriers_hz), np.bool_)
    weak = {i for i, item in enumerate(given) if item.sends is Sends.WITH_OURS}
    if not weak or not ours:
        return closed
    senders = [i for i, item in enumerate(given) if item.sends is not Sends.NOT]
    for name, clearance_hz in choice.clearance_hz:
        family = family_named(name)
        for some in itertools.permutations(senders, len(family.coefficients)):
            meet = set.intersection(*(set(given[i].contexts) for i in some))
            if meet and weak.intersection(some) and min(some) < ours:
                product_hz = family.product_hz(tuple(given[i].carrier_hz for i in some))
                closed |= np.abs(choice.carriers_hz - product_hz) < clearance_hz
    return closed

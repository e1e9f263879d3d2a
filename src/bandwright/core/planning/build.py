"""From a job and its sweeps to a separation problem: candidates, spacing, contexts and given carriers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job
from bandwright.core.kit import Link, MakesProducts, Other, RadioType, Worn
from bandwright.core.permits import PermitState
from bandwright.core.planning.blocks import own_blocks, shut_blocks
from bandwright.core.planning.carriers import (
    CarrierFacts,
    examine_carriers,
    permit_power_mw,
    tunable_carriers,
)
from bandwright.core.planning.earshot import contexts_of
from bandwright.core.planning.pairs import far_matrix, near_matrix
from bandwright.core.planning.places import at_each_place
from bandwright.core.planning.plan import NoiseState
from bandwright.core.planning.problem import AVOID, Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.reach.facts import runs_of
from bandwright.core.reach.receiver_facts import meets_others
from bandwright.core.sweep import Sweep

__all__ = ["SPARE_PRIORITY", "Compiled", "compile_job", "rules_alone", "seats_problem", "sends_of", "spare_links"]

# Spare carriers come after every link.
SPARE_PRIORITY = -1_000_000

# What a carrier may be doubted for, the law before noise: one doubt of law weighs more than all about noise together.
_DOUBT_OF_LAW = 2 * AVOID
_UNMEASURED = AVOID
_SHALLOW = AVOID // 4
_HEARS_BESIDE = AVOID // 4  # its receiver hears another user or a multiplex beside the carrier, on its image
_FULL_MEMBER_DBM = -45.0
_ONLY_BLOCKS_DBM = -60.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compiled:
    """A problem with what its numbers stand for. `seats` are links and spare carriers in the order of `wanted`."""

    job: Job
    problem: Problem
    seats: tuple[Link, ...]
    spare: tuple[bool, ...]
    others: tuple[Other, ...]
    facts: tuple[CarrierFacts, ...]
    choice_of: tuple[int, ...]

    def facts_of(self, seat: int) -> CarrierFacts:
        """Return what the rules say of everything this seat can be tuned to."""
        return self.facts[self.choice_of[seat]]


def spare_links(job: Job) -> tuple[Link, ...]:
    """Return the wished spare carriers as links that hear everything at any time, body-worn unless the type is not.

    Each must be usable at every place where links of its type work, or at every place where none does.
    """
    return tuple(
        Link(
            id=f"{radio_id}-spare-{number}".replace("/", "-"),
            name=f"Spare carrier {number}",
            radio=job.radio(radio_id),
            worn=_usual_worn(job, job.radio(radio_id)),
            priority=SPARE_PRIORITY,
            place=job.places_using(radio_id)[0].id,
            spare_at=tuple(place.id for place in job.places_using(radio_id)),
        )
        for radio_id, count in job.wishes.spares
        for number in range(1, count + 1)
    )


def _usual_worn(job: Job, radio: RadioType) -> Worn:
    """Return how links of this type are worn when the permit may differ: the way that the strictest limit meets."""
    ways = {link.worn for link in job.links if link.radio.id == radio.id}
    for worn in (Worn.HAND, Worn.BODY, Worn.RACK):
        if worn in ways:
            return worn
    return Worn.BODY


def compile_job(job: Job, sweeps: Sequence[Sweep] = (), *, others_make_products: bool = True) -> Compiled:
    """Return the problem of a job: each link and spare carrier with its open candidates, and what must lie between.

    `others_make_products=False` leaves out the products of other users whose level nobody knows, to tell what that
    assumption costs.
    """
    spares = spare_links(job)
    seats = (*job.links, *spares)
    contexts = contexts_of(job, [*seats, *job.others])
    keys: dict[tuple[object, ...], int] = {}
    known: dict[tuple[object, ...], CarrierFacts] = {}
    facts: list[CarrierFacts] = []
    choices: list[Choice] = []
    choice_of = []
    for index, seat in enumerate(seats):
        alone = rules_alone(job, seat)
        if alone not in known:
            known[alone] = examine_carriers(job, seat, tunable_carriers(seat.radio), sweeps)
        key = (alone, contexts[index])
        if key not in keys:
            keys[key] = len(choices)
            facts.append(known[alone])
            choices.append(_choice(job, seat, known[alone]))
        choice_of.append(keys[key])
    fixed = tuple(_fixed(other, contexts[len(seats) + i], others_make_products) for i, other in enumerate(job.others))
    problem = Problem(
        choices=tuple(choices),
        wanted=tuple(
            Wanted(id=seat.id, choice=choice_of[i], priority=seat.priority, contexts=contexts[i])
            for i, seat in enumerate(seats)
        ),
        fixed=fixed,
        near_hz=near_matrix(job, seats, len(fixed)),
        far_hz=far_matrix(seats, len(fixed)),
        contexts=1 + max((c for own in contexts for c in own), default=0),
    )
    return Compiled(
        job=job,
        problem=problem,
        seats=seats,
        spare=tuple([False] * len(job.links) + [True] * len(spares)),
        others=job.others,
        facts=tuple(facts),
        choice_of=tuple(choice_of),
    )


def rules_alone(job: Job, seat: Link) -> tuple[object, ...]:
    """Return all that the rules of one carrier by itself may ask about a link."""
    by_time = any(permit.valid for permit in job.permits) or any(other.on_air for other in job.others)
    return (
        seat.radio.id,
        tuple(place.id for place in job.places_of(seat)),
        seat.hold_hz,
        seat.worn,
        seat.power_mw,
        seat.on_air if by_time else (),
        seat.earshots if job.others else frozenset(),
        tuple((own_blocks(job, here), shut_blocks(job, here)) for here in at_each_place(job, seat)),
        tuple(run.id for run in runs_of(job, seat)) if seat.radio.if_hz else (),
    )


def seats_problem(job: Job, seats: Sequence[Link]) -> Problem:
    """Return the rules between given seats and other users, without candidates: for checking a list of carriers."""
    contexts = contexts_of(job, [*seats, *job.others])
    nothing = np.zeros(0, np.int64)
    return Problem(
        choices=tuple(
            Choice(name=seat.radio.name, carriers_hz=nothing, wish=nothing, clearance_hz=seat.radio.clearance_hz)
            for seat in seats
        ),
        wanted=tuple(
            Wanted(id=seat.id, choice=i, priority=seat.priority, contexts=contexts[i]) for i, seat in enumerate(seats)
        ),
        fixed=tuple(_fixed(other, contexts[len(seats) + i], True) for i, other in enumerate(job.others)),
        near_hz=near_matrix(job, seats, len(job.others)),
        far_hz=far_matrix(seats, len(job.others)),
        contexts=1 + max((c for own in contexts for c in own), default=0),
    )


def _choice(job: Job, seat: Link, facts: CarrierFacts) -> Choice:
    is_open = facts.open
    wish = facts.grade[is_open].copy()
    states = facts.noise[is_open]
    if job.wishes.unmeasured == "avoid":
        order = list(NoiseState)
        wish[states == order.index(NoiseState.UNMEASURED)] += _UNMEASURED
        wish[states == order.index(NoiseState.SHALLOW)] += _SHALLOW
    wish += _doubts_of_law(job, seat)[facts.permit[is_open]]
    wish[meets_others(job, seat, facts.carriers_hz[is_open])] += _HEARS_BESIDE
    wish -= wish.min(initial=np.iinfo(np.int64).max) // AVOID * AVOID  # what all have in common tells nothing apart
    return Choice(
        name=seat.radio.name,
        carriers_hz=facts.carriers_hz[is_open],
        wish=wish.astype(np.int64),
        clearance_hz=seat.radio.clearance_hz,
    )


def _doubts_of_law(job: Job, seat: Link) -> NDArray[np.int64]:
    """Return for each permit what speaks against its carriers: only applied for, power not shown to be within it."""
    doubts = [
        (permit.state is PermitState.APPLIED) + (permit_power_mw(seat, permit)[1] is None) for permit in job.permits
    ]
    return _DOUBT_OF_LAW * np.array(doubts, np.int64)


def _fixed(other: Other, contexts: tuple[int, ...], makes_products: bool) -> Fixed:
    return Fixed(
        id=other.id,
        carrier_hz=other.carrier_hz,
        sends=sends_of(other, makes_products),
        clearance_hz=other.clearance_hz if other.protect else (),
        contexts=contexts,
    )


def sends_of(other: Other, unknown_makes: bool) -> Sends:
    """Return how an other user's carrier takes part: as stated, or by its level at our antenna where that is known.

    `unknown_makes`: one whose level is not known takes part fully.
    """
    if other.makes_products is MakesProducts.YES:
        return Sends.FULLY
    if other.makes_products is MakesProducts.NO:
        return Sends.NOT
    if other.level_dbm is None:
        return Sends.FULLY if unknown_makes else Sends.NOT
    if other.level_dbm < _ONLY_BLOCKS_DBM:
        return Sends.NOT
    return Sends.FULLY if other.level_dbm > _FULL_MEMBER_DBM else Sends.WITH_OURS

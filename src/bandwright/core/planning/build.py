"""From a job and its sweeps to a separation problem: candidates, spacing, contexts and given carriers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.job import Job, PairRule
from bandwright.core.kit import Link, MakesProducts, Other, RadioType, Worn
from bandwright.core.permits import PermitState
from bandwright.core.planning.carriers import CarrierFacts, examine_carriers, hears, tunable_carriers
from bandwright.core.planning.plan import NoiseState
from bandwright.core.planning.problem import AVOID, Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.sweep import Sweep

__all__ = ["SPARE_PRIORITY", "Compiled", "compile_job", "seats_problem", "spacing_hz", "spare_links"]

# Spare carriers come after every link.
SPARE_PRIORITY = -1_000_000

_APPLIED = AVOID // 2
_SHALLOW = AVOID // 4
_APART_HZ = 4_000_000  # a lead and its backup; common practice
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
    """Return the wished spare carriers as links that hear everything at any time, body-worn unless the type is not."""
    return tuple(
        Link(
            id=f"{radio_id}-spare-{number}".replace("/", "-"),
            name=f"Spare carrier {number}",
            radio=job.radio(radio_id),
            worn=_usual_worn(job, job.radio(radio_id)),
            priority=SPARE_PRIORITY,
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
    contexts = _contexts(job, seats)
    keys: dict[tuple[object, ...], int] = {}
    facts: list[CarrierFacts] = []
    choices: list[Choice] = []
    choice_of = []
    for index, seat in enumerate(seats):
        key = (
            seat.radio.id,
            job.place_of(seat).id,
            seat.hold_hz,
            seat.worn,
            seat.power_mw,
            seat.on_air,
            contexts[index],
        )
        if key not in keys:
            keys[key] = len(choices)
            found = examine_carriers(job, seat, tunable_carriers(seat.radio), sweeps)
            facts.append(found)
            choices.append(_choice(job, seat, found))
        choice_of.append(keys[key])
    fixed = tuple(_fixed(other, contexts[len(seats) + i], others_make_products) for i, other in enumerate(job.others))
    problem = Problem(
        choices=tuple(choices),
        wanted=tuple(
            Wanted(id=seat.id, choice=choice_of[i], priority=seat.priority, contexts=contexts[i])
            for i, seat in enumerate(seats)
        ),
        fixed=fixed,
        near_hz=_near(job, seats, len(fixed)),
        far_hz=_far(seats, len(fixed)),
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


def seats_problem(job: Job, seats: Sequence[Link]) -> Problem:
    """Return the rules between given seats and other users, without candidates: for checking a list of carriers."""
    contexts = _contexts(job, tuple(seats))
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
        near_hz=_near(job, tuple(seats), len(job.others)),
        far_hz=_far(tuple(seats), len(job.others)),
        contexts=1 + max((c for own in contexts for c in own), default=0),
    )


def _choice(job: Job, seat: Link, facts: CarrierFacts) -> Choice:
    is_open = facts.open
    wish = facts.grade[is_open].copy()
    states = facts.noise[is_open]
    if job.wishes.unmeasured == "avoid":
        order = list(NoiseState)
        wish[states == order.index(NoiseState.UNMEASURED)] += AVOID
        wish[states == order.index(NoiseState.SHALLOW)] += _SHALLOW
    applied = np.array([permit.state is PermitState.APPLIED for permit in job.permits], np.bool_)
    wish[applied[facts.permit[is_open]]] += _APPLIED
    return Choice(
        name=seat.radio.name,
        carriers_hz=facts.carriers_hz[is_open],
        wish=wish.astype(np.int64),
        clearance_hz=seat.radio.clearance_hz,
    )


def _fixed(other: Other, contexts: tuple[int, ...], makes_products: bool) -> Fixed:
    return Fixed(
        id=other.id,
        carrier_hz=other.carrier_hz,
        sends=_sends(other, makes_products),
        clearance_hz=other.clearance_hz if other.protect else (),
        contexts=contexts,
    )


def _sends(other: Other, unknown_makes: bool) -> Sends:
    """Return how an other user's carrier takes part: as stated, or by its level at our antenna where that is known."""
    if other.makes_products is MakesProducts.YES:
        return Sends.FULLY
    if other.makes_products is MakesProducts.NO:
        return Sends.NOT
    if other.level_dbm is None:
        return Sends.FULLY if unknown_makes else Sends.NOT
    if other.level_dbm < _ONLY_BLOCKS_DBM:
        return Sends.NOT
    return Sends.FULLY if other.level_dbm > _FULL_MEMBER_DBM else Sends.WITH_OURS


def _contexts(job: Job, seats: tuple[Link, ...]) -> list[tuple[int, ...]]:
    """Return for each seat and each other user the contexts it is in.

    A context is a largest set of carriers that meet at one place, in one earshot, at one moment. Moments between two
    changes are all alike, so one moment after each start is enough.
    """
    members: list[Link | Other] = [*seats, *job.others]
    earshots = sorted({e for m in members for e in m.earshots}) or [""]
    starts = sorted({span.start for m in members for span in m.on_air})
    sets: set[frozenset[int]] = set()
    for place in {job.place_of(m).id for m in members}:
        here = [i for i, m in enumerate(members) if job.place_of(m).id == place or _everywhere(seats, i)]
        for earshot in earshots:
            within = [i for i in here if not members[i].earshots or earshot in members[i].earshots]
            always = frozenset(i for i in within if not members[i].on_air)
            sets.add(always)
            for moment in starts:
                sets.add(always | {i for i in within if any(s.start <= moment < s.end for s in members[i].on_air)})
    largest = sorted((s for s in sets if s and not any(s < t for t in sets)), key=lambda s: (-len(s), sorted(s)))
    return [tuple(c for c, group in enumerate(largest) if i in group) for i in range(len(members))]


def _everywhere(seats: tuple[Link, ...], index: int) -> bool:
    """Whether a member is a spare carrier, which must be clean at every place."""
    return index < len(seats) and seats[index].priority == SPARE_PRIORITY


def _near(job: Job, seats: tuple[Link, ...], fixed: int) -> npt.NDArray[np.int64]:
    """Return the carrier spacing asked between any two seats. Other users' blocked width is a matter of candidates."""
    size = len(seats) + fixed
    near = np.zeros((size, size), np.int64)
    for i, one in enumerate(seats):
        for j in range(i):
            near[i, j] = near[j, i] = spacing_hz(job, one, seats[j])
    return near


def spacing_hz(job: Job, one: Link, two: Link) -> int:
    """Return the spacing two links ask of each other, 0 where they never meet.

    The larger of what their types ask, or what a `[[pair]]` entry says by name; never less than half the sum of their
    bandwidths. A lead and its backup (`apart_from`) lie 4 MHz apart.
    """
    spare = SPARE_PRIORITY in (one.priority, two.priority)
    if not spare and not hears(job, one, two):
        return 0
    asked = max(one.radio.spacing_hz, two.radio.spacing_hz)
    for rule in job.pairs:
        if _applies(rule, one, two):
            asked = rule.spacing_hz
    if two.id in one.apart_from or one.id in two.apart_from:
        asked = max(asked, _APART_HZ)
    return max(asked, -(-(one.radio.bandwidth_hz + two.radio.bandwidth_hz) // 2))


def _applies(rule: PairRule, one: Link, two: Link) -> bool:
    names = [{link.id, link.radio.id, link.radio.id.split("/")[0], link.role} for link in (one, two)]
    named = (rule.one in names[0] and rule.two in names[1]) or (rule.one in names[1] and rule.two in names[0])
    return named and _SAME[rule.where](one, two)


def _anywhere(_: Link, __: Link) -> bool:
    return True


def _same_wearer(one: Link, two: Link) -> bool:
    return one.wearer is not None and one.wearer == two.wearer


def _same_rack(one: Link, two: Link) -> bool:
    return one.rack is not None and one.rack == two.rack


_SAME = {"anywhere": _anywhere, "same-wearer": _same_wearer, "same-rack": _same_rack}


def _far(seats: tuple[Link, ...], fixed: int) -> npt.NDArray[np.int64]:
    """Return the largest offset of links that share a unit whose front end is a window."""
    size = len(seats) + fixed
    far = np.zeros((size, size), np.int64)
    for i, one in enumerate(seats):
        for j in range(i):
            window = one.radio.front_end_window_hz
            if one.unit is not None and one.unit == seats[j].unit and window is not None:
                far[i, j] = far[j, i] = window
    return far

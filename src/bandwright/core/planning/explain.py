"""Why a carrier may or may not be used: every rule that allows or stops it, with the culprits and what would help."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from bandwright.core.bands import occupied
from bandwright.core.job import Job
from bandwright.core.kit import Link, Other
from bandwright.core.planning.assess import closest_of, taken_tv
from bandwright.core.planning.breaches import carrier_violations, hit_violation
from bandwright.core.planning.build import seats_problem
from bandwright.core.planning.carriers import examine_carriers, permit_power_mw
from bandwright.core.planning.earshot import unasked_because
from bandwright.core.planning.heard import noise_of
from bandwright.core.planning.opening import fewest_to_move
from bandwright.core.planning.pairs import asked_of
from bandwright.core.planning.places import at_each_place
from bandwright.core.planning.plan import NoiseState, Reason, Violation
from bandwright.core.planning.problem import Fixed, Problem, Sends
from bandwright.core.planning.remedies import is_movable, remedy_of
from bandwright.core.planning.restate import folded
from bandwright.core.planning.units import unit_violations
from bandwright.core.planning.verify import Hit, examine, nearest
from bandwright.core.sweep import Sweep
from bandwright.core.words import antenna_words, closest_words, noise_words, power_words, sweep_label

__all__ = ["Explanation", "Finding", "Opening", "Unasked", "explain"]

# What no move of ours can change comes first, the law before all.
_ORDER = (
    "permit", "time", "bandwidth", "grid", "power", "tv", "tuning", "hold", "block", "other", "noise", "unmeasured",
    "unit", "spacing", "product",
)  # fmt: skip
_MOST_UNASKED = 5
_MOST_LOUD = 128
_MOST_LISTED = 200_000

Member = TypeVar("Member", Link, Other)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What one rule says: `stops` or allows, in words, with the culprits where there are any.

    `asked_by` is what asks for `required_hz`, and `remedy` what would have to change for this rule to give way.
    `restates` marks products that only say again that two carriers are nearer than their spacing.
    """

    rule: str
    stops: bool
    text: str
    sources: tuple[str, ...] = ()
    family: str | None = None
    product_hz: int | None = None
    offset_hz: int | None = None
    required_hz: int | None = None
    asked_by: str | None = None
    remedy: str | None = None
    restates: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What would open a stopped carrier.

    `links` is the smallest set of own links whose leaving opens it as far as they are concerned, `proven` when no
    fewer do; None where what they break cannot be mended by moving any. `stays` holds the rules that keep it closed
    whatever moves, and `immovable` the links in the way that are held or never move.
    """

    links: tuple[str, ...] | None
    proven: bool
    stays: tuple[str, ...]
    immovable: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Unasked:
    """What would stop the carrier if those concerned heard each other, and why it is not asked."""

    text: str
    reason: Reason
    victim: str
    sources: tuple[str, ...]
    family: str | None
    offset_hz: int
    would_require_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Everything that is known about one carrier for one link, the most important first.

    `beside` tells what counted beside it: a plan, the links that the brief holds, or nothing.
    """

    link: str
    name: str
    radio: str
    carrier_hz: int
    findings: tuple[Finding, ...]
    unasked: tuple[Unasked, ...]
    opening: Opening | None
    beside: str

    @property
    def allowed(self) -> bool:
        """Whether no rule stops it."""
        return not any(finding.stops for finding in self.findings)

    @property
    def beside_plan(self) -> bool:
        """Whether the carriers of a plan counted."""
        return self.beside == "plan"


def explain(
    job: Job,
    link: Link,
    carrier_hz: int,
    sweeps: Sequence[Sweep] = (),
    *,
    placed: Mapping[str, int] | None = None,
    more: Sequence[Link] = (),
) -> Explanation:
    """Return what every rule says of this carrier for this link.

    `placed` maps ids of other links (of the job or of `more`, such as spare carriers) to their carriers in Hz; the
    link's own carrier there is ignored, because this is about moving it here. Without it the links that the brief
    holds count.
    """
    held = {item.id: item.hold_hz for item in job.links if item.hold_hz is not None and item.id != link.id}
    around = _Around.of(job, link, carrier_hz, held if placed is None else placed, more)
    by_itself = carrier_violations(job, link, carrier_hz, sweeps)
    alone = [_stop(around, violation) for violation in (*by_itself, *_on_one_box(around))]
    beside = _beside(around, by_itself)
    stops = sorted((*alone, *beside), key=_importance)
    allows = sorted(dict.fromkeys(_allowing(job, link, carrier_hz, sweeps)), key=_importance)
    return Explanation(
        link=link.id,
        name=link.name,
        radio=link.radio.id,
        carrier_hz=carrier_hz,
        findings=(*stops, *allows, *_closest(around)),
        unasked=tuple(_unasked(around)),
        opening=_opening(around, alone) if stops else None,
        beside="plan" if placed is not None else "held links" if held else "nothing",
    )


def _importance(finding: Finding) -> tuple[int, int]:
    short = 0 if finding.offset_hz is None else finding.offset_hz - (finding.required_hz or 0)
    return _ORDER.index(finding.rule), short


def _stop(around: _Around, violation: Violation, asked_by: str | None = None) -> Finding:
    return Finding(
        rule=violation.rule,
        stops=True,
        text=violation.text,
        sources=violation.sources,
        family=violation.family,
        product_hz=violation.product_hz,
        offset_hz=violation.offset_hz,
        required_hz=violation.required_hz,
        asked_by=asked_by,
        remedy=remedy_of(around.job, around.seats[0], around.carriers_hz[0], violation),
    )


# ------------------------------------------------------------------------------------------------------ by itself


def _allowing(job: Job, link: Link, hz: int, sweeps: Sequence[Sweep]) -> Iterator[Finding]:
    """Yield what allows the carrier; for a spare carrier at each place it stands by for, by name."""
    taken = taken_tv(job, sweeps)
    for here in at_each_place(job, link):
        facts = examine_carriers(job, here, [hz], sweeps)
        stopped = {rule for rule, closed in facts.closed.items() if closed[0]}
        place = job.place_of(here)
        where = f" at {place.name}" if link.spare_at and len(job.places) > 1 else ""
        if "tuning" not in stopped:
            preset = link.radio.preset_at(hz)
            how = f"preset {preset.label}" if preset else "its tuning range"
            yield _allow("tuning", f"{link.radio.name} reaches it through {how}.")
        if facts.permit[0] >= 0:
            permit = job.permits[int(facts.permit[0])]
            span = occupied(hz, link.radio.bandwidth_hz)
            yield _allow("permit", f"{span} lies inside {permit.reference}, {permit.state.value}{where}.")
            power, within = permit_power_mw(link, permit)
            words = power_words(power) if power is not None else "a power that nobody stated"
            verdict = "is within the permit" if within else "is not shown to be within the permit"
            if permit.max_power is None:
                verdict = "meets no limit: the permit states none"
            yield _allow("power", f"{words} {verdict}{where}.")
        channel = place.raster.at(hz) if place.raster else None
        if channel is not None and "tv" not in stopped:
            yield _allow("tv", _tv_words(channel.label, where.strip() or "here", channel.label in taken[place.id]))
        if not stopped & {"noise", "unmeasured"}:
            noise = noise_of(job, here, hz, sweeps)
            by = f" by {sweep_label(noise.sweep, noise.sweep_started)}" if noise.sweep else ""
            rule = "unmeasured" if noise.state is NoiseState.UNMEASURED else "noise"
            unknown = "No sweep was given: nothing tells whether it is quiet."
            more = antenna_words(noise, link.radio.name)
            text = f"Sweep{where}: {noise_words(noise)}{by}{f'; {more}' if more else ''}." if sweeps else unknown
            yield _allow(rule, text)


def _tv_words(label: str, where: str, taken: bool) -> str:
    if taken:
        seen = f"the sweep shows a multiplex {where}: add it to tv_closed"
        return f"The brief does not close TV channel {label}, but {seen}."
    return f"TV channel {label} is not closed {where}."


def _allow(rule: str, text: str) -> Finding:
    return Finding(rule=rule, stops=False, text=text)


# ---------------------------------------------------------------------------------------------------- beside others


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Around:
    """The link on its new carrier among those that are placed; seat 0 is the link itself."""

    job: Job
    seats: tuple[Link, ...]
    problem: Problem
    carriers_hz: tuple[int, ...]
    hits: tuple[Hit, ...]

    @classmethod
    def of(cls, job: Job, link: Link, hz: int, placed: Mapping[str, int], more: Sequence[Link]) -> _Around:
        seats = (link, *(other for other in (*job.links, *more) if other.id in placed and other.id != link.id))
        carriers = (hz, *(placed[other.id] for other in seats[1:]))
        problem = seats_problem(job, seats)
        return cls(job=job, seats=seats, problem=problem, carriers_hz=carriers, hits=_hits(problem, carriers))

    @property
    def f(self) -> list[int]:
        """Carriers of all members, given ones included."""
        return [*self.carriers_hz, *(item.carrier_hz for item in self.problem.fixed)]

    def member(self, index: int) -> Link | Other:
        """Return the link or other user behind a member."""
        return self.seats[index] if index < len(self.seats) else self.job.others[index - len(self.seats)]


def _hits(problem: Problem, carriers_hz: Sequence[int]) -> tuple[Hit, ...]:
    """Return what the first member breaks or makes others break, the worst first, however much others break."""
    found = (*_at_first(problem, carriers_hz), *_by_first(problem, carriers_hz))
    return tuple(sorted(found, key=lambda hit: (hit.offset_hz - hit.required_hz, hit.victim, hit.members)))


def _at_first(problem: Problem, carriers_hz: Sequence[int]) -> tuple[Hit, ...]:
    """Return the spacings of the first member, and the products at it: nobody else is a victim."""
    silent = replace(problem.choices[0], clearance_hz=())
    rows = np.zeros_like(problem.near_hz)
    rows[0, :] = rows[:, 0] = 1
    alone = replace(
        problem,
        choices=(problem.choices[problem.wanted[0].choice], silent),
        wanted=tuple(replace(item, choice=min(1, index)) for index, item in enumerate(problem.wanted)),
        fixed=tuple(replace(item, clearance_hz=()) for item in problem.fixed),
        near_hz=problem.near_hz * rows,
        far_hz=problem.far_hz * rows,
    )
    return examine(alone, np.array(carriers_hz, np.int64), listed=_MOST_LISTED).hits


def _by_first(problem: Problem, carriers_hz: Sequence[int]) -> tuple[Hit, ...]:
    """Return the products that the first member makes with others, at others: they make none without it."""
    placed = zip(problem.wanted[1:], carriers_hz[1:], strict=True)
    seats = tuple(
        Fixed(
            id=item.id,
            carrier_hz=hz,
            sends=Sends.WITH_OURS,
            clearance_hz=problem.choices[item.choice].clearance_hz,
            contexts=item.contexts,
        )
        for item, hz in placed
    )
    users = tuple(replace(item, sends=min(item.sends, Sends.WITH_OURS)) for item in problem.fixed)
    nothing = np.zeros_like(problem.near_hz)
    together = replace(
        problem,
        choices=(replace(problem.choices[0], clearance_hz=()),),
        wanted=(replace(problem.wanted[0], choice=0),),
        fixed=(*seats, *users),
        near_hz=nothing,
        far_hz=nothing,
    )
    return examine(together, np.array(carriers_hz[:1], np.int64), listed=_MOST_LISTED).hits


def _on_one_box(around: _Around) -> list[Violation]:
    """Return what no carrier mends: the link and one that it is to be apart from, received by one unit."""
    link = around.seats[0].id
    return [found for found in unit_violations(around.seats) if link in (found.victim, *found.sources)]


def _beside(around: _Around, by_itself: Sequence[Violation]) -> list[Finding]:
    """Return what is broken beside others; products that only restate a spacing are marked."""
    broken = [hit_violation(around.problem, around.f, hit) for hit in around.hits]
    told = {violation for violation, _ in folded([*by_itself, *broken])}
    return [
        replace(_stop_beside(around, hit), restates=violation not in told)
        for hit, violation in zip(around.hits, broken, strict=True)
    ]


def _stop_beside(around: _Around, hit: Hit) -> Finding:
    violation = hit_violation(around.problem, around.f, hit)
    return _stop(around, violation, _asked_by(around, hit))


def _asked_by(around: _Around, hit: Hit) -> str:
    victim = around.member(hit.victim)
    if hit.too_far:
        return f"the front-end window of unit {around.seats[0].unit}"
    if hit.family is None:
        other = around.seats[max(hit.victim, *hit.members)]
        return asked_of(around.job, around.seats[0], other).by
    whose = victim.radio.name if isinstance(victim, Link) else victim.name
    return f"the {hit.family} clearance of {whose}"


def _closest(around: _Around) -> Iterator[Finding]:
    """Yield the rule with the smallest slack beside others, where none stops the link itself."""
    found = nearest(around.problem, np.array(around.carriers_hz, np.int64)).get(0)
    if found is None or any(hit.victim == 0 for hit in around.hits):
        return
    closest = closest_of(around.problem, found)
    yield Finding(
        rule=closest.rule,
        stops=False,
        text=f"Closest: {closest_words(closest)}.",
        sources=closest.sources,
        family=closest.family,
        product_hz=closest.product_hz,
        offset_hz=closest.offset_hz,
        required_hz=closest.required_hz,
    )


def _opening(around: _Around, alone: Sequence[Finding]) -> Opening:
    """Return the fewest links that would have to move, those that are held or never movable left in place."""
    concerned = [[m for m in (hit.victim, *hit.members) if 0 < m < len(around.seats)] for hit in around.hits]
    groups = [[m for m in members if is_movable(around.seats[m])] for members in concerned]
    stuck = [index for index, group in enumerate(groups) if not group]
    fewest = fewest_to_move(groups, [seat.priority for seat in around.seats])
    rules = [*(finding.rule for finding in alone), *(_stop_beside(around, around.hits[i]).rule for i in stuck)]
    return Opening(
        links=None if fewest is None else tuple(around.seats[m].id for m in fewest.members),
        proven=fewest is not None and fewest.proven,
        stays=tuple(sorted(set(rules), key=_ORDER.index)),
        immovable=tuple(dict.fromkeys(around.seats[m].id for i in stuck for m in concerned[i])),
    )


def _unasked(around: _Around) -> Iterator[Unasked]:
    """Yield what would be broken if all heard each other always, the worst first.

    Products only with those that the brief sets apart by isolation or by time, where they are not too many.
    """
    job, link = around.job, around.seats[0]
    because = [unasked_because(job, link, seat) for seat in around.seats]
    near = [0, *(i for i, reason in enumerate(because) if i and reason is not None and _is_near(around, i))]
    loud = [i for i, reason in enumerate(because) if reason is None or reason.code in ("isolation", "time")]
    told = {_key(around, hit.family, hit.victim, hit.members) for hit in around.hits}
    found: dict[frozenset[str], Unasked] = {}  # a product meets each of its carriers: told once
    for members, families in ((near, False), (loud if len(loud) <= _MOST_LOUD else [], True)):
        for item in _broken_if_heard(around, members, told):
            if (item.family is not None) is families:
                found.setdefault(frozenset((item.victim, *item.sources)), item)
    yield from sorted(found.values(), key=lambda item: item.offset_hz - item.would_require_hz)[:_MOST_UNASKED]


def _key(
    around: _Around, family: str | None, victim: int, members: Sequence[int]
) -> tuple[str | None, str, frozenset[str]]:
    ids = around.problem.ids
    return family, ids[victim], frozenset(ids[m] for m in members)


def _is_near(around: _Around, index: int) -> bool:
    """Whether a seat would be too near if it were heard."""
    gap = abs(around.carriers_hz[index] - around.carriers_hz[0])
    return gap < asked_of(_all_heard(around.job), _heard(around.seats[0]), _heard(around.seats[index])).spacing_hz


def _broken_if_heard(
    around: _Around, members: Sequence[int], told: set[tuple[str | None, str, frozenset[str]]]
) -> Iterator[Unasked]:
    if len(members) < 2:
        return
    job = _all_heard(around.job)
    problem = seats_problem(job, [_heard(around.seats[m]) for m in members])
    some = replace(around, seats=tuple(around.seats[m] for m in members), problem=problem)
    carriers = tuple(around.carriers_hz[m] for m in members)
    f = [*carriers, *(item.carrier_hz for item in problem.fixed)]
    for hit in _hits(problem, carriers):
        reason = _reason(some, hit)
        if hit.too_far or reason is None or _key(some, hit.family, hit.victim, hit.members) in told:
            continue
        what = hit_violation(problem, f, hit)
        yield Unasked(
            text=what.text.partition("; at least")[0],
            reason=reason,
            victim=what.victim,
            sources=what.sources,
            family=hit.family,
            offset_hz=hit.offset_hz,
            would_require_hz=hit.required_hz,
        )


def _all_heard(job: Job) -> Job:
    return replace(job, isolations=(), others=tuple(_heard(other) for other in job.others))


def _heard(member: Member) -> Member:
    """Return a member that is heard everywhere, always."""
    return replace(member, earshots=frozenset(), on_air=(), place=None)


def _reason(around: _Around, hit: Hit) -> Reason | None:
    members = [around.member(m) for m in dict.fromkeys((hit.victim, *hit.members))]
    pairs = [(one, two) for i, one in enumerate(members) for two in members[:i]]
    return next((why for one, two in pairs if (why := unasked_because(around.job, one, two)) is not None), None)

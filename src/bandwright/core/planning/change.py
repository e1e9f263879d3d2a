"""What changes from one plan to the next: who moves, from where to where, in which order and why; who is left alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import IntEnum
from zoneinfo import ZoneInfo

from bandwright.core.job import Job
from bandwright.core.kit import Direction, Link, MakesProducts, Other
from bandwright.core.planning.breaches import check_carriers
from bandwright.core.planning.build import Compiled, spare_links
from bandwright.core.planning.move_order import Action, MoveStep, order_moves
from bandwright.core.planning.plan import BoundStatus, Plan, Status, Violation
from bandwright.core.words import and_list
from bandwright.units import mhz_text

__all__ = [
    "Change",
    "LeftAlone",
    "Mobility",
    "Move",
    "SpareChange",
    "Step",
    "change_between",
    "mobility_of",
    "with_blocked",
    "with_lost",
]


class Mobility(IntEnum):
    """When a link's carrier may change.

    An in-ear in use changes only where its own carrier cannot stay, or where nothing else helps, and then later.
    """

    NEVER = 0
    NOW = 1
    LATER = 2
    IN_USE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A link that changes carrier, or gets its first one (`from_hz` is None).

    `at_break` tells that it has to wait for the next break; `spare` is the id of the spare carrier it takes.
    """

    link: str
    name: str
    from_hz: int | None
    to_hz: int
    at_break: bool
    spare: str | None
    reason: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do, in its turn; None for a carrier means: off."""

    link: str
    action: Action
    from_hz: int | None
    to_hz: int | None
    at_break: bool
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftAlone:
    """A link that must not be touched, or that should go and may not: `why` in words."""

    link: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareChange:
    """A spare carrier that is another one now; None for a carrier means: there is none."""

    id: str
    from_hz: int | None
    to_hz: int | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """From the verdict on the plan before to the steps that lead to the new one.

    `broken` is what the plan before breaks as things are now; `fine` and `in_trouble` are its links without and with a
    part in that. `stuck` links should go and may not.
    """

    broken: tuple[Violation, ...]
    fine: tuple[str, ...]
    in_trouble: tuple[str, ...]
    moves: tuple[Move, ...]
    steps: tuple[Step, ...]
    fewest: BoundStatus
    not_touched: tuple[LeftAlone, ...]
    stuck: tuple[LeftAlone, ...]
    spares: tuple[SpareChange, ...]


def with_lost(job: Job, lost_hz: Mapping[str, int]) -> Job:
    """Return the job with interference on the carriers of these links: they and their neighbours cannot be used there.

    A carrier must lie more than half the bandwidth of the link that lost its own away from it.
    """
    seats = {link.id: link for link in (*job.links, *spare_links(job))}
    heard = tuple(_interference(job, seats[name], hz) for name, hz in lost_hz.items() if name in seats)
    return replace(job, others=(*job.others, *heard))


def _heard_on(link: str) -> str:
    return f"Interference heard on {link}"


def _interference(job: Job, link: Link, carrier_hz: int) -> Other:
    lists = (job.links, job.others, job.permits, job.radios, job.places, job.units, job.pairs)
    taken = {item.id for items in lists for item in items}
    name = f"lost-{link.id}"
    while name in taken:
        name += "-"
    return Other(
        id=name,
        name=_heard_on(link.id),
        carrier_hz=carrier_hz,
        bandwidth_hz=link.radio.bandwidth_hz,
        keep_away_hz=link.radio.bandwidth_hz // 2 + 1,
        makes_products=MakesProducts.NO,
        earshots=link.earshots,
        place=link.place,
    )


def _told(job: Job, violation: Violation) -> Violation:
    """Return what is broken, in other words where a link stands on the very carrier on which it heard interference."""
    heard = next((other for other in job.others if violation.sources == (other.id,)), None)
    if heard is None or heard.name != _heard_on(violation.victim) or violation.offset_hz != 0:
        return violation
    return replace(
        violation, text=f"{violation.victim} on {mhz_text(heard.carrier_hz)} MHz: interference was heard there."
    )


def mobility_of(
    job: Job, links: Sequence[Link], before: Mapping[str, int], now: datetime, *, off_air: bool = False
) -> tuple[Mobility, ...]:
    """Return when each link's carrier may change at this moment; `off_air` says that nobody is on the air yet."""
    return tuple(_mobility(job, link, before.get(link.id), now, off_air) for link in links)


def _mobility(job: Job, link: Link, carrier_hz: int | None, now: datetime, off_air: bool) -> Mobility:
    if link.hold_hz is not None and carrier_hz is not None and carrier_hz != link.hold_hz:
        return Mobility.NOW  # the brief holds it elsewhere: it has to go there
    if link.hold_hz is not None or link.movable == "never":
        return Mobility.NEVER
    if not off_air and link.radio.direction is Direction.TO_PERSON and _on_air(job, link, now):
        return Mobility.IN_USE
    return Mobility.NOW if link.movable == "now" else Mobility.LATER


def _on_air(job: Job, link: Link, now: datetime) -> bool:
    """Whether a link is on the air: at its own times, or else on the dates of the job, or else always."""
    if link.on_air:
        return any(span.start <= now < span.end for span in link.on_air)
    zone = ZoneInfo(job.place_of(link).timezone)
    return not job.dates or now.astimezone(zone).date() in job.dates


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ground:
    """What a change stands on: carriers of all seats before and after (-1 = none), what is wrong, what is lost."""

    compiled: Compiled
    before: Sequence[int]
    after: Sequence[int]
    mobility: Sequence[Mobility]
    broken: tuple[Violation, ...]
    lost: Mapping[str, int]

    @property
    def links(self) -> list[int]:
        """The seats that are no spare carriers."""
        return [i for i, spare in enumerate(self.compiled.spare) if not spare]

    @property
    def spares(self) -> list[int]:
        """The seats that are spare carriers."""
        return [i for i, spare in enumerate(self.compiled.spare) if spare]

    def links_only(self, carriers_hz: Sequence[int]) -> list[int]:
        """Return the carriers with spare carriers taken off: nobody is on the air there."""
        return [-1 if spare else hz for hz, spare in zip(carriers_hz, self.compiled.spare, strict=True)]


def change_between(
    compiled: Compiled,
    *,
    before: Sequence[int],
    after: Sequence[int],
    mobility: Sequence[Mobility],
    stuck: Sequence[int],
    proven: bool,
    broken: Sequence[Violation],
    lost: Mapping[str, int],
) -> Change:
    """Return the change from one set of carriers to another, both in the order of the seats (-1 = none).

    `broken` is what is wrong with the carriers before; `lost` are those on which interference was heard.
    """
    broken = tuple(_told(compiled.job, violation) for violation in broken)
    ground = _Ground(compiled=compiled, before=before, after=after, mobility=mobility, broken=broken, lost=lost)
    seats = compiled.seats
    part = {name for violation in broken for name in (violation.victim, *violation.sources)}
    placed = [i for i in ground.links if before[i] >= 0]
    troubled = [i for i in placed if seats[i].id in part]
    steps = _order(ground, troubled)
    return Change(
        broken=ground.broken,
        fine=tuple(seats[i].id for i in placed if i not in troubled),
        in_trouble=tuple(seats[i].id for i in troubled),
        moves=tuple(_move(ground, step) for step in steps if step.to_hz == after[step.member] >= 0),
        steps=tuple(_step(ground, step) for step in steps),
        fewest=BoundStatus.PROVEN if proven else BoundStatus.FOUND,
        not_touched=tuple(
            LeftAlone(link=seats[i].id, why=_untouchable(seats[i], mobility[i]))
            for i in placed
            if before[i] == after[i] and mobility[i] in (Mobility.NEVER, Mobility.IN_USE) and i not in stuck
        ),
        stuck=tuple(LeftAlone(link=seats[i].id, why=_stuck(seats[i], broken)) for i in stuck),
        spares=tuple(_spare_change(ground, i) for i in ground.spares if before[i] != after[i]),
    )


def _order(ground: _Ground, troubled: Sequence[int]) -> tuple[MoveStep, ...]:
    moved = [i for i in ground.links if ground.before[i] != ground.after[i]]
    waits = (Mobility.LATER, Mobility.IN_USE)
    return order_moves(
        ground.compiled.problem,
        before=ground.links_only(ground.before),
        after=ground.links_only(ground.after),
        later=[i for i in moved if ground.before[i] >= 0 and ground.mobility[i] in waits],
        troubled=troubled,
        spare_hz={i: _waiting_rooms(ground, i) for i in moved if ground.before[i] >= 0},
    )


def with_blocked(plan: Plan, stuck: Sequence[LeftAlone]) -> Plan:
    """Return the plan with those links marked as blocked that stay though they break a rule."""
    ids = {item.link for item in stuck}
    links = tuple(replace(link, status=Status.BLOCKED) if link.id in ids else link for link in plan.links)
    return replace(plan, links=links)


def _waiting_rooms(ground: _Ground, seat: int) -> list[int]:
    """Return the spare carriers of its radio type on which a link may wait while others move."""
    compiled = ground.compiled
    radio = compiled.seats[seat].radio.id
    carriers = [ground.after[s] for s in ground.spares if compiled.seats[s].radio.id == radio]
    open_hz = compiled.problem.choices[compiled.problem.wanted[seat].choice].carriers_hz
    return [hz for hz in carriers if hz in open_hz]


def _move(ground: _Ground, step: MoveStep) -> Move:
    seat = ground.compiled.seats[step.member]
    home = ground.before[step.member]
    taken = (ground.compiled.seats[i].id for i in ground.spares if ground.before[i] == step.to_hz)
    spare = next(taken, None)
    way = f"from {mhz_text(home)} to" if home >= 0 else "new on"
    when = "now" if not step.at_break else _WHEN.get(ground.mobility[step.member], "at the next break")
    onto = f", spare carrier {spare}" if spare else ""
    reason = _reason(ground, step.member)
    called = f"{seat.id} ({seat.name})" if seat.name and seat.name != seat.id else seat.id
    return Move(
        link=seat.id,
        name=seat.name,
        from_hz=home if home >= 0 else None,
        to_hz=step.to_hz,
        at_break=step.at_break,
        spare=spare,
        reason=reason,
        text=f"{called}: {way} {mhz_text(step.to_hz)} MHz{onto}, {when}: {reason}",
    )


_WHEN = {Mobility.IN_USE: "once it is in nobody's ears"}


def _step(ground: _Ground, step: MoveStep) -> Step:
    name = ground.compiled.seats[step.member].id
    way = f"{name}: from {mhz_text(step.from_hz)} to {mhz_text(step.to_hz)} MHz"
    in_use = step.from_hz >= 0 and ground.mobility[step.member] is Mobility.IN_USE
    ears = ", once it is in nobody's ears" if in_use else ""
    gone = "" if ground.after[step.member] >= 0 else "; no carrier is left for it"
    words = {
        Action.RETUNE: f"{way}{ears}",
        Action.PARK: f"{way} for a while{ears}",
        Action.OFF: f"{name}: switch it off{ears}{gone}",
        Action.ON: f"{name}: switch it on with {mhz_text(step.to_hz)} MHz",
    }
    return Step(
        link=name,
        action=step.action,
        from_hz=step.from_hz if step.from_hz >= 0 else None,
        to_hz=step.to_hz if step.to_hz >= 0 else None,
        at_break=step.at_break,
        text=words[step.action],
    )


def _spare_change(ground: _Ground, seat: int) -> SpareChange:
    name, home, hz = ground.compiled.seats[seat].id, ground.before[seat], ground.after[seat]
    taker = next((ground.compiled.seats[i].id for i in ground.links if ground.after[i] == home), None)
    was = "there was none" if home < 0 else f"{mhz_text(home)} MHz " + (f"went to {taker}" if taker else "is given up")
    now = "there is none now" if hz < 0 else f"it is {mhz_text(hz)} MHz now"
    return SpareChange(
        id=name, from_hz=home if home >= 0 else None, to_hz=hz if hz >= 0 else None, text=f"{name}: {was}; {now}."
    )


def _reason(ground: _Ground, seat: int) -> str:
    """Return why a link moves: what is wrong where it was, or whom it makes room for."""
    name, home = ground.compiled.seats[seat].id, ground.before[seat]
    if home < 0:
        return "it had no carrier in the plan."
    if ground.lost.get(name) == home:
        return f"interference was heard on {mhz_text(home)} MHz."
    own = [v for v in ground.broken if v.victim == name] or [v for v in ground.broken if name in v.sources]
    return own[0].text if own else _makes_room(ground, seat)


def _makes_room(ground: _Ground, seat: int) -> str:
    """Return what a link would break among the new carriers if it stayed."""
    seats = ground.compiled.seats
    name = seats[seat].id
    carriers = {seats[i].id: ground.after[i] for i in ground.links if ground.after[i] >= 0}
    found = check_carriers(ground.compiled.job, {**carriers, name: ground.before[seat]})
    clashes = [v for v in found if v.rule in _BETWEEN and name in (v.victim, *v.sources)]
    moved = {seats[i].id for i in ground.links if ground.before[i] != ground.after[i]} - {name}
    whom = [sorted(moved & {v.victim, *v.sources}) for v in clashes]
    for clash, names in zip(clashes, whom, strict=True):
        if names:
            return f"it makes room for {and_list(names)}; if it stayed, {clash.text}"
    return "it makes room for others."


_BETWEEN = ("spacing", "product", "unit")


def _untouchable(seat: Link, mobility: Mobility) -> str:
    if mobility is Mobility.IN_USE:
        return "it is in somebody's ears now"
    if seat.hold_hz is not None:
        return f"it is held on {mhz_text(seat.hold_hz)} MHz"
    return "the brief says it never moves"


def _stuck(seat: Link, broken: Sequence[Violation]) -> str:
    rule = next((v.text for v in broken if v.victim == seat.id), None)
    rule = rule or next((v.text for v in broken if seat.id in v.sources), "a rule is broken")
    held = f"it is held on {mhz_text(seat.hold_hz)} MHz" if seat.hold_hz is not None else "it never moves"
    return f"{held}, though {rule}"

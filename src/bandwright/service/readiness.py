"""What still stands between this job and going on air: the facts gathered, told by `core.readiness`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bandwright.core.job import Job
from bandwright.core.permits import Permit
from bandwright.core.readiness import POINTS, TICKS, Next, Point, readiness
from bandwright.core.readiness_facts import (
    LinkFacts,
    PermitFacts,
    PlanFacts,
    ReadinessFacts,
    Said,
    SoundFacts,
    SpareFacts,
    SweepFacts,
    how_old,
)
from bandwright.core.when import clock_reading, days_of
from bandwright.service.brief_words import difference_lines, matters_on_sheet
from bandwright.service.counted import one_by_one
from bandwright.service.desk import Desk
from bandwright.service.differences import differences_since
from bandwright.service.job_brief import BriefNow, CellFault
from bandwright.service.job_plans import PlanNow, plan_in_force, plan_numbered
from bandwright.service.job_reach import strong_facts
from bandwright.service.job_sound import sound_facts
from bandwright.service.kept import in_use
from bandwright.service.seats import seats_of
from bandwright.service.statements import PRINTED, standing
from bandwright.store import Statement
from bandwright.store import Sweep as SweepRow
from bandwright.units import mhz_text

__all__ = ["LinkLine", "LinkName", "LinkTicks", "LinksNow", "PermitLine", "ReadinessNow", "readiness_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitLine:
    """A permit in one line; `over` means past."""

    uid: str | None
    id: str
    reference: str
    state: str
    expires: datetime | None
    over: bool
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkName:
    """A link on which something is not ticked yet."""

    uid: str
    id: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkTicks:
    """Who ticked what of a link, and when; null where nobody did."""

    set: Said | None = None
    heard: Said | None = None
    walked: Said | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkLine(LinkName):
    """A link with its carrier in the plan in force, how it stands there, and its ticks."""

    carrier_hz: int | None
    status: str | None
    cautions: tuple[str, ...]
    ticks: LinkTicks


@dataclass(frozen=True, slots=True, kw_only=True)
class LinksNow:
    """How many links there are, and those not set, not heard, not walked, by name."""

    total: int
    not_set: tuple[LinkName, ...]
    not_heard: tuple[LinkName, ...]
    not_walked: tuple[LinkName, ...]
    all: tuple[LinkLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadinessNow:
    """The readiness of a job now: what is next, the facts beside it, and the eight points."""

    next: Next
    plan: PlanFacts | None
    sweep: SweepFacts | None
    links: LinksNow
    printed: Said | None
    since_print: tuple[str, ...]
    spares: tuple[SpareFacts, ...]
    permits: tuple[PermitLine, ...]
    points: tuple[Point, ...]


def readiness_of(desk: Desk) -> ReadinessNow:
    """Return how far the job is from going on air, as things are at this minute."""
    sound = sound_facts(desk)  # before others have to wait for it
    with desk.lock:
        facts, ticks = _facts(desk, sound)
    found = readiness(facts)
    return ReadinessNow(
        next=found.next,
        plan=facts.plan,
        sweep=facts.sweep,
        links=LinksNow(
            total=len(facts.links),
            not_set=tuple(map(_named, found.not_set)),
            not_heard=tuple(map(_named, found.not_heard)),
            not_walked=tuple(map(_named, found.not_walked)),
            all=tuple(_link_line(link, ticks.get(link.uid, {})) for link in facts.links),
        ),
        printed=facts.printed,
        since_print=facts.since_print,
        spares=facts.spares,
        permits=tuple(map(_permit_line, facts.permits)),
        points=found.points,
    )


def _named(link: LinkFacts) -> LinkName:
    return LinkName(uid=link.uid, id=link.id, name=link.name)


def _link_line(link: LinkFacts, ticks: Mapping[str, Said]) -> LinkLine:
    return LinkLine(
        uid=link.uid,
        id=link.id,
        name=link.name,
        carrier_hz=link.carrier_hz,
        status=link.status,
        cautions=link.cautions,
        ticks=LinkTicks(**ticks),
    )


def _facts(desk: Desk, sound: SoundFacts | None) -> tuple[ReadinessFacts, Mapping[str, Mapping[str, Said]]]:
    brief, plan, said = desk.brief(), plan_in_force(desk), standing(desk)
    zone = _zone(brief)
    now = desk.context.now().astimezone(zone)
    ticks = _ticks(said, zone)
    printed = _printed(plan, said)
    return (
        ReadinessFacts(
            faults=tuple(map(_fault_text, brief.faults)),
            permits=tuple(_permits(brief, now)) if brief.job is not None else (),
            links=tuple(_links(brief, plan, ticks)),
            sweep=_sweep(desk, brief, now),
            plan=_plan(plan),
            spares=tuple(_spares(brief.job, plan)) if brief.job is not None else (),
            printed=_said(printed, zone) if printed is not None else None,
            since_print=tuple(_since_print(desk, plan, printed)) if printed is not None else (),
            strong=strong_facts(desk),
            sound=sound,
            statements=tuple((item.what, _said(item, zone)) for item in said if item.what in POINTS),
        ),
        ticks,
    )


def _fault_text(cell: CellFault) -> str:
    """Return a fault as somebody reads it who has a page before them and no file."""
    missing = cell.uid is None and cell.fault.code == "missing" and cell.field is not None
    return f"no {cell.field} is written down yet" if missing else cell.fault.text


def _zone(brief: BriefNow) -> ZoneInfo:
    """Return the time zone of the first place."""
    names = [row.value.get("timezone") for row in brief.entries if row.kind == "place"]
    try:
        return ZoneInfo(str(names[0])) if names and names[0] else ZoneInfo("UTC")
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return ZoneInfo("UTC")


def _said(item: Statement, zone: ZoneInfo) -> Said:
    at = datetime.fromisoformat(item.at).astimezone(zone)
    return Said(uid=item.uid, who=item.who, at=at, note=item.note)


def _ticks(said: Sequence[Statement], zone: ZoneInfo) -> dict[str, dict[str, Said]]:
    """Return who ticked what of each link, by its uid."""
    found: dict[str, dict[str, Said]] = {}
    for item in said:
        if item.what in TICKS and item.about is not None:
            found.setdefault(item.about, {})[item.what] = _said(item, zone)
    return found


def _links(brief: BriefNow, plan: PlanNow | None, ticks: Mapping[str, Mapping[str, Said]]) -> Iterator[LinkFacts]:
    placed = {link.id: link for link in plan.plan.links} if plan is not None else {}
    permits = _permit_ids(brief)
    for seat in seats_of(brief.entries):
        link = placed.get(plan.ids.get(seat.uid, "")) if plan is not None else None
        bare = LinkFacts(uid=seat.uid, id=seat.id, name=seat.name)
        if link is None:
            yield bare
            continue
        yield replace(
            bare,
            carrier_hz=link.carrier_hz,
            status=link.status.value,
            cautions=link.cautions,
            permit=permits.get(link.permit or "", link.permit),
            ticked=frozenset(ticks.get(seat.uid, {})),
        )


def _permit_ids(brief: BriefNow) -> dict[str, str]:
    """Return the id in the brief of each permit of the job: a rule table with several terms makes several of one."""
    rows = [str(row.id) for row in brief.entries if row.kind == "permit"]
    permits = brief.job.permits if brief.job is not None else ()
    return {
        permit.id: next((row for row in rows if permit.id == row or permit.id.startswith(f"{row}.")), permit.id)
        for permit in permits
    }


def _permits(brief: BriefNow, now: datetime) -> Iterator[PermitFacts]:
    job = brief.job
    rows = {row.id: row.uid for row in brief.entries if row.kind == "permit"}
    known = _permit_ids(brief)
    told: set[str] = set()
    for permit in job.permits if job is not None else ():
        name = known[permit.id]
        if name not in told and job is not None:
            told.add(name)
            yield _permit(job, permit, name, rows.get(name), now)


def _permit(job: Job, permit: Permit, name: str, uid: str | None, now: datetime) -> PermitFacts:
    ends = max((span.end for span in permit.valid), default=None)
    return PermitFacts(
        uid=uid,
        id=name,
        reference=permit.reference,
        state=permit.state,
        ends=None if ends is None else ends.astimezone(now.tzinfo),
        over=ends is not None and ends <= now,
        covers_dates=not permit.valid or days_of(permit.valid).issuperset(job.dates),
        confirmed=permit.confirmed,
    )


def _permit_line(permit: PermitFacts) -> PermitLine:
    state = {"applied": "applied for, not granted", "granted": "granted", "exempt": "exempt"}[permit.state.value]
    until = "no end is stated"
    if permit.ends is not None:
        until = f"{'ended' if permit.over else 'until'} {permit.ends:%Y-%m-%d %H:%M}"
    doubt = "" if permit.confirmed else "; shipped figures that nobody has held against the regulator's text"
    return PermitLine(
        uid=permit.uid,
        id=permit.id,
        reference=permit.reference,
        state=permit.state.value,
        expires=permit.ends,
        over=permit.over,
        text=f"{state}, {until}{doubt}",
    )


def _sweep(desk: Desk, brief: BriefNow, now: datetime) -> SweepFacts | None:
    """Return the newest sweep that plans count."""
    rows = [row for row in desk.file.sweeps() if in_use(row)]
    if not rows:
        return None
    newest = max(rows, key=lambda row: (_started(row) or "", row.added_at))
    age, old = _age(brief, newest, now)
    own = str(newest.facts["read"]["own_transmitters"])
    return SweepFacts(name=newest.name, own_transmitters=own, age=age, old=old)


def _started(row: SweepRow) -> str | None:
    started = row.facts["read"]["started"]
    return None if started is None else str(started)


def _age(brief: BriefNow, row: SweepRow, now: datetime) -> tuple[str | None, bool]:
    started = _started(row)
    if started is None:
        return None, False
    if brief.job is not None and brief.job.invented:
        return "invented, like all of this job", False
    began = clock_reading(datetime.fromisoformat(started), _zone_of(brief, row.facts.get("place")), late=False)
    return how_old(began, now.astimezone(began.tzinfo))


def _zone_of(brief: BriefNow, place: Any) -> ZoneInfo:
    rows = [row for row in brief.entries if row.kind == "place" and row.id == place]
    return _zone(replace(brief, entries=tuple(rows))) if rows else _zone(brief)


def _plan(plan: PlanNow | None) -> PlanFacts | None:
    if plan is None:
        return None
    placed = plan.tuned()
    return PlanFacts(
        number=plan.number,
        check_phrase=plan.row.check_phrase,
        made=plan.made,
        stale=plan.stale,
        unplaced=tuple(seat.id for seat in plan.seats if seat.uid not in placed),
    )


def _spares(job: Job, plan: PlanNow | None) -> Iterator[SpareFacts]:
    """Yield what was wished and what is left: a spare carrier that a link took is none any more."""
    held = {link.carrier_hz for link in plan.plan.links} if plan is not None else set()
    for radio, wished in job.wishes.spares:
        there = [spare for spare in plan.plan.spares if spare.radio == radio] if plan is not None else []
        yield SpareFacts(radio=radio, wished=wished, left=sum(spare.carrier_hz not in held for spare in there))


def _printed(plan: PlanNow | None, said: Sequence[Statement]) -> Statement | None:
    """Return the last time that a sheet was printed."""
    prints = [item for item in said if item.what == PRINTED]
    return prints[-1] if prints and plan is not None else None


def _since_print(desk: Desk, plan: PlanNow | None, printed: Statement) -> Iterator[str]:
    """Yield what the sheet that hangs does not know."""
    state = desk.file.state(PRINTED)
    if plan is None or printed.plan_number is None:
        return
    if printed.plan_number != plan.number:
        yield from _moved(plan_numbered(desk, printed.plan_number), plan)
    if isinstance(state, dict) and state.get("plan") == printed.plan_number:
        changes = one_by_one(differences_since(desk.file, int(state["seq"]), "entry"))
        found = [item for item in changes if matters_on_sheet(item)]
        yield from (line.text for line in difference_lines(found))


def _moved(before: PlanNow, now: PlanNow) -> Iterator[str]:
    was, is_now = before.tuned(), now.tuned()
    for seat in now.seats:
        one, two = was.get(seat.uid), is_now.get(seat.uid)
        if one == two:
            continue
        if one is None and two is not None:
            yield f"{seat.id} is new on {mhz_text(two[0])} MHz."
        elif two is None:
            yield f"{seat.id} has no carrier any more."
        elif one is not None:
            yield f"{seat.id} moved from {mhz_text(one[0])} to {mhz_text(two[0])} MHz."
    gone = before.spare_carriers() - now.spare_carriers()
    if gone:
        yield f"Spare carriers changed: {', '.join(mhz_text(hz) for hz in sorted(gone))} MHz went."

"""What stands on a sheet: head, rows in groups, spare carriers, notes; already in words, not yet laid out.

`build_sheet` is a pure function of a job, a plan and a few facts. PDF, HTML and text show the same value. How people
are called there is in `sheet_names`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from bandwright.core.bands import Span
from bandwright.core.job import Job
from bandwright.core.kit import Direction, Link, Other, RadioType, Unit, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.plan import NoiseState, PlacedLink, Plan, Spare, Status, Unplaced
from bandwright.core.sheet_names import People
from bandwright.core.words import (
    KIND_WORDS,
    and_list,
    bound_words,
    caution_words,
    closest_brief,
    closest_words,
    kept_words,
    label_list,
    noise_words,
    on_air_words,
    power_words,
    ratio_brief,
    ratio_words,
    sweep_label,
)
from bandwright.units import mhz_text

__all__ = [
    "LineUp",
    "Sheet",
    "SheetCell",
    "SheetFacts",
    "SheetGroup",
    "SheetHead",
    "SheetRow",
    "build_sheet",
    "dates_text",
    "minute_text",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineUp:
    """What the audio line-up set on one link, in words."""

    link: str
    gain: str | None = None
    companding: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFacts:
    """What a sheet says beyond job and plan.

    `made` carries the time zone it is to be printed in. `sweep` tells which sweep the plan stands on, with its time
    and state; None means that there was none. `taken_tv` are TV channels that the sweeps found on the air, by place id.
    `notes` are what people wrote beside the brief.
    """

    made: datetime
    sweep: str | None = None
    hours: str | None = None
    taken_tv: Mapping[str, Sequence[str]] = field(default_factory=dict)
    line_up: tuple[LineUp, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetHead:
    """The head of a sheet; `stamp` is repeated at the foot: plan number, check phrase, minute."""

    title: str
    places: str
    dates: str
    hours: str | None
    plan: str
    check_phrase: str
    minute: str
    permits: tuple[str, ...]
    sweep: str
    do_not_use: tuple[str, ...]
    common: tuple[str, ...]
    invented: bool

    @property
    def stamp(self) -> str:
        """Plan number, check phrase and minute on one line."""
        return f"{self.plan} · {self.check_phrase} · {self.minute}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One link. `mhz` is None for an unplaced one, and `reason` then tells why; `same_as` is the first with it.

    `marks` are words that warn, and who else is on the same carrier.
    """

    label: str
    who: str
    where: str
    radio: str
    band: str | None
    mhz: str | None
    status: str
    marks: tuple[str, ...] = ()
    reason: str | None = None
    same_as: str | None = None
    preset: str | None = None
    tv_channel: str | None = None
    power: str | None = None
    power_kind: str | None = None
    gain: str | None = None
    companding: str | None = None
    receiver: str | None = None
    antenna: str | None = None
    desk_input: str | None = None
    spare: str | None = None
    spare_mhz: str | None = None
    closest: str | None = None
    closest_brief: str | None = None
    noise: str | None = None

    @property
    def why(self) -> str:
        """Why it is unplaced; what another row says already is not said again."""
        return f"for the same reason as {self.same_as}" if self.same_as else self.reason or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGroup:
    """Rows under one heading."""

    name: str
    rows: tuple[SheetRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetCell:
    """A carrier with a short line about it: a spare carrier, or somebody else's transmitter."""

    label: str
    mhz: str
    about: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything on a sheet."""

    head: SheetHead
    groups: tuple[SheetGroup, ...]
    spares: tuple[SheetCell, ...]
    missing_spares: tuple[str, ...]
    others: tuple[SheetCell, ...]
    bound: str
    kept: str | None
    conflicts: tuple[str, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def about_plan(self) -> tuple[str, ...]:
        """How good the plan is, what it keeps of an earlier one, and what cannot hold together."""
        return (self.bound, *([self.kept] if self.kept else []), *self.conflicts)

    @property
    def rows(self) -> tuple[SheetRow, ...]:
        """All rows, group after group."""
        return tuple(row for group in self.groups for row in group.rows)


_GROUPS = {
    Direction.FROM_PERSON: "Microphones",
    Direction.TO_PERSON: "In-ears",
    Direction.BOTH: "Talkback",
}
_WORN = {Worn.BODY: "body", Worn.HAND: "hand", Worn.RACK: "rack"}
_STATES = {
    PermitState.APPLIED: "applied for, NOT granted",
    PermitState.GRANTED: "granted",
    PermitState.EXEMPT: "exempt",
}
_BLOCKED = "BLOCKED"


def build_sheet(job: Job, plan: Plan, facts: SheetFacts, *, names: str = "full") -> Sheet:
    """Return the sheet of a plan.

    Parameters
    ----------
    job
        What was asked for.
    plan
        The carriers and the evidence for each.
    facts
        When it was made, and what it stands on.
    names
        "full", "initials" or "roles".

    Raises
    ------
    KeyError
        When `names` is none of these; the text lists them.
    """
    people = People.of(job, names=names)
    rows = _rows(job, plan, facts, people)
    rows, common = _said_once(rows)
    return Sheet(
        head=_head(job, plan, facts, common),
        groups=_grouped(job.links, rows),
        spares=tuple(_spare_cell(job, spare) for spare in plan.spares),
        missing_spares=tuple(people.hide(text) for text in _missing_spares(job, plan.unplaced)),
        others=tuple(_other_cell(other) for other in job.others),
        bound=bound_words(plan.bound),
        kept=None if plan.kept is None else people.hide(kept_words(plan.kept)),
        conflicts=tuple(people.hide(conflict.text) for conflict in plan.conflicts),
        notes=tuple(people.hide(note) for note in (*_notes(job), *facts.notes)),
        warnings=tuple(people.hide(warn.text) for warn in plan.warnings),
    )


def _head(job: Job, plan: Plan, facts: SheetFacts, common: tuple[str, ...]) -> SheetHead:
    return SheetHead(
        title=job.title,
        places=" · ".join(place.name for place in job.places if place.name),
        dates=dates_text(job.dates),
        hours=facts.hours or job.hours,
        plan=f"Plan {plan.number}",
        check_phrase=plan.check_phrase,
        minute=minute_text(facts.made),
        permits=_permit_texts(job, plan),
        sweep=facts.sweep or "no sweep: nobody measured what is on the air",
        do_not_use=_do_not_use(job, facts.taken_tv),
        common=common,
        invented=job.invented,
    )


def dates_text(dates: Sequence[date]) -> str:
    """Return the days of a job: the first and last of several in a row, else each."""
    if len(dates) > 2 and (dates[-1] - dates[0]).days == len(dates) - 1:
        return f"{dates[0].isoformat()} to {dates[-1].isoformat()}"
    return ", ".join(day.isoformat() for day in dates)


def minute_text(made: datetime) -> str:
    """Return a minute with its offset from UTC where that is known."""
    zone = made.strftime("%z")
    offset = f"{zone[:3]}:{zone[3:5]}" if zone.strip("+0") else ""
    shown = f" UTC{offset}" if zone else ""
    return f"{made:%Y-%m-%d %H:%M}{shown}"


def _permit_texts(job: Job, plan: Plan) -> tuple[str, ...]:
    """Return the permits under which carriers stand, then those only applied for that no carrier uses."""
    used = _used_permits(job, plan)
    idle = [permit for permit in job.permits if permit.state is PermitState.APPLIED and permit not in used]
    return (*map(_permit_text, used), *(f"{permit.reference} applied for: not used" for permit in idle))


def _used_permits(job: Job, plan: Plan) -> tuple[Permit, ...]:
    used = {link.permit for link in plan.links} | {spare.permit for spare in plan.spares}
    return tuple(permit for permit in job.permits if permit.id in used) or job.permits


def _permit_text(permit: Permit) -> str:
    unconfirmed = "" if permit.confirmed else ", unconfirmed figures"
    return f"{permit.reference}: {_STATES[permit.state]}{unconfirmed}"


def _do_not_use(job: Job, taken: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    items = []
    several = len(job.places) > 1
    for place in job.places:
        closed = _in_raster_order(job, (*place.tv_closed, *taken.get(place.id, ())), place.id)
        if closed:
            items.append(f"TV {label_list(closed)}" + (f" at {place.name}" if several else ""))
    spans = sorted({span for permit in job.permits for span in permit.closed})
    items.extend(_span_text(span) for span in spans)
    return tuple(items)


def _in_raster_order(job: Job, labels: Iterable[str], place_id: str) -> list[str]:
    place = next(place for place in job.places if place.id == place_id)
    unique = list(dict.fromkeys(labels))
    if place.raster is None:
        return unique
    order = {channel.label: number for number, channel in enumerate(place.raster.channels)}
    return sorted(unique, key=lambda label: order.get(label, len(order)))


def _span_text(span: Span) -> str:
    return f"{mhz_text(span.low_hz)}–{mhz_text(span.high_hz)} MHz"


def _rows(job: Job, plan: Plan, facts: SheetFacts, people: People) -> dict[str, SheetRow]:
    placed = {item.id: item for item in plan.links}
    unplaced = {item.id: item for item in plan.unplaced}
    line_up = {item.link: item for item in facts.line_up}
    units = {unit.id: unit for unit in job.units}
    spares = _spares_in_turn(job.links, placed, plan.spares)
    rows = {}
    for link in job.links:
        plain = _plain_row(job, link, people, units.get(link.unit or ""), line_up.get(link.id))
        if link.id in placed:
            rows[link.id] = _with_carrier(plain, link, placed[link.id], spares.get(link.id))
        else:
            rows[link.id] = _without_carrier(plain, unplaced.get(link.id), people)
    return _reasons_once(rows)


def _reasons_once(rows: Mapping[str, SheetRow]) -> dict[str, SheetRow]:
    """Let rows with the reason of an earlier row point at that one."""
    first: dict[str, str] = {}
    found = {}
    for label, row in rows.items():
        before = first.setdefault(row.reason, label) if row.reason else label
        found[label] = row if before == label else replace(row, same_as=before)
    return found


def _plain_row(job: Job, link: Link, people: People, unit: Unit | None, line_up: LineUp | None) -> SheetRow:
    return SheetRow(
        label=link.id,
        who=people.shown[link.id],
        where=", ".join(_where(job, link)),
        radio=link.radio.name,
        band=None,
        mhz=None,
        status="",
        gain=line_up.gain if line_up else None,
        companding=line_up.companding if line_up else None,
        receiver=people.hide_if(link.receiver or (unit.name if unit else None)),
        antenna=people.hide_if(link.antenna or (unit.antenna if unit else None)),
        desk_input=people.hide_if(link.desk_input),
    )


def _where(job: Job, link: Link) -> Iterable[str]:
    yield _WORN[link.worn]
    if len(job.places) > 1:
        yield job.place_of(link).name
    rack = link.rack
    if rack and link.worn is not Worn.BODY:
        yield rack
    if link.hold_hz is not None:
        yield "held"
    of_links, of_others = (link.earshots for link in job.links), (other.earshots for other in job.others)
    if len(frozenset().union(*of_links, *of_others)) > 1:
        yield from sorted(link.earshots)
    yield from on_air_words(link.on_air, job.dates)


def _with_carrier(row: SheetRow, link: Link, item: PlacedLink, spare: Spare | None) -> SheetRow:
    preset = item.preset or (found.label if (found := link.radio.preset_at(item.carrier_hz)) else None)
    power_mw = item.power_mw if item.power_mw is not None else link.power_mw
    return replace(
        row,
        mhz=mhz_text(item.carrier_hz),
        status=item.status.value,
        marks=_marks(item),
        band=_band_text(link.radio, item.carrier_hz),
        preset=preset,
        tv_channel=item.tv_channel,
        power=None if power_mw is None else power_words(power_mw),
        power_kind=KIND_WORDS[kind] if power_mw is not None and (kind := link.radio.power_kind) else None,
        spare=spare.id if spare else None,
        spare_mhz=mhz_text(spare.carrier_hz) if spare else None,
        closest=_closest_text(item),
        closest_brief=_closest_text(item, brief=True),
        noise=noise_words(item.noise) if item.noise else None,
    )


def _closest_text(item: PlacedLink, *, brief: bool = False) -> str | None:
    """Return what comes closest in kHz, and beside it the predicted carrier to interference where there is one."""
    closest, ratio = (closest_brief, ratio_brief) if brief else (closest_words, ratio_words)
    level = item.carrier_to_interference
    parts = [closest(item.closest) if item.closest else None, ratio(level) if level else None]
    return "; ".join(part for part in parts if part) or None


def _marks(item: PlacedLink) -> tuple[str, ...]:
    words = tuple(dict.fromkeys(caution_words(code) for code in item.cautions))
    notes = tuple(note.text for note in item.notes)
    if item.status is Status.BLOCKED:
        return (_BLOCKED, *_closed_by(item), *words, *notes)
    return (*(words or (("caution",) if item.status is Status.CAUTION else ())), *notes)


def _closed_by(item: PlacedLink) -> tuple[str, ...]:
    """Return the sweep that closed the carrier of a link, where one did."""
    noise = item.noise
    if noise is None or noise.state is not NoiseState.NOISY or noise.sweep is None:
        return ()
    return (f"closed by {sweep_label(noise.sweep, noise.sweep_started)}",)


def _band_text(radio: RadioType, carrier_hz: int) -> str | None:
    ranges = [item for item in radio.tuning if item.low_hz <= carrier_hz <= item.high_hz]
    return f"{_short_mhz(ranges[0].low_hz)}–{_short_mhz(ranges[0].high_hz)}" if ranges else None


def _short_mhz(hz: int) -> str:
    return mhz_text(hz).rstrip("0").rstrip(".")


def _without_carrier(row: SheetRow, item: Unplaced | None, people: People) -> SheetRow:
    reasons = " ".join(reason.text for reason in item.reasons) if item else ""
    reason = people.hide(reasons) or "this plan does not hold the link"
    return replace(row, status="unplaced", marks=("UNPLACED",), reason=reason)


def _spares_in_turn(
    links: Sequence[Link], placed: Mapping[str, PlacedLink], spares: Sequence[Spare]
) -> dict[str, Spare]:
    """Give each link a first spare carrier of its own radio type, in turn: two troubles then meet different ones."""
    by_radio: dict[str, list[Spare]] = {}
    for spare in spares:
        by_radio.setdefault(spare.radio, []).append(spare)
    turn: dict[str, int] = {}
    given = {}
    for link in links:
        own = by_radio.get(link.radio.id)
        if own and link.id in placed:
            turn[link.radio.id] = turn.get(link.radio.id, -1) + 1
            given[link.id] = own[turn[link.radio.id] % len(own)]
    return given


def _said_once(rows: Mapping[str, SheetRow]) -> tuple[dict[str, SheetRow], tuple[str, ...]]:
    """Take marks that every placed row carries out of the rows; the head then says them once, for all."""
    placed = [row for row in rows.values() if row.mhz is not None]
    if len(placed) < 2:
        return dict(rows), ()
    shared = (mark for mark in placed[0].marks if all(mark in row.marks for row in placed))
    common = tuple(mark for mark in shared if mark != _BLOCKED)
    kept = {
        key: replace(row, marks=tuple(mark for mark in row.marks if mark not in common)) if row.mhz else row
        for key, row in rows.items()
    }
    return kept, common


def _grouped(links: Sequence[Link], rows: Mapping[str, SheetRow]) -> tuple[SheetGroup, ...]:
    groups = (
        SheetGroup(name=name, rows=tuple(rows[link.id] for link in links if link.radio.direction is direction))
        for direction, name in _GROUPS.items()
    )
    return tuple(group for group in groups if group.rows)


def _spare_cell(job: Job, spare: Spare) -> SheetCell:
    names = {radio.id: radio.name for radio in job.radios}
    preset = f"preset {spare.preset}" if spare.preset else None
    tv = f"TV {spare.tv_channel}" if spare.tv_channel else None
    about = ", ".join(part for part in (names.get(spare.radio, spare.radio), tv, preset) if part)
    return SheetCell(label=spare.id, mhz=mhz_text(spare.carrier_hz), about=about)


def _other_cell(other: Other) -> SheetCell:
    return SheetCell(label=other.id, mhz=mhz_text(other.carrier_hz), about=other.name)


def _missing_spares(job: Job, unplaced: Iterable[Unplaced]) -> Iterable[str]:
    """Yield each reason once, with all spare carriers that are missing for it, or the link whose row says it."""
    links = {link.id for link in job.links}
    first_link: dict[str, str] = {}
    spares: dict[str, list[str]] = {}
    for item in unplaced:
        reasons = " ".join(reason.text for reason in item.reasons)
        if item.id in links:
            first_link.setdefault(reasons, item.id)
        else:
            spares.setdefault(reasons, []).append(item.id)
    for reasons, names in spares.items():
        told = first_link.get(reasons) if reasons else None
        why = f"unplaced, for the same reason as {told}." if told else f"unplaced. {reasons}".strip()
        yield f"{and_list(names)}: {why}"


def _notes(job: Job) -> Iterable[str]:
    if job.note:
        yield job.note
    yield from (f"{link.id}: {link.note}" for link in job.links if link.note)

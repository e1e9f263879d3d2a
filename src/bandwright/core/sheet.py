"""What stands on a sheet: head, rows in groups, spare carriers, notes; already in words, not yet laid out.

`build_sheet` is a pure function of a job, a plan and a few facts. PDF, HTML and text show the same value. A sheet on a
wall with names and carriers lets anyone listen, so names can be full, initials or roles; whoever is not shown by name
is not named anywhere else on the sheet either.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from bandwright.core.bands import Span
from bandwright.core.job import Job
from bandwright.core.kit import Direction, Link, Other, RadioType, Unit, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.plan import PlacedLink, Plan, Spare, Status, Unplaced
from bandwright.core.when import TimeSpan
from bandwright.core.words import (
    KIND_WORDS,
    bound_words,
    caution_words,
    closest_words,
    label_list,
    noise_words,
    power_words,
)
from bandwright.units import mhz_text

__all__ = [
    "NAME_STYLES",
    "LineUp",
    "Sheet",
    "SheetCell",
    "SheetFacts",
    "SheetGroup",
    "SheetHead",
    "SheetRow",
    "build_sheet",
    "initials",
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
    and state; None means that there was none. `taken_tv` are TV channels that the sweep found on the air.
    """

    made: datetime
    sweep: str | None = None
    hours: str | None = None
    taken_tv: tuple[str, ...] = ()
    line_up: tuple[LineUp, ...] = ()


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
    """One link. `mhz` is None for an unplaced one, and `reason` then tells why; `marks` are words that warn."""

    label: str
    who: str
    where: str
    radio: str
    band: str | None
    mhz: str | None
    status: str
    marks: tuple[str, ...] = ()
    reason: str | None = None
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
    noise: str | None = None


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
    notes: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def rows(self) -> tuple[SheetRow, ...]:
        """All rows, group after group."""
        return tuple(row for group in self.groups for row in group.rows)


_GROUPS = {
    Direction.FROM_PERSON: "Microphones",
    Direction.TO_PERSON: "In-ears",
    Direction.BOTH: "Talkback",
}
_ONE_OF = {Direction.FROM_PERSON: "microphone", Direction.TO_PERSON: "in-ear", Direction.BOTH: "talkback"}
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
    if names not in NAME_STYLES:
        raise KeyError(f"unknown way to print names {names!r}; known: {', '.join(NAME_STYLES)}")
    people = _People.of(job, style=NAME_STYLES[names])
    rows = _rows(job, plan, facts, people)
    rows, common = _said_once(rows)
    return Sheet(
        head=_head(job, plan, facts, common),
        groups=_grouped(job.links, rows),
        spares=tuple(_spare_cell(job, spare) for spare in plan.spares),
        missing_spares=tuple(people.hide(_missing_spare(item)) for item in _unknown_to(job, plan.unplaced)),
        others=tuple(_other_cell(other) for other in job.others),
        bound=bound_words(plan.bound),
        notes=tuple(people.hide(note) for note in _notes(job)),
        warnings=tuple(people.hide(warn.text) for warn in plan.warnings),
    )


def initials(name: str) -> str:
    """Return the first letters of a name's words, upright.

    >>> initials("Łukasz Nguyễn"), initials("Mara")
    ('ŁN', 'M')
    """
    return "".join(word[0].upper() for word in re.split(r"[\s\-]+", name) if word and word[0].isalnum())


def _full_name(link: Link) -> str:
    return link.name


def _initials_of(link: Link) -> str:
    return initials(link.name) or link.id


def _role_of(link: Link) -> str:
    return link.role or _ONE_OF[link.radio.direction]


NAME_STYLES: Mapping[str, Callable[[Link], str]] = {
    "full": _full_name,
    "initials": _initials_of,
    "roles": _role_of,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _People:
    """What each link is called on this sheet, and how names are kept out of everything else."""

    shown: Mapping[str, str]
    hidden: tuple[tuple[str, str], ...]

    @classmethod
    def of(cls, job: Job, *, style: Callable[[Link], str]) -> _People:
        shown = {link.id: style(link) for link in job.links}
        pairs = {
            name: shown[link.id]
            for link in job.links
            for name in (link.name, link.wearer)
            if name and name not in (shown[link.id], link.id)
        }
        hidden = pairs if style is not _full_name else {}
        return cls(shown=shown, hidden=tuple(sorted(hidden.items(), key=lambda pair: -len(pair[0]))))

    def hide(self, text: str) -> str:
        for name, shown in self.hidden:
            text = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", lambda _, shown=shown: shown, text)  # type: ignore[misc]
        return text

    def hide_if(self, text: str | None) -> str | None:
        return None if text is None else self.hide(text)


def _head(job: Job, plan: Plan, facts: SheetFacts, common: tuple[str, ...]) -> SheetHead:
    return SheetHead(
        title=job.title,
        places=" · ".join(place.name for place in job.places if place.name),
        dates=_dates_text(job.dates),
        hours=facts.hours or job.hours,
        plan=f"Plan {plan.number}",
        check_phrase=plan.check_phrase,
        minute=_minute_text(facts.made),
        permits=tuple(_permit_text(permit) for permit in _used_permits(job, plan)),
        sweep=facts.sweep or "no sweep: nobody measured what is on the air",
        do_not_use=_do_not_use(job, facts.taken_tv),
        common=common,
        invented=job.invented,
    )


def _dates_text(dates: Sequence[date]) -> str:
    if len(dates) > 2 and (dates[-1] - dates[0]).days == len(dates) - 1:
        return f"{dates[0].isoformat()} to {dates[-1].isoformat()}"
    return ", ".join(day.isoformat() for day in dates)


def _minute_text(made: datetime) -> str:
    zone = made.strftime("%z")
    shown = f" UTC{zone[:3]}:{zone[3:5]}" if zone else ""
    return f"{made:%Y-%m-%d %H:%M}{shown}"


def _used_permits(job: Job, plan: Plan) -> tuple[Permit, ...]:
    used = {link.permit for link in plan.links} | {spare.permit for spare in plan.spares}
    return tuple(permit for permit in job.permits if permit.id in used) or job.permits


def _permit_text(permit: Permit) -> str:
    unconfirmed = "" if permit.confirmed else ", unconfirmed figures"
    return f"{permit.reference} ({_STATES[permit.state]}{unconfirmed})"


def _do_not_use(job: Job, taken: Sequence[str]) -> tuple[str, ...]:
    items = []
    several = len(job.places) > 1
    for place in job.places:
        closed = _in_raster_order(job, (*place.tv_closed, *(taken if place is job.places[0] else ())), place.id)
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


def _rows(job: Job, plan: Plan, facts: SheetFacts, people: _People) -> dict[str, SheetRow]:
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
    return rows


def _plain_row(job: Job, link: Link, people: _People, unit: Unit | None, line_up: LineUp | None) -> SheetRow:
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
    yield from (_on_air_text(span) for span in link.on_air)


def _on_air_text(span: TimeSpan) -> str:
    same_day = span.start.date() == span.end.date()
    start = f"{span.start:%H:%M}" if same_day else f"{span.start:%d %H:%M}"
    return f"{start}–{span.end:%H:%M}" if same_day else f"{start}–{span.end:%d %H:%M}"


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
        closest=closest_words(item.closest) if item.closest else None,
        noise=noise_words(item.noise) if item.noise else None,
    )


def _marks(item: PlacedLink) -> tuple[str, ...]:
    words = tuple(dict.fromkeys(caution_words(code) for code in item.cautions))
    if item.status is Status.BLOCKED:
        return (_BLOCKED, *words)
    return words or (("caution",) if item.status is Status.CAUTION else ())


def _band_text(radio: RadioType, carrier_hz: int) -> str | None:
    ranges = [item for item in radio.tuning if item.low_hz <= carrier_hz <= item.high_hz]
    return f"{_short_mhz(ranges[0].low_hz)}–{_short_mhz(ranges[0].high_hz)}" if ranges else None


def _short_mhz(hz: int) -> str:
    return mhz_text(hz).rstrip("0").rstrip(".")


def _without_carrier(row: SheetRow, item: Unplaced | None, people: _People) -> SheetRow:
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


def _unknown_to(job: Job, unplaced: Iterable[Unplaced]) -> tuple[Unplaced, ...]:
    ids = {link.id for link in job.links}
    return tuple(item for item in unplaced if item.id not in ids)


def _missing_spare(item: Unplaced) -> str:
    reasons = " ".join(reason.text for reason in item.reasons)
    return f"{item.name}: unplaced. {reasons}".strip()


def _notes(job: Job) -> Iterable[str]:
    if job.note:
        yield job.note
    yield from (f"{link.id}: {link.note}" for link in job.links if link.note)

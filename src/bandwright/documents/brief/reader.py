"""A brief read into a frozen `Job`: tables first, then everything that one table says of another."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from importlib import resources
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from bandwright.core.bands import Span
from bandwright.core.job import Block, Isolation, Job, PairRule, Place, Wishes
from bandwright.core.kit import Direction, Link, MakesProducts, Other, RadioType, Unit, Worn
from bandwright.core.library import Library, RuleTable, RuleWindow
from bandwright.core.permits import Permit, PowerLimit
from bandwright.core.planning.khz_rules import eased
from bandwright.core.reach.area import Area
from bandwright.core.reach.models import path_models
from bandwright.core.when import TimeSpan, clock_reading
from bandwright.documents.brief import tables as tb
from bandwright.documents.brief.area import AreaReader
from bandwright.documents.brief.radio_tables import UnitTable
from bandwright.documents.brief.radios import make_radios
from bandwright.documents.brief.runs import Runs, wall_of
from bandwright.documents.brief.salvage import Doubts, Seen, read_tables
from bandwright.documents.brief.sounds import Sounds, link_sound
from bandwright.documents.brief.toml import parse_toml
from bandwright.documents.faults import Findings, Located, given_text, key_text, list_text, nearest_hint

__all__ = ["Reading", "init_text", "read_brief", "read_parsed"]

Path = tuple[str | int, ...]

_WITH_IDS = (
    "place",
    "permit",
    "radio",
    "unit",
    "antenna",
    "run",
    "microphone",
    "source",
    "feed",
    "earshot",
    "isolation",
    "link",
    "other",
    "pair",
    "block",
)
_UNNAMED_PLACE = Place(id="place", name="unnamed place", timezone="UTC")
_WORN = {Direction.FROM_PERSON: Worn.BODY, Direction.TO_PERSON: Worn.RACK, Direction.BOTH: Worn.BODY}


def init_text() -> str:
    """Return a commented brief to start from."""
    return resources.files("bandwright.documents").joinpath("brief", "start.toml").read_text(encoding="utf-8")


def read_brief(text: str, *, file: str, library: Library) -> Job:
    """Return the job that a brief describes.

    Parameters
    ----------
    text
        The TOML text.
    file
        Its name, for messages.
    library
        What it may call on by name: generic classes, kit, TV rasters, rule tables.

    Raises
    ------
    InputError
        With every fault of the brief at once, each with its line.
    """
    data, findings = parse_toml(text, file=file)
    _check_version(data.get("bandwright", 1), findings)
    job = _job(data, library, findings)
    findings.stop_if_any()
    return job


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A job read from tables that are parsed already, or everything that keeps them from being one."""

    job: Job | None
    faults: tuple[Located, ...]


def read_parsed(data: Mapping[str, Any], *, file: str, library: Library, seen: Seen | None = None) -> Reading:
    """Return the job that parsed tables describe, or each of their faults with the path it stands at.

    `data` is what TOML would give: lists of tables by kind, numbers as `int` and `Decimal`. `seen` keeps what was made
    of each table from one reading to the next.
    """
    findings = Findings(file=file, data=data)
    job = _job(data, library, findings, seen)
    return Reading(job=None if findings.faults else job, faults=findings.located())


def _job(data: Mapping[str, Any], library: Library, findings: Findings, seen: Seen | None = None) -> Job:
    brief, doubts = read_tables(data, findings, seen)
    return _Reading(brief=brief, doubts=doubts, library=library, findings=findings).job()


def _check_version(version: object, findings: Findings) -> None:
    """Stop at a brief for another program: everything else in it may mean something else."""
    if isinstance(version, int) and not isinstance(version, bool) and version != 1:
        text = f"bandwright is {given_text(version)}, but this program reads briefs of version 1."
        hint = "Read it with a newer program." if version > 1 else "Write bandwright = 1."
        findings.add("unknown-version", ("bandwright",), text, given=given_text(version), allowed="1", hint=hint)
        findings.stop_if_any()


@dataclass(frozen=True, slots=True)
class _Known:
    """One kind of name: its code in faults, and the lists of the brief that hold such names."""

    code: str
    kinds: tuple[str, ...] = ()


_NAMES = {
    "place": _Known("unknown-place", ("place",)),
    "rule table": _Known("unknown-rules"),
    "radio type": _Known("unknown-radio", ("radio",)),
    "unit": _Known("unknown-unit", ("unit",)),
    "link": _Known("unknown-link", ("link",)),
    "earshot": _Known("unknown-earshot", ("earshot",)),
    "antenna": _Known("unknown-antenna", ("antenna",)),
    "unit, link, rack, receiver or antenna": _Known("unknown-feed", ("unit", "link")),
    "type of cable": _Known("unknown-cable"),
    "material": _Known("unknown-material"),
    "zone": _Known("unknown-zone", ("area",)),
    "microphone": _Known("unknown-microphone", ("microphone",)),
    "source": _Known("unknown-source", ("source",)),
    "effort of speech": _Known("unknown-effort"),
    "alignment": _Known("unknown-alignment"),
    "output": _Known("unknown-output"),
    "unit, link, rack or receiver": _Known("unknown-feed", ("unit", "link")),
    "kind of companding": _Known("unknown-companding", ("radio",)),
    "path model": _Known("unknown-path"),
    "radio type, role or link": _Known("unknown-pair", ("radio", "link")),
    "TV raster": _Known("unknown-raster"),
    "TV channel": _Known("unknown-tv-channel"),
}


@dataclass(slots=True, kw_only=True)
class _Reading:
    """One brief on its way to a job; what is wrong goes into `findings` and reading goes on."""

    brief: tb.Brief
    doubts: Doubts
    library: Library
    findings: Findings
    places: dict[str, Place] = field(default_factory=dict)
    radios: dict[str, RadioType] = field(default_factory=dict)
    link_ids: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def job(self) -> Job:
        brief = self.brief
        self.one_name_space()
        self.places = {p.id: p for p in (self.place(i, table) for i, table in enumerate(brief.place))}
        self.radios = make_radios(brief.radio, self.library.classes, self.library.kit, self.findings)
        for table in brief.radio:
            if table.id not in self.radios:
                self.doubts.add("radio", table.id)
        self.link_ids = {table.id: _counted_ids(table) for table in brief.link}
        links = tuple(link for i, table in enumerate(brief.link) for link in self.links(i, table))
        sounds = Sounds(
            brief=brief,
            tables=self.library.sound,
            radios=self.radios,
            link_ids=self.link_ids,
            all_radios=not self.doubts.any_of("radio"),
            known=self.known,
        )
        job = Job(
            title=brief.job.title,
            dates=tuple(brief.job.dates),
            hours=brief.job.hours,
            note=brief.job.note,
            invented=brief.job.invented,
            places=tuple(self.places.values()) or (_UNNAMED_PLACE,),
            permits=tuple(p for i, table in enumerate(brief.permit) for p in self.permits(i, table)),
            radios=tuple(self.radios.values()),
            units=tuple(self.unit(i, table) for i, table in enumerate(brief.unit)),
            links=links,
            others=tuple(self.other(i, table) for i, table in enumerate(brief.other)),
            pairs=tuple(self.pair(i, table, links) for i, table in enumerate(brief.pair)),
            blocks=tuple(self.block(i, table, links) for i, table in enumerate(brief.block)),
            isolations=tuple(self.isolation(i, table) for i, table in enumerate(brief.isolation)),
            runs=Runs(
                brief=brief,
                library=self.library,
                link_ids=self.link_ids,
                known=self.known,
                findings=self.findings,
            ).runs(),
            area=self.area(),
            microphones=sounds.microphones(),
            sources=sounds.sources(),
            feeds=sounds.feeds(),
            wishes=self.wishes(),
        )
        return eased(job)

    # ---- names

    def one_name_space(self) -> None:
        """Refuse an id that stands twice, in whatever lists."""
        seen: dict[str, Path] = {}
        for path, name, counted in self.named():
            if name in seen:
                line = self.findings.line((*seen[name], "id"))
                where = f"on line {line}" if line else "before"
                which = "" if counted is None else f", made by count = {counted},"
                text = f'the id "{name}"{which} is already used {where}; an id may be used once, in whatever table.'
                self.findings.add("id-twice", (*path, "id"), text, given=name, hint="Give one of them another id.")
            seen.setdefault(name, path)

    def named(self) -> Iterable[tuple[Path, str, int | None]]:
        for kind in _WITH_IDS:
            for index, table in enumerate(getattr(self.brief, kind)):
                if table.id is not None:
                    yield (kind, index), table.id, None
                if kind == "link" and table.count is not None:
                    yield from (((kind, index), name, table.count) for name in _counted_ids(table))

    def known(self, name: str | None, known: Iterable[str], path: Path, what: str) -> bool:
        """Whether a name is known (None is no name); an unknown one is noted with the nearest known one."""
        if name is None or name in (known := known if isinstance(known, Collection) else list(known)):
            return True
        words, kind = list(dict.fromkeys(known)), _NAMES[what]
        if not self.doubts.cover(name, kind.kinds):
            words.extend(self.doubts.names(kind.kinds))
            text = f'there is no {what} "{name}"; known: {list_text(words)}.'
            hint = self.in_kit(name) if what == "radio type" else None
            hint = hint or (nearest_hint(name, words) if not name.isdigit() else None)
            self.findings.add(kind.code, path, text, given=name, allowed=list_text(words), hint=hint)
        return False

    def in_kit(self, name: str) -> str | None:
        """Return how to bring in a radio type that is named as the kit library does."""
        base = name.split("/", maxsplit=1)[0]
        if not any(radio.id == name for radio in self.library.kit) or base in self.radios:
            return None
        return f'The kit library has it: add a [[radio]] with id = "{base}" and kit = "{base}".'

    # ---- places and permits

    def place(self, index: int, table: tb.PlaceTable) -> Place:
        path: Path = ("place", index)
        rasters = {raster.id: raster for raster in self.library.rasters}
        self.known(table.tv_raster, rasters, (*path, "tv_raster"), "TV raster")
        raster = rasters.get(table.tv_raster or "")
        try:
            ZoneInfo(table.timezone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            text = f'timezone is "{table.timezone}", but no such time zone is known here.'
            hint = 'Write one such as "Europe/Lisbon" or "UTC".'
            self.findings.add("unknown-timezone", (*path, "timezone"), text, given=table.timezone, hint=hint)
        if table.tv_closed and table.tv_raster is None and not self.findings.any_under((*path, "tv_raster")):
            text = "tv_closed names TV channels, but tv_raster is missing."
            words = list_text(rasters)
            hint = f"Add tv_raster, one of: {words}."
            self.findings.add("no-raster", (*path, "tv_closed"), text, allowed=words, hint=hint)
        if raster is not None:
            labels = [channel.label for channel in raster.channels]
            for label in table.tv_closed:
                self.known(label, labels, (*path, "tv_closed"), "TV channel")
        self.known(table.path, path_models(self.library.reach), (*path, "path"), "path model")
        return Place(
            id=table.id,
            name=table.name or table.id,
            timezone=table.timezone,
            raster=raster,
            tv_closed=table.tv_closed,
            tv_guard_hz=table.tv_guard_hz,
            path=table.path,
            path_exponent=table.path_exponent,
            shadowing_db=table.shadowing_db,
            rice_k_db=table.rice_k_db,
            temperature_c=table.temperature_c,
        )

    def permits(self, index: int, table: tb.PermitTable) -> list[Permit]:
        path: Path = ("permit", index)
        self.known(table.place, self.places, (*path, "place"), "place")
        rules = {item.id: item for item in self.library.rules}
        self.known(table.rules, rules, (*path, "rules"), "rule table")
        stated = Permit(
            id=table.id,
            reference=table.reference or table.id,
            state=table.state,
            windows=tuple(table.windows),
            closed=tuple(table.closed),
            max_bandwidth_hz=table.max_bandwidth_hz,
            max_power=_limit(table.max_power),
            place=table.place,
            valid=self.times(table.valid, (*path, "valid"), self.zone_of(table.place), sure=True),
            grid_hz=table.grid_hz,
            grid_anchor_hz=table.grid_anchor_hz or 0,
            inside_carrier=table.inside == "carrier",
            confirmed=table.confirmed if table.confirmed is not None else table.rules is None,
            source=table.source,
        )
        if table.rules is None:
            if not table.windows and not self.findings.any_under(path):
                hint = f"Write windows_mhz = [[606.5, 613.5]], or rules with one of {list_text(rules)}."
                text = "it says neither windows_mhz nor rules, so nothing may be used."
                self.findings.add("missing", path, text, allowed="windows_mhz, rules", hint=hint)
            return [stated]
        if table.windows:
            text = "it says both rules and windows_mhz, but the rule table brings its own windows."
            hint = "Leave one of the two out; closed_mhz takes parts away."
            self.findings.add("two-windows", (*path, "windows_mhz"), text, hint=hint)
        found = rules.get(table.rules)
        return _from_rules(stated, found) if found is not None else [stated]

    def area(self) -> Area | None:
        if self.brief.area is None:
            return None
        reader = AreaReader(table=self.brief.area, tables=self.library.reach, findings=self.findings, known=self.known)
        return reader.area(self.places, self.link_ids)

    # ---- kit and links

    def unit(self, index: int, table: UnitTable) -> Unit:
        self.known(table.radio, self.radios, ("unit", index, "radio"), "radio type")
        return Unit(
            id=table.id,
            name=table.name or table.id,
            radio=table.radio,
            serial=table.serial,
            rack=table.rack,
            antenna=table.antenna,
        )

    def links(self, index: int, table: tb.LinkTable) -> list[Link]:
        path: Path = ("link", index)
        self.known(table.place, self.places, (*path, "place"), "place")
        self.known(table.unit, (unit.id for unit in self.brief.unit), (*path, "unit"), "unit")
        self.earshots(table.earshot, path)
        apart: list[str] = []
        for name in table.apart_from:
            if self.known(name, [*self.link_ids, *self.all_links()], (*path, "apart_from"), "link"):
                apart.extend(self.link_ids.get(name, (name,)))
        on_air = self.times(table.on_air, (*path, "on_air"), self.zone_of(table.place))
        for number, wall in enumerate(table.walls):
            materials = (item.name for item in self.library.reach.materials)
            self.known(wall.material, materials, (*path, "walls", number, "material"), "material")
        zones = self.brief.area.zones if self.brief.area is not None else []
        self.known(table.zone, (zone.id for zone in zones), (*path, "zone"), "zone")
        if not self.known(table.radio, self.radios, (*path, "radio"), "radio type"):
            return []
        radio = self.radios[table.radio]
        sound = link_sound(table, self.brief, self.radios, path, self.known)
        if table.hold_hz is not None and (table.count or 1) > 1:
            text = f"hold_mhz holds one carrier, but count makes {table.count} links."
            hint = "Hold each link in a table of its own."
            self.findings.add("held-many", (*path, "hold_mhz"), text, given=f"count = {table.count}", hint=hint)
        ids = self.link_ids[table.id]
        name = table.name or table.id
        return [
            Link(
                id=link_id,
                name=name if len(ids) == 1 else f"{name} {number}",
                radio=radio,
                worn=table.worn or _WORN[radio.direction],
                hold_hz=table.hold_hz,
                priority=table.priority,
                earshots=frozenset(table.earshot),
                on_air=on_air,
                power_mw=table.power_mw,
                unit=table.unit,
                place=table.place,
                role=table.role,
                wearer=table.wearer,
                rack=table.rack,
                apart_from=tuple(name for name in apart if name != link_id),
                movable=table.movable,
                desk_input=table.desk_input,
                receiver=table.receiver,
                antenna=table.antenna,
                note=table.note,
                distance_m=table.distance_m,
                body_loss_db=table.body_loss_db,
                walls=tuple(map(wall_of, table.walls)),
                zone=table.zone,
                sound=sound,
            )
            for number, link_id in enumerate(ids, start=1)
        ]

    def all_links(self) -> list[str]:
        return [name for names in self.link_ids.values() for name in names]

    def earshots(self, names: Sequence[str], path: Path) -> None:
        """Where earshots are listed, only listed ones may be named."""
        if self.brief.earshot:
            for name in names:
                self.known(name, [item.id for item in self.brief.earshot], (*path, "earshot"), "earshot")

    def other(self, index: int, table: tb.OtherTable) -> Other:
        path: Path = ("other", index)
        self.known(table.place, self.places, (*path, "place"), "place")
        self.earshots(table.earshot, path)
        return Other(
            id=table.id,
            name=table.name or table.id,
            carrier_hz=table.carrier_hz,
            bandwidth_hz=table.bandwidth_hz,
            keep_away_hz=table.keep_away_hz,
            makes_products=table.makes_products or MakesProducts.AUTO,
            protect=table.protect,
            clearance_hz=tuple(table.clearance_hz.items()),
            level_dbm=table.level_dbm,
            earshots=frozenset(table.earshot),
            on_air=self.times(table.on_air, (*path, "on_air"), self.zone_of(table.place)),
            place=table.place,
        )

    def pair(self, index: int, table: tb.PairTable, links: Sequence[Link]) -> PairRule:
        for key in ("one", "two"):
            self.names_links(getattr(table, key), ("pair", index, key), links)
        return PairRule(id=table.id, one=table.one, two=table.two, spacing_hz=table.spacing_hz, where=table.where)

    def block(self, index: int, table: tb.BlockTable, links: Sequence[Link]) -> Block:
        self.known(table.place, self.places, ("block", index, "place"), "place")
        for name in table.names:
            self.names_links(name, ("block", index, "for"), links)
        return Block(
            id=table.id,
            names=table.names,
            windows=tuple(table.windows),
            keep_out=table.keep_out,
            place=table.place,
        )

    def names_links(self, name: str, path: Path, links: Sequence[Link]) -> None:
        """Note a name that is no radio type, role or link."""
        roles = dict.fromkeys(link.role for link in links if link.role is not None)
        if not self.doubts.any_of("link"):  # whose role may be meant
            known = [*self.radios, *roles, *(link.id for link in links)]
            self.known(name, known, path, "radio type, role or link")

    def isolation(self, index: int, table: tb.IsolationTable) -> Isolation:
        used = [e for link in self.brief.link for e in link.earshot]
        used += [e for other in self.brief.other for e in other.earshot]
        known = list(dict.fromkeys([item.id for item in self.brief.earshot] or used))
        for name in table.between if self.brief.earshot or not self.doubts.any_of("link", "other") else ():
            self.known(name, known, ("isolation", index, "between"), "earshot")
        if len(set(table.between)) < len(table.between):
            text = f'between names "{table.between[0]}" twice; within one earshot everything is heard.'
            self.findings.add("same-earshot", ("isolation", index, "between"), text, allowed="two different earshots")
        return Isolation(one=table.between[0], two=table.between[1], isolation_db=table.db, binds=table.binds)

    def wishes(self) -> Wishes:
        plan = self.brief.plan
        for name in plan.spares:
            self.known(name, self.radios, ("plan", "spares", name), "radio type")
        return Wishes(
            spares=tuple((name, count) for name, count in plan.spares.items() if count),
            close_above_floor_db=plan.close_above_floor_db,
            unmeasured=plan.unmeasured,
            objective=plan.objective,
            khz_rules=plan.khz_rules,
            seed=plan.seed,
            time_limit_s=plan.time_limit_s,
        )

    # ---- times

    def zone_of(self, place_id: str | None) -> ZoneInfo | None:
        place = self.places.get(place_id or "") or next(iter(self.places.values()), _UNNAMED_PLACE)
        try:
            return ZoneInfo(place.timezone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            return None  # already noted at the place

    def times(
        self, tables: Sequence[tb.TimesTable], path: Path, zone: ZoneInfo | None, *, sure: bool = False
    ) -> tuple[TimeSpan, ...]:
        """Return the spans of a list of times.

        Clocks that go back show an hour twice. Where nobody says which one is meant, a span takes in both, and with
        `sure` none of them: on air as long as it may be, permitted only as long as it certainly is.
        """
        found = []
        for index, table in enumerate(tables):
            found.extend(self.spans(table, (*path, index), zone or UTC, sure=sure))
        return tuple(sorted(found))

    def spans(self, table: tb.TimesTable, path: Path, zone: tzinfo, *, sure: bool) -> list[TimeSpan]:
        given, key = f"{given_text(table.start)} to {given_text(table.end)}", key_text(path[2:])
        match table.start, table.end:
            case time() as first, time() as last:
                pairs = self.daily(first, last, path)
            case date() as first, date() as last:
                pairs = [(_beginning(first, zone), _end(last, zone))]
                if not _rising(_instant(pairs[0][0], zone, late=False), _instant(pairs[0][1], zone, late=True)):
                    text, allowed = f"{key} runs from {given}, which ends before it starts.", "an end after the start"
                    self.findings.add("reversed", path, text, given=given, allowed=allowed, hint="Swap the two.")
                    return []
            case _:
                text = f"{key} runs from {given}; both must be times of the day, or both must have a date."
                hint = 'Write { start = "19:30", end = "23:00" }, or a date with each.'
                self.findings.add("mixed-times", path, text, given=given, allowed="two times, or two dates", hint=hint)
                return []
        found = [(_instant(one, zone, late=sure), _instant(two, zone, late=not sure)) for one, two in pairs]
        if not all(_rising(start, end) for start, end in found):
            text = f"{key} runs from {given}, while the clocks change: nobody can tell whether that is any time at all."
            allowed = "dates with time and offset, such as 2027-10-31T01:30:00+01:00"
            self.findings.add("clock-change", path, text, given=given, allowed=allowed, hint="Write the offset.")
            return []
        return [TimeSpan(start=start, end=end) for start, end in found]

    def daily(self, start: time, end: time, path: Path) -> list[tuple[datetime, datetime]]:
        """Return start and end for every job date; an end at or before the start lies on the next day."""
        told = any(fault.code == "no-dates" for fault in self.findings.faults)
        if not self.brief.job.dates and not told and not self.findings.any_under(("job",)):
            text = "times of the day count on every date of the job, but [job] has no dates."
            self.findings.add("no-dates", path, text, allowed="dates in [job]", hint="Add dates = [2027-05-14] there.")
        later = timedelta(days=0 if end > start else 1)
        return [(datetime.combine(day, start), datetime.combine(day + later, end)) for day in self.brief.job.dates]


def _beginning(given: date, zone: tzinfo) -> datetime:
    """Return a time as it was given, or the midnight with which a date begins."""
    return given if isinstance(given, datetime) else datetime(given.year, given.month, given.day, tzinfo=zone)


def _end(given: date, zone: tzinfo) -> datetime:
    """Return a time as it was given, or the midnight with which a date ends."""
    return given if isinstance(given, datetime) else _beginning(given + timedelta(days=1), zone)


def _instant(moment: datetime, zone: tzinfo, *, late: bool) -> datetime:
    return moment if moment.tzinfo else clock_reading(moment, zone, late=late)


def _rising(start: datetime, end: datetime) -> bool:
    return start.timestamp() < end.timestamp()


def _counted_ids(table: tb.LinkTable) -> tuple[str, ...]:
    if table.count is None:
        return (table.id,)
    return tuple(f"{table.id}.{number}" for number in range(1, table.count + 1))


def _limit(table: tb.PowerTable | None) -> PowerLimit | None:
    if table is None:
        return None
    return PowerLimit(
        kind=table.kind, any_mw=table.any_mw, bodyworn_mw=table.bodyworn_mw, handheld_mw=table.handheld_mw
    )


def _from_rules(stated: Permit, rules: RuleTable) -> list[Permit]:
    """Return one permit for each set of terms in a rule table; what the brief states itself goes before."""
    groups: dict[tuple[object, ...], list[RuleWindow]] = {}
    for window in rules.windows:
        terms = (window.max_power, window.max_bandwidth_hz, window.grid_hz, window.grid_anchor_hz)
        groups.setdefault(terms, []).append(window)
    permits = []
    for number, windows in enumerate(groups.values(), start=1):
        first = windows[0]
        permits.append(
            Permit(
                id=stated.id if len(groups) == 1 else f"{stated.id}.{number}",
                reference=stated.reference,
                state=stated.state,
                windows=_spans(windows),
                closed=stated.closed,
                max_bandwidth_hz=stated.max_bandwidth_hz or first.max_bandwidth_hz,
                max_power=stated.max_power or first.max_power,
                place=stated.place,
                valid=stated.valid,
                grid_hz=stated.grid_hz or first.grid_hz,
                grid_anchor_hz=stated.grid_anchor_hz or first.grid_anchor_hz,
                inside_carrier=stated.inside_carrier,
                confirmed=stated.confirmed,
                source=stated.source or f"{rules.name}, {rules.edition}",
            )
        )
    return permits


def _spans(windows: Sequence[RuleWindow]) -> tuple[Span, ...]:
    return tuple(window.span for window in windows)

"""The sheets of an open job: the plan in force on paper, as a page, as a list of carriers, and the brief as text."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from bandwright.core.drawing import stacked
from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.planning.assess import taken_tv
from bandwright.core.planning.build import spare_links
from bandwright.core.planning.plan import PlacedLink, Plan, Reason, Unplaced, Warn
from bandwright.core.sheet import Sheet, build_sheet
from bandwright.core.sheet_names import NAME_STYLES
from bandwright.documents.brief import brief_toml
from bandwright.documents.carriers import carriers_csv
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.errors import InputError
from bandwright.service.desk import Desk
from bandwright.service.job_brief import tables_of
from bandwright.service.job_plans import PlanNow, plan_in_force
from bandwright.service.job_sweeps import sweeps_with
from bandwright.service.note_words import notes_for_sheet
from bandwright.service.planned import Planned
from bandwright.service.sheets import pictures_of
from bandwright.sheets.html import onepage_html
from bandwright.sheets.onepage import onepage_pdf, picture_page

__all__ = ["FILES", "ORDERS", "SheetFile", "sheet_file"]

_PAPERS = ("a4", "letter")
_LAST = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFile:
    """A file to show or keep: its name, what kind it is, and its bytes."""

    name: str
    media_type: str
    data: bytes


def sheet_file(desk: Desk, name: str, *, names: str = "full", paper: str = "a4", order: str = "list") -> SheetFile:
    """Return a sheet of the plan in force.

    Parameters
    ----------
    name
        One of `FILES`: sheet.html, sheet.pdf, carriers.csv, brief.toml.
    names
        How people stand there: full, initials or roles.
    paper
        a4 or letter.
    order
        One of `ORDERS`: list (as in the brief), rack, running (by the time on air).

    Raises
    ------
    InputError
        For unknown words; and where there is no plan, but for the brief.
    """
    _check("name", name, FILES)
    _check("names", names, NAME_STYLES)
    _check("paper", paper, _PAPERS)
    _check("order", order, ORDERS)
    media_type, make = FILES[name]
    return SheetFile(name=name, media_type=media_type, data=make(_Wanted(desk, names, paper, order)))


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What was asked for."""

    desk: Desk
    names: str
    paper: str
    order: str

    def planned(self) -> tuple[Planned, PlanNow]:
        """Return the plan in force with the job of today, in the order that was asked for."""
        desk = self.desk
        job, plan = desk.job(), plan_in_force(desk)
        if plan is None:
            text = "There is no plan in force, so there is no sheet."
            raise InputError.single("no-plan", text, key="plan", hint="Plan the carriers first.")
        job = replace(job, links=tuple(sorted(job.links, key=_sorting(job, self.order))))
        run = plan.document.run
        sweeps = sweeps_with(desk, {item.sha256 for item in plan.document.inputs})
        found = Planned(
            job=job,
            plan=_as_of_today(plan, job),
            sweeps=sweeps,
            inputs=plan.document.inputs,
            taken_tv=taken_tv(job, sweeps),
            made=plan.made,
            stopped=run.stopped,
            seconds=float(run.seconds),
            notes=notes_for_sheet(desk.file, plan=plan.number),
        )
        return found, plan

    def sheet(self) -> tuple[Sheet, Planned]:
        """Return the sheet; its head carries the phrase that the plan was kept under."""
        planned, plan = self.planned()
        sheet = build_sheet(planned.job, planned.plan, planned.facts(), names=self.names)
        return replace(sheet, head=replace(sheet.head, check_phrase=plan.row.check_phrase)), planned


def _html(wanted: _Wanted) -> bytes:
    sheet, planned = wanted.sheet()
    drawings = [stacked(*parts) for parts in pictures_of(planned, wanted.names)]
    return onepage_html(sheet, drawings=drawings).encode()


def _pdf(wanted: _Wanted) -> bytes:
    sheet, planned = wanted.sheet()
    page = picture_page(sheet, paper=wanted.paper)
    drawings = [part for parts in pictures_of(planned, wanted.names, page=page) for part in parts]
    return onepage_pdf(sheet, paper=wanted.paper, drawings=drawings).data


def _csv(wanted: _Wanted) -> bytes:
    planned, _ = wanted.planned()
    return carriers_csv(planned.job, planned.plan).encode()


def _brief(wanted: _Wanted) -> bytes:
    return brief_toml(tables_of(wanted.desk.brief().entries)).encode()


FILES: Mapping[str, tuple[str, Callable[[_Wanted], bytes]]] = {
    "sheet.html": ("text/html; charset=utf-8", _html),
    "sheet.pdf": ("application/pdf", _pdf),
    "carriers.csv": ("text/csv; charset=utf-8", _csv),
    "brief.toml": ("application/toml; charset=utf-8", _brief),
}
"""The sheets by name: media type, and what makes them."""


def _as_of_today(plan: PlanNow, job: Job) -> Plan:
    """Return the plan with the links called as they are today; new ones stand in it without a carrier."""
    now = {then: seat.id for seat in plan.seats if (then := plan.ids.get(seat.uid)) is not None}
    known = {link.id for link in (*job.links, *spare_links(job))}
    names = {link.id: link.name for link in job.links}
    links = tuple(_called_now(link, now, names) for link in plan.plan.links if now.get(link.id) in known)
    spares = tuple(spare for spare in plan.plan.spares if spare.id in known)
    unplaced = tuple(
        replace(item, id=then, name=names.get(then, item.name))
        for item in plan.plan.unplaced
        if (then := now.get(item.id, item.id)) in known
    )
    told = {link.id for link in links} | {item.id for item in unplaced}
    new = (_new(link, plan) for link in job.links if link.id not in told)
    stale = () if plan.stale is None else (_stale_warning(plan),)
    return replace(
        plan.plan, links=links, spares=spares, unplaced=(*unplaced, *new), warnings=(*stale, *plan.plan.warnings)
    )


def _called_now(link: PlacedLink, now: Mapping[str, str], names: Mapping[str, str]) -> PlacedLink:
    """Return a link of the plan under its id and name of today, and so those that come closest to it."""

    def called(sources: Sequence[str]) -> tuple[str, ...]:
        return tuple(now.get(name, name) for name in sources)

    closest = None if link.closest is None else replace(link.closest, sources=called(link.closest.sources))
    notes = tuple(replace(note, sources=called(note.sources)) for note in link.notes)
    return replace(link, id=now[link.id], name=names[now[link.id]], closest=closest, notes=notes)


def _new(link: Link, plan: PlanNow) -> Unplaced:
    reason = Reason(code="not-in-plan", text=f"It is new since plan {plan.number}; plan again.")
    return Unplaced(id=link.id, name=link.name, reasons=(reason,))


def _stale_warning(plan: PlanNow) -> Warn:
    return Warn(code="brief-changed", text=f"{plan.stale} Plan {plan.number} was made before that.")


def _by_list(_: Job, __: Link) -> tuple[object, ...]:
    return ()


def _by_rack(job: Job, link: Link) -> tuple[object, ...]:
    unit = next((unit for unit in job.units if unit.id == link.unit), None)
    rack = link.rack or (unit.rack if unit is not None else None)
    return (rack is None, rack or "", link.unit or "", link.receiver or "")


def _by_running(_: Job, link: Link) -> tuple[object, ...]:
    return (min((span.start for span in link.on_air), default=_LAST),)


ORDERS: Mapping[str, Callable[[Job, Link], tuple[object, ...]]] = {
    "list": _by_list,
    "rack": _by_rack,
    "running": _by_running,
}
"""The orders in which links can stand on a sheet."""


def _sorting(job: Job, order: str) -> Callable[[Link], tuple[object, ...]]:
    return lambda link: ORDERS[order](job, link)


def _check(key: str, given: str, known: Mapping[str, object] | tuple[str, ...]) -> None:
    if given not in known:
        text = f'there is no "{given}" here; known: {list_text(known)}.'
        code = "no-such-sheet" if key == "name" else "unknown-word"
        hint = nearest_hint(given, known)
        raise InputError.single(code, text, key=key, given=given, allowed=list_text(known), hint=hint)

"""The plans of an open job: which one is in force, what it stands on, and what changing it takes back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from bandwright.core.planning.plan import Plan
from bandwright.core.readiness import TICKS
from bandwright.documents.outputs import Input, PlanDocument
from bandwright.documents.outputs.plan_back import plan_of, read_plan_document
from bandwright.errors import InputError
from bandwright.service.brief_words import difference_lines, listed, matters_for_plan
from bandwright.service.counted import one_by_one
from bandwright.service.desk import Changed, Desk
from bandwright.service.differences import Difference, differences_since
from bandwright.service.seats import Seat, ids_at, seats_of
from bandwright.store import Draft
from bandwright.store import Plan as Row

__all__ = [
    "BROUGHT",
    "CURRENT",
    "Overtaken",
    "PlanLine",
    "PlanNow",
    "changed_for_plans",
    "plan_in_force",
    "plan_kept",
    "plan_lines",
    "plan_numbered",
    "put_in_force",
    "tuned_by",
    "use_plan",
]

CURRENT = "current-plan"
"""The state that holds the number of the plan in force."""

BROUGHT = "brought-plan-"
"""The states, by number, that tell of plans that came with an import: what had changed since, and earlier ids."""


class Overtaken(InputError):  # noqa: N818 - it says what happened
    """What somebody did or stated is about a plan, or a brief, that is no longer the one in force."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanNow:
    """A plan of the job as it is seen now.

    `ids` names each link of today (by its uid) as the plan calls it; `stale` says what changed since it was made.
    """

    row: Row
    document: PlanDocument
    plan: Plan
    seats: tuple[Seat, ...]
    ids: Mapping[str, str]
    stale: str | None

    @property
    def number(self) -> int:
        """Its number."""
        return self.row.number

    @property
    def made(self) -> datetime:
        """The minute it was made, by the clock of the first place."""
        return datetime.fromisoformat(self.document.run.made)

    @property
    def input(self) -> Input:
        """The plan as an input of an answer."""
        return Input(name=f"plan {self.number}", sha256=self.row.sha256)

    def carriers(self) -> dict[str, int]:
        """Return the carriers of the links of today by the ids they have today, spare carriers too."""
        placed = {link.id: link.carrier_hz for link in self.plan.links}
        own = {seat.id: placed[then] for seat in self.seats if (then := self.ids.get(seat.uid)) in placed}
        return own | {spare.id: spare.carrier_hz for spare in self.plan.spares}

    def spare_carriers(self) -> set[int]:
        """Return the spare carriers in Hz."""
        return {spare.carrier_hz for spare in self.plan.spares}

    def tuned(self) -> dict[str, tuple[int, str]]:
        """Return carrier and radio type of each link by its uid: what a tick is about."""
        return tuned_by(self.document, self.ids)

    def without(self) -> list[str]:
        """Return the ids of the links of today for which it found no carrier, or which are new since."""
        tuned = self.tuned()
        return [seat.id for seat in self.seats if seat.uid not in tuned]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLine:
    """One plan in a list: what made it, and whether it is in force."""

    number: int
    check_phrase: str
    made: str
    by: str
    text: str
    current: bool


def plan_in_force(desk: Desk) -> PlanNow | None:
    """Return the plan in force; None where there is none."""
    with desk.lock:
        number = desk.file.state(CURRENT)
        return None if number is None else plan_numbered(desk, int(number))


def plan_numbered(desk: Desk, number: int) -> PlanNow:
    """Return a plan of the job; raises InputError where there is none of that number."""
    with desk.lock:
        stands_on = (desk.file.seq_of("entry", "sweep"), number)
        return desk.keep(f"plan {number}", stands_on, lambda: _read(desk, number))


def _read(desk: Desk, number: int) -> PlanNow:
    row = desk.file.plan(number)
    if row is None:
        known = [row.number for row in desk.file.plans()]
        text = f"there is no plan {number} in this job."
        allowed = f"1 to {max(known)}" if known else "none yet"
        raise InputError.single("no-such-plan", text, key="number", given=str(number), allowed=allowed)
    document = desk.keep(
        f"document {row.sha256}",
        number,
        lambda: read_plan_document(desk.file.blob(row.sha256), file=f"plan {number}"),
    )
    differences = differences_since(desk.file, row.stands_on, "entry", "sweep")
    entries = desk.brief().entries
    brought = desk.file.state(f"{BROUGHT}{number}") or {"stale": None, "ids": {}}
    return PlanNow(
        row=row,
        document=document,
        plan=plan_of(document),
        seats=seats_of(entries),
        ids=ids_at(entries, differences) | brought["ids"],
        stale=changed_for_plans(differences, with_levels=document.levels is not None) or brought["stale"],
    )


def tuned_by(document: PlanDocument, ids: Mapping[str, str]) -> dict[str, tuple[int, str]]:
    """Return carrier and radio type by uid for those links (uid to id in the plan) that a plan places."""
    placed = {link.id: (link.carrier_hz, link.radio) for link in document.links}
    return {uid: placed[then] for uid, then in ids.items() if then in placed}


def plan_kept(document: PlanDocument, number: int) -> tuple[int, bytes]:
    """Return a plan document under a number as the bytes of a plan.json."""
    numbered = document.model_copy(update={"number": number})
    return number, numbered.model_dump_json(by_alias=True, indent=2).encode() + b"\n"


def changed_for_plans(differences: Iterable[Difference], *, with_levels: bool = False) -> str | None:
    """Return in a sentence what changed that may change where carriers can lie; None where nothing did.

    `with_levels`: or the levels that a plan tells.
    """
    found = one_by_one(differences)
    entries = [item for item in found if item.noun == "entry"]
    lines = difference_lines([item for item in entries if matters_for_plan(item, with_levels=with_levels)])
    sweeps = [item for item in found if item.noun == "sweep" and _counts(item.before) != _counts(item.after)]
    parts = []
    if lines:
        parts.append(f"the brief changed since ({listed(lines)})")
    if sweeps:
        parts.append(f"{len(sweeps)} sweep{'s' if len(sweeps) > 1 else ''} came, went or count otherwise since")
    text = " and ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if parts else None


def _counts(image: Mapping[str, object] | None) -> object:
    """Return what of a sweep counts for a plan."""
    if image is None or image["removed_at"] is not None:
        return None
    facts = image["facts"]
    kept = {key: value for key, value in facts.items() if key != "read"} if isinstance(facts, dict) else facts
    counts = not isinstance(kept, dict) or kept.pop("in_use", True) is not False
    return (image["sha256"], kept) if counts else None


def plan_lines(desk: Desk) -> tuple[PlanLine, ...]:
    """Return all plans of the job, the newest first."""
    with desk.file.snapshot():
        current, rows = desk.file.state(CURRENT), desk.file.plans()
        made_by = {row.uid: desk.file.events_about(row.uid)[0].what for row in rows}
    return tuple(
        PlanLine(
            number=row.number,
            check_phrase=row.check_phrase,
            made=row.made_at,
            by=row.made_by,
            text=made_by[row.uid],
            current=row.number == current,
        )
        for row in sorted(rows, key=lambda row: -row.number)
    )


def use_plan(desk: Desk, number: int, *, who: str, client_key: str | None = None) -> Changed:
    """Put a plan in force; what was ticked of links that have another carrier by it is taken back."""
    with desk.lock:
        plan = plan_numbered(desk, number)

        def make(draft: Draft) -> None:
            put_in_force(desk, draft, number, plan.tuned())

        return desk.change(make, who=who, what=f"Put plan {number} in force", client_key=client_key)


def put_in_force(desk: Desk, draft: Draft, number: int, tuned: Mapping[str, tuple[int, str]]) -> None:
    """Put a plan in force inside a change, and take back the ticks of links that it moves.

    `tuned` are carrier and radio type of each link by its uid under that plan. A tick says that a transmitter on a
    carrier was set, heard or walked with; on another carrier nobody has.
    """
    before = plan_in_force(desk)
    was = before.tuned() if before is not None else {}
    draft.set_state(CURRENT, number)
    for item in desk.file.statements():
        ticked = item.what in TICKS and item.about is not None
        if ticked and was.get(str(item.about)) != tuned.get(str(item.about)):
            draft.take_back_statement(item.uid)

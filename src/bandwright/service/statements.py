"""What people state: that a link is set, heard or walked, that the sheet hangs, that one of the eight points holds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bandwright.core.readiness import POINTS, TICKS
from bandwright.core.words import is_one_line
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.errors import InputError
from bandwright.service.desk import Changed, Desk
from bandwright.service.job_plans import Overtaken, PlanNow, plan_in_force, plan_numbered
from bandwright.service.seats import Seat
from bandwright.store import Draft, Statement

__all__ = ["PRINTED", "Stated", "StatementLine", "standing", "state_something", "statement_lines", "take_back"]

PRINTED = "printed"
"""The sheet of a plan was printed and hangs; also the state that tells which, and how far the job was then."""
_LONGEST_NOTE = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """A statement that was made, or stood already, and the change that made it."""

    uid: str
    changed: Changed | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementLine:
    """Something that was stated and stands."""

    uid: str
    what: str
    about: str | None
    at: str
    who: str
    note: str
    plan_number: int | None


def statement_lines(desk: Desk) -> tuple[StatementLine, ...]:
    """Return the statements that hold as they are told, the oldest first."""
    return tuple(
        StatementLine(
            uid=item.uid,
            what=item.what,
            about=item.about,
            at=item.at,
            who=item.who,
            note=item.note,
            plan_number=item.plan_number,
        )
        for item in standing(desk)
    )


def standing(desk: Desk) -> tuple[Statement, ...]:
    """Return the statements that hold, the oldest first."""
    return desk.file.statements()


def state_something(
    desk: Desk,
    *,
    who: str,
    what: str,
    about: str | None = None,
    note: str = "",
    at: datetime | None = None,
    plan: int | None = None,
    client_key: str | None = None,
) -> Stated:
    """State something; what is stated already is stated once.

    Parameters
    ----------
    what
        "set", "heard" or "walked" of a link; "printed" of the sheet; or one of the eight points.
    about
        The uid of the link (UID.NUMBER for one that a count makes).
    at
        When it was ticked, where that was before now: on a phone without network.
    plan
        The number of the plan that whoever ticks had before their eyes; the one in force without it.

    Raises
    ------
    Overtaken
        When the link has another carrier by now than by that plan.
    InputError
        For unknown words and links, and where there is no plan that it could be about.
    """
    with desk.lock:
        if client_key is not None and (done := desk.file.answer_to(client_key)) is not None:
            uid = next((uid for noun, uid in done.touched if noun == "statement"), "")
            return Stated(uid=uid, changed=desk.changed(done, who=who))
        seat, number = _about(desk, what, about, plan)
        for item in standing(desk):
            if (item.what, item.about) == (what, about) and (what != PRINTED or item.plan_number == number):
                return Stated(uid=item.uid, changed=None)
        note = _one_note(note)
        seq = desk.seq

        def make(draft: Draft) -> None:
            draft.add_statement(what, about=about, note=note, plan_number=number, at=at)
            if what == PRINTED:
                draft.set_state(PRINTED, {"plan": number, "seq": seq})

        changed = desk.change(make, who=who, what=_sentence(what, seat, number), client_key=client_key)
        return Stated(uid=next(uid for noun, uid in changed.touched if noun == "statement"), changed=changed)


def take_back(desk: Desk, uid: str, *, who: str, client_key: str | None = None) -> Changed:
    """Take a statement back; it stays readable in the history."""
    with desk.lock:
        item = desk.file.statement(uid)
        if item is None:
            text = "There is no such statement in this job."
            raise InputError.single("no-such-statement", text, key="uid", given=uid)
        what = f"Took back: {item.what}, stated by {item.who}"
        return desk.change(lambda draft: draft.take_back_statement(uid), who=who, what=what, client_key=client_key)


def _about(desk: Desk, what: str, about: str | None, number: int | None) -> tuple[Seat | None, int | None]:
    """Return the link and the number of the plan that a statement is about, or refuse it in words."""
    known = (*TICKS, PRINTED, *POINTS)
    if what not in known:
        text = f'"{what}" is nothing that can be stated; known: {list_text(known)}.'
        hint = nearest_hint(what, known)
        raise InputError.single("unknown-word", text, key="what", given=what, allowed=list_text(known), hint=hint)
    if what in POINTS:
        return None, None
    plan = plan_in_force(desk)
    if plan is None:
        text = f"There is no plan yet, so nothing can be {what}."
        raise InputError.single("no-plan", text, key="what", given=what, hint="Plan the carriers first.")
    if what == PRINTED:
        return None, plan.number
    return _link(desk, plan, what, about, number), plan.number


def _link(desk: Desk, plan: PlanNow, what: str, about: str | None, number: int | None) -> Seat:
    seat = next((seat for seat in plan.seats if seat.uid == about), None)
    if seat is None:
        text = f'"{what}" is stated of a link, and there is none with this uid.'
        raise InputError.single("no-such-link", text, key="about", given=about, hint="Name a link of this job.")
    tuned = plan.tuned().get(seat.uid)
    if tuned is None:
        text = f"{seat.id} has no carrier in plan {plan.number}, so it cannot be {what}."
        raise InputError.single("no-carrier", text, key="about", given=seat.id)
    if number is not None and plan_numbered(desk, number).tuned().get(seat.uid) != tuned:
        text = f"{seat.id} has another carrier in plan {plan.number} than in plan {number}; it is not {what} there yet."
        hint = f"Set it to its carrier in plan {plan.number}, and state it then."
        raise Overtaken.single(
            "moved-meanwhile", text, key="plan", given=str(number), allowed=str(plan.number), hint=hint
        )
    return seat


def _one_note(note: str) -> str:
    text = " ".join(note.split())
    if len(text) > _LONGEST_NOTE or not is_one_line(text):
        words = f"a remark has at most {_LONGEST_NOTE} letters on one line."
        raise InputError.single("not-one-line", words, key="note", allowed=f"up to {_LONGEST_NOTE} letters")
    return text


def _sentence(what: str, seat: Seat | None, number: int | None) -> str:
    if seat is not None:
        return f"{seat.id} is {what} (plan {number})"
    return f"The sheet of plan {number} is printed" if what == PRINTED else f"Stated: {POINTS[what]}"

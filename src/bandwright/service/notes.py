"""Notes of people's own: about the whole job, a table of the brief, one link that a count makes, or a plan."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.errors import Fault, InputError
from bandwright.service.desk import Changed, Desk
from bandwright.service.note_words import Note, Shown
from bandwright.store import Draft, Plan
from bandwright.store import Note as Row

__all__ = ["Note", "NoteConflict", "Noted", "add_note", "change_note", "notes_of", "remove_note"]

LONGEST_NOTE = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """A note that was written, and the change that did it."""

    uid: str
    change: Changed


class NoteConflict(InputError):  # noqa: N818 - it says what happened
    """Somebody else changed or removed the note meanwhile; both texts are here, and nothing was changed."""

    def __init__(self, *, yours: str, theirs: str | None, by: str) -> None:
        self.yours = {"text": yours}
        self.theirs = None if theirs is None else {"text": theirs}
        self.by = by
        what = "removed" if theirs is None else "changed"
        text = f"This note was {what} by {by} while you were writing."
        super().__init__([Fault(code="changed-meanwhile", text=text, key="text", hint="Write yours once more.")])


def notes_of(desk: Desk, *, about: str | None = None, plan: int | None = None) -> tuple[Note, ...]:
    """Return the notes of the job, the oldest first; only those about one thing where that is named.

    Raises
    ------
    InputError
        When there is no plan of that number.
    """
    subject = _subject(desk, about, plan)
    with desk.file.snapshot():
        shown = Shown(desk.file)
        return tuple(shown.note(row) for row in desk.file.notes() if subject is None or row.about == subject)


def add_note(
    desk: Desk,
    *,
    who: str,
    text: str,
    about: str | None = None,
    plan: int | None = None,
    client_key: str | None = None,
) -> Noted:
    """Write a note about a table or a link (by its uid), about a plan (by its number), or about the whole job.

    Raises
    ------
    InputError
        When there is no such thing, or the text is none.
    """
    text = _plain_text(text)

    def make(draft: Draft) -> None:
        subject = _subject(desk, about, plan)
        words = Shown(desk.file).called(subject)
        if subject is not None and plan is None and not words.there:
            hint = "Name a table or a link of this job."
            raise InputError.single(
                "no-such-entry", "There is nothing with this uid.", key="about", given=about, hint=hint
            )
        draft.add_note(text, about=subject)
        draft.say(f"Noted{words.of}: {_short(text)}")

    with desk.lock:
        changed = desk.change(make, who=who, client_key=client_key)
        return Noted(uid=next(uid for noun, uid in changed.touched if noun == "note"), change=changed)


def change_note(desk: Desk, uid: str, *, who: str, text: str, base: int, client_key: str | None = None) -> Changed:
    """Write a note anew.

    Parameters
    ----------
    base
        Its revision when editing began.

    Raises
    ------
    NoteConflict
        When somebody wrote something else there since.
    InputError
        When there is no such note, or the text is none.
    """
    text = _plain_text(text)

    def make(draft: Draft) -> None:
        row = desk.file.note(uid)
        if row is None or (row.revision > base and row.text != text):
            raise _conflict(desk, uid, row, text)
        draft.set_note(uid, text)
        draft.say(f"Wrote a note{Shown(desk.file).called(row.about).of} anew: {_short(text)}")

    with desk.lock:
        return desk.change(make, who=who, client_key=client_key)


def remove_note(desk: Desk, uid: str, *, who: str, client_key: str | None = None) -> Changed:
    """Remove a note; undo brings it back."""

    def make(draft: Draft) -> None:
        row = desk.file.note(uid)
        if row is None:
            raise _missing(uid)
        draft.remove_note(uid)
        draft.say(f"Removed a note{Shown(desk.file).called(row.about).of}: {_short(row.text)}")

    with desk.lock:
        return desk.change(make, who=who, client_key=client_key)


# ------------------------------------------------------------------------------------------------ what it is about


def _subject(desk: Desk, about: str | None, plan: int | None) -> str | None:
    """Return the uid of what a note is to be about."""
    if plan is None:
        return about
    if about is not None:
        text = "a note is about a table or about a plan, not about both."
        raise InputError.single("two-subjects", text, key="plan", given=str(plan), allowed="one of the two")
    return _plan(desk, plan).uid


def _plan(desk: Desk, number: int) -> Plan:
    found = desk.file.plan(number)
    if found is None:
        text = f"there is no plan {number} in this job."
        raise InputError.single("no-such-plan", text, key="plan", given=str(number))
    return found


# --------------------------------------------------------------------------------------------------------- texts


def _plain_text(given: str) -> str:
    """Return a text with one kind of line break and nothing that cannot be printed, or refuse it."""
    lines = [" ".join(line.split()) for line in given.replace("\t", " ").splitlines()]
    text = "\n".join(lines).strip()
    if not 0 < len(text) <= LONGEST_NOTE or not all(line.isprintable() for line in lines):
        words = f"a note has 1 to {LONGEST_NOTE} letters that can be printed."
        given_text = f"{len(text)} letters" if len(text) > LONGEST_NOTE else text[:200]
        raise InputError.single("no-note", words, key="text", given=given_text, allowed=f"1 to {LONGEST_NOTE} letters")
    return text


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 60 else f"{line[:57]}..."


def _missing(uid: str) -> InputError:
    text = "This note is not there any more; somebody removed it."
    return InputError.single("no-such-note", text, key="uid", given=uid, hint="Undo brings it back.")


def _conflict(desk: Desk, uid: str, row: Row | None, text: str) -> InputError:
    events = [event for event in desk.file.events_about(uid) if event.noun == "note"]
    if not events:
        return _missing(uid)
    return NoteConflict(yours=text, theirs=None if row is None else row.text, by=events[-1].who)

"""Notes in a job file as people read them: what each is about, in words, and which stand on a sheet."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.service.entry_names import label_of
from bandwright.service.seats import Seat, seats_of
from bandwright.store import Entry, JobFile
from bandwright.store import Note as Row

__all__ = ["Note", "Shown", "notes_for_sheet"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A note as pages and sheets show it.

    Parameters
    ----------
    about
        The uid of what it is about, UID.NUMBER for a link that a count makes; None for a plan or the whole job.
    plan
        The number of the plan that it is about.
    subject
        What it is about in words; None for the whole job.
    gone
        Whether that was removed since.
    at, who
        When it was first written, and by whom.
    """

    uid: str
    revision: int
    text: str
    about: str | None
    plan: int | None
    subject: str | None
    gone: bool
    at: str
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """What a note is about, in words; `there` says whether it still is."""

    subject: str | None
    there: bool
    plan: int | None = None

    @property
    def of(self) -> str:
        """The words as part of a sentence."""
        return f" of {self.subject}" if self.subject is not None else ""


class Shown:
    """Names of everything in a job that a note can be about."""

    def __init__(self, file: JobFile) -> None:
        self._file = file
        self._entries = {entry.uid: entry for entry in file.entries()}
        self._plans = {plan.uid: plan for plan in file.plans()}
        self._seats = {seat.uid: seat for seat in seats_of(self._entries.values())}

    def note(self, row: Row) -> Note:
        """Return a note as it is shown."""
        words = self.called(row.about)
        return Note(
            uid=row.uid,
            revision=row.revision,
            text=row.text,
            about=None if words.plan is not None else row.about,
            plan=words.plan,
            subject=words.subject,
            gone=not words.there,
            at=row.at,
            who=row.who,
        )

    def notes(self) -> tuple[Note, ...]:
        """Return all notes, the oldest first."""
        return tuple(map(self.note, self._file.notes()))

    def links(self) -> tuple[Seat, ...]:
        """Return every link of the brief in its order."""
        return tuple(self._seats.values())

    def called(self, about: str | None) -> _Words:
        """Return what a note is about; of what was removed, what it was called then."""
        if about is None:
            return _Words(subject=None, there=True)
        if (plan := self._plans.get(about)) is not None:
            return _Words(subject=f"plan {plan.number}", there=True, plan=plan.number)
        if (entry := self._entries.get(about)) is not None:
            return _Words(subject=label_of(entry), there=True)
        if (seat := self._seats.get(about)) is not None:
            return _Words(subject=f"link {seat.id} ({seat.name})", there=True)
        return _Words(subject=self._once(about), there=False)

    def _once(self, about: str) -> str:
        for uid in (about, about.rpartition(".")[0]):
            images = [event.before for event in self._file.events_about(uid) if event.noun == "entry"]
            if images and images[-1] is not None:
                then = Entry(uid=uid, revision=0, **images[-1])
                found = next((seat for seat in seats_of([then]) if seat.uid == about), None)
                return label_of(then) if found is None or uid == about else f"link {found.id} ({found.name})"
        return "something that was removed"


def notes_for_sheet(file: JobFile, *, plan: int | None) -> tuple[str, ...]:
    """Return what a sheet says beside the brief: notes of the job, of the plan on it, and of what is in the brief.

    Those of links stand in the order of the links; what they are about stands before them.
    """
    shown = Shown(file)
    names = {seat.uid: seat.id for seat in shown.links()}
    rank = {uid: number for number, uid in enumerate(names, start=2)}

    def place(note: Note) -> int:
        if note.about is None:
            return 0 if note.plan is None else 1
        return rank.get(note.about, len(rank) + 2)

    found = (note for note in shown.notes() if not note.gone and note.plan in (None, plan))
    return tuple(
        note.text if note.about is None else f"{names.get(note.about, note.subject)}: {note.text}"
        for note in sorted(found, key=place)
    )

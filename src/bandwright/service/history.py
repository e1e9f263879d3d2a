"""What happened to a job: undo, redo, and the list of events."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.service.desk import Changed, Desk
from bandwright.service.devices import other_names
from bandwright.store import Event, UndoRefused

__all__ = ["EventLine", "UndoRefused", "events_of", "redo", "undo"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLine:
    """One event as a list shows it; `kind` is the kind of table, or what else was touched ("sweep", "plan")."""

    seq: int
    change: int
    at: str
    who: str
    what: str
    kind: str
    uid: str


def undo(desk: Desk, *, who: str, client_key: str | None = None) -> Changed:
    """Take back the last change of who asks.

    Raises
    ------
    UndoRefused
        When something is no longer what that change left; `clashes` hold both values.
    InputError
        When there is nothing to take back.
    """
    with desk.lock:
        return desk.changed(desk.file.undo(who=who, also=other_names(desk, who), client_key=client_key), who=who)


def redo(desk: Desk, *, who: str, client_key: str | None = None) -> Changed:
    """Do again what who asks took back last; raises as `undo` does."""
    with desk.lock:
        return desk.changed(desk.file.redo(who=who, also=other_names(desk, who), client_key=client_key), who=who)


def events_of(desk: Desk, *, after: int = 0, limit: int = 200) -> tuple[EventLine, ...]:
    """Return the events that follow one, oldest first."""
    return tuple(_line(event) for event in desk.file.events(after=after, limit=limit))


def _line(event: Event) -> EventLine:
    image = event.after or event.before or {}
    kind = str(image.get("kind", event.noun)) if event.noun == "entry" else event.noun
    return EventLine(
        seq=event.seq, change=event.change, at=event.at, who=event.who, what=event.what, kind=kind, uid=event.uid
    )

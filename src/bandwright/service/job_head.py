"""What a page says above everything else: which job this is, and what undo and redo would do."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.service.desk import Desk
from bandwright.service.devices import other_names

__all__ = ["JobHead", "head_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobHead:
    """The head of an open job.

    Parameters
    ----------
    uid
        Stays the same for this job file, whatever it is called.
    title
        As the brief has it; None where it has none.
    undo, redo
        The sentence of the change that they would take back or do again for who asks; None where there is nothing.
    invented, untouched
        Whether the job is the bundled demonstration, and whether nobody has changed anything since it was made.
    """

    uid: str
    seq: int
    title: str | None
    file: str
    undo: str | None
    redo: str | None
    invented: bool
    untouched: bool


def head_of(desk: Desk, *, who: str) -> JobHead:
    """Return the head of the job for who asks."""
    names = (who, *other_names(desk, who))
    with desk.file.snapshot():
        entries = desk.file.entries("job")
        undo, redo = desk.file.undoable(names), desk.file.redoable(names)
        seq = desk.seq
        changes = desk.file.changes(limit=2)
    job = entries[0]
    title = job.value.get("title")
    return JobHead(
        uid=job.uid,
        seq=seq,
        title=title if isinstance(title, str) else None,
        file=desk.path.name,
        undo=undo.what if undo else None,
        redo=redo.what if redo else None,
        invented=job.value.get("invented") is True,
        untouched=len(changes) == 1,
    )

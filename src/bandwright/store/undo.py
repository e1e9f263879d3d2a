"""Taking a whole change back, or nothing of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from bandwright import exact_json
from bandwright.errors import Fault, InputError
from bandwright.store.draft import Draft
from bandwright.store.fields import reverse
from bandwright.store.records import Clash, Event
from bandwright.store.tables import TABLES, Image

__all__ = ["UndoRefused", "reverse_change"]

Rows = dict[tuple[str, str], Image | None]


class UndoRefused(InputError):  # noqa: N818 - it says what happened
    """A change is not taken back, since what it left is no longer there; `clashes` hold both values."""

    def __init__(self, clashes: Sequence[Clash], *, what: str) -> None:
        self.clashes = tuple(clashes)
        super().__init__([_fault(clash, what) for clash in clashes])


def reverse_change(draft: Draft, events: Sequence[Event]) -> None:
    """Take back what a change did to each row, all or nothing; facts such as plans stay.

    Raises
    ------
    UndoRefused
        With every value that is no longer what the change left.
    InputError
        When an entry would come back whose id another one has now.
    """
    rows: Rows = {}
    clashes: list[Clash] = []
    for event in _net(events):
        rows[event.noun, event.uid], found = reverse(event, draft.image(event.noun, event.uid))
        clashes.extend(found)
    if clashes:
        raise UndoRefused(clashes, what=events[0].what)
    _free_ids(draft, rows)
    for (noun, uid), image in rows.items():
        if noun == "entry" and image is not None:
            draft.check_id(image["id"], uid)
        draft.put(noun, uid, image)


def _net(events: Sequence[Event]) -> list[Event]:
    """Return one event for each row that a change left other than it found it, the last one first."""
    rows: dict[tuple[str, str], Event] = {}
    for event in events:
        first = rows.pop((event.noun, event.uid), event)
        rows[event.noun, event.uid] = replace(event, before=first.before)
    changed = [event for event in rows.values() if event.before is not None or event.after is not None]
    return [event for event in reversed(changed) if not TABLES[event.noun].lasting]


def _free_ids(draft: Draft, rows: Rows) -> None:
    """Let go of every id that an entry will not keep, so that entries can change theirs among each other."""
    for (noun, uid), image in rows.items():
        now = draft.image(noun, uid) if noun == "entry" else None
        if now is not None and (image is None or image["id"] != now["id"]):
            draft.put(noun, uid, None if image is None else {**now, "id": None})


def _fault(clash: Clash, what: str) -> Fault:
    expected, found = _words(clash.expected), _words(clash.found)
    name = clash.field.partition(".")[2] or clash.field or clash.noun
    if clash.field:
        why = f"it left {name} {expected}, and now that is {found}"
    else:
        why = f"the {name} {'is not there any more' if clash.found is None else 'was changed since'}"
    return Fault(
        code="changed-since",
        text=f'"{what}" cannot be taken back: {why}.',
        key=name,
        given=found,
        allowed=expected,
        hint="Nothing was changed. Change it by hand to what you want.",
    )


def _words(value: Any) -> str:
    return "empty" if value is None else exact_json.dumps(value)

"""Links that a row with `count` makes, one by one: how each would stand as a row of its own, and rows taken apart.

Such a link is known by UID.NUMBER wherever links are listed. A row of its own keeps that as its uid, so a plan, what
was ticked and what was noted of it stay its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from bandwright.documents.brief import spread
from bandwright.service.differences import Difference
from bandwright.store import Draft, Entry, JobFile

__all__ = ["counted_row", "one_by_one", "single_images", "take_apart"]

Image = Mapping[str, Any]


def single_images(uid: str, image: Image) -> dict[str, dict[str, Any]]:
    """Return the rows that a row with `count` stands for, by their uids; nothing for any other row."""
    value = image["value"]
    count = value.get("count")
    if image["kind"] != "link" or not isinstance(count, int) or isinstance(count, bool) or count < 1:
        return {}
    row_id = str(value.get("id", ""))
    called = value.get("name") or row_id
    rest = {key: item for key, item in value.items() if key not in ("id", "name", "count")}
    found = {}
    for number in range(1, count + 1):
        single_id = f"{row_id}.{number}"
        name = called if count == 1 else f"{called} {number}"
        single = {"id": single_id, "name": name, **rest}
        found[f"{uid}.{number}"] = {**image, "id": single_id, "value": single}
    return found


def counted_row(file: JobFile, uid: str) -> Entry | None:
    """Return the row whose count makes the link with this uid; None where none does."""
    row = file.entry(uid.rpartition(".")[0])
    return row if row is not None and uid in single_images(row.uid, _image(row)) else None


def take_apart(file: JobFile, draft: Draft, row: Entry) -> None:
    """Put in the place of a row with `count` a row for each link that it makes; where it was named, all are named."""
    images = single_images(row.uid, _image(row))
    after = row.uid
    for uid, image in images.items():
        after = draft.add("link", image["value"], id=image["id"], after=after, uid=uid)
    draft.remove(row.uid)
    _hand_notes_on(file, draft, row.uid, next(iter(images)))
    ids = [image["id"] for image in images.values()]
    for other in file.entries():
        table = spread(other.kind, other.value, str(row.id), ids)
        if table != other.value:
            draft.set(other.uid, table, id=other.id)


def _hand_notes_on(file: JobFile, draft: Draft, uid: str, to: str) -> None:
    """Let what was noted of a row be noted of the first of those in its place."""
    for note in file.notes():
        if note.about == uid:
            draft.put("note", note.uid, {"about": to, "text": note.text, "at": note.at, "who": note.who})


def one_by_one(differences: Iterable[Difference]) -> tuple[Difference, ...]:
    """Return differences as they are when each link that a count makes is a row of its own.

    A row that was taken apart, or was put together again by undo, is no difference then.
    """
    found = {(item.noun, item.uid): item for item in differences}
    apart: list[tuple[str, list[str]]] = []
    for (noun, uid), item in list(found.items()):
        image = item.after or item.before
        if noun != "entry" or image is None or (item.before is not None and item.after is not None):
            continue
        singles = single_images(uid, image)
        if not any((noun, single) in found for single in singles):
            continue
        del found[noun, uid]
        apart.append((str(image["id"]), [str(own["id"]) for own in singles.values()]))
        for single, own in singles.items():
            found[noun, single] = _merged(found.get((noun, single)), single, own, gone=item.after is None)
    named = (_all_named(item, apart) for item in found.values())
    return tuple(item for item in named if item.before != item.after)


def _merged(there: Difference | None, uid: str, own: Image, *, gone: bool) -> Difference:
    """Return a difference whose empty side is filled with what the counted row said of this link."""
    if there is None:
        there = Difference(noun="entry", uid=uid, before=None, after=None)
    other = there.after if gone else there.before
    filled = {**own, "position": other["position"]} if other is not None else own
    return replace(there, before=filled) if gone else replace(there, after=filled)


def _all_named(item: Difference, apart: Iterable[tuple[str, list[str]]]) -> Difference:
    """Return a difference with all links named wherever the row that counted them was."""
    if item.noun != "entry":
        return item
    for name, names in apart:
        item = replace(item, before=_spread(item.before, name, names), after=_spread(item.after, name, names))
    return item


def _spread(image: Image | None, name: str, names: list[str]) -> Image | None:
    return None if image is None else {**image, "value": spread(image["kind"], image["value"], name, names)}


def _image(row: Entry) -> Image:
    return {"kind": row.kind, "id": row.id, "position": row.position, "value": row.value}

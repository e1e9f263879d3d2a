"""Which links a job has, one by one, and what each is called in an earlier plan: rows are renamed, uids never are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bandwright.service.differences import Difference
from bandwright.store import Entry

__all__ = ["Seat", "ids_at", "seats_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """One link: a row of the brief, or one of those that a row with `count` makes (`uid` is then UID.NUMBER)."""

    uid: str
    row: str
    id: str
    name: str


def seats_of(entries: Iterable[Entry]) -> tuple[Seat, ...]:
    """Return every link of the brief in its order; what has no readable count is one link."""
    return tuple(seat for row in entries if row.kind == "link" for seat in _seats(row.uid, row.value))


def _seats(uid: str, value: Mapping[str, Any]) -> Iterator[Seat]:
    row_id, count = str(value.get("id", "")), value.get("count")
    name = value.get("name") or row_id
    if not isinstance(count, int) or isinstance(count, bool) or count < 1:
        yield Seat(uid=uid, row=uid, id=row_id, name=str(name))
        return
    for number in range(1, count + 1):
        called = str(name) if count == 1 else f"{name} {number}"
        yield Seat(uid=f"{uid}.{number}", row=uid, id=f"{row_id}.{number}", name=called)


def ids_at(entries: Sequence[Entry], differences: Iterable[Difference]) -> dict[str, str]:
    """Return what each link of today was called when `differences` began, by its uid; new links are not there."""
    values: dict[str, Any] = {row.uid: row.value for row in entries if row.kind == "link"}
    for item in differences:
        if item.noun == "entry" and (item.uid in values or _is_link(item)):
            values[item.uid] = item.before["value"] if item.before is not None else None
    then = {seat.uid: seat.id for uid, value in values.items() if value is not None for seat in _seats(uid, value)}
    return {seat.uid: then[seat.uid] for seat in seats_of(entries) if seat.uid in then}


def _is_link(item: Difference) -> bool:
    return (item.before or item.after or {}).get("kind") == "link"

"""Versions of a job under names of people's own ("as rehearsed"): kept, compared, and brought back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bandwright import exact_json
from bandwright.errors import InputError
from bandwright.service.brief_words import Line, difference_lines
from bandwright.service.counted import one_by_one
from bandwright.service.desk import Changed, Desk
from bandwright.service.differences import Difference
from bandwright.service.job_plans import CURRENT, plan_numbered, put_in_force
from bandwright.store import Draft, Entry, Version

__all__ = [
    "Line",
    "VersionDifference",
    "keep_version",
    "restore_version",
    "version_difference",
    "version_named",
    "versions_of",
]

_LONGEST_NAME = 100
_COLUMNS = ("kind", "id", "position", "value")

Rows = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionDifference:
    """What is different between a version and another, or the job as it is now, a sentence each."""

    lines: tuple[Line, ...]

    @property
    def same(self) -> bool:
        """Whether nothing is."""
        return not self.lines


def versions_of(desk: Desk) -> tuple[Version, ...]:
    """Return the versions of the job, the newest first."""
    return tuple(sorted(desk.file.versions(), key=lambda version: -version.number))


def keep_version(desk: Desk, *, who: str, name: str, client_key: str | None = None) -> tuple[Changed, int]:
    """Keep the brief as it is, and which plan is in force, under a name; return also the number of the version."""
    name = " ".join(name.split())
    if not 0 < len(name) <= _LONGEST_NAME or not name.isprintable():
        text = f"a version is called by 1 to {_LONGEST_NAME} letters on one line."
        raise InputError.single(
            "not-one-line", text, key="name", given=name[:_LONGEST_NAME], hint="Such as: as rehearsed"
        )
    with desk.lock:
        snapshot = {"entries": list(_image_rows(desk.file.entries())), "plan": desk.file.state(CURRENT)}
        data = exact_json.dumps(snapshot).encode()
        done = desk.change(
            lambda draft: draft.add_version(name, data), who=who, what=f'Kept a version "{name}"', client_key=client_key
        )
        uid = next(uid for noun, uid in done.touched if noun == "version")
        return done, next(version.number for version in desk.file.versions() if version.uid == uid)


def version_named(desk: Desk, number: int) -> Version:
    """Return a version by its number; raises InputError where there is none."""
    found = desk.file.version(number)
    if found is None:
        known = ", ".join(str(version.number) for version in desk.file.versions()) or "none yet"
        text = f"there is no version {number} of this job."
        raise InputError.single("no-such-version", text, key="number", given=str(number), allowed=known)
    return found


def version_difference(desk: Desk, number: int, *, against: int | None = None) -> VersionDifference:
    """Return what is different in another version, or now, from what it was in this one."""
    with desk.lock:
        before, plan_before = _snapshot(desk, version_named(desk, number))
        if against is None:
            after, plan_after = _by_uid(_image_rows(desk.file.entries())), desk.file.state(CURRENT)
        else:
            after, plan_after = _snapshot(desk, version_named(desk, against))
    lines = difference_lines(one_by_one(_differences(before, after)))
    if plan_before != plan_after:
        was, now = ("none" if plan is None else f"plan {plan}" for plan in (plan_before, plan_after))
        lines = (*lines, Line(text=f"In force was {was}, and is {now}.", kind="plan", id=None))
    return VersionDifference(lines=lines)


def restore_version(desk: Desk, number: int, *, who: str, client_key: str | None = None) -> Changed:
    """Make the brief what it was in a version, with the plan that was in force then; undo brings it back.

    Sweeps and statements stay, but for what was ticked of links that have another carrier by that plan.
    """
    with desk.lock:
        version = version_named(desk, number)
        rows, plan = _snapshot(desk, version)

        def make(draft: Draft) -> None:
            _write_rows(draft, desk.file.entries(), rows)
            if plan is not None and plan != desk.file.state(CURRENT):
                put_in_force(desk, draft, int(plan), _tuned_then(desk, int(plan), rows))

        what = f'Brought back version {number} "{version.name}"'
        return desk.change(make, who=who, what=what, client_key=client_key)


def _tuned_then(desk: Desk, number: int, rows: Rows) -> dict[str, tuple[int, str]]:
    """Return carrier and radio type by the uids of links that the version has."""
    tuned = plan_numbered(desk, number).tuned()
    return {uid: found for uid, found in tuned.items() if uid in rows or uid.rpartition(".")[0] in rows}


def _write_rows(draft: Draft, entries: Sequence[Entry], rows: Rows) -> None:
    """Make the entries what the rows say; ids that change hands are let go of first."""
    there = {entry.uid: entry for entry in entries}
    for uid in there:
        if uid not in rows:
            draft.remove(uid)
    for uid, row in rows.items():
        if uid in there and there[uid].id != row["id"]:
            draft.set(uid, there[uid].value, id=None)
    for uid, row in rows.items():
        draft.put("entry", uid, {column: row[column] for column in _COLUMNS})


def _snapshot(desk: Desk, version: Version) -> tuple[dict[str, dict[str, Any]], Any]:
    found = exact_json.loads(desk.file.blob(version.sha256))
    return _by_uid(found["entries"]), found["plan"]


def _image_rows(entries: Iterable[Entry]) -> Iterable[dict[str, Any]]:
    return ({"uid": entry.uid, **{column: getattr(entry, column) for column in _COLUMNS}} for entry in entries)


def _by_uid(rows: Iterable[Mapping[str, Any]]) -> dict[str, dict[str, Any]]:
    return {row["uid"]: {column: row[column] for column in _COLUMNS} for row in rows}


def _differences(before: Rows, after: Rows) -> list[Difference]:
    uids = dict.fromkeys([*before, *after])
    found = (Difference(noun="entry", uid=uid, before=before.get(uid), after=after.get(uid)) for uid in uids)
    return [item for item in found if item.before != item.after]

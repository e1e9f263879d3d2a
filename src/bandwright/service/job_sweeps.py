"""The sweeps of an open job: brought, described, looked into and drawn."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any

from bandwright import exact_json
from bandwright.core.fold import DEFAULT_BANDWIDTHS_HZ
from bandwright.core.packed_levels import PackedLevels, packed_levels
from bandwright.core.sweep import Sweep
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.documents.outputs import Input
from bandwright.documents.outputs.sweep import read_of_sweep
from bandwright.documents.sweep_note import read_stated
from bandwright.errors import InputError
from bandwright.service.context import Context
from bandwright.service.desk import Changed, Desk
from bandwright.service.inputs import bandwidths_of, read_kept
from bandwright.service.kept import STATED, KeptSweep, in_use, kept_sweep
from bandwright.store import Draft
from bandwright.store import Sweep as Row

__all__ = [
    "SweepLine",
    "add_sweep",
    "change_sweep",
    "levels_of",
    "plain_name",
    "read_facts",
    "read_sweep",
    "remove_sweep",
    "row_of",
    "sweep_lines",
    "sweeps_in_use",
    "sweeps_with",
]

_LONGEST_NAME = 120
_MAY_CHANGE = ("name", "in_use", "removed", *STATED)


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepLine:
    """One sweep of a job: what it is called, who brought it when, what is known of it, and whether plans count it."""

    uid: str
    name: str
    added: str
    by: str
    removed: str | None
    facts: Mapping[str, Any]
    points: int
    low_mhz: float
    high_mhz: float
    in_use: bool


def sweep_lines(desk: Desk) -> tuple[SweepLine, ...]:
    """Return the sweeps of a job, oldest first, and those that were put aside behind them."""
    with desk.file.snapshot():
        rows = (*desk.file.sweeps(), *desk.file.sweeps(removed=True))
    return tuple(map(_line, rows))


def _line(row: Row) -> SweepLine:
    facts = dict(row.facts["read"])
    return SweepLine(
        uid=row.uid,
        name=row.name,
        added=row.added_at,
        by=row.added_by,
        removed=row.removed_at,
        points=facts.pop("points"),
        low_mhz=float(facts.pop("low_mhz")),
        high_mhz=float(facts.pop("high_mhz")),
        facts=facts,
        in_use=in_use(row),
    )


def add_sweep(
    desk: Desk,
    *,
    who: str,
    name: str,
    data: bytes,
    stated: Mapping[str, Any] | None = None,
    client_key: str | None = None,
) -> tuple[Changed, str]:
    """Add a sweep file as it was given, read once to see that it is one; return also its uid.

    Parameters
    ----------
    name
        What the file is called; of a path its last part.
    stated
        What its file cannot know: place, antenna, gain_ahead_db, rbw_khz, own_transmitters, started, trace.

    Raises
    ------
    InputError
        When the file cannot be read as a sweep, or what is stated makes no sense.
    """
    name = plain_name(name)
    told = _checked_facts(desk, {key: value for key, value in (stated or {}).items() if key in STATED})
    facts = {**told, "read": read_facts(desk.context, name, data, told, _bandwidths(desk))}
    with desk.lock:
        done = desk.change(
            lambda draft: draft.add_sweep(name, data, facts),
            who=who,
            what=f"Brought the sweep {name}",
            client_key=client_key,
        )
    return done, next(uid for noun, uid in done.touched if noun == "sweep")


def change_sweep(
    desk: Desk, uid: str, *, who: str, changes: Mapping[str, Any], client_key: str | None = None
) -> Changed:
    """State something else of a sweep, call it otherwise, count it or not, or take it back from what was put aside."""
    strange = [key for key in changes if key not in _MAY_CHANGE]
    if strange:
        text = f"nothing is known of {list_text(strange)}; what may be stated of a sweep: {list_text(_MAY_CHANGE)}."
        hint = nearest_hint(strange[0], _MAY_CHANGE)
        raise InputError.single("unknown-key", text, key=strange[0], allowed=list_text(_MAY_CHANGE), hint=hint)
    while True:
        row = row_of(desk, uid)
        name, facts = _stated_now(desk, row, changes)
        with desk.lock:
            if row_of(desk, uid) == row:  # nobody stated something else while the file was read
                return _write_stated(desk, row, name, facts, changes, who=who, client_key=client_key)


def _stated_now(desk: Desk, row: Row, changes: Mapping[str, Any]) -> tuple[str, dict[str, Any]]:
    """Return name and facts of a sweep with these changes; its file is read anew, which may take a while."""
    stated = {key: changes.get(key, row.facts.get(key)) for key in STATED}
    told = _checked_facts(desk, {key: value for key, value in stated.items() if value is not None})
    name = plain_name(str(changes["name"])) if changes.get("name") else row.name
    facts: dict[str, Any] = {**told, "in_use": bool(changes.get("in_use", in_use(row)))}
    facts["read"] = read_facts(desk.context, name, desk.file.blob(row.sha256), told, _bandwidths(desk))
    return name, facts


def _write_stated(
    desk: Desk,
    row: Row,
    name: str,
    facts: Mapping[str, Any],
    changes: Mapping[str, Any],
    *,
    who: str,
    client_key: str | None,
) -> Changed:
    def make(draft: Draft) -> None:
        draft.set_sweep(row.uid, name=name, facts=facts)
        image = draft.image("sweep", row.uid)
        if changes.get("removed") is False and image is not None:
            draft.put("sweep", row.uid, {**image, "removed_at": None})

    return desk.change(make, who=who, what=f"Stated of the sweep {name}: {_said(changes)}", client_key=client_key)


def _said(changes: Mapping[str, Any]) -> str:
    return ", ".join(f"{key} {'nothing' if value is None else _json(value)}" for key, value in changes.items())


def _json(value: Any) -> str:
    return exact_json.dumps(value, other=exact_json.plain)


def remove_sweep(desk: Desk, uid: str, *, who: str, client_key: str | None = None) -> Changed:
    """Put a sweep aside; its bytes stay in the job until it is made small."""
    row = row_of(desk, uid)
    what = f"Put the sweep {row.name} aside"
    with desk.lock:
        return desk.change(lambda draft: draft.remove_sweep(uid), who=who, what=what, client_key=client_key)


def row_of(desk: Desk, uid: str) -> Row:
    """Return a sweep of the job; raises InputError where there is none."""
    row = desk.file.sweep(uid)
    if row is None:
        text = "This sweep is not in the job."
        raise InputError.single("no-such-sweep", text, key="uid", given=uid, hint="Look at the list of sweeps again.")
    return row


def read_sweep(desk: Desk, row: Row) -> Sweep:
    """Return a sweep of the job, read for the bandwidths of its radios; read once for each state of both."""
    bandwidths = _bandwidths(desk)
    stands_on = (row.sha256, exact_json.dumps({key: row.facts.get(key) for key in STATED}), row.name, bandwidths)
    kept = kept_sweep(desk.file, row)
    return desk.keep_apart(
        f"sweep {row.uid}", stands_on, lambda: read_kept(desk.context, kept, bandwidths_hz=bandwidths)
    )


def sweeps_in_use(desk: Desk) -> tuple[tuple[Sweep, ...], tuple[Input, ...]]:
    """Return the sweeps that plans count, and the inputs that they are."""
    rows = [row for row in desk.file.sweeps() if in_use(row)]
    sweeps = tuple(read_sweep(desk, row) for row in rows)
    inputs = (Input(name=row.name, sha256=row.sha256) for row in rows)
    return sweeps, tuple(one.of_sweep(sweep) for one, sweep in zip(inputs, sweeps, strict=True))


def sweeps_with(desk: Desk, hashes: Collection[str]) -> tuple[Sweep, ...]:
    """Return the sweeps with these hashes, those that were put aside too: what an earlier plan stood on."""
    rows = (*desk.file.sweeps(), *desk.file.sweeps(removed=True))
    return tuple(read_sweep(desk, row) for row in sorted(rows, key=lambda row: row.added_at) if row.sha256 in hashes)


def levels_of(desk: Desk, uid: str) -> PackedLevels:
    """Return the levels of a sweep packed for drawing."""
    row = row_of(desk, uid)
    sweep = read_sweep(desk, row)
    return desk.keep(f"levels {uid}", sweep, lambda: packed_levels(sweep))


def read_facts(
    context: Context, name: str, data: bytes, stated: Mapping[str, Any], bandwidths_hz: Sequence[int]
) -> dict[str, Any]:
    """Return what reading a sweep tells of it, for lists that do not read it again."""
    kept = KeptSweep(uid="", name=name, sha256="", stated=stated, data=lambda: data)
    sweep = read_kept(context, kept, bandwidths_hz=bandwidths_hz)
    return dict(exact_json.loads(_json(read_of_sweep(sweep))))


def _bandwidths(desk: Desk) -> tuple[int, ...]:
    job = desk.brief().job
    return tuple(DEFAULT_BANDWIDTHS_HZ if job is None else bandwidths_of(job))


def _checked_facts(desk: Desk, stated: Mapping[str, Any]) -> dict[str, Any]:
    found = {key: value for key, value in stated.items() if value not in (None, "")}
    read_stated(found, file=desk.path.name)
    place = found.get("place")
    places = [entry.id for entry in desk.file.entries("place") if entry.id is not None]
    if place is not None and place not in places:
        raise InputError.single(
            "unknown-place",
            f'there is no place "{place}" in this job; places: {list_text(places)}.',
            key="place",
            given=str(place),
            allowed=list_text(places),
            hint=nearest_hint(str(place), places),
        )
    return found


def plain_name(given: str) -> str:
    """Return the last part of a name, of letters that every file system takes; never a path, never hidden."""
    last = PureWindowsPath(PurePosixPath(given).name).name
    name = re.sub(r"[^\w.()+ -]", "_", last, flags=re.ASCII).strip(" .")
    if len(name) > _LONGEST_NAME:
        stem, dot, ending = name.rpartition(".")
        name = f"{stem[: _LONGEST_NAME - len(ending) - 1]}{dot}{ending}" if len(ending) < 20 else name[:_LONGEST_NAME]
    return name or "sweep"

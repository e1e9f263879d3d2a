"""The tables of the brief in a job: add, edit, copy, order and remove them, cell by cell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from bandwright import exact_json
from bandwright.documents.brief import ALWAYS, KINDS, ONCE, Rename, as_toml_gives, cell_value, renamed, renames_of
from bandwright.documents.brief import table_faults as faults_of_table
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.errors import Fault, InputError
from bandwright.service.counted import counted_row, take_apart
from bandwright.service.desk import Changed, Desk
from bandwright.service.entry_names import copied, fresh_id, label_of, taken_ids
from bandwright.service.job_brief import CellFault, CellFaults, plain
from bandwright.store import Draft, Entry

__all__ = [
    "EditConflict",
    "add_entry",
    "check_kind",
    "copy_entry",
    "edit_entry",
    "entry_of",
    "order_entries",
    "readable",
    "remove_entry",
    "single_out",
    "write_row",
]

MOST_COPIES = 500


class EditConflict(InputError):  # noqa: N818 - it says what happened
    """Somebody else changed the same fields meanwhile; both values are here, and nothing was changed."""

    def __init__(self, entry: Entry, *, yours: Mapping[str, Any], theirs: Mapping[str, Any], by: str | None) -> None:
        self.entry = entry
        self.yours = dict(yours)
        self.theirs = dict(theirs)
        self.by = by
        whom = by or "somebody else"
        super().__init__([_overtaken(entry, key, theirs[key], whom) for key in yours])


def _overtaken(entry: Entry, key: str, theirs: Any, whom: str) -> Fault:
    now = "says nothing now" if theirs is None else f"is {exact_json.dumps(theirs)} now"
    text = f"{label_of(entry)}: {key} was changed by {whom} while you were editing; it {now}."
    hint = "Keep theirs, or write yours once more."
    return Fault(code="changed-meanwhile", text=text, key=key, hint=hint)


def add_entry(
    desk: Desk,
    *,
    who: str,
    kind: str,
    value: Mapping[str, Any],
    after: str | None = None,
    client_key: str | None = None,
) -> Changed:
    """Add a table of a kind behind another (by uid), or at the end; it gets a free id where it has none."""
    check_kind(kind)

    def make(draft: Draft) -> None:
        rows = desk.file.entries()
        table = readable(kind, value, uid=None, file=desk.path.name)
        if kind in ONCE and any(row.kind == kind for row in rows):
            raise _only_one(kind)
        if kind not in (*ONCE, "isolation") and "id" not in table:
            table = {"id": fresh_id(kind, rows, taken_ids(rows)), **table}
        write_row(draft, kind, table, after=after)
        draft.say(f"Added {kind} {table.get('id', '')}".rstrip())

    return desk.change(make, who=who, client_key=client_key)


def edit_entry(
    desk: Desk,
    uid: str,
    *,
    who: str,
    base: int,
    changes: Mapping[str, Any],
    client_key: str | None = None,
) -> Changed:
    """Change fields of a table (None: say nothing there). A new id is written wherever the old one was named.

    A link that a count makes (UID.NUMBER) becomes a row of its own in the same change, and so do those beside it.

    Parameters
    ----------
    base
        The revision of the entry when editing began; that of the row with the count for a link that it makes.

    Raises
    ------
    CellFaults
        For values that their field cannot hold.
    EditConflict
        When one of these fields was changed since `base`, to something else.
    InputError
        When there is no such entry, or an id is taken.
    """

    def make(draft: Draft) -> None:
        entry = desk.file.entry(uid) or counted_row(desk.file, uid) or entry_of(desk, uid)
        read = {key: cell_value(entry.kind, key, given) for key, given in changes.items()}
        _refuse_conflict(desk, entry, base, read)
        apart = entry.uid != uid
        if apart:
            take_apart(desk.file, draft, entry)
            entry = entry_of(desk, uid)
        table = readable(entry.kind, {**entry.value, **read}, uid=uid, file=desk.path.name, only=read)
        if entry.kind not in (*ONCE, "isolation") and "id" not in table:
            raise _no_id(entry)
        _refuse_taken(desk, entry, table)
        rename = list(renames_of(entry.kind, entry.value, table))
        draft.set(uid, table, id=table.get("id"))
        if rename:
            _write_names_anew(draft, desk.file.entries(), uid, rename)
        draft.say(f"{_edited(entry, table)}{', in a row of its own now' if apart else ''}")

    return desk.change(make, who=who, client_key=client_key)


def copy_entry(desk: Desk, uid: str, *, who: str, count: int = 1, client_key: str | None = None) -> Changed:
    """Add copies of a table right behind it, each with an id and a name of its own; a held carrier is not copied."""
    if not 1 <= count <= MOST_COPIES:
        text = f"{count} copies were asked for; 1 to {MOST_COPIES} can be made at once."
        raise InputError.single("out-of-range", text, key="count", given=str(count), allowed=f"1 to {MOST_COPIES}")

    def make(draft: Draft) -> None:
        entry = entry_of(desk, uid)
        if entry.kind in ONCE:
            raise _only_one(entry.kind)
        rows = desk.file.entries()
        after, taken = uid, taken_ids(rows)
        for table in copied(entry, rows, taken, count):
            after = write_row(draft, entry.kind, table, after=after)
        draft.say(f"Copied {label_of(entry)}{f' {count} times' if count > 1 else ''}")

    return desk.change(make, who=who, client_key=client_key)


def single_out(desk: Desk, uid: str, *, who: str, client_key: str | None = None) -> Changed:
    """Make of a link with `count` one row for each link that it makes; plan, ticks and notes stay with each.

    Raises
    ------
    InputError
        When there is no such entry, or it counts nothing, or an id of a new row is taken.
    """

    def make(draft: Draft) -> None:
        entry = entry_of(desk, uid)
        if counted_row(desk.file, f"{uid}.1") is None:
            text = f"{label_of(entry)} is one link already."
            raise InputError.single("no-count", text, key="count", given=uid, hint="Name a row with a count.")
        take_apart(desk.file, draft, entry)
        draft.say(f"Took {label_of(entry)} apart into single links")

    with desk.lock:
        return desk.change(make, who=who, client_key=client_key)


def order_entries(desk: Desk, *, who: str, kind: str, uids: Sequence[str], client_key: str | None = None) -> Changed:
    """Put the tables of a kind in order; those not named follow in the order they had."""
    check_kind(kind)

    def make(draft: Draft) -> None:
        draft.order(kind, uids)

    return desk.change(make, who=who, what=f"Put the {kind} entries in another order", client_key=client_key)


def remove_entry(desk: Desk, uid: str, *, who: str, client_key: str | None = None) -> Changed:
    """Remove a table; what names it stays and is told as a fault.

    Of a link that a count makes (UID.NUMBER), those beside it become rows of their own in the same change.
    """

    def make(draft: Draft) -> None:
        if desk.file.entry(uid) is None and (row := counted_row(desk.file, uid)) is not None:
            take_apart(desk.file, draft, row)
        entry = entry_of(desk, uid)
        if entry.kind in ALWAYS:
            raise _only_one(entry.kind)
        draft.remove(uid)
        draft.say(f"Removed {label_of(entry)}")

    return desk.change(make, who=who, client_key=client_key)


def entry_of(desk: Desk, uid: str) -> Entry:
    """Return a table of the brief; raises InputError where there is none (any more)."""
    entry = desk.file.entry(uid)
    if entry is None:
        text = "This entry is not there any more; somebody removed it."
        raise InputError.single("no-such-entry", text, key="uid", given=uid, hint="Undo brings it back.")
    return entry


def readable(
    kind: str,
    given: Mapping[str, Any],
    *,
    uid: str | None,
    file: str,
    only: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """Return a table as a job file keeps it, text typed into cells read as values.

    Raises
    ------
    CellFaults
        With every value that its field cannot hold; with `only`, of these fields alone: what was wrong before does not
        keep anybody from changing something else.
    """
    table = {key: cell_value(kind, key, value) for key, value in given.items()}
    try:
        table = plain(table)
    except ValueError as error:
        raise InputError.single("unstorable", f"this cannot be kept: {error}.", key=kind) from error
    where = 1 if kind in ONCE else 2
    found = [
        CellFault(fault=item.fault, uid=uid, field=str(item.path[where]) if len(item.path) > where else None)
        for item in faults_of_table(kind, as_toml_gives(kind, table), file=file)
    ]
    if told := [cell for cell in found if only is None or cell.field in only or cell.field is None]:
        raise CellFaults(told)
    return table


def write_row(draft: Draft, kind: str, table: Mapping[str, Any], *, after: str | None) -> str:
    """Add a table that is readable; return its uid."""
    if kind in ALWAYS:
        raise _only_one(kind)
    return draft.add(kind, dict(table), id=table.get("id"), after=after)


def _refuse_conflict(desk: Desk, entry: Entry, base: int, changes: Mapping[str, Any]) -> None:
    changed = desk.file.changed_since(entry.uid, base)
    theirs = {key: entry.value.get(key) for key in changes if f"value.{key}" in changed}
    clash = [key for key, value in theirs.items() if _json(value) != _json(changes[key])]
    if clash:
        last = [event.who for event in desk.file.events_about(entry.uid) if event.seq > base]
        yours = {key: changes[key] for key in clash}
        raise EditConflict(
            entry, yours=yours, theirs={key: theirs[key] for key in clash}, by=last[-1] if last else None
        )


def _json(value: Any) -> str:
    try:
        return exact_json.dumps(value)
    except (ValueError, TypeError):
        return repr(value)


def _refuse_taken(desk: Desk, entry: Entry, table: Mapping[str, Any]) -> None:
    name = table.get("id")
    other = desk.file.entry_named(name) if isinstance(name, str) else None
    if other is not None and other.uid != entry.uid:
        text = f'{label_of(entry)}: the id "{name}" is taken by {label_of(other)}; an id may be used once.'
        fault = Fault(code="id-twice", text=text, key="id", given=name, hint="Give each its own.")
        raise CellFaults([CellFault(fault=fault, uid=entry.uid, field="id")])


def _write_names_anew(draft: Draft, rows: Sequence[Entry], uid: str, rename: Sequence[Rename]) -> None:
    roles = {row.value.get("role") for row in rows if row.kind == "link"} - {None}
    for row in rows:
        table = renamed(row.kind, row.value, rename, roles=roles)
        if row.uid != uid and table != row.value:
            draft.set(row.uid, table, id=row.id)


def _edited(entry: Entry, table: Mapping[str, Any]) -> str:
    """Return a change in a sentence: one field with its value, several by name."""
    keys = list(_differing(entry.value, table))
    if entry.id is not None and table.get("id") not in (None, entry.id):
        rest = [key for key in keys if key != "id"]
        also = f", and changed {list_text(rest, most=4)}" if rest else ""
        return f"{entry.kind} {entry.id} is {table['id']} now{also}"
    if len(keys) != 1:
        return f"{label_of(entry)}: changed {list_text(keys, most=4)}"
    (key,) = keys
    value = table.get(key)
    return f"{label_of(entry)}: {key} {'taken out' if value is None else 'is ' + _short(_said(value))}"


def _said(value: Any) -> str:
    """Return a value as a sentence holds it: what "cable", length_m 20; what "splitter", ways 4."""
    if isinstance(value, list):
        within = "; " if any(isinstance(item, dict | list) for item in value) else ", "
        return within.join(_said(item) for item in value)
    if isinstance(value, dict):
        return ", ".join(f"{key} {_said(item)}" for key, item in value.items())
    return exact_json.dumps(value)


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."


def _differing(one: Mapping[str, Any], two: Mapping[str, Any]) -> Iterator[str]:
    for key in dict.fromkeys([*one, *two]):
        if _json(one.get(key)) != _json(two.get(key)):
            yield key


def check_kind(kind: str) -> None:
    """Raise InputError for a word that is no kind of table."""
    if kind not in KINDS:
        text = f'there is no kind of table "{kind}"; known: {list_text(KINDS)}.'
        hint = nearest_hint(kind, KINDS)
        raise InputError.single("unknown-kind", text, key="kind", given=kind, allowed=list_text(KINDS), hint=hint)


def _only_one(kind: str) -> InputError:
    text = f"A brief has one [{kind}]; it can be changed, and neither added nor removed."
    if kind not in ALWAYS:
        text = f"A brief has one [{kind}] at most, and it is there already."
    return InputError.single("only-one", text, key="kind", given=kind, hint="Change its fields.")


def _no_id(entry: Entry) -> CellFaults:
    text = f"{label_of(entry)}: every {entry.kind} needs an id."
    fault = Fault(code="missing", text=text, key="id", allowed="an id of its own", hint="Write one, such as L01.")
    return CellFaults([CellFault(fault=fault, uid=entry.uid, field="id")])

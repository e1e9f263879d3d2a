"""What a job file gives back: frozen values, one class for each kind of row, and the times in them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

__all__ = [
    "Change",
    "Clash",
    "Device",
    "Done",
    "Entry",
    "Event",
    "Note",
    "Plan",
    "Statement",
    "Sweep",
    "Version",
    "moment_text",
]

_MOMENT = "%Y-%m-%dT%H:%M:%S.%fZ"


def moment_text(moment: datetime) -> str:
    """Return a moment as UTC text of one length, so that text order is time order.

    >>> moment_text(datetime(2027, 5, 14, 15, 40, tzinfo=UTC))
    '2027-05-14T15:40:00.000000Z'

    Raises
    ------
    ValueError
        For a time without a zone.
    """
    if moment.tzinfo is None:
        raise ValueError(f"{moment} has no time zone")
    return moment.astimezone(UTC).strftime(_MOMENT).rjust(len("2027-05-14T15:40:00.000000Z"), "0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One table of the brief.

    Parameters
    ----------
    uid
        Never changes and is never shown.
    kind
        Which table of the brief: "job", "link", ...
    id
        The name that people gave it; unique in the job where there is one.
    position
        Rank among those of its kind; only the order counts.
    revision
        Number of the event that last changed it.
    value
        Its keys and values as in the brief; numbers with a fraction are `Decimal`.
    """

    uid: str
    kind: str
    id: str | None
    position: int
    revision: int
    value: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """A sweep of the job: the file as it was given (a blob), and what is known about it."""

    uid: str
    revision: int
    name: str
    sha256: str
    facts: Any
    added_at: str
    added_by: str
    removed_at: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A numbered plan: its document is a blob; `stands_on` is the event number of the brief it was made from."""

    uid: str
    revision: int
    number: int
    check_phrase: str
    stands_on: int
    sha256: str
    made_at: str
    made_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """The whole brief under a name that people gave ("as rehearsed"); the snapshot is a blob."""

    uid: str
    revision: int
    number: int
    name: str
    sha256: str
    made_at: str
    made_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What somebody ticked: `what` of `about` (the uid of an entry, or None for the whole job)."""

    uid: str
    revision: int
    what: str
    about: str | None
    note: str
    plan_number: int | None
    at: str
    who: str
    taken_back_at: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A remark about an entry, or about the whole job."""

    uid: str
    revision: int
    about: str | None
    text: str
    at: str
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A paired device; only the hash of its token is kept."""

    uid: str
    revision: int
    name: str
    role: str
    token_sha256: str
    paired_at: str
    expires_at: str | None
    last_seen: str | None
    revoked_at: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What somebody did, in one transaction: a sentence and its events.

    `undoes` and `redoes` name the change that it took back or did again; `undone` says whether it is taken back now.
    """

    number: int
    at: str
    who: str
    what: str
    undoes: int | None
    redoes: int | None
    undone: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One row before and after a change: None where there was none, or is none any more.

    `noun` names the table ("entry", "state", "sweep", ...); `before` and `after` hold the row's columns.
    """

    seq: int
    change: int
    at: str
    who: str
    what: str
    noun: str
    uid: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """The answer to a change.

    Parameters
    ----------
    change
        Its number; None where nothing had to change.
    seq
        Number of its last event, or of the last event before it where nothing had to change.
    what
        The sentence that says what was done.
    entries, removed
        The entries as this change left them, and the uids of those it removed.
    touched
        (noun, uid) of every row it touched, in order, each once.
    repeated
        Whether this is the first answer again, to a client key that was given before.
    """

    change: int | None
    seq: int
    what: str
    entries: tuple[Entry, ...] = ()
    removed: tuple[str, ...] = ()
    touched: tuple[tuple[str, str], ...] = ()
    repeated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """What stops an undo: the value it would take back, and the one that stands there now; None where there is none.

    `field` is a column, or `value.KEY` for one key of an entry's value; empty for the row as a whole.
    """

    noun: str
    uid: str
    field: str
    expected: Any
    found: Any

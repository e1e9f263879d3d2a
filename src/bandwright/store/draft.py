"""A change in the making: what may be done to a job, each step with its event, all in one transaction."""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from bandwright import exact_json
from bandwright.errors import InputError
from bandwright.store.records import moment_text
from bandwright.store.tables import Image, read_image, write_row

__all__ = ["Draft"]

_APART = 1 << 32  # between neighbours: 32 rows fit one after the other into one place before all are counted anew
MOST_BLOB_BYTES = 512 * 1024 * 1024


class Draft:
    """What a change does. Made by `JobFile.change`, and of no use after it.

    Methods that add give the uid of the new row. Whatever raises takes the whole change with it. All of them raise
    InputError for text that is no Unicode, and TypeError for values that JSON cannot hold exactly.
    """

    def __init__(self, connection: sqlite3.Connection, *, number: int, who: str, at: str, what: str) -> None:
        self._connection = connection
        self.number = number
        self._who = who
        self._at = at
        self.what = what
        self.lasting = False

    def say(self, what: str) -> None:
        """State the sentence that tells what this change does, where it is known only now."""
        self.what = what

    def last(self) -> None:
        """Have undo pass this change over: it is no edit of anybody's, such as what a run of the engine found."""
        self.lasting = True

    # Entries of the brief

    def add(
        self,
        kind: str,
        value: Any,
        *,
        id: str | None = None,  # noqa: A002 - the word of the brief
        after: str | None = None,
        uid: str | None = None,
    ) -> str:
        """Add an entry behind another of its kind (by uid), or at the end; return its uid, a new one unless given.

        Raises
        ------
        InputError
            When another entry has that id.
        """
        uid = _new_uid() if uid is None else uid
        self.check_id(id, uid)
        position = self._position(kind, after)
        self.put("entry", uid, {"kind": kind, "id": id, "position": position, "value": value})
        return uid

    def set(self, uid: str, value: Any, *, id: str | None) -> None:  # noqa: A002 - the word of the brief
        """Replace the value of an entry, and the id that goes with it.

        Raises
        ------
        InputError
            When there is no such entry, or another has that id.
        """
        image = self._image("entry", uid)
        self.check_id(id, uid)
        self.put("entry", uid, {**image, "id": id, "value": value})

    def remove(self, uid: str) -> None:
        """Remove an entry.

        Raises
        ------
        InputError
            When there is no such entry.
        """
        self._image("entry", uid)
        self.put("entry", uid, None)

    def order(self, kind: str, uids: Sequence[str]) -> None:
        """Put the entries of a kind in order; those not named follow in the order they had.

        Names of entries that are gone are passed over: somebody else removed them meanwhile.
        """
        there = self._ranked(kind)
        named = [uid for uid in dict.fromkeys(uids) if uid in there]
        self._rank([*named, *(uid for uid in there if uid not in named)])

    # Values of the program's own

    def set_state(self, key: str, value: Any) -> None:
        """Keep a small value of the program's own (current plan number); None removes it."""
        self.put("state", key, None if value is None else {"value": value})

    # Blobs, sweeps, plans, versions

    def put_blob(self, data: bytes) -> str:
        """Keep bytes under their SHA-256 and return that; the same bytes are kept once.

        Raises
        ------
        InputError
            For more than 512 MiB.
        """
        if len(data) > MOST_BLOB_BYTES:
            text, hint = f"{len(data)} bytes are too many for a job file.", "Record with wider bins or for less time."
            raise InputError.single("too-big", text, given=str(len(data)), allowed=str(MOST_BLOB_BYTES), hint=hint)
        sha256 = hashlib.sha256(data).hexdigest()
        row = (sha256, len(data), data)
        self._connection.execute("INSERT INTO blob (sha256, size, data) VALUES (?, ?, ?) ON CONFLICT DO NOTHING", row)
        return sha256

    def add_sweep(self, name: str, data: bytes, facts: Any) -> str:
        """Add a sweep: the bytes as they were given, and what is known about them; return its uid."""
        image = {
            "name": name,
            "sha256": self.put_blob(data),
            "facts": facts,
            "added_at": self._at,
            "added_by": self._who,
            "removed_at": None,
        }
        return self._new("sweep", image)

    def set_sweep(self, uid: str, *, name: str, facts: Any) -> None:
        """Replace the name and the facts of a sweep."""
        self.put("sweep", uid, {**self._image("sweep", uid), "name": name, "facts": facts})

    def remove_sweep(self, uid: str) -> None:
        """Put a sweep aside; its bytes stay until `JobFile.compact` drops what was put aside."""
        self.put("sweep", uid, {**self._image("sweep", uid), "removed_at": self._at})

    @property
    def next_plan(self) -> int:
        """The number that the next plan gets; no number is given twice."""
        return self._next("plan")

    def add_plan(self, document: bytes, *, check_phrase: str, stands_on: int) -> int:
        """Add a plan made from the brief as event `stands_on` left it; return its number, which is `next_plan`."""
        number = self.next_plan
        image = {
            "number": number,
            "check_phrase": check_phrase,
            "stands_on": stands_on,
            "sha256": self.put_blob(document),
            "made_at": self._at,
            "made_by": self._who,
        }
        self._new("plan", image)
        return number

    def plan_uid(self, number: int) -> str:
        """Return the uid of a plan by its number; raises InputError where there is none."""
        found = self._one("SELECT uid FROM plan WHERE number = ?", number)
        if found is None:
            raise _no_plan(number)
        return str(found)

    def add_version(self, name: str, snapshot: bytes) -> int:
        """Keep the brief as it is under a name; return the number of the version."""
        number = self._next("version")
        image = {
            "number": number,
            "name": name,
            "sha256": self.put_blob(snapshot),
            "made_at": self._at,
            "made_by": self._who,
        }
        self._new("version", image)
        return number

    # What people say

    def add_statement(
        self,
        what: str,
        *,
        about: str | None = None,
        note: str = "",
        plan_number: int | None = None,
        at: datetime | None = None,
    ) -> str:
        """Tick something of an entry (by uid) or of the whole job; return the uid of the statement.

        `at` is when it was ticked, where that was earlier than now: on a phone without network.

        Raises
        ------
        InputError
            When there is no plan of that number.
        """
        if plan_number is not None:
            self.plan_uid(plan_number)
        image = {
            "what": what,
            "about": about,
            "note": note,
            "plan_number": plan_number,
            "at": self._at if at is None else moment_text(at),
            "who": self._who,
            "taken_back_at": None,
        }
        return self._new("statement", image)

    def take_back_statement(self, uid: str) -> None:
        """Say that a statement no longer holds; it stays readable. One that is taken back already stays as it is."""
        image = self._image("statement", uid)
        if image["taken_back_at"] is None:
            self.put("statement", uid, {**image, "taken_back_at": self._at})

    def add_note(self, text: str, *, about: str | None = None) -> str:
        """Add a remark about an entry (by uid) or the whole job; return its uid."""
        return self._new("note", {"about": about, "text": text, "at": self._at, "who": self._who})

    def set_note(self, uid: str, text: str) -> None:
        """Replace the text of a remark."""
        self.put("note", uid, {**self._image("note", uid), "text": text})

    def remove_note(self, uid: str) -> None:
        """Remove a remark."""
        self._image("note", uid)
        self.put("note", uid, None)

    # Devices

    def add_device(self, name: str, *, role: str, token_sha256: str, expires_at: datetime | None) -> str:
        """Pair a device; return its uid. The token itself is nowhere in the file."""
        image = {
            "name": name,
            "role": role,
            "paired_at": self._at,
            "expires_at": None if expires_at is None else moment_text(expires_at),
            "revoked_at": None,
        }
        uid = _new_uid()
        self.put("device", uid, image, token_sha256=token_sha256)
        return uid

    def set_device(self, uid: str, *, name: str, role: str) -> None:
        """Replace the name and the role of a device."""
        self.put("device", uid, {**self._image("device", uid), "name": name, "role": role})

    def revoke_device(self, uid: str) -> None:
        """Shut a device out for good."""
        image = self._image("device", uid)
        if image["revoked_at"] is None:
            self.put("device", uid, {**image, "revoked_at": self._at})

    # The one way in which rows change

    def put(self, noun: str, uid: str, image: Image | None, **silent: Any) -> None:
        """Make a row what its image says, with the event that tells so; nothing where it is so already."""
        before, after = _text(read_image(self._connection, noun, uid)), _text(image)
        if before == after:
            return
        written = self._connection.execute(
            "INSERT INTO event (change, noun, uid, before, after) VALUES (?, ?, ?, ?, ?)",
            (self.number, noun, uid, before, after),
        )
        write_row(self._connection, noun, uid, image, revision=int(written.lastrowid or 0), silent=silent)

    def image(self, noun: str, uid: str) -> Image | None:
        """Return a row as it stands; None where there is none."""
        return read_image(self._connection, noun, uid)

    def _image(self, noun: str, uid: str) -> Image:
        image = read_image(self._connection, noun, uid)
        if image is None:
            text, hint = f"this {noun} is not there any more.", "Somebody else removed it meanwhile."
            raise InputError.single("gone", text, key=noun, given=uid, hint=hint)
        return image

    def _new(self, noun: str, image: Image) -> str:
        uid = _new_uid()
        self.put(noun, uid, image)
        return uid

    def _next(self, noun: str) -> int:
        return int(self._one(f"SELECT coalesce(max(number), 0) + 1 FROM {noun}"))

    def check_id(self, given: str | None, uid: str) -> None:
        """Raise InputError where another entry has that id."""
        if given is None:
            return
        kind = self._one("SELECT kind FROM entry WHERE id = ? AND uid <> ?", given, uid)
        if kind is not None:
            text, hint = f'the id "{given}" is taken by another {kind}.', "Give each its own."
            raise InputError.single("taken", text, key="id", given=given, allowed="an id of its own", hint=hint)

    def _ranked(self, kind: str) -> list[str]:
        rows = self._connection.execute("SELECT uid FROM entry WHERE kind = ? ORDER BY position, uid", (kind,))
        return [str(uid) for (uid,) in rows]

    def _one(self, sql: str, *values: Any) -> Any:
        row = self._connection.execute(sql, values).fetchone()
        return None if row is None else row[0]

    def _position(self, kind: str, after: str | None) -> int:
        low = self._one("SELECT position FROM entry WHERE kind = ? AND uid = ?", kind, after)
        if low is None:
            return int(self._one("SELECT coalesce(max(position), 0) FROM entry WHERE kind = ?", kind)) + _APART
        follows = (
            "SELECT position FROM entry WHERE kind = ? AND (position, uid) > (?, ?) ORDER BY position, uid LIMIT 1"
        )
        high = self._one(follows, kind, low, after)
        if high is None:
            return int(low) + _APART
        if high - low < 2:
            self._rank(self._ranked(kind))
            return self._position(kind, after)
        return int(low + high) // 2

    def _rank(self, uids: Sequence[str]) -> None:
        for place, uid in enumerate(uids, 1):
            self.put("entry", uid, {**self._image("entry", uid), "position": place * _APART})


def _text(image: Image | None) -> str | None:
    try:
        return None if image is None else exact_json.dumps(image)
    except ValueError as error:
        text, hint = f"this cannot be kept: {error}.", "Type it again."
        raise InputError.single("unstorable", text, hint=hint) from error


def _no_plan(number: int) -> InputError:
    return InputError.single("no-such-plan", f"there is no plan {number}.", given=str(number))


def _new_uid() -> str:
    return secrets.token_hex(8)

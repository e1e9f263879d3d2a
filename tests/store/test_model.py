"""Any sequence of changes, undo and redo by two people, beside a model in plain Python.

The model is a dictionary of rows as the job showed them after each call; what an undo must do, it works out from the
rows before and after the change, field by field. It knows nothing of events.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from thorough import cases

from bandwright.errors import InputError
from bandwright.store import Draft, JobFile

PEOPLE = st.sampled_from(["Mara", "Jonas"])
IDS = st.sampled_from([None, "L1", "L2", "L3"])
KINDS = st.sampled_from(["link", "link", "link", "radio"])
KEYS = st.sampled_from(["name", "a.b", ""])
ITEMS = st.sampled_from([1, True, Decimal("606.7"), Decimal("606.70"), "Mara", None])
VALUES = st.dictionaries(KEYS, ITEMS, max_size=2)
PICK = st.integers(0, 2)
MOST = 3  # entries of a kind: few, so that the two are at the same ones
GONE = object()

Fields = dict[str, Any]
Rows = dict[tuple[str, str], Fields]


@dataclass(frozen=True)
class Made:
    """A change as the model remembers it."""

    who: str
    at: int
    before: Rows
    after: Rows
    undone: bool = False
    undone_at: int = 0


def written(value: Any) -> tuple[str, str]:
    """A value as something that tells 1 from True, and 606.7 from 606.70."""
    return type(value).__name__, str(value)


def rows_of(job: JobFile) -> Rows:
    rows: Rows = {}
    for entry in job.entries():
        fields: Fields = {"kind": entry.kind, "id": entry.id, "position": entry.position}
        rows["entry", entry.uid] = fields | {f"value.{key}": written(item) for key, item in entry.value.items()}
    for note in job.notes():
        rows["note", note.uid] = {"text": note.text, "about": note.about, "at": note.at, "who": note.who}
    return rows


def taken_back(now: Rows, made: Made) -> Rows | None:
    """The rows without what a change did; None where something is no longer what it left."""
    rows = {key: dict(fields) for key, fields in now.items()}
    for key in made.before.keys() | made.after.keys():
        before, after, there = made.before.get(key), made.after.get(key), now.get(key)
        if before == after:
            continue
        if before is None or after is None or there is None:
            if not _alike_but_place(after, there):
                return None
            rows.pop(key, None)
            if before is not None:
                rows[key] = dict(before)
            continue
        for name in before.keys() | after.keys():
            old, new, found = before.get(name, GONE), after.get(name, GONE), there.get(name, GONE)
            if old == new:
                continue
            if found != new:
                return None
            rows[key].pop(name, None)
            if old is not GONE:
                rows[key][name] = old
    ids = [fields["id"] for fields in rows.values() if fields.get("id") is not None]
    return rows if len(ids) == len(set(ids)) else None


def _alike_but_place(one: Fields | None, two: Fields | None) -> bool:
    if one is None or two is None:
        return one is two
    return {**one, "position": 0} == {**two, "position": 0}


def codes(call: Callable[[], object]) -> set[str]:
    """The codes of what a call refuses; none where it does what it was asked."""
    try:
        call()
    except InputError as error:
        return {fault.code for fault in error.faults}
    return set()


class TwoPeople(RuleBasedStateMachine):
    """Two people at one job."""

    @initialize()
    def start(self) -> None:
        self.folder = tempfile.mkdtemp(
            prefix="bandwright-model-", dir="/dev/shm" if Path("/dev/shm").is_dir() else None
        )
        path = Path(self.folder) / "quay.bwjob"
        self.job = JobFile.create(path, lambda draft: draft.add("link", {}, id="L1"), who="Mara", what="Made it")
        self.rows = rows_of(self.job)
        self.made: list[Made] = []  # making the job is nothing that undo takes back
        self.calls = 0

    def teardown(self) -> None:
        self.job.close()
        shutil.rmtree(self.folder)

    def change(self, who: str, make: Any) -> None:
        before = self.rows
        refused = codes(lambda: self.job.change(make, who=who, what="Did something"))
        assert refused <= {"taken"}
        self.rows = rows_of(self.job)
        assert not refused or self.rows == before
        if self.rows != before:
            self.calls += 1
            self.made.append(Made(who, self.calls, before, self.rows))

    def pick(self, number: int, kind: str) -> str:
        entries = self.job.entries(kind)
        return entries[number % len(entries)].uid if entries else "nobody"

    @rule(who=PEOPLE, kind=KINDS, given=IDS, value=VALUES, after=PICK)
    def add(self, who: str, kind: str, given: str | None, value: Fields, after: int) -> None:
        if len(self.job.entries(kind)) >= MOST:
            return
        place = self.pick(after, kind)
        self.change(who, lambda draft: draft.add(kind, value, id=given, after=place))

    @rule(who=PEOPLE, one=PICK, key=KEYS, item=st.integers(0, 9))
    def set_one_key(self, who: str, one: int, key: str, item: int) -> None:
        entry = self.job.entry(self.pick(one, "link"))
        if entry:
            self.change(who, lambda draft: draft.set(entry.uid, {**entry.value, key: item}, id=entry.id))

    @rule(who=PEOPLE, kind=KINDS, one=PICK, given=IDS, value=VALUES)
    def set(self, who: str, kind: str, one: int, given: str | None, value: Fields) -> None:
        uid = self.pick(one, kind)
        if self.job.entry(uid):
            self.change(who, lambda draft: draft.set(uid, value, id=given))

    @rule(who=PEOPLE, kind=KINDS, one=PICK, two=PICK)
    def exchange_ids(self, who: str, kind: str, one: int, two: int) -> None:
        first, second = (self.job.entry(self.pick(number, kind)) for number in (one, two))
        if first is None or second is None or first.uid == second.uid:
            return

        def make(draft: Draft) -> None:
            draft.set(first.uid, first.value, id=None)
            draft.set(second.uid, second.value, id=first.id)
            draft.set(first.uid, first.value, id=second.id)

        self.change(who, make)

    @rule(who=PEOPLE, kind=KINDS, one=PICK)
    def remove(self, who: str, kind: str, one: int) -> None:
        uid = self.pick(one, kind)
        if self.job.entry(uid):
            self.change(who, lambda draft: draft.remove(uid))

    @rule(who=PEOPLE, kind=KINDS, chance=st.randoms(use_true_random=False))
    def order(self, who: str, kind: str, chance: Any) -> None:
        uids = [entry.uid for entry in self.job.entries(kind)]
        chance.shuffle(uids)
        self.change(who, lambda draft: draft.order(kind, uids))
        assert [entry.uid for entry in self.job.entries(kind)] == uids

    @rule(who=PEOPLE, text=st.text(max_size=3))
    def remark(self, who: str, text: str) -> None:
        self.change(who, lambda draft: draft.add_note(text))

    @rule(who=PEOPLE, kind=KINDS, one=PICK)
    def fail(self, who: str, kind: str, one: int) -> None:
        def make(draft: Draft) -> None:
            draft.add_note("never")
            draft.remove(self.pick(one, kind))
            raise ZeroDivisionError

        try:
            self.job.change(make, who=who, what="Failed")
        except (ZeroDivisionError, InputError):
            assert rows_of(self.job) == self.rows

    @rule(who=PEOPLE, everybody=st.booleans())
    def undo(self, who: str, everybody: bool) -> None:
        mine = [place for place, made in enumerate(self.made) if not made.undone and (everybody or made.who == who)]
        if not mine:
            self._refused(lambda: self.job.undo(who=who, everybody=everybody), "nothing-to-undo")
            return
        made, before = self.made[mine[-1]], self.rows
        self._expect(taken_back(before, made), lambda: self.job.undo(who=who, everybody=everybody))
        if self.rows is not before:
            self.calls += 1
            # What the redo has to bring back is what this undo took away.
            self.made[mine[-1]] = replace(made, undone=True, undone_at=self.calls, before=self.rows, after=before)

    @rule(who=PEOPLE, everybody=st.booleans())
    def redo(self, who: str, everybody: bool) -> None:
        mine = [place for place, made in enumerate(self.made) if everybody or made.who == who]
        newest = max((self.made[place].at for place in mine), default=0)
        undone = [place for place in mine if self.made[place].undone and self.made[place].undone_at > newest]
        if not undone:
            self._refused(lambda: self.job.redo(who=who, everybody=everybody), "nothing-to-redo")
            return
        place = max(undone, key=lambda place: self.made[place].undone_at)
        made, before = self.made[place], self.rows
        again = replace(made, before=made.after, after=made.before)
        self._expect(taken_back(before, again), lambda: self.job.redo(who=who, everybody=everybody))
        if self.rows is not before:
            self.made[place] = Made(made.who, made.at, before, self.rows)

    def _expect(self, wanted: Rows | None, call: Any) -> None:
        if wanted is None:
            self._refused(call, "changed-since", "taken")
            return
        call()
        self.rows = rows_of(self.job)
        assert self.rows == wanted

    def _refused(self, call: Any, *possible: str) -> None:
        refused = codes(call)
        assert refused
        assert refused <= set(possible)
        assert rows_of(self.job) == self.rows

    @rule()
    def close_and_open(self) -> None:
        self.job.close()
        self.job = JobFile.open(self.job.path)

    @invariant()
    def tables_are_the_fold_of_the_events(self) -> None:
        if not hasattr(self, "job"):
            return
        assert rows_of(self.job) == self.rows
        assert self.job.check() == ()
        folded: dict[tuple[str, str], Any] = {}
        for event in self.job.events(limit=1_000_000):
            folded[event.noun, event.uid] = event.after
        there = {key: image for key, image in folded.items() if image is not None}
        assert there.keys() == self.rows.keys()
        for entry in self.job.entries():
            image = there["entry", entry.uid]
            assert (entry.kind, entry.id, entry.position, entry.value) == tuple(image.values())


TestTwoPeople = TwoPeople.TestCase
TestTwoPeople.settings = settings(max_examples=cases(40), stateful_step_count=30, deadline=None)

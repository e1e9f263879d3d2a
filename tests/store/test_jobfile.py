"""A job file: filled, changed, asked."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from bandwright.errors import InputError
from bandwright.store import Draft, JobFile

START = datetime(2027, 5, 14, 15, 40, tzinfo=UTC)


class Clock:
    """A clock that a test moves by hand."""

    def __init__(self) -> None:
        self.time = START

    def __call__(self) -> datetime:
        return self.time


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def job(tmp_path: Path, clock: Clock) -> Iterator[JobFile]:
    def fill(draft: Draft) -> None:
        draft.add("job", {"title": "Lantern Quay"})
        for name in ("L01", "L02", "L03"):
            draft.add("link", {"id": name, "hold_mhz": Decimal("606.700")}, id=name)

    with JobFile.create(tmp_path / "quay.bwjob", fill, who="Mara", what="Made this job", now=clock) as made:
        yield made


def ids(job: JobFile, kind: str = "link") -> list[str | None]:
    return [entry.id for entry in job.entries(kind)]


def uid(job: JobFile, name: str) -> str:
    found = job.entry_named(name)
    assert found is not None
    return found.uid


def test_entries_come_back_in_order_with_their_decimals(job: JobFile) -> None:
    assert ids(job) == ["L01", "L02", "L03"]
    value = job.entries("link")[0].value
    assert value == {"id": "L01", "hold_mhz": Decimal("606.700")}
    assert str(value["hold_mhz"]) == "606.700"


def test_a_change_writes_who_when_and_what_with_both_values(job: JobFile, clock: Clock) -> None:
    clock.time += timedelta(minutes=5)
    link = job.entries("link")[0]
    done = job.change(
        lambda draft: draft.set(link.uid, {**link.value, "hold_mhz": Decimal("607.1")}, id="L01"),
        who="Jonas",
        what="Held L01 on 607.100",
    )
    (event,) = job.events(after=done.seq - 1)
    assert (event.who, event.at, event.what) == ("Jonas", "2027-05-14T15:45:00.000000Z", "Held L01 on 607.100")
    assert event.before["value"]["hold_mhz"] == Decimal("606.700")
    assert event.after["value"]["hold_mhz"] == Decimal("607.1")
    assert [entry.revision for entry in done.entries] == [done.seq] == [job.seq]


def test_an_entry_added_behind_another_stands_there_and_order_says_otherwise(job: JobFile) -> None:
    job.change(lambda draft: draft.add("link", {}, id="new", after=uid(job, "L01")), who="Mara", what="Added new")
    assert ids(job) == ["L01", "new", "L02", "L03"]
    wished = [uid(job, name) for name in ("L03", "new")]
    job.change(lambda draft: draft.order("link", [*wished, "gone"]), who="Mara", what="Sorted links")
    assert ids(job) == ["L03", "new", "L01", "L02"]


def test_a_hundred_copies_one_behind_the_other_keep_their_order(job: JobFile) -> None:
    def add(draft: Draft) -> None:
        for number in range(100):
            draft.add("link", {}, id=f"C{number}", after=uid(job, "L01"))

    job.change(add, who="Mara", what="Added 100 links")
    assert ids(job) == ["L01", *(f"C{number}" for number in reversed(range(100))), "L02", "L03"]
    assert job.check() == ()


def test_an_id_is_given_once_in_a_job(job: JobFile) -> None:
    before = job.seq
    with pytest.raises(InputError, match='the id "L01" is taken by another link'):
        job.change(lambda draft: draft.add("radio", {}, id="L01"), who="Mara", what="Added a radio")
    assert job.seq == before


def test_an_entry_that_nobody_changed_is_the_same_object_and_a_changed_one_is_not(job: JobFile) -> None:
    before = {entry.id: entry for entry in job.entries()}
    job.change(lambda draft: draft.set(uid(job, "L02"), {"id": "L02", "name": "Mara"}, id="L02"), who="Ada", what="x")
    after = {entry.id: entry for entry in job.entries()}
    assert after["L01"] is before["L01"]
    assert (before["L02"].value.get("name"), after["L02"].value["name"]) == (None, "Mara")


def test_what_raises_inside_takes_the_whole_change_with_it(job: JobFile) -> None:
    def half(draft: Draft) -> None:
        draft.remove(uid(job, "L01"))
        draft.remove("nobody")

    with pytest.raises(InputError, match="this entry is not there any more"):
        job.change(half, who="Mara", what="Removed two links")
    assert ids(job) == ["L01", "L02", "L03"]
    assert job.check() == ()


def test_undo_and_redo_go_through_the_changes_of_one_person(job: JobFile) -> None:
    job.change(lambda draft: draft.remove(uid(job, "L01")), who="Mara", what="Removed L01")
    job.change(lambda draft: draft.remove(uid(job, "L02")), who="Jonas", what="Removed L02")
    done = job.undo(who="Mara")
    assert done.what == "Took back: Removed L01"
    assert ids(job) == ["L01", "L03"]
    assert job.redo(who="Mara").what == "Did again: Removed L01"
    assert ids(job) == ["L03"]
    job.undo(who="Mara", everybody=True)
    assert ids(job) == ["L02", "L03"]


def test_the_first_answer_comes_again_for_a_key_that_was_given_before(job: JobFile) -> None:
    first = job.change(lambda draft: draft.remove(uid(job, "L01")), who="Mara", what="Removed L01", client_key="k1")
    again = job.change(lambda draft: draft.remove(uid(job, "L02")), who="Mara", what="Removed L02", client_key="k1")
    assert again.repeated
    assert (again.change, again.seq, again.removed) == (first.change, first.seq, first.removed)
    assert ids(job) == ["L02", "L03"]

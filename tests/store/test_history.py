"""Taking back and doing again: what comes back, what stays, and what is refused with both values."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from bandwright.errors import InputError
from bandwright.store import Clash, Draft, JobFile, UndoRefused

Make = Callable[[Draft], object]


@pytest.fixture
def job(tmp_path: Path) -> Iterator[JobFile]:
    def fill(draft: Draft) -> None:
        for name in ("L01", "L02"):
            draft.add("link", {"id": name, "name": name.lower(), "radio": "heron"}, id=name)

    with JobFile.create(tmp_path / "quay.bwjob", fill, who="Mara", what="Made this job") as made:
        yield made


def uid(job: JobFile, name: str) -> str:
    found = job.entry_named(name)
    assert found is not None
    return found.uid


def value(job: JobFile, name: str) -> Any:
    found = job.entry_named(name)
    assert found is not None
    return found.value


def put(job: JobFile, who: str, link: str, /, **fields: Any) -> None:
    wished = {key: item for key, item in (value(job, link) | fields).items() if item is not None}
    job.change(lambda draft: draft.set(uid(job, link), wished, id=link), who=who, what=f"Changed {link}")


def ids(job: JobFile) -> list[str | None]:
    return [entry.id for entry in job.entries("link")]


def test_the_rows_since_an_event_are_the_two_ends_of_all_that_happened_to_each(job: JobFile) -> None:
    """Held against a walk through every event, from each point of the history on."""
    put(job, "Mara", "L02", name="two")
    put(job, "Mara", "L01", name="one", radio="wren")
    job.change(lambda draft: draft.add_note("a note"), who="Ana", what="Noted")
    job.change(lambda draft: draft.add("link", {"id": "L03"}, id="L03"), who="Ana", what="Added L03")
    put(job, "Tom", "L01", name="l01", radio="heron")
    job.change(lambda draft: draft.remove(uid(job, "L03")), who="Ana", what="Removed L03")
    job.change(lambda draft: draft.remove(uid(job, "L02")), who="Ana", what="Removed L02")
    for seq in range(job.seq + 1):
        ends: dict[tuple[str, str], tuple[Any, Any]] = {}
        for event in job.events(after=seq):
            if event.noun == "entry":
                before, _ = ends.get(("entry", event.uid), (event.before, None))
                ends["entry", event.uid] = before, event.after
        assert job.rows_since(seq, "entry") == tuple((*key, *both) for key, both in ends.items())
    assert job.rows_since(job.seq, "entry", "note") == ()
    assert [row[0] for row in job.rows_since(2, "entry", "note")] == ["entry", "entry", "note", "entry"]


def test_making_a_job_is_not_taken_back(job: JobFile) -> None:
    assert job.undoable("Mara") is None
    with pytest.raises(InputError, match="There is nothing to take back"):
        job.undo(who="Mara")
    with pytest.raises(InputError, match="There is nothing to do again"):
        job.redo(who="Mara")


def test_what_somebody_else_changed_beside_it_stays(job: JobFile) -> None:
    put(job, "Mara", "L01", name="Ines")
    put(job, "Jonas", "L01", radio="siskin", worn="hand")
    job.undo(who="Mara")
    assert value(job, "L01") == {"id": "L01", "name": "l01", "radio": "siskin", "worn": "hand"}
    job.undo(who="Jonas")
    assert value(job, "L01") == {"id": "L01", "name": "l01", "radio": "heron"}
    assert list(value(job, "L01")) == ["id", "name", "radio"]


def test_what_somebody_else_changed_since_is_not_overwritten(job: JobFile) -> None:
    put(job, "Mara", "L01", name="Ines", worn="hand")
    put(job, "Jonas", "L01", name="Tomasz", worn=None)
    before = job.seq
    with pytest.raises(UndoRefused) as told:
        job.undo(who="Mara")
    entry = uid(job, "L01")
    assert told.value.clashes == (
        Clash(noun="entry", uid=entry, field="value.name", expected="Ines", found="Tomasz"),
        Clash(noun="entry", uid=entry, field="value.worn", expected="hand", found=None),
    )
    hint = "Nothing was changed. Change it by hand to what you want."
    assert [str(fault) for fault in told.value.faults] == [
        f'"Changed L01" cannot be taken back: it left name "Ines", and now that is "Tomasz". {hint}',
        f'"Changed L01" cannot be taken back: it left worn "hand", and now that is empty. {hint}',
    ]
    assert job.seq == before
    assert value(job, "L01")["name"] == "Tomasz"


def test_one_that_was_changed_since_is_not_removed_by_taking_its_addition_back(job: JobFile) -> None:
    job.change(lambda draft: draft.add("link", {"id": "L03"}, id="L03"), who="Mara", what="Added L03")
    put(job, "Jonas", "L03", name="Tomasz")
    with pytest.raises(UndoRefused) as told:
        job.undo(who="Mara")
    assert told.value.faults[0].text == '"Added L03" cannot be taken back: the entry was changed since.'
    (clash,) = told.value.clashes
    assert (clash.field, clash.expected["value"], clash.found["value"]) == (
        "",
        {"id": "L03"},
        {"id": "L03", "name": "Tomasz"},
    )
    job.undo(who="Jonas")
    job.undo(who="Mara")
    assert ids(job) == ["L01", "L02"]


def test_one_that_was_removed_since_is_not_changed_back(job: JobFile) -> None:
    put(job, "Mara", "L01", name="Ines")
    entry = uid(job, "L01")
    job.change(lambda draft: draft.remove(entry), who="Jonas", what="Removed L01")
    with pytest.raises(UndoRefused) as told:
        job.undo(who="Mara")
    assert told.value.clashes[0].found is None
    assert told.value.faults[0].text == '"Changed L01" cannot be taken back: the entry is not there any more.'


def test_one_does_not_come_back_under_an_id_that_another_has_now(job: JobFile) -> None:
    entry = uid(job, "L01")
    job.change(lambda draft: draft.remove(entry), who="Mara", what="Removed L01")
    job.change(lambda draft: draft.add("radio", {}, id="L01"), who="Jonas", what="Added a radio")
    with pytest.raises(InputError, match='the id "L01" is taken by another radio'):
        job.undo(who="Mara")
    assert ids(job) == ["L02"]


def test_ids_that_were_exchanged_are_exchanged_back(job: JobFile) -> None:
    one, two = uid(job, "L01"), uid(job, "L02")

    def exchange(draft: Draft) -> None:
        draft.set(one, {}, id=None)
        draft.set(two, {}, id="L01")
        draft.set(one, {}, id="L02")

    job.change(exchange, who="Mara", what="Exchanged L01 and L02")
    assert ids(job) == ["L02", "L01"]
    job.undo(who="Mara")
    assert (uid(job, "L01"), uid(job, "L02")) == (one, two)
    job.redo(who="Mara")
    assert (uid(job, "L02"), uid(job, "L01")) == (one, two)
    assert job.check() == ()


def test_one_that_came_and_went_in_one_change_leaves_nothing_to_take_back(job: JobFile) -> None:
    def make(draft: Draft) -> None:
        draft.remove(draft.add("link", {}, id="L03"))
        draft.add_note("x")

    job.change(make, who="Mara", what="Tried L03")
    job.change(lambda draft: draft.add("link", {}, id="L03"), who="Jonas", what="Added L03")
    job.undo(who="Mara")
    assert ids(job) == ["L01", "L02", "L03"]
    assert job.notes() == ()


def test_something_new_ends_what_can_be_done_again(job: JobFile) -> None:
    put(job, "Mara", "L01", name="Ines")
    put(job, "Mara", "L02", name="Tomasz")
    job.undo(who="Mara")
    job.undo(who="Mara")
    job.redo(who="Mara")
    assert value(job, "L01")["name"] == "Ines"
    put(job, "Jonas", "L01", worn="hand")
    assert job.redoable("Mara") is not None
    assert job.redoable(None) is None
    put(job, "Mara", "L01", worn="rack")
    assert job.redoable("Mara") is None
    with pytest.raises(InputError, match="There is nothing to do again"):
        job.redo(who="Mara")


def test_any_change_can_be_taken_back_by_its_number(job: JobFile) -> None:
    put(job, "Mara", "L01", name="Ines")
    first = job.changes()[0]
    put(job, "Mara", "L02", name="Tomasz")
    done = job.undo(who="Jonas", change=first.number)
    assert done.what == "Took back: Changed L01"
    assert (value(job, "L01")["name"], value(job, "L02")["name"]) == ("l01", "Tomasz")
    undo, _, taken = job.changes(limit=3)
    assert (undo.who, undo.undoes, taken.number, taken.undone) == ("Jonas", first.number, first.number, True)
    for number in (first.number, undo.number, 1, 999):
        with pytest.raises(InputError, match="There is nothing to take back"):
            job.undo(who="Jonas", change=number)


def test_the_order_is_taken_back_too(job: JobFile) -> None:
    job.change(lambda draft: draft.order("link", [uid(job, "L02")]), who="Mara", what="Sorted links")
    assert ids(job) == ["L02", "L01"]
    job.undo(who="Mara")
    assert ids(job) == ["L01", "L02"]


def test_which_fields_changed_since_an_edit_began(job: JobFile) -> None:
    entry = job.entries("link")[0]
    put(job, "Jonas", "L01", name="Tomasz", worn="hand")
    job.change(lambda draft: draft.set(entry.uid, value(job, "L01"), id="L9"), who="Jonas", what="Renamed L01")
    assert job.changed_since(entry.uid, entry.revision) == {"value.name", "value.worn", "id"}
    assert job.changed_since(entry.uid, job.seq) == frozenset()
    job.change(lambda draft: draft.remove(entry.uid), who="Jonas", what="Removed L9")
    assert job.changed_since(entry.uid, entry.revision) >= {"kind", "id", "position", "value.radio"}


# Changes that change nothing, and keys of the client


def test_what_is_so_already_makes_no_history(job: JobFile) -> None:
    before = job.changes()
    done = job.change(lambda draft: draft.set(uid(job, "L01"), value(job, "L01"), id="L01"), who="Mara", what="Set it")
    assert (done.change, done.seq, done.entries) == (None, job.seq, ())
    assert job.changes() == before


def test_a_key_counts_even_where_nothing_had_to_change(job: JobFile) -> None:
    def same(draft: Draft) -> None:
        draft.set(uid(job, "L01"), value(job, "L01"), id="L01")

    first = job.change(same, who="Mara", what="Set it", client_key="k")
    put(job, "Jonas", "L01", name="Tomasz")
    again = job.change(lambda draft: draft.remove(uid(job, "L01")), who="Mara", what="Set it", client_key="k")
    assert (first.repeated, again.repeated) == (False, True)
    assert (again.change, again.seq, again.touched) == (first.change, first.seq, ())
    assert value(job, "L01")["name"] == "Tomasz"


def test_an_undo_that_is_sent_twice_takes_back_one_change(job: JobFile) -> None:
    put(job, "Mara", "L01", name="Ines")
    put(job, "Mara", "L02", name="Tomasz")
    first = job.undo(who="Mara", client_key="k")
    assert job.undo(who="Mara", client_key="k") == type(first)(
        **{name: getattr(first, name) for name in first.__slots__} | {"repeated": True}
    )
    assert value(job, "L01")["name"] == "Ines"
    assert job.answer_to("k") is not None
    assert job.answer_to("other") is None


def test_the_first_answer_comes_again_as_it_was_also_after_later_changes(job: JobFile) -> None:
    entry = uid(job, "L01")
    first = job.change(lambda draft: draft.set(entry, {"name": "Ines"}, id="L01"), who="Mara", what="A", client_key="k")
    job.change(lambda draft: draft.set(entry, {"name": "Tomasz"}, id="L01"), who="Jonas", what="B")
    with JobFile.open(job.path) as other:
        again = other.change(lambda draft: draft.remove(entry), who="Mara", what="A", client_key="k")
    assert again.entries == first.entries
    assert again.entries[0].value == {"name": "Ines"}


def test_a_change_without_a_sentence_is_a_mistake_of_the_program(job: JobFile) -> None:
    with pytest.raises(ValueError, match="a change says what it does"):
        job.change(lambda draft: draft.add_note("x"), who="Mara")
    assert job.notes() == ()


def test_a_change_inside_a_change_is_a_mistake_of_the_program(job: JobFile) -> None:
    def nested(draft: Draft) -> None:
        job.change(lambda inner: inner.add_note("inner"), who="Mara", what="Inner")

    with pytest.raises(RuntimeError, match="a change is being made"):
        job.change(nested, who="Mara", what="Outer")

    def look(draft: Draft) -> None:
        with job.snapshot():
            draft.say(f"Counted {len(job.entries('link'))} links")
        draft.set_state("count", 2)

    assert job.change(look, who="Mara").what == "Counted 2 links"
    with job.snapshot(), pytest.raises(RuntimeError, match="a snapshot is being read"):
        job.change(lambda draft: draft.add_note("x"), who="Mara", what="Wrote")
    assert job.notes() == ()


def test_many_threads_at_one_job_lose_nothing(job: JobFile) -> None:
    def work(name: str) -> None:
        for number in range(20):
            job.change(lambda draft: draft.add_note(f"{name} {number}"), who=name, what="Wrote")  # noqa: B023
            assert len(job.notes()) > number

    names = ["Mara", "Jonas", "Ines", "Tomasz"]
    threads = [threading.Thread(target=work, args=(name,)) for name in names]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {note.text for note in job.notes()} == {f"{name} {number}" for name in names for number in range(20)}
    assert job.check() == ()


# Everything that is no entry


@pytest.fixture
def whole_job(job: JobFile) -> JobFile:
    def make(draft: Draft) -> None:
        draft.say("Set everything up")
        draft.add_sweep("base", b"1,2,3", {"place": "quay"})
        assert draft.next_plan == 1
        assert draft.add_plan(b"{}", check_phrase="amber kite", stands_on=job.seq) == 1
        draft.set_state("plan", 1)
        draft.add_statement("set", about=uid(job, "L01"), note="twice", plan_number=1)
        draft.add_note("breaks up at the gate", about=uid(job, "L01"))
        draft.add_version("as rehearsed", b"bandwright = 1")

    job.change(make, who="Mara")
    return job


def test_taking_back_a_plan_leaves_it_in_the_list_and_its_number_used(whole_job: JobFile) -> None:
    def second(draft: Draft) -> None:
        draft.set_state("plan", draft.add_plan(b"[]", check_phrase="pale anchor", stands_on=whole_job.seq))

    whole_job.change(second, who="Mara", what="Made plan 2")
    assert whole_job.state("plan") == 2
    whole_job.undo(who="Mara")
    assert whole_job.state("plan") == 1
    assert [plan.number for plan in whole_job.plans()] == [1, 2]
    whole_job.change(second, who="Mara", what="Made plan 3")
    assert whole_job.state("plan") == 3
    plan = whole_job.plan(3)
    assert plan is not None
    assert whole_job.blob(plan.sha256) == b"[]"
    assert whole_job.plan(4) is None


def test_taking_everything_back_takes_back_all_but_the_facts(whole_job: JobFile) -> None:
    whole_job.undo(who="Mara")
    assert (whole_job.sweeps(), whole_job.statements(), whole_job.notes()) == ((), (), ())
    assert whole_job.state("plan") is None
    assert [plan.number for plan in whole_job.plans()] == [1]
    assert [version.name for version in whole_job.versions()] == ["as rehearsed"]
    assert whole_job.check() == ()
    whole_job.redo(who="Mara")
    assert [sweep.name for sweep in whole_job.sweeps()] == ["base"]
    assert whole_job.check() == ()


def test_a_change_of_facts_alone_is_not_taken_back(job: JobFile) -> None:
    job.change(lambda draft: draft.add_version("as rehearsed", b""), who="Mara", what="Kept a version")
    assert job.undoable("Mara") is None


def test_a_sweep_is_renamed_put_aside_and_brought_back(whole_job: JobFile) -> None:
    (sweep,) = whole_job.sweeps()
    whole_job.change(
        lambda draft: draft.set_sweep(sweep.uid, name="first", facts={"place": "gate"}), who="Mara", what="Renamed"
    )
    whole_job.change(lambda draft: draft.remove_sweep(sweep.uid), who="Mara", what="Put aside")
    assert whole_job.sweeps() == ()
    (aside,) = whole_job.sweeps(removed=True)
    assert (aside.name, aside.facts) == ("first", {"place": "gate"})
    whole_job.undo(who="Mara")
    there = whole_job.sweep(sweep.uid)
    assert there is not None
    assert there.removed_at is None
    assert whole_job.blob(there.sha256) == b"1,2,3"


def test_the_same_bytes_are_kept_once(job: JobFile) -> None:
    for name in ("one", "two"):
        job.change(lambda draft: draft.add_sweep(name, b"x" * 100_000, {}), who="Mara", what="Added")  # noqa: B023
    assert len({sweep.sha256 for sweep in job.sweeps()}) == 1
    assert job.path.stat().st_size < 400_000
    with pytest.raises(InputError, match="The job does not hold that"):
        job.blob("0" * 64)


def test_compacting_drops_what_was_put_aside_and_what_only_undo_needs(job: JobFile) -> None:
    for name in ("one", "two", "three"):
        data = name.encode() * 100_000
        job.change(lambda draft: draft.add_sweep(name, data, {}), who="Mara", what=f"Added {name}")  # noqa: B023
    one, two, three = (sweep.uid for sweep in job.sweeps())
    job.undo(who="Mara")
    job.change(lambda draft: draft.remove_sweep(one), who="Mara", what="Put one aside")
    job.checkpoint()
    small = job.compact(who="Mara")
    assert (small.sweeps, small.before_bytes - small.after_bytes < 100_000) == (0, True)
    gone = job.compact(who="Mara", drop_removed=True)
    assert gone.sweeps == 1
    assert gone.before_bytes - gone.after_bytes > 700_000
    assert gone.after_bytes == job.path.stat().st_size
    assert [sweep.uid for sweep in job.sweeps()] == [two]
    assert (job.sweep(one), job.sweep(three), job.sweeps(removed=True)) == (None, None, ())
    assert (job.undoable(None), job.redoable(None)) == (None, None)
    assert job.check() == ()


def test_more_than_a_job_file_can_hold_is_refused(job: JobFile, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bandwright.store.draft.MOST_BLOB_BYTES", 10)
    with pytest.raises(InputError, match="11 bytes are too many for a job file"):
        job.change(lambda draft: draft.add_sweep("base", b"x" * 11, {}), who="Mara", what="Added")


def test_a_text_that_is_too_long_for_the_file_is_refused(job: JobFile) -> None:
    job._connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 1_000)
    with pytest.raises(InputError, match="this is more than a job file can hold in one piece"):
        job.change(lambda draft: draft.add_note("x" * 2_000), who="Mara", what="Wrote")
    assert job.notes() == ()


def test_a_statement_is_taken_back_and_stays_readable(whole_job: JobFile) -> None:
    (stands,) = whole_job.statements()
    assert (stands.what, stands.note, stands.plan_number, stands.who) == ("set", "twice", 1, "Mara")
    whole_job.change(lambda draft: draft.take_back_statement(stands.uid), who="Jonas", what="Not set")
    assert whole_job.statements() == ()
    back = whole_job.statement(stands.uid)
    assert back is not None
    assert back.taken_back_at is not None
    done = whole_job.change(lambda draft: draft.take_back_statement(stands.uid), who="Jonas", what="Not set")
    assert done.change is None
    whole_job.undo(who="Jonas")
    assert whole_job.statements() == (whole_job.statement(stands.uid),)


def test_a_tick_that_waited_for_the_network_keeps_its_own_time(job: JobFile) -> None:
    earlier = datetime(2027, 5, 14, 17, 40, tzinfo=UTC) - timedelta(hours=1)
    job.change(lambda draft: draft.add_statement("heard", at=earlier), who="Ines", what="Heard")
    assert job.statements()[0].at == "2027-05-14T16:40:00.000000Z"


def test_a_statement_about_a_plan_that_is_not_there_is_refused(job: JobFile) -> None:
    with pytest.raises(InputError, match="there is no plan 9"):
        job.change(lambda draft: draft.add_statement("set", plan_number=9), who="Ines", what="Set")


def test_a_remark_is_changed_and_removed(whole_job: JobFile) -> None:
    (note,) = whole_job.notes()
    whole_job.change(lambda draft: draft.set_note(note.uid, "fine now"), who="Jonas", what="Rewrote")
    assert [found.text for found in whole_job.notes()] == ["fine now"]
    whole_job.change(lambda draft: draft.remove_note(note.uid), who="Jonas", what="Removed")
    assert whole_job.notes() == ()
    with pytest.raises(InputError, match="this note is not there any more"):
        whole_job.change(lambda draft: draft.remove_note(note.uid), who="Mara", what="Removed")


def test_a_device_is_paired_seen_renamed_and_shut_out(job: JobFile) -> None:
    def pair(draft: Draft) -> None:
        expires = datetime(2027, 5, 15, tzinfo=UTC)
        draft.add_device("phone", role="look", token_sha256="ab" * 32, expires_at=expires)

    job.change(pair, who="Mara", what="Paired phone")
    (device,) = job.devices()
    assert (device.role, device.expires_at, device.last_seen) == ("look", "2027-05-15T00:00:00.000000Z", None)
    seq = job.seq
    job.see_device(device.uid)
    assert job.seq == seq
    job.change(lambda draft: draft.set_device(device.uid, name="Ines", role="edit"), who="Mara", what="Renamed phone")
    job.change(lambda draft: draft.revoke_device(device.uid), who="Mara", what="Shut out phone")
    found = job.device_with("ab" * 32)
    assert found is not None
    assert (found.name, found.role, found.revoked_at is not None) == ("Ines", "edit", True)
    assert found.last_seen is not None
    assert job.device_with("cd" * 32) is None
    assert job.undoable("Mara") is None
    assert "ab" * 32 not in repr(job.events())


def test_numbers_for_caches_tell_which_tables_changed(whole_job: JobFile) -> None:
    entries, sweeps = whole_job.seq_of("entry"), whole_job.seq_of("sweep")
    whole_job.change(lambda draft: draft.add_note("x"), who="Mara", what="Wrote")
    assert (whole_job.seq_of("entry"), whole_job.seq_of("sweep")) == (entries, sweeps)
    assert whole_job.seq_of("entry", "note") == whole_job.seq
    assert whole_job.seq_of("device") == 0


def test_history_is_read_page_by_page(job: JobFile) -> None:
    for number in range(5):
        put(job, "Mara", "L01", name=str(number))
    newest = job.changes(limit=2)
    older = job.changes(before=newest[-1].number, limit=100)
    assert [change.number for change in (*newest, *older)] == [6, 5, 4, 3, 2, 1]
    assert [event.seq for event in job.events(after=2, limit=3)] == [3, 4, 5]
    assert [event.change for event in job.events_about(uid(job, "L01"))] == [1, 2, 3, 4, 5, 6]

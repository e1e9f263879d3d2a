"""What a desk keeps in memory of what it worked out."""

from __future__ import annotations

import random
import threading
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from brief_examples import library
from desks import desk_of
from processes import until

import bandwright.service.desk as desk_module
from bandwright.service.desk import Changed
from bandwright.service.job_brief import BriefNow, read_entries
from bandwright.store import Draft, JobFile


@pytest.fixture
def desk(tmp_path):
    with desk_of(tmp_path) as found:
        yield found


def test_a_value_is_worked_out_again_when_what_it_stands_on_moves_on(desk):
    assert desk.keep("spectrum", 1, lambda: "first") == "first"
    assert desk.keep("spectrum", 1, lambda: "second") == "first"
    assert desk.keep("spectrum", 2, lambda: "second") == "second"


def test_of_plans_only_those_used_last_stay_in_memory(desk):
    """Each carrier that is moved makes one more plan, and a show is long."""
    for number in range(1000):
        desk.keep("plan 0", 0, lambda: "in force")
        desk.keep(f"plan {number}", 0, lambda: "a plan")
    assert len(desk._kept.values) == 16
    assert desk.keep("plan 0", 0, lambda: "made again") == "in force"
    assert desk.keep("plan 3", 0, lambda: "made again") == "made again"


def test_every_sweep_in_use_stays_read(desk):
    for number in range(40):
        desk.keep(f"sweep {number}", 0, lambda: "read")
    assert desk.keep("sweep 0", 0, lambda: "read again") == "read"


def renamed(desk, name: str) -> Changed:
    """Rename the first link without looking at what others did to it."""
    row = desk.file.entries("link")[0]
    return desk.change(lambda draft: draft.set(row.uid, {**row.value, "name": name}, id=row.id), who="anna", what=name)


def read_afresh(desk) -> BriefNow:
    """Read the brief by another opening of the same file, which knows of nothing that was read before."""
    with JobFile.open(desk.path, read_only=True) as file:
        return read_entries(file.entries(), seq=file.seq, file=desk.path.name, library=library())


def test_after_any_row_of_changes_the_brief_is_what_a_first_reading_gives(desk):
    """Rows that did not change are not read again: two hundred changes by lot, right and wrong, some taken back."""
    draw = random.Random(5)
    values = {
        "name": ["Ada", "Łukasz", 7, None],
        "hold_mhz": [Decimal("606.700"), Decimal("606.7"), "aerial", None],
        "radio": ["heron", "nobody", None],
        "count": [2, None, -1],
        "earshot": [["main"], "main"],
    }

    def write(draft: Draft) -> None:
        rows = desk.file.entries("link")
        row, key = draw.choice(rows), draw.choice(list(values))
        match draw.randrange(5):
            case 0 if len(rows) > 1:
                draft.remove(row.uid)
            case 1:
                name = f"X{draw.randrange(10**6)}"
                draft.add("link", {**row.value, "id": name}, id=name, after=draw.choice(rows).uid)
            case _:
                draft.set(row.uid, {**row.value, key: draw.choice(values[key])}, id=row.id)

    for number in range(200):
        if number % 7 == 6:
            desk.changed(desk.file.undo(who="anna"), who="anna")
        else:
            desk.change(write, who="anna", what=f"{number}")
        now, afresh = desk.brief(), read_afresh(desk)
        assert (now.entries, now.faults, now.job) == (afresh.entries, afresh.faults, afresh.job)


def test_what_a_dropped_change_wrote_is_never_taken_for_what_the_next_one_wrote(desk):
    """The next change gets the numbers of the dropped one."""

    def dropped(draft: Draft) -> None:
        row = desk.file.entries("link")[0]
        draft.set(row.uid, {**row.value, "name": "Dropped"}, id=row.id)
        assert desk.brief().job.links[0].name == "Dropped"
        raise LookupError

    with pytest.raises(LookupError):
        desk.change(dropped, who="anna", what="dropped")
    renamed(desk, "Kept")
    assert desk.brief().job.links[0].name == "Kept"


def test_all_who_wrote_while_the_brief_was_read_share_one_reading(desk, monkeypatch):
    reading, go_on, readings = threading.Event(), threading.Event(), []
    read = desk_module.read_entries

    def slow(rows, **told):
        readings.append(told["seq"])
        reading.set()
        assert go_on.wait(10)
        return read(rows, **told)

    monkeypatch.setattr(desk_module, "read_entries", slow)

    def edit(number: int) -> Changed:
        return renamed(desk, f"name {number}")

    with ThreadPoolExecutor(8) as pool:
        first = pool.submit(edit, 6)
        assert reading.wait(10)
        before = desk.seq
        others = [pool.submit(edit, number) for number in range(6)]
        assert until(lambda: desk.seq >= before + 6)  # they go on writing, and wait for what is wrong now
        go_on.set()
        answers = [first.result(10), *(other.result(10) for other in others)]
    assert len(readings) == 2
    assert readings[1] == max(answer.seq for answer in answers)


def test_who_reads_lets_all_who_are_writing_go_first(desk, monkeypatch):
    """One reading does for all of them: it costs more than the change itself."""
    readings = []
    read = desk_module.read_entries
    monkeypatch.setattr(desk_module, "read_entries", lambda rows, **told: readings.append(told) or read(rows, **told))
    monkeypatch.setattr(desk_module, "_WRITERS_S", 60)

    def edit(number: int) -> Changed:
        return renamed(desk, f"name {number}")

    with ThreadPoolExecutor(6) as pool:
        with desk.lock:
            edits = [pool.submit(edit, number) for number in range(6)]
            assert until(lambda: desk._reading._writers == 6)
        answers = [one.result(10) for one in edits]
    assert len(readings) == 1
    assert readings[0]["seq"] == max(answer.seq for answer in answers) == desk.seq


def test_a_brief_that_a_dropped_change_made_is_not_kept(desk):
    before = desk.brief()
    row = desk.file.entries("link")[0]

    def make(draft: Draft) -> None:
        draft.set(row.uid, {**row.value, "name": "never"}, id=row.id)
        assert "never" in {entry.value.get("name") for entry in desk.brief().entries}
        raise RuntimeError("dropped")

    with pytest.raises(RuntimeError, match="dropped"):
        desk.change(make, who="anna", what="Called it never")
    assert desk.brief() is before


def test_after_a_reading_that_failed_the_next_one_reads(desk, monkeypatch):
    read = desk_module.read_entries
    failures = iter([MemoryError()])

    def failing(rows, **told):
        for failure in failures:
            raise failure
        return read(rows, **told)

    monkeypatch.setattr(desk_module, "read_entries", failing)
    with pytest.raises(MemoryError):
        desk.brief()
    assert desk.brief().job is not None

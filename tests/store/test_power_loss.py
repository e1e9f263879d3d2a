"""The power goes, at any moment: nothing that was acknowledged is lost, and nothing half is there."""

from __future__ import annotations

import hashlib
import random
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import recorded_disk
from recorded_disk import Disk, after_power_loss, keep_everything, keep_nothing, keep_some, recording
from thorough import cases

from bandwright.errors import MachineError
from bandwright.store import Draft, JobFile, files, jobfile

pytestmark = pytest.mark.skipif(bool(recorded_disk.why_not()), reason=recorded_disk.why_not())

NAME = "quay.bwjob"
FIRST = Path(__file__).parent / "files" / "layout-1.bwjob"
# In memory where there is such a folder: a sync costs nothing there, and we pull the plug ourselves.
MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None
Tables = dict[str, list[Any]]


@pytest.fixture
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(dir=MEMORY) as name:
        yield Path(name)


def tables(path: Path) -> Tables:
    """Return everything in a job file, by plain SQL."""
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    try:
        names = [row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        return {name: sorted(connection.execute(f"SELECT * FROM {name}"), key=repr) for name in names}
    finally:
        connection.close()


def a_working_day(path: Path, acknowledged: Callable[[], None]) -> None:
    """Make a job and work on it, with everything that writes; tell after each call that came back."""

    def fill(draft: Draft) -> None:
        draft.add("job", {"title": "Lantern Quay"})
        for number in range(4):
            draft.add("link", {"id": f"L{number}", "hold_mhz": Decimal("606.700")}, id=f"L{number}")

    with JobFile.create(path, fill, who="Mara", what="Made this job") as job:
        acknowledged()
        links = job.entries("link")
        steps: list[Callable[[Draft], object]] = [
            lambda draft: draft.set(links[0].uid, {"id": "L0", "hold_mhz": Decimal("607.1")}, id="L0"),
            lambda draft: draft.add_sweep("base", bytes(range(256)) * 80, {"place": "quay"}),
            lambda draft: [draft.remove(links[1].uid), draft.add("link", {"id": "L9"}, id="L9")],
            lambda draft: [
                draft.add_plan(b"{}" * 900, check_phrase="amber kite", stands_on=3),
                draft.set_state("p", 1),
            ],
            lambda draft: draft.add_statement("set", about=links[0].uid, plan_number=1),
        ]
        for number, step in enumerate(steps):
            job.change(step, who="Mara", what=f"Step {number}", client_key=f"key {number}")
            acknowledged()
        job.undo(who="Mara")
        acknowledged()
        job.checkpoint()
        job.redo(who="Mara")
        acknowledged()
        sweep = job.sweeps()[0].uid
        job.change(lambda draft: draft.remove_sweep(sweep), who="Mara", what="Put the sweep aside")
        acknowledged()
        job.compact(who="Mara")
        job.change(lambda draft: draft.set_state("p", 2), who="Mara", what="Chose plan 2")
        acknowledged()
    with JobFile.open(path) as job:
        job.change(lambda draft: draft.add_note("L0 breaks up at the gate"), who="Jonas", what="Wrote a remark")
        acknowledged()


def record(folder: Path, work: Callable[[Path, Callable[[], None]], None]) -> tuple[Disk, list[Tables | None]]:
    """Work in the folder; return what the disk did, and the tables after each acknowledged call."""
    path = folder / NAME
    states: list[Tables | None] = [tables(path) if path.exists() else None]
    with recording(folder) as disk:

        def acknowledged() -> None:
            disk.mark("acknowledged")
            states.append(tables(path))

        work(path, acknowledged)
    return disk, states


def every_loss(disk: Disk, *, some: int) -> Iterator[tuple[int, dict[str, bytes]]]:
    """Give each different content of the disk that a cut can leave, with the number of acknowledged calls before it."""
    seen: set[tuple[int, str]] = set()
    before = 0
    for cut in range(len(disk.ops) + 1):
        if cut and disk.ops[cut - 1].what == "mark":
            before += 1
        parts = [keep_some((cut, number)) for number in range(some)]
        for keep in (keep_nothing, keep_everything, *parts):
            left = after_power_loss(disk, cut, keep)
            digest = hashlib.sha256(
                b"".join(b"%r %d " % (name.encode(), len(left[name])) + left[name] for name in left)
            )
            if (before, digest.hexdigest()) not in seen:
                seen.add((before, digest.hexdigest()))
                yield before, left


@contextmanager
def disk_with(left: dict[str, bytes]) -> Iterator[Path]:
    with tempfile.TemporaryDirectory(dir=MEMORY) as name:
        for file, content in left.items():
            (Path(name) / file).write_bytes(content)
        yield Path(name) / NAME


def what_went_wrong(before: int, left: dict[str, bytes], states: list[Tables | None]) -> str:
    """Open what is left, as somebody would in the morning; return what is wrong, or nothing."""
    allowed = states[before : before + 2]
    with disk_with(left) as path:
        if not path.exists():
            return "" if None in allowed else "the job is gone"
        try:
            with JobFile.open(path) as job:
                found = job.check()
        except Exception as error:
            return f"it does not open: {error!r}"
        if found:
            return f"it is broken: {found}"
        if list(path.parent.glob(f"{NAME}-*")):
            return "something is left beside it when it is closed"
        return "" if tables(path) in allowed else "something acknowledged is lost, or something half is there"


def losses(disk: Disk, states: list[Tables | None], *, some: int) -> Iterator[str]:
    for before, left in every_loss(disk, some=some):
        wrong = what_went_wrong(before, left, states)
        if wrong:
            yield wrong


def test_a_job_survives_a_loss_of_power_at_every_single_write(folder: Path) -> None:
    disk, states = record(folder, a_working_day)
    assert len(states) == 12
    assert {op.what for op in disk.ops} >= {"write", "sync", "truncate", "create", "link", "delete", "sync-folder"}
    assert list(losses(disk, states, some=cases(1))) == []


def test_power_that_goes_again_while_a_job_is_brought_back_takes_nothing(folder: Path) -> None:
    disk, states = record(folder, a_working_day)
    chance = random.Random(1)
    first = [(before, left) for before, left in every_loss(disk, some=1) if NAME in left and len(left) > 1]
    for before, left in chance.sample(first, cases(5)):
        with disk_with(left) as path:
            again, _ = record(path.parent, lambda path, acknowledged: JobFile.open(path).close())
        assert len(again.ops) > 3
        for _, left_again in every_loss(again, some=1):
            assert what_went_wrong(before, left_again, states) == ""


@pytest.mark.parametrize("level", ["OFF", "NORMAL"])
def test_without_the_sync_at_each_commit_work_is_lost(
    folder: Path, monkeypatch: pytest.MonkeyPatch, level: str
) -> None:
    strict = files._PRAGMAS
    monkeypatch.setattr(files, "_PRAGMAS", (f"synchronous = {level}", *strict[1:]))
    assert strict[0] == "synchronous = FULL"
    disk, states = record(folder, a_working_day)
    monkeypatch.undo()
    assert next(losses(disk, states, some=1))


def _write_a_whole_file(path: Path, acknowledged: Callable[[], None]) -> None:
    with files.whole_file(path) as connection:
        connection.execute("CREATE TABLE one(two TEXT)")
    acknowledged()


def test_a_new_file_has_its_name_for_good_only_once_its_folder_is_synced(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk, _ = record(folder, _write_a_whole_file)
    assert NAME in after_power_loss(disk, len(disk.ops), keep_nothing)
    (folder / NAME).unlink()
    monkeypatch.setattr(files, "_sync_folder", lambda folder: None)
    disk, _ = record(folder, _write_a_whole_file)
    assert NAME not in after_power_loss(disk, len(disk.ops), keep_nothing)


def _one_more_table(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE note ADD COLUMN colour TEXT")
    connection.execute("CREATE TABLE extra(name TEXT PRIMARY KEY, number INTEGER NOT NULL) STRICT")
    connection.execute("INSERT INTO extra SELECT uid, position FROM entry")


def test_a_job_that_is_moved_forward_survives_a_loss_of_power(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copyfile(FIRST, folder / NAME)
    monkeypatch.setattr(jobfile, "STEPS", (*jobfile.STEPS, _one_more_table))

    def move(path: Path, acknowledged: Callable[[], None]) -> None:
        JobFile.open(path).close()
        acknowledged()

    disk, states = record(folder, move)
    moved = states[1]
    assert moved is not None
    assert len(moved["extra"]) == len(moved["entry"])
    for _, left in every_loss(disk, some=cases(1)):
        assert what_went_wrong(0, left, [moved]) == ""


# A disk that is full


def test_a_full_disk_takes_nothing_away_and_is_told_in_a_sentence(folder: Path) -> None:
    path = folder / NAME
    with recording(folder) as disk, JobFile.create(path, lambda draft: None, who="Mara", what="Made it") as job:
        before, room = tables(path), 0
        while not job.sweeps():
            disk.room = room
            told = _tell(lambda: job.change(_add_a_sweep, who="Mara", what="Added a sweep"))
            disk.room = None
            assert told.startswith("The disk is full: nothing of this was kept in") or job.sweeps()
            assert tables(path) == before or job.sweeps()
            room += 1
        assert room > 5
        assert job.check() == ()


def _add_a_sweep(draft: Draft) -> None:
    draft.add_sweep("base", bytes(9_000), {})


def _tell(work: Callable[[], object]) -> str:
    try:
        work()
    except MachineError as error:
        return str(error)
    return ""


def test_a_new_job_on_a_full_disk_leaves_nothing_behind(folder: Path) -> None:
    with recording(folder) as disk:
        disk.room = 3
        with pytest.raises(MachineError, match="The disk is full"):
            JobFile.create(folder / NAME, lambda draft: None, who="Mara", what="Made it")
    assert list(folder.iterdir()) == []


def test_a_disk_that_fails_takes_nothing_away_and_is_told_in_a_sentence(folder: Path) -> None:
    path = folder / NAME
    with recording(folder) as disk, JobFile.create(path, lambda draft: None, who="Mara", what="Made it") as job:
        before, seq = tables(path), job.seq
        disk.sick = True
        assert _tell(lambda: job.change(_add_a_sweep, who="Mara", what="Added a sweep")).startswith(
            "The disk failed under"
        )
        disk.sick = False
        assert (job.seq, tables(path)) == (seq, before)
        job.change(_add_a_sweep, who="Mara", what="Added a sweep")
        assert job.check() == ()
    with JobFile.open(path) as job:
        assert len(job.sweeps()) == 1

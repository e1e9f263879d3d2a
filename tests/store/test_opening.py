"""Opening a job file: what it refuses, in which words, and what stays possible."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from thorough import cases

from bandwright.errors import BrokenPromise, InputError, MachineError
from bandwright.store import Draft, JobFile, files, jobfile, layout

FIRST = Path(__file__).parent / "files" / "layout-1.bwjob"

Step = Callable[[sqlite3.Connection], None]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A whole job file of the first layout, in a folder of its own."""
    return Path(shutil.copyfile(FIRST, tmp_path / "quay.bwjob"))


def titles(job: JobFile) -> list[str]:
    return [entry.value["title"] for entry in job.entries("job")]


def texts(job: JobFile) -> list[str]:
    return [note.text for note in job.notes()]


def beside(path: Path) -> list[str]:
    return sorted(other.name for other in path.parent.iterdir() if other != path)


def add_note(text: str) -> Callable[[Draft], object]:
    return lambda draft: draft.add_note(text)


@contextmanager
def another_program(code: str, path: Path) -> Iterator[subprocess.Popen[str]]:
    """Run code in a process of its own, up to where it prints a line; it ends when its input is closed."""
    start = (
        "import sys, sqlite3; from pathlib import Path; from bandwright.store import JobFile; path = Path(sys.argv[1])"
    )
    with subprocess.Popen(
        [sys.executable, "-c", f"{start}\n{code}", str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as program:
        assert program.stdout is not None
        assert program.stdin is not None
        assert program.stdout.readline() == "ready\n"
        yield program
        program.stdin.close()
        assert program.wait() == 0


READY = "\nprint('ready', flush=True)\nsys.stdin.read()\n"


# What is refused


def test_what_is_no_job_file_is_refused_and_left_alone(tmp_path: Path) -> None:
    database = tmp_path / "other.db"
    sqlite3.connect(database).execute("CREATE TABLE mine(text)").connection.close()
    for name, content in (("empty", b""), ("text", b"bandwright = 1\n" * 100), ("short", b"SQLite format 3\0")):
        (tmp_path / name).write_bytes(content)
    for name in ("empty", "text", "short", "other.db"):
        before = (tmp_path / name).read_bytes()
        for read_only in (False, True):
            with pytest.raises(InputError, match="this is no job file of Bandwright"):
                JobFile.open(tmp_path / name, read_only=read_only)
        assert (tmp_path / name).read_bytes() == before
    with pytest.raises(InputError, match="this is no job file of Bandwright"):
        JobFile.open(tmp_path)
    assert len(list(tmp_path.iterdir())) == 4


def test_a_file_that_is_not_there_is_refused_and_not_made(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="There is no such file"):
        JobFile.open(tmp_path / "quay.bwjob")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("read_only", [False, True])
def test_a_file_that_is_cut_short_is_refused_whatever_is_left_of_it(path: Path, read_only: bool) -> None:
    whole = path.read_bytes()
    chance = random.Random(1)
    for size in [*(chance.randrange(100, len(whole)) for _ in range(40)), len(whole) - 1]:
        path.write_bytes(whole[:size])
        with pytest.raises(InputError, match=r"this job file is damaged or cut short|this is no job file"):
            JobFile.open(path, read_only=read_only)
        assert path.read_bytes() == whole[:size]


def test_a_page_of_rubbish_anywhere_is_told(path: Path) -> None:
    whole, chance = path.read_bytes(), random.Random(2)
    page = 4096
    told = []
    for start in range(0, len(whole), page):
        path.write_bytes(whole[:start] + chance.randbytes(page) + whole[start + page :])
        told.append(_complaint(path))
    assert [number for number, text in enumerate(told) if not text] == []


def test_a_changed_letter_in_any_value_is_told(path: Path) -> None:
    whole, told, at = path.read_bytes(), [], -1
    while (at := whole.find(b"L01", at + 1)) >= 0:
        path.write_bytes(whole[:at] + b"M" + whole[at + 1 :])
        told.append(_complaint(path))
    assert len(told) > 5
    sentences = whole.count(b"L01 is set")  # what a change is called stands nowhere else
    assert told.count("") == sentences == 1
    assert any(text.startswith("The file is broken inside: row 5 missing from index") for text in told)


def test_rubbish_anywhere_is_a_sentence_and_never_a_crash(path: Path) -> None:
    whole, chance, told = path.read_bytes(), random.Random(3), 0
    for _ in range(cases(150)):
        broken = bytearray(whole)
        used = [place for place in (chance.randrange(len(whole)) for _ in range(60)) if whole[place]]
        for place in used[: chance.choice((1, 1, 3))]:
            broken[place] = chance.randrange(256)
        path.write_bytes(broken)
        told += bool(_complaint(path) or _all_that_is_asked(path))
    assert told > cases(150) * 0.9


def _all_that_is_asked(path: Path) -> str:
    try:
        with JobFile.open(path) as job:
            for ask in (job.entries, job.sweeps, job.plans, job.statements, job.notes, job.devices, job.events):
                ask()
            job.change(add_note("x"), who="Mara", what="Wrote")
            job.redo(who="Mara")
    except InputError as error:
        return str(error)
    return ""


def test_a_row_that_names_another_that_is_not_there_is_told(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("UPDATE event SET change = 99 WHERE seq = 1")
    connection.commit()
    connection.close()
    assert _complaint(path) == "Row 1 of event names a row of change that is not there."


def test_a_row_that_was_taken_out_or_garbled_behind_our_back_is_told(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("DELETE FROM note")
    connection.commit()
    assert "is in the history and not in its table" in _complaint(path)
    connection.execute("UPDATE entry SET value = '{' WHERE id = 'L01'")
    connection.commit()
    connection.close()
    with JobFile.open(path) as job, pytest.raises(InputError, match="this job file is damaged or cut short"):
        job.entries()


def test_a_value_that_was_changed_behind_our_back_is_told(path: Path) -> None:
    whole = path.read_bytes()
    assert whole.count(b"606.700") > 1
    path.write_bytes(whole.replace(b"606.700", b"606.800", 1))
    assert "is not what the history says" in _complaint(path) or "has a gap" in _complaint(path)
    path.write_bytes(whole.replace(b"\n606.525,-1", b"\n606.525,-9"))
    assert "are not what was put in" in _complaint(path)


def _complaint(path: Path) -> str:
    try:
        with JobFile.open(path, read_only=True) as job:
            return " ".join(job.check())
    except InputError as error:
        return str(error)


def test_tables_of_somebody_elses_making_are_refused(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("CREATE TRIGGER evil AFTER INSERT ON note BEGIN DELETE FROM entry; END")
    connection.close()
    with pytest.raises(InputError, match="this job file is damaged"):
        JobFile.open(path)


def test_a_new_job_never_takes_the_place_of_a_file(path: Path, tmp_path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(InputError, match="This is there already and is not overwritten"):
        JobFile.create(path, add_note("x"), who="Mara", what="Made it")
    assert path.read_bytes() == before
    with pytest.raises(InputError, match="There is no folder"):
        JobFile.create(tmp_path / "nowhere" / "quay.bwjob", add_note("x"), who="Mara", what="Made it")


def test_two_that_make_one_job_at_once_do_not_overwrite_each_other(tmp_path: Path) -> None:
    path = tmp_path / "quay.bwjob"

    def make(draft: Draft) -> None:
        JobFile.create(path, add_note("first"), who="Jonas", what="Made it").close()
        draft.add_note("second")

    with pytest.raises(InputError, match="This is there already"):
        JobFile.create(path, make, who="Mara", what="Made it")
    with JobFile.open(path) as job:
        assert [note.text for note in job.notes()] == ["first"]
    assert beside(path) == []


def test_a_job_is_made_where_files_have_one_name_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(one: str, two: str) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", no_links)
    with JobFile.create(tmp_path / "quay.bwjob", add_note("x"), who="Mara", what="Made it") as job:
        assert len(job.notes()) == 1
    assert [file.name for file in tmp_path.iterdir()] == ["quay.bwjob"]


def test_a_folder_that_takes_no_more_names_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_room(one: str, two: str) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.link", no_room)
    with pytest.raises(MachineError, match="cannot be written: No space left on device"):
        JobFile.create(tmp_path / "quay.bwjob", add_note("x"), who="Mara", what="Made it")
    assert list(tmp_path.iterdir()) == []


def test_a_job_that_could_not_be_filled_leaves_nothing_behind(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="this entry is not there any more"):
        JobFile.create(tmp_path / "quay.bwjob", lambda draft: draft.remove("x"), who="Mara", what="Made it")
    assert list(tmp_path.iterdir()) == []


def test_an_sqlite_that_is_too_old_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sqlite3.sqlite_version_info", (3, 36, 0))
    with pytest.raises(MachineError, match=r"Job files need SQLite 3.37 or newer; the one of this Python is"):
        JobFile.open(path)


# At rest


def test_a_closed_job_is_one_file_in_the_classic_mode(path: Path) -> None:
    job = JobFile.open(path)
    job.change(add_note("x"), who="Mara", what="Wrote a remark")
    assert beside(path) == ["quay.bwjob-shm", "quay.bwjob-wal"]
    job.close()
    job.close()
    assert beside(path) == []
    assert path.read_bytes()[18:20] == b"\x01\x01"  # the file format's own words for a rollback journal


def test_a_plain_copy_of_an_open_job_is_whole_once_nobody_is_at_work(path: Path) -> None:
    with JobFile.open(path) as job:
        job.change(add_note("x"), who="Mara", what="Wrote a remark")
        assert job.checkpoint()
        copy = path.with_name("copy.bwjob")
        subprocess.run(
            [sys.executable, "-c", "import shutil, sys; shutil.copyfile(*sys.argv[1:])", path, copy], check=True
        )
        with JobFile.open(copy) as copied:
            assert [note.text for note in copied.notes()] == [note.text for note in job.notes()]
            assert copied.check() == ()


def test_a_job_that_is_open_for_reading_takes_no_change_and_leaves_no_trace(path: Path) -> None:
    before = path.read_bytes()
    with JobFile.open(path, read_only=True) as job:
        assert titles(job) == ["Lantern Quay"]
        for work in (
            lambda: job.change(add_note("x"), who="Mara", what="Wrote"),
            lambda: job.undo(who="Mara"),
            lambda: job.compact(who="Mara"),
            lambda: job.see_device("x"),
        ):
            with pytest.raises(MachineError, match="is open for reading only"):
                work()
    assert path.read_bytes() == before
    assert beside(path) == []


# A folder that may not be written


@pytest.fixture
def locked_folder(path: Path) -> Iterator[Callable[[], None]]:
    """Return a call that shuts the folder of the job; a superuser becomes somebody else for it."""
    if os.name != "posix":
        pytest.skip("the rights of folders are tested where they are POSIX ones")
    root = os.geteuid() == 0

    folders = [folder for folder in path.parents if Path(tempfile.gettempdir()) in folder.parents]
    modes = {folder: folder.stat().st_mode for folder in folders}

    def lock() -> None:
        for folder in folders:
            folder.chmod(0o555)
        for file in path.parent.iterdir():
            file.chmod(0o444)
        if root:
            os.seteuid(65534)

    yield lock
    if root:
        os.seteuid(0)
    for folder, mode in modes.items():
        folder.chmod(mode)


def test_a_folder_that_may_not_be_written_is_told_and_can_be_read(
    path: Path, locked_folder: Callable[[], None]
) -> None:
    locked_folder()
    with pytest.raises(MachineError, match="may not be written"):
        JobFile.open(path)
    with JobFile.open(path, read_only=True) as job:
        assert titles(job) == ["Lantern Quay"]


def test_a_file_that_may_not_be_read_is_told(path: Path, locked_folder: Callable[[], None]) -> None:
    locked_folder()
    other = os.geteuid()
    if os.getuid() == 0:
        os.seteuid(0)
    path.chmod(0)
    os.seteuid(other)
    with pytest.raises(MachineError, match="cannot be read: Permission denied"):
        JobFile.open(path, read_only=True)


def test_a_job_whose_log_was_left_behind_can_be_read_where_nothing_may_be_written(
    path: Path, locked_folder: Callable[[], None]
) -> None:
    code = "JobFile.open(path).change(lambda draft: draft.add_note('late'), who='Mara', what='Wrote')\n"
    code = f"{code}import os; os._exit(0)"
    subprocess.run([sys.executable, "-c", _program(code), str(path)], check=True)
    assert "quay.bwjob-wal" in beside(path)
    path.with_name("quay.bwjob-shm").unlink()
    locked_folder()
    with pytest.raises(MachineError, match="written"):
        JobFile.open(path)
    with JobFile.open(path, read_only=True) as job:
        assert "late" in [note.text for note in job.notes()]


def _program(code: str) -> str:
    return (
        f"import sys; from pathlib import Path; from bandwright.store import JobFile; path = Path(sys.argv[1])\n{code}"
    )


# Several programs


def test_two_programs_may_work_on_one_job_and_nothing_is_lost(path: Path) -> None:
    code = (
        "job = JobFile.open(path)\n"
        "for number in range(30):\n"
        "    job.change(lambda draft: draft.add_note(f'theirs {number}'), who='Jonas', what='Wrote')\n"
        "    if number == 0: print('ready', flush=True)\n"
        "sys.stdin.read()\n"
        "job.close()"
    )
    with another_program(code, path), JobFile.open(path, wait_s=60) as job:
        for number in range(30):
            job.change(add_note(f"ours {number}"), who="Mara", what="Wrote")
    with JobFile.open(path) as job:
        texts = {note.text for note in job.notes()}
        assert texts >= {f"{whose} {number}" for whose in ("ours", "theirs") for number in range(30)}
        assert job.check() == ()
    assert beside(path) == []


def test_what_another_program_wrote_is_seen_at_once(path: Path) -> None:
    with JobFile.open(path) as one, JobFile.open(path) as two, JobFile.open(path, read_only=True) as three:
        done = one.change(add_note("x"), who="Mara", what="Wrote")
        assert two.seq == three.seq == done.seq
        two.close()
        assert one.change(add_note("y"), who="Mara", what="Wrote").seq == done.seq + 1
        assert three.seq == done.seq + 1


def test_a_snapshot_stays_what_it_was_while_another_program_writes(path: Path) -> None:
    with JobFile.open(path) as one, JobFile.open(path) as two:
        with one.snapshot():
            before = one.seq
            two.change(add_note("x"), who="Mara", what="Wrote")
            assert one.seq == before
        assert one.seq == before + 1


def test_a_program_that_writes_for_too_long_is_told_in_a_sentence(path: Path) -> None:
    busy = f"c = sqlite3.connect(path, isolation_level=None); c.execute('BEGIN IMMEDIATE'){READY}"
    with JobFile.open(path, wait_s=0) as job, another_program(busy, path):
        before = job.seq
        with pytest.raises(MachineError, match=r"Another program is working in .*Nothing of this was kept"):
            job.change(add_note("x"), who="Mara", what="Wrote")
        assert job.seq == before
    with JobFile.open(path) as job:
        assert job.change(add_note("x"), who="Mara", what="Wrote").seq == before + 1


def test_a_file_that_another_program_holds_alone_is_told_in_a_sentence(path: Path) -> None:
    alone = f"c = sqlite3.connect(path, isolation_level=None); c.execute('BEGIN EXCLUSIVE'){READY}"
    with another_program(alone, path):
        for read_only in (False, True):
            with pytest.raises(MachineError, match="Another program is working in"):
                JobFile.open(path, wait_s=0, read_only=read_only)


# Layouts: newer and older


def test_the_first_layout_still_opens_with_all_it_holds(path: Path) -> None:
    with JobFile.open(path) as job:
        assert [(entry.id, entry.value["name"]) for entry in job.entries("link")] == [
            ("L01", "Mara"),
            ("L02", "Łukasz"),
            ("L03", "Ines"),
        ]
        assert str(job.entries("link")[0].value["hold_mhz"]) == "606.700"
        assert job.blob(job.sweeps()[0].sha256).startswith(b"Frequency (MHz),Level (dBm)\n606.000,-100.00\n606.025,")
        (plan,) = job.plans()
        assert (plan.number, job.state("current-plan")) == (1, 1)
        assert plan.check_phrase.encode() in job.blob(plan.sha256)
        assert [statement.what for statement in job.statements()] == ["set"]
        assert [statement.note for statement in job.statements(taken_back=True)] == ["crackles"]
        assert [version.name for version in job.versions()] == ["as rehearsed"]
        assert [note.text for note in job.notes()] == ["breaks up at the east gate"]
        assert [device.name for device in job.devices()] == ["Ines' phone"]
        assert job.changes()[0].what == "Took back: Removed link L03 (Ines)"
        assert job.redo(who="Mara").what == "Did again: Removed link L03 (Ines)"
        assert job.check() == ()


def _newer(path: Path, *statements: str) -> None:
    connection = sqlite3.connect(path)
    for statement in (*statements, "PRAGMA user_version = 7"):
        connection.execute(statement)
    connection.commit()
    connection.close()


def test_a_newer_file_is_refused_in_words_and_its_entries_can_still_be_read(path: Path) -> None:
    _newer(path, "ALTER TABLE entry ADD COLUMN colour TEXT", "CREATE TABLE stranger(word TEXT)")
    before = path.read_bytes()
    with pytest.raises(InputError, match=r"written by a newer Bandwright \(layout 7; this one knows up to 1\)") as told:
        JobFile.open(path)
    assert told.value.faults[0].hint == "Update Bandwright, or read what it holds with: bandwright job export"
    with JobFile.open(path, read_only=True) as job:
        assert titles(job) == ["Lantern Quay"]
    assert path.read_bytes() == before
    assert beside(path) == []


def test_what_a_newer_file_keeps_otherwise_is_refused_in_the_same_words(path: Path) -> None:
    _newer(path, "ALTER TABLE note RENAME COLUMN text TO words")
    with JobFile.open(path, read_only=True) as job:
        assert titles(job) == ["Lantern Quay"]
        for ask in (job.notes, job.check):
            with pytest.raises(InputError, match="written by a newer Bandwright") as told:
                ask()
            assert told.value.faults[0].hint == "Update Bandwright; this one cannot read that part of it."


def test_a_newer_file_whose_entries_cannot_be_read_is_refused_for_reading_too(path: Path) -> None:
    _newer(path, "ALTER TABLE entry RENAME COLUMN value TO content")
    with pytest.raises(InputError, match="written by a newer Bandwright"):
        JobFile.open(path, read_only=True)


def second_layout(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE note ADD COLUMN colour TEXT")
    connection.execute("CREATE TABLE extra(name TEXT PRIMARY KEY, number INTEGER NOT NULL) STRICT")
    connection.execute("INSERT INTO extra SELECT uid, position FROM entry")


def third_layout(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE extra ADD COLUMN second INTEGER")


def broken_layout(connection: sqlite3.Connection) -> None:
    connection.execute("DELETE FROM entry")
    raise RuntimeError("a step that fails")


def dangling_layout(connection: sqlite3.Connection) -> None:
    connection.execute("DELETE FROM blob")


@pytest.fixture
def program_of(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Make this the program that knows more layouts."""
    return lambda *more: monkeypatch.setattr(jobfile, "STEPS", (*layout.STEPS, *more))


def test_an_older_file_moves_forward_and_is_kept_as_it_was(path: Path, program_of: Callable[..., None]) -> None:
    before = _rows(path)
    program_of(second_layout, third_layout)
    with JobFile.open(path) as job:
        assert titles(job) == ["Lantern Quay"]
        assert job.check() == ()
        job.change(lambda draft: draft.remove_note(job.notes()[0].uid), who="Mara", what="Removed a remark")
    assert beside(path) == ["quay.before-3.bwjob"]
    assert _rows(path.with_name("quay.before-3.bwjob")) == before
    assert len(_rows(path)["extra"]) == len(before["entry"])
    JobFile.open(path).close()
    assert beside(path) == ["quay.before-3.bwjob"]


def test_a_kept_file_is_never_overwritten(path: Path, program_of: Callable[..., None]) -> None:
    path.with_name("quay.before-2.bwjob").write_text("mine")
    program_of(second_layout)
    JobFile.open(path).close()
    assert path.with_name("quay.before-2.bwjob").read_text() == "mine"
    assert beside(path) == ["quay.before-2-2.bwjob", "quay.before-2.bwjob"]


@pytest.mark.parametrize(("step", "told"), [(broken_layout, RuntimeError), (dangling_layout, BrokenPromise)])
def test_a_step_that_fails_leaves_the_old_file_as_it_was(
    path: Path, program_of: Callable[..., None], step: Step, told: type[Exception]
) -> None:
    before = _rows(path)
    program_of(second_layout, step)
    with pytest.raises(told):
        JobFile.open(path)
    assert _rows(path) == before
    assert beside(path) == ["quay.before-3.bwjob"]


def test_an_older_file_that_is_broken_is_not_moved(path: Path, program_of: Callable[..., None]) -> None:
    connection = sqlite3.connect(path)
    connection.execute("UPDATE event SET change = 99 WHERE seq = 1")
    connection.commit()
    connection.close()
    before = _rows(path)
    program_of(second_layout)
    with pytest.raises(InputError, match="this job file is damaged or cut short, and is left as it is"):
        JobFile.open(path)
    assert _rows(path) == before
    assert beside(path) == []


def test_an_older_file_that_another_program_has_open_is_not_moved(path: Path, program_of: Callable[..., None]) -> None:
    before = _rows(path)
    program_of(second_layout)
    with another_program(f"job = JobFile.open(path){READY}job.close()", path):
        with pytest.raises(MachineError, match="Another program is working in"):
            JobFile.open(path, wait_s=0)
        assert beside(path) == ["quay.bwjob-shm", "quay.bwjob-wal"]
    assert _rows(path) == before


def test_an_older_file_can_be_read_without_being_moved(path: Path, program_of: Callable[..., None]) -> None:
    before = path.read_bytes()
    program_of(second_layout)
    with JobFile.open(path, read_only=True) as job:
        assert titles(job) == ["Lantern Quay"]
        assert job.check() == ()
    assert path.read_bytes() == before
    assert beside(path) == []


def _rows(path: Path) -> dict[str, list[object]]:
    connection = files.connect(path, mode="ro", wait_s=0)
    names = [row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
    rows = {name: sorted(connection.execute(f"SELECT * FROM {name}"), key=repr) for name in names}
    connection.close()
    return rows


def test_a_file_that_was_taken_away_or_replaced_while_open_takes_no_change_that_nobody_would_find(path: Path) -> None:
    aside = path.with_name("aside.bwjob")
    with JobFile.open(path) as job:
        path.rename(aside)
        with pytest.raises(
            MachineError, match=r"quay\.bwjob was removed, renamed or replaced while it is open, so nothing"
        ):
            job.change(add_note("lost"), who="Mara", what="Noted")
        shutil.copyfile(FIRST, path)
        with pytest.raises(MachineError, match="Put that file back in its place"):
            job.undo(who="Mara")
        assert "lost" not in texts(job)
        aside.replace(path)
        job.change(add_note("kept"), who="Mara", what="Noted")
    with JobFile.open(path) as job:
        assert "kept" in texts(job)


def test_a_file_given_by_a_relative_name_is_the_same_file_in_another_folder(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with JobFile.open(Path(path.name)) as job:
        (tmp_path / "elsewhere").mkdir()
        monkeypatch.chdir(tmp_path / "elsewhere")
        job.change(add_note("kept"), who="Mara", what="Noted")
        assert "kept" in texts(job)

"""A job file that is open and that nobody changes for a moment: a plain copy of it is whole."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from contextlib import closing

import pytest

from bandwright.errors import MachineError
from bandwright.service.context import Context
from bandwright.service.desk import Desk
from bandwright.service.entries import add_entry
from bandwright.service.job import new_job
from bandwright.service.rest import resting


@pytest.fixture
def desk(tmp_path):
    new_job(Context(), tmp_path / "quay.bwjob", who="laptop", title="Quay")
    with Desk.open(tmp_path / "quay.bwjob") as opened:
        yield opened


@pytest.fixture
def rested(desk, monkeypatch):
    """Say when the file was brought to rest, by letting the true call set an event behind it."""
    event, true = threading.Event(), desk.file.checkpoint

    def checkpoint():
        whole = true()
        if whole:
            event.set()
        return whole

    monkeypatch.setattr(desk.file, "checkpoint", checkpoint)
    return event


def places_in_a_copy(desk):
    """Read a copy of the one file, as a file manager makes it, with SQLite alone."""
    copy = shutil.copyfile(desk.path, desk.path.with_name("copy.db"))
    with closing(sqlite3.connect(copy)) as connection:
        return [row[0] for row in connection.execute("SELECT id FROM entry WHERE kind = 'place'")]


def add_place(desk, name):
    add_entry(desk, who="Mara", kind="place", value={"id": name})


def test_a_copy_made_while_nobody_is_at_work_has_the_last_change(desk, rested):
    with resting(desk, quiet_s=0.05):
        add_place(desk, "hall")
        assert rested.wait(20)
        assert places_in_a_copy(desk) == ["hall"]
        rested.clear()
        add_place(desk, "yard")
        assert rested.wait(20)
        assert places_in_a_copy(desk) == ["hall", "yard"]


def test_a_copy_made_in_the_middle_of_work_can_lack_it(desk):
    with resting(desk, quiet_s=3600):
        add_place(desk, "hall")
        assert places_in_a_copy(desk) == []


def test_a_program_that_reads_is_not_waited_for_and_does_not_keep_the_file_from_rest_for_good(desk, rested):
    with closing(sqlite3.connect(desk.path, isolation_level=None)) as other, resting(desk, quiet_s=0.05):
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM entry").fetchall()
        add_place(desk, "hall")
        assert not desk.file.checkpoint()
        rested.clear()
        other.execute("COMMIT")
        assert rested.wait(20)
        assert places_in_a_copy(desk) == ["hall"]


def test_what_stands_in_the_way_of_rest_ends_nothing(desk, monkeypatch):
    tried = threading.Semaphore(0)

    def checkpoint():
        tried.release()
        raise MachineError("The disk is full.")

    monkeypatch.setattr(desk.file, "checkpoint", checkpoint)
    with resting(desk, quiet_s=0.01):
        assert tried.acquire(timeout=20)
        assert tried.acquire(timeout=20)
        add_place(desk, "hall")
    assert desk.file.entry_named("hall") is not None

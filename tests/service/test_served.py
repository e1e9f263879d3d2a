"""One server for a job file at a time, and what happens where that cannot be told."""

from __future__ import annotations

import errno

import pytest

from bandwright.errors import MachineError
from bandwright.service import served
from bandwright.service.context import Context
from bandwright.service.job import new_job


@pytest.fixture
def job(tmp_path, monkeypatch):
    monkeypatch.setattr(served, "state_folder", lambda: tmp_path / "state")
    path = tmp_path / "quay.bwjob"
    new_job(Context(), path, who="laptop", title="Quay")
    return path


def serve(job):
    return served.served_desk(Context(), job, address="http://127.0.0.1:8377")


def test_a_job_is_served_once_at_a_time_under_whatever_name_it_is_reached(job, tmp_path):
    other = tmp_path / "linked.bwjob"
    other.symlink_to(job)
    with serve(job) as desk:
        assert desk.brief().entries
        for path in (job, other):
            with pytest.raises(MachineError, match=r"served already at http://127\.0\.0\.1:8377"), serve(path):
                pass
    with serve(other) as desk:
        assert desk.brief().entries


def test_another_job_may_be_served_beside_it(job, tmp_path):
    new_job(Context(), tmp_path / "barge.bwjob", who="laptop")
    with serve(job), serve(tmp_path / "barge.bwjob") as desk:
        assert desk.path.name == "barge.bwjob"


def test_where_the_file_system_knows_no_locks_a_job_is_served_all_the_same(job, monkeypatch):
    def no_locks(_handle):
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(served, "_lock", no_locks)
    with serve(job) as desk:
        assert desk.brief().entries


def test_without_a_folder_of_the_users_the_mark_lies_in_the_temporary_one(job, monkeypatch, tmp_path):
    monkeypatch.setattr(served, "state_folder", lambda: None)
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))
    with serve(job):
        assert len(list(tmp_path.glob("served-*"))) == 1
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path / "nothing" / "here"))
    (tmp_path / "nothing").write_text("")
    with pytest.raises(MachineError, match="No folder can be written"), serve(job):
        pass

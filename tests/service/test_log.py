"""The program's own log: a few files that take turns, in the user's folder."""

from __future__ import annotations

import logging

import pytest

from bandwright.service import log as module
from bandwright.service.log import log_files, start_log


@pytest.fixture
def folder(monkeypatch, tmp_path):
    monkeypatch.setattr(module, "state_folder", lambda: tmp_path / "state")
    ours = logging.getLogger("bandwright")
    before, level = list(ours.handlers), ours.level
    yield tmp_path / "state"
    for handler in set(ours.handlers) - set(before):
        ours.removeHandler(handler)
        handler.close()
    ours.setLevel(level)


def test_what_the_program_notes_lands_in_the_users_folder(folder):
    path = start_log()
    logging.getLogger("bandwright.web.app").info("GET /api/brief 401 0.001 s")
    assert path == folder / "bandwright.log"
    assert "INFO bandwright.web.app GET /api/brief 401" in path.read_text()
    assert log_files() == (path,)


def test_the_log_never_grows_beyond_a_few_files(folder, monkeypatch):
    monkeypatch.setattr(module, "_MOST_BYTES", 1000)
    start_log()
    for number in range(200):
        logging.getLogger("bandwright").info("line %d of many", number)
    names = [path.name for path in log_files()]
    assert names == ["bandwright.log", "bandwright.log.1", "bandwright.log.2", "bandwright.log.3"]
    assert all(path.stat().st_size <= 1000 for path in log_files())
    assert "line 199" in log_files()[0].read_text()


def test_a_log_that_cannot_be_written_stops_nothing(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    for where in (None, tmp_path / "file" / "below"):
        monkeypatch.setattr(module, "state_folder", lambda where=where: where)
        assert start_log() is None
        assert log_files() == ()

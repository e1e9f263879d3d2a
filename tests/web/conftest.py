"""Served jobs: the bundled demonstration, copied for each test."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from plan_runs import run
from served_app import App, served

from bandwright.service.context import Context
from bandwright.service.job import new_demo_job


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch) -> None:
    """Keep what the program notes about itself in a folder of the test."""
    for name in ("XDG_STATE_HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "state"))


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory) -> Path:
    """A job of the demonstration, as it is made."""
    path = tmp_path_factory.mktemp("demo") / "demo.bwjob"
    new_demo_job(Context(), path, who="laptop")
    return path


@pytest.fixture(scope="session")
def planned_file(demo_file, tmp_path_factory) -> Path:
    """The same with a plan in force, and little time for what is asked of the engine after that."""
    path = Path(shutil.copy(demo_file, tmp_path_factory.mktemp("planned") / "planned.bwjob"))
    with served(path) as app:
        client = app.client()
        plan = next(entry for entry in client.get("/api/brief").json()["entries"] if entry["kind"] == "plan")
        wish = {"base": plan["revision"], "changes": {"time_limit_s": 1}}
        assert client.patch(f"/api/entries/{plan['uid']}", json=wish).status_code == 200
        state = run(app, client, time_limit_s=5, seed=1)
    assert state["state"] == "done", state
    return path


@pytest.fixture
def job_file(demo_file, tmp_path) -> Path:
    return Path(shutil.copy(demo_file, tmp_path / "job.bwjob"))


@pytest.fixture
def app(job_file):
    with served(job_file) as made:
        yield made


@pytest.fixture
def planned_app(planned_file, tmp_path):
    with served(Path(shutil.copy(planned_file, tmp_path / "planned.bwjob"))) as made:
        yield made


@pytest.fixture(scope="session")
def shared_app(demo_file, tmp_path_factory):
    """One for all tests that leave the job as it is."""
    with served(Path(shutil.copy(demo_file, tmp_path_factory.mktemp("shared") / "shared.bwjob"))) as made:
        yield made


@pytest.fixture
def laptop(app: App):
    return app.client()

"""`bandwright serve`: what it says, and how it ends."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
from processes import LISTED, NOT_LISTED, alive, children_of, until

from bandwright.cli import run
from bandwright.service.context import Context
from bandwright.service.job import check_job, new_job


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "state"))
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    return work


@pytest.fixture
def job(folder):
    path = folder / "quay.bwjob"
    new_job(Context(), path, who="laptop", title="Quay")
    return path


class Running:
    """`bandwright serve` in a process of its own, as a user runs it."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        command = [sys.executable, "-m", "bandwright", "serve", "--no-open", *arguments]
        self.process = subprocess.Popen(
            command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True
        )
        assert self.process.stderr is not None
        self.told = [self.process.stderr.readline(), self.process.stderr.readline()]
        assert "Serving at" in self.told[0], self.told[0] + self.process.stderr.read()

    @property
    def entrance(self) -> str:
        return self.told[1].strip()

    @property
    def address(self) -> str:
        found = re.search(r"http://127\.0\.0\.1:\d+", self.told[0])
        assert found
        return found[0]

    def stop(self, number: int = signal.SIGINT) -> tuple[int, str]:
        self.process.send_signal(number)
        out, _ = self.process.communicate(timeout=60)
        return self.process.returncode, out


@pytest.fixture
def running(folder):
    started: list[Running] = []

    def start(*arguments: str) -> Running:
        started.append(Running(folder, *arguments))
        return started[-1]

    yield start
    for item in started:
        if item.process.poll() is None:
            item.process.kill()
        item.process.communicate()


def told(capsys) -> str:
    return capsys.readouterr().err.strip()


@pytest.mark.skipif(os.name != "posix", reason="a process is stopped in another way here")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_until_it_is_stopped_and_leaves_one_whole_file(job, running, number):
    app = running(str(job), "--port", "0", "--json")
    with httpx.Client(base_url=app.address, follow_redirects=True) as browser:
        assert browser.get("/api/job").status_code == 401
        page = browser.get(app.entrance)
        assert "key=" not in str(page.url)
        assert browser.get("/api/job").json()["title"] == "Quay"
    code, out = app.stop(number)
    assert code == 0
    assert json.loads(out)["address"] == app.address
    assert [path.name for path in job.parent.iterdir()] == ["quay.bwjob"]


@pytest.mark.skipif(os.name != "posix", reason="a process is stopped in another way here")
def test_a_page_survives_a_restart_since_the_laptops_key_stays(job, running):
    first = running(str(job), "--port", "0")
    with httpx.Client(follow_redirects=True) as browser:
        browser.get(first.entrance)
        cookies = dict(browser.cookies)
    first.stop()
    second = running(str(job), "--port", first.address.rpartition(":")[2])
    assert httpx.get(f"{second.address}/api/job", cookies=cookies).status_code == 200


@pytest.mark.skipif(os.name != "posix", reason="a process is stopped in another way here")
def test_a_job_that_is_served_already_is_told_with_its_address(job, running, capsys):
    app = running(str(job), "--port", "0")
    assert run(["serve", str(job), "--port", "0", "--no-open"]) == 3
    text = told(capsys)
    assert "quay.bwjob is served already" in text
    assert app.address in text
    app.process.kill()
    app.process.wait()
    again = running(str(job), "--port", "0")
    assert again.stop()[0] == 0


@pytest.mark.skipif(not LISTED, reason=NOT_LISTED)
def test_a_server_that_is_killed_leaves_no_process_behind(job, running):
    app = running(str(job), "--port", "0")
    there = children_of(app.process.pid)
    assert there
    app.process.kill()
    app.process.wait()
    assert until(lambda: not any(map(alive, there)))


def test_a_port_that_is_taken_is_told_with_what_to_do(job, capsys):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert run(["serve", str(job), "--port", str(port), "--no-open"]) == 3
    text = told(capsys)
    assert f"Port {port} cannot be had" in text
    assert "--port" in text


def test_a_file_that_is_no_job_is_told(folder, capsys):
    (folder / "quay.toml").write_text("bandwright = 1\n")
    assert run(["serve", "quay.toml", "--port", "0", "--no-open"]) == 2
    text = told(capsys)
    assert "no job file" in text
    assert "bandwright job import" in text
    assert run(["serve", "nothing.bwjob", "--port", "0", "--no-open"]) == 2
    assert "nothing.bwjob" in told(capsys)


def test_without_a_job_file_it_says_how_to_make_one(folder, capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", None)
    monkeypatch.setattr("bandwright.cli.serve.on_terminal", lambda: False)
    assert run(["serve", "--no-open"]) == 2
    text = told(capsys)
    assert "no job file in this folder" in text
    assert "bandwright job new" in text


def test_on_a_terminal_it_offers_an_invented_job_to_look_around_in(folder, capsys, monkeypatch):
    monkeypatch.setattr("bandwright.cli.serve.on_terminal", lambda: True)
    monkeypatch.setattr("click.confirm", lambda text, **_: "lantern-quay.bwjob" in text)
    served = []

    def serve_job(_context, path, **_given):
        served.append(path.name)
        return "http://127.0.0.1:1"

    monkeypatch.setattr("bandwright.web.serve.serve_job", serve_job)
    assert run(["serve", "--no-open"]) == 0
    assert served == ["lantern-quay.bwjob"]
    assert check_job(Context(), folder / "lantern-quay.bwjob").title == "Lantern Quay"
    assert run(["serve", "--no-open"]) == 0
    assert served == ["lantern-quay.bwjob", "lantern-quay.bwjob"]


def test_several_job_files_are_listed_and_kept_old_ones_are_not_counted(job, folder, capsys):
    shutil.copy(job, folder / "barge.bwjob")
    shutil.copy(job, folder / "barge.before-1.bwjob")
    assert run(["serve", "--no-open"]) == 2
    text = told(capsys)
    assert "2 job files in this folder: barge.bwjob, quay.bwjob" in text


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(["--name", "stage.test"], "--lan"), (["--as", " "], "--as"), (["--port", "70000"], "--port")],
)
def test_options_that_make_no_sense_are_refused(job, capsys, arguments, words):
    assert run(["serve", str(job), "--no-open", *arguments]) == 2
    assert words in told(capsys)


def test_nothing_of_the_app_is_loaded_by_other_commands():
    code = (
        "import sys; from bandwright.cli import run; run(['plan', '--help']); print(sorted(m for m in sys.modules if "
    )
    code += "m.split('.')[0] in ('fastapi', 'starlette', 'uvicorn', 'websockets', 'segno') or 'bandwright.web' in m))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"

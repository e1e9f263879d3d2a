"""The program out of the wheel, by its commands alone: a job is made, served, planned, and every page shown."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PAGES = {
    "ready": "Set L01",
    "links": "Links",
    "kit": "Links",
    "air": "Air",
    "plan": "Plan",
    "reach": "Reach",
    "sound": "Sound",
    "sheets": "Sheets",
    "history": "History",
    "devices": "Devices",
}


@pytest.fixture
def entrance(installed, tmp_path) -> Iterator[str]:
    """Serve the demonstration from the wheel, with a plan made by it, and yield the address that lets in."""
    work = tmp_path / "work"
    work.mkdir()
    own = {"PYTHONPATH": str(installed), "XDG_STATE_HOME": str(tmp_path / "state"), "LOCALAPPDATA": str(tmp_path)}
    surroundings = os.environ | own
    program = [sys.executable, "-m", "bandwright"]
    where = "import bandwright; print(bandwright.__file__)"
    found = subprocess.run(
        [sys.executable, "-c", where], cwd=work, env=surroundings, capture_output=True, text=True, check=True
    )
    assert Path(found.stdout.strip()).is_relative_to(installed)
    subprocess.run([*program, "job", "new", "--demo", "quay.bwjob"], cwd=work, env=surroundings, check=True)
    command = [*program, "serve", "quay.bwjob", "--no-open", "--port", "0"]
    with subprocess.Popen(command, cwd=work, env=surroundings, stderr=subprocess.PIPE, text=True) as server:
        assert server.stderr is not None
        told = server.stderr.readline() + server.stderr.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+/\?key=\S+", told)
        assert address, told
        yield address[0]
        server.terminate()


def test_an_installed_program_plans_and_shows_every_page(browser, entrance):
    address = entrance.split("/?")[0]
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    context.set_default_timeout(120_000)  # the first plan may wait for kernels to be compiled
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("response", lambda answer: wrong.append(f"{answer.status} {answer.url}") if answer.status >= 400 else None)
    page.goto(entrance)
    page.goto(f"{address}/#/plan")
    page.get_by_role("button", name="Plan", exact=True).click()
    page.get_by_text("19 links placed").first.wait_for()
    for name, words in PAGES.items():
        page.goto(f"{address}/#/{name}")
        page.get_by_role("heading", name=words).first.wait_for()
    page.goto(f"{address}/#/sheets")
    page.frame_locator("iframe").get_by_text("Lantern Quay").first.wait_for()
    context.close()
    assert wrong == []

"""The walk in README.md is real: its commands are run and must say what it shows; so is the error in docs."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from bandwright.cli import run

README = Path(__file__).parents[1] / "README.md"


def walk():
    """Return (command, shown lines) of each console block, in order."""
    blocks = re.findall(r"```console\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    for block in blocks:
        command, *shown = block.rstrip().split("\n")
        assert command.startswith("$ ")
        yield command[2:], shown


def test_the_walk_in_the_readme_shows_what_the_program_says(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "110")
    steps = list(walk())
    assert len(steps) >= 5
    for command, shown in steps:
        words = shlex.split(command)
        assert words[0] == "bandwright"
        run(words[1:])
        said = capsys.readouterr().out.split("\n")
        rest = iter(said)
        for line in shown:
            if line.strip() != "...":
                found = line.rstrip() in (other.rstrip() for other in rest)
                assert found, "\n".join([f"{command}: {line!r} is not (there) in", *said])


@pytest.mark.parametrize("name", ["demo", "plan", "check", "why", "sweep", "init", "capacity", "replan", "reach"])
def test_the_walk_names_the_command(name):
    assert f"bandwright {name}" in README.read_text(encoding="utf-8")


def test_the_errors_in_the_page_on_json_are_what_the_program_prints(tmp_path, monkeypatch, capsys):
    page = (README.parent / "docs" / "exit-codes.md").read_text(encoding="utf-8")
    command, shown = re.search(r"what `bandwright (.*?)` says:\n\n```json\n(.*?)```", page, re.DOTALL).groups()
    monkeypatch.chdir(tmp_path)
    # Three rows of frequency and level: the least that is read as a sweep.
    Path("base.csv").write_text("470.0,-100\n470.1,-100\n470.2,-100\n", encoding="utf-8")
    assert run(shlex.split(command)) == 2
    assert json.loads(capsys.readouterr().out) == json.loads(shown)

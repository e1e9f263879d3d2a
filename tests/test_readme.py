"""The walk in README.md is real: its commands are run and must say what it shows."""

from __future__ import annotations

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


@pytest.mark.parametrize("name", ["demo", "plan", "check", "why", "sweep", "init"])
def test_the_walk_names_the_command(name):
    assert f"bandwright {name}" in README.read_text(encoding="utf-8")

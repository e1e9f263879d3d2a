"""The demonstration's inputs are files such as a crew would bring."""

from __future__ import annotations

import json
import sys

import pytest

from bandwright.cli import run
from bandwright.reference.demo import demo_air, demo_brief_text
from bandwright.service.demo import sweep_lines, write_demo_inputs


def test_the_inputs_are_written_and_read_back_as_text(tmp_path):
    brief_path, sweep_path = write_demo_inputs(tmp_path / "demo")
    assert brief_path.read_text(encoding="utf-8") == demo_brief_text()
    assert "Łukasz Nguyễn" in brief_path.read_text(encoding="utf-8")
    lines = sweep_path.read_text(encoding="utf-8").splitlines()
    scene = demo_air().scene
    assert len(lines) == scene.sweeps * len(scene.hops)


def test_each_line_holds_as_many_levels_as_its_header_promises():
    line = next(sweep_lines(demo_air()))
    date, time, low, high, step, samples, *levels = [field.strip() for field in line.split(",")]
    assert (date, time) == ("2027-05-14", "08:10:00")
    assert len(levels) == (int(high) - int(low)) / float(step)
    assert int(samples) > 0
    assert -140 < float(levels[0]) < 0


@pytest.mark.skipif(sys.platform != "linux", reason="only there is a folder in which nobody can make one")
def test_a_folder_that_cannot_be_made_is_told_as_such(capsys):
    assert run(["demo", "--out", "/proc/bandwright-demo", "--json"]) == 3
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert error["text"] == (
        "Nothing was written to /proc/bandwright-demo: nothing can be written there. Choose another folder with --out."
    )

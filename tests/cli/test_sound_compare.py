"""`bandwright sound --compare`, as a program: one JSON object, a table, and usage in words."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

BRIEF = """
bandwright = 1
[job]
title = "Lantern Quay"
[[permit]]
id = "shared"
reference = "shared licence"
state = "granted"
windows_mhz = [[606.5, 613.5]]
[[radio]]
id = "tern"
name = "Tern (invented)"
direction = "from-person"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 12.5
spacing_khz = 25
clearance_khz = { "2A-B" = 25 }
companding = [{ name = "full", ratio = 2 }]
"""


def bandwright(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "bandwright", *arguments],
        capture_output=True,
        encoding="utf-8",
        timeout=600,
        check=False,
    )


@pytest.fixture
def brief(tmp_path):
    path = tmp_path / "quay.toml"
    path.write_text(BRIEF, encoding="utf-8")
    return str(path)


def test_a_comparison_is_one_json_object_with_files_beside_it(brief, tmp_path):
    done = bandwright("sound", brief, "--compare", "tern", "--sound", "clapper", "--wav", str(tmp_path / "w"), "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert document["schema"] == "bandwright.sound-compare/1"
    assert document["found"]["next"] is None
    assert document["kinds"][0]["audio_khz"] == pytest.approx(3.125)
    assert sorted(path.name for path in (tmp_path / "w").iterdir()) == [
        "full-far.wav",
        "full-limit.wav",
        "full-near.wav",
        "sent.wav",
    ]


def test_what_does_not_go_together_is_said(brief):
    for options, said in [
        (["--wav", "here"], "goes with --compare only"),
        (["--compare", "tern", "--link", "x"], "do not go with --compare"),
        (["--compare", "tern", "--sound", "keys", "--file", "a.wav"], "name two sounds"),
    ]:
        done = bandwright("sound", brief, *options)
        assert done.returncode == 2
        assert said in done.stderr

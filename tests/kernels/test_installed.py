"""Right answers from an installation that nobody may write to, and from one whose kernels somebody edited."""

from __future__ import annotations

import json
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

import bandwright

PACKAGE = Path(bandwright.__file__).parent

# Every module with kernels is imported, so that each one meets the cache; one of them is called.
PAIRS = """
import json
import numpy as np
from bandwright.core.planning.problem import Choice, Problem
from bandwright.core.planning.verify import examine
from bandwright.engines import prepare
from bandwright.kernels import jit
problem = Problem.apart({name: 0 for name in "abcd"}, [Choice.of([0])], apart_hz=30)
hits = examine(problem, np.array([0, 20, 100, 129])).hits
state = jit.cache_state()
pairs = sorted(sorted((hit.victim, *hit.members)) for hit in hits)
print(json.dumps({"pairs": pairs, "folder": str(state.folder), "files": state.compiled_files}))
"""

BRIEF = """
[job]
title = "Read only"
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606.5, 613.5]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 606.6, high_mhz = 613.4, step_khz = 100 }]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
clearance_khz = { "2A-B" = 100, "A+B-C" = 50 }
[[link]]
id = "L"
count = 4
radio = "heron"
"""


@pytest.fixture
def installed(tmp_path):
    """Return a copy of the package, as an installation would hold it."""
    copy = tmp_path / "site" / "bandwright"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    yield copy
    make_writable(copy, True)


@pytest.fixture
def nobody(tmp_path):
    """Return the environment of somebody whose home can never be made, not even by root: below a file."""
    in_the_way = tmp_path / "a file"
    in_the_way.write_text("no folder", encoding="utf-8")
    home = str(in_the_way / "home")
    return {"HOME": home, "LOCALAPPDATA": home, "XDG_CACHE_HOME": home}


def make_writable(folder, yes):
    for path in [folder, *folder.rglob("*")]:
        mode = path.stat().st_mode
        path.chmod(mode | stat.S_IWUSR if yes else mode & ~(stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH))


def run(installed, *arguments, **environment):
    plain = {key: value for key, value in os.environ.items() if not key.startswith(("BANDWRIGHT", "XDG", "NUMBA"))}
    done = subprocess.run(
        [sys.executable, "-B", *arguments],
        env=plain | {"PYTHONPATH": str(installed.parent)} | environment,
        cwd=installed.parent,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def listing(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_an_installation_that_nobody_may_write_to_and_no_home_change_no_answer(installed, nobody):
    make_writable(installed, False)
    before = listing(installed.parent)
    found = run(installed, "-c", PAIRS, **nobody)
    assert found == {"pairs": [[0, 1], [2, 3]], "folder": "None", "files": 0}
    assert listing(installed.parent) == before


def test_an_installation_that_nobody_may_write_to_plans(installed, nobody, tmp_path):
    make_writable(installed, False)
    before = listing(installed.parent)
    brief = tmp_path / "brief.toml"
    brief.write_text(BRIEF, encoding="utf-8")
    plain = {"BANDWRIGHT_UNCOMPILED": "1", **nobody}
    plan = run(installed, "-m", "bandwright", "plan", str(brief), "--time-limit", "120", "--json", **plain)
    f = [item["carrier_hz"] for item in plan["links"]]
    assert len(f) == 4
    assert all(abs(a - b) >= 350_000 for a in f for b in f if a != b)
    assert all(abs(2 * a - b - c) >= 100_000 for a in f for b in f for c in f if a not in (b, c))
    assert listing(installed.parent) == before


def test_an_edited_kernel_is_compiled_afresh_though_its_file_has_the_same_size_and_time(installed, tmp_path):
    cache = {"BANDWRIGHT_CACHE": str(tmp_path / "cache")}
    source = installed / "kernels" / "check.py"
    original, times = source.read_text(encoding="utf-8"), source.stat()
    first = run(installed, "-c", PAIRS, **cache)
    assert first["files"] > 0
    edited = original.replace("if gap < near[i, j]", "if gap > near[i, j]")
    assert len(edited) == len(original)
    assert edited != original
    source.write_text(edited, encoding="utf-8")
    os.utime(source, ns=(times.st_atime_ns, times.st_mtime_ns))
    second = run(installed, "-c", PAIRS, **cache)
    assert second["pairs"] == [[0, 2], [0, 3], [1, 2], [1, 3]]
    assert second["folder"] != first["folder"]
    source.write_text(original, encoding="utf-8")
    assert run(installed, "-c", PAIRS, **cache) == first


def test_an_installation_elsewhere_and_of_another_day_uses_what_was_compiled(installed, tmp_path):
    cache = {"BANDWRIGHT_CACHE": str(tmp_path / "cache")}
    first = run(installed, "-c", PAIRS, **cache)
    before = listing(tmp_path / "cache")
    elsewhere = tmp_path / "elsewhere" / "bandwright"
    shutil.copytree(installed, elsewhere)
    for source in (elsewhere / "kernels").glob("*.py"):
        os.utime(source, (1, 1))
    assert run(elsewhere, "-c", PAIRS, **cache) == first
    assert first["files"] > 0
    assert listing(tmp_path / "cache") == before

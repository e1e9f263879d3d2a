"""`bandwright doctor`."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import bandwright
from bandwright import cli


def test_doctor_shows_a_line_for_each_thing_and_succeeds_here(capsys):
    assert cli.run(["doctor"]) == 0
    page = capsys.readouterr().out
    for about in ("Python", "packages", "kernel cache", "kernels", "fonts", "time zones", "terminal", "free disk"):
        assert about in page
    assert "Everything that is needed works." in page


def test_doctor_as_json_says_what_to_do_where_something_does_not_simply_work(capsys):
    assert cli.run(["doctor", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "bandwright.doctor/1"
    assert told["ok"] is True
    for finding in told["findings"]:
        assert set(finding) == {"about", "state", "text", "to_do"}
        assert (finding["to_do"] is None) == (finding["state"] == "works")


def test_an_unwritable_home_and_a_read_only_install_work_without_a_kernel_cache(tmp_path):
    installed = tmp_path / "installed"
    shutil.copytree(
        Path(bandwright.__file__).parent, installed / "bandwright", ignore=shutil.ignore_patterns("__pycache__")
    )
    for path in sorted(installed.rglob("*"), reverse=True):
        path.chmod(0o555 if path.is_dir() else 0o444)
    home = tmp_path / "home"
    home.write_text("a file where a folder should be: not even root can write below it", encoding="utf-8")
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("XDG_", "BANDWRIGHT_"))}
    done = subprocess.run(
        [sys.executable, "-m", "bandwright", "doctor", "--json"],
        env={**environment, "HOME": str(home), "PYTHONPATH": str(installed)},
        cwd=tmp_path,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    for path in installed.rglob("*"):
        path.chmod(0o755)
    assert done.returncode == 0, done.stdout + done.stderr
    findings = {finding["about"]: finding for finding in json.loads(done.stdout)["findings"]}
    assert findings["kernel cache"]["state"] == "note"
    assert "BANDWRIGHT_CACHE" in findings["kernel cache"]["to_do"]

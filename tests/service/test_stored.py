"""A plan that is read back: from a folder that was left half-written, and beside a brief it was not made from."""

from __future__ import annotations

import hashlib
import json
import os
import threading

import pytest

from bandwright.cli import run

BRIEF = """
[job]
title = "Lantern Quay (invented)"
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606, 614]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 606.1, high_mhz = 613.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
power_mw = 10
defaults = "analogue-fm-wide"
[[link]]
id = "L01"
radio = "heron"
hold_mhz = 607.000
[[link]]
id = "L02"
radio = "heron"
hold_mhz = 608.000
[plan]
spares = { heron = 1 }
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "brief.toml").write_text(BRIEF)
    assert run(["plan", str(tmp_path / "brief.toml"), "--out", str(tmp_path / "out")]) == 0
    return tmp_path


def why(folder, capsys, code, *, brief="brief.toml", mhz="607.000"):
    """Ask whether L02 may move next to L01, beside the plan in the folder."""
    plan = folder / "out" / "plan.json"
    capsys.readouterr()
    assert run(["why", str(folder / brief), mhz, "--link", "L02", "--plan", str(plan), "--json"]) == code
    return json.loads(capsys.readouterr().out)


def codes(document):
    return [item["code"] for item in document["warnings"]]


def stop_half_way(out):
    """Leave the folder as a loss of power between two renames of a second plan does: one file new, one old."""
    for name in ("plan.json", "carriers.csv"):
        (out / f".{name}.bandwright-old").write_bytes((out / name).read_bytes())
    (out / ".bandwright-undo").write_text('{"plan.json": true, "carriers.csv": true}')
    (out / "carriers.csv").write_text("id,mhz\nL01,999.000\n")
    (out / "plan.json").write_text("half a pl")
    return {path.name: path.read_bytes() for path in out.iterdir()}


def test_the_plan_of_this_brief_is_used_without_a_word(folder, capsys):
    found = why(folder, capsys, 1)
    assert codes(found) == []
    assert any(item["rule"] == "spacing" and item["sources"] == ["L01"] for item in found["findings"])


def test_why_reads_the_earlier_plan_in_a_half_written_folder_and_says_so(folder, capsys):
    whole = why(folder, capsys, 1)
    left = stop_half_way(folder / "out")
    found = why(folder, capsys, 1)
    assert codes(found) == ["half-written"]
    assert found["findings"] == whole["findings"]
    assert found["inputs"] == whole["inputs"]
    assert {path.name: path.read_bytes() for path in (folder / "out").iterdir()} == left


def test_check_reads_the_earlier_carriers_in_a_half_written_folder_and_says_so(folder, capsys):
    stop_half_way(folder / "out")
    capsys.readouterr()
    assert run(["check", str(folder / "brief.toml"), str(folder / "out" / "carriers.csv"), "--json"]) == 0
    assert "half-written" in codes(json.loads(capsys.readouterr().out))


def test_a_first_plan_that_was_stopped_half_way_is_no_plan(folder, capsys):
    (folder / "out" / ".bandwright-undo").write_text('{"plan.json": false, "carriers.csv": false}')
    (error,) = why(folder, capsys, 2)["errors"]
    assert error["code"] == "half-written"
    assert "before it there was no plan" in error["text"]


def test_the_next_plan_puts_the_folder_in_order(folder, capsys):
    stop_half_way(folder / "out")
    assert run(["plan", str(folder / "brief.toml"), "--out", str(folder / "out")]) == 0
    assert codes(why(folder, capsys, 1)) == []
    assert json.loads((folder / "out" / "plan.json").read_text())["number"] == 2


@pytest.mark.parametrize(
    ("old", "new", "code", "says"),
    [
        ("Lantern Quay", "Gull Pier", "plan-of-another-job", 'made for "Lantern Quay (invented)"'),
        ("608.000", "609.000", "brief-changed", "another version of this brief"),
        ('"L01"', '"L09"', "plan-links-unknown", "do not count here: L01"),
    ],
)
def test_a_plan_that_is_not_of_this_brief_is_used_and_that_is_said(folder, capsys, old, new, code, says):
    (folder / "other.toml").write_text(BRIEF.replace(old, new))
    found = why(folder, capsys, 1, brief="other.toml", mhz="613.000")  # L02 is held elsewhere
    assert [item["text"] for item in found["warnings"] if item["code"] == code and says in item["text"]]
    plan = str(folder / "out" / "plan.json")
    assert run(["why", str(folder / "other.toml"), "613.000", "--link", "L02", "--plan", plan]) == 1
    assert says in " ".join(capsys.readouterr().out.split())  # where lines break depends on the check phrase


def test_a_plan_none_of_whose_links_the_brief_knows_is_refused(folder, capsys):
    text = BRIEF.replace('"L01"', '"A1"').replace('"L02"', '"A2"')
    (folder / "other.toml").write_text(text)
    plan = str(folder / "out" / "plan.json")
    assert run(["why", str(folder / "other.toml"), "613.000", "--link", "A2", "--plan", plan, "--json"]) == 2
    (error,) = json.loads(capsys.readouterr().out.splitlines()[-1])["errors"]
    assert (error["code"], error["file"]) == ("other-job", plan)
    assert "none of its links (L01, L02)" in error["text"]


@pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="a file without end is there on Unix only")  # noqa: PTH110
@pytest.mark.parametrize("arguments", [["capacity", "/dev/zero"], ["replan", "brief.toml", "/dev/zero"]])
def test_of_a_file_without_end_no_more_is_read_than_a_brief_or_plan_may_have(folder, arguments, monkeypatch, capsys):
    monkeypatch.chdir(folder)
    capsys.readouterr()
    assert run([*arguments, "--json"]) == 2
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert error["code"] == "too-large"
    assert "of more than 16 MiB is not read" in error["text"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name are there on Unix only")
def test_a_brief_from_a_pipe_is_read_once_and_its_hash_is_that_of_what_was_read(folder, capsys):
    pipe = folder / "pipe.toml"
    os.mkfifo(pipe)
    writer = threading.Thread(target=lambda: pipe.write_text(BRIEF), daemon=True)
    writer.start()
    capsys.readouterr()
    assert run(["why", str(pipe), "607.000", "--link", "L01", "--json"]) == 0
    writer.join()
    inputs = json.loads(capsys.readouterr().out)["inputs"]
    assert inputs[0]["sha256"] == hashlib.sha256(BRIEF.encode()).hexdigest()

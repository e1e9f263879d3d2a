"""The main job end to end on the bundled production: brief and sweep in, carriers, evidence and sheets out."""

from __future__ import annotations

import csv
import json
import os
import threading
from importlib import resources
from pathlib import Path

import pymupdf
import pytest
from jsonschema import Draft202012Validator

from bandwright.cli import run
from bandwright.reference.demo import demo_air
from bandwright.service.demo import BRIEF_NAME, SWEEP_NAME, write_demo_inputs


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("demo")
    write_demo_inputs(made)
    return made


@pytest.fixture(scope="module")
def sheets(folder):
    brief, sweep, out = (str(folder / name) for name in (BRIEF_NAME, SWEEP_NAME, "sheets"))
    code = run(["plan", brief, "--sweep", sweep, "--own-transmitters", "off", "--out", out])
    assert code == 0
    return folder / "sheets"


def plan_of(sheets):
    return json.loads((sheets / "plan.json").read_text())


def test_every_link_and_spare_carrier_is_placed_and_the_files_are_there(sheets):
    plan = plan_of(sheets)
    assert len(plan["links"]) == 19
    assert len(plan["spares"]) == 4
    assert plan["unplaced"] == []
    assert plan["bound"]["status"] == "proven"
    names = {path.name for path in sheets.iterdir()}
    assert {"plan.json", "carriers.csv", "sheet.pdf", "sheet.html", "sweep.svg"} <= names


def test_all_links_and_notes_stand_on_one_printed_page_and_the_sweep_on_the_next(sheets):
    table, picture, waterfall = pymupdf.open(sheets / "sheet.pdf")
    text = " ".join(table.get_text().split())
    plan = plan_of(sheets)
    assert [item["id"] for item in plan["links"] if item["id"] not in text] == []
    assert [item["text"] for item in plan["warnings"] if item["text"] not in text] == []
    assert "L01" in picture.get_text()
    assert "over time" in waterfall.get_text()


def test_the_plan_document_fits_its_published_schema(sheets):
    schema = json.loads(resources.files("bandwright.documents").joinpath("schemas", "plan.json").read_text())
    Draft202012Validator(schema).validate(plan_of(sheets))


def test_no_carrier_lies_on_a_multiplex_that_only_the_sweep_knows_of(sheets):
    # TV channel 45 is on the air in the generated scene, inside a permit window, and not in the brief's list.
    labels = {item["tv_channel"] for item in [*plan_of(sheets)["links"], *plan_of(sheets)["spares"]]}
    assert "45" not in labels
    on_air = [round((m.centre_hz - 306_000_000) / 8_000_000) for m in demo_air().scene.multiplexes]
    assert 45 in on_air


def test_the_held_link_stays_where_it_is(sheets):
    held = next(item for item in plan_of(sheets)["links"] if item["id"] == "L04")
    assert held["carrier_hz"] == 609_400_000
    assert held["carrier_mhz"] == "609.400"


def test_a_plan_passes_check_and_its_list_moved_onto_a_neighbour_does_not(folder, sheets, capsys, tmp_path):
    arguments = [str(folder / BRIEF_NAME), str(sheets / "carriers.csv"), "--sweep", str(folder / SWEEP_NAME)]
    assert run(["check", *arguments, "--own-transmitters", "off", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["ok"] is True
    rows = list(csv.DictReader((sheets / "carriers.csv").read_text().splitlines()))
    moved = tmp_path / "moved.csv"
    moved.write_text("link,mhz\n" + "".join(f"{row['id']},{rows[0]['mhz']}\n" for row in rows[:2]))
    assert run(["check", str(folder / BRIEF_NAME), str(moved), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert {v["rule"] for v in found["violations"]} >= {"spacing"}


def test_two_runs_are_equal_but_for_what_stands_under_run(folder, sheets, capsys):
    arguments = ["plan", str(folder / BRIEF_NAME), "--sweep", str(folder / SWEEP_NAME), "--json", "--time-limit", "600"]
    results = []
    for _ in range(2):
        run(arguments)
        document = json.loads(capsys.readouterr().out)
        document.pop("run")
        results.append(document)
    assert results[0] == results[1]


def test_why_names_the_rule_that_stops_a_carrier_and_exits_with_one(folder, sheets, capsys):
    plan = str(sheets / "plan.json")
    assert run(["why", str(folder / BRIEF_NAME), "609.400", "--link", "L01", "--plan", plan, "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["allowed"] is False
    assert any(f["rule"] == "spacing" and "L04" in f["sources"] for f in found["findings"])


def test_a_second_plan_into_the_same_folder_gets_the_next_number(folder, sheets):
    before = plan_of(sheets)["number"]
    assert run(["plan", str(folder / BRIEF_NAME), "--out", str(sheets), "--time-limit", "1"]) in (0, 1)
    assert plan_of(sheets)["number"] == before + 1


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("", "missing", "job"),
        ("bandwright = 1\n[job\n", "no-toml", "TOML"),
        (
            '[job]\ntitle = "x"\ncolour = "red"\n[[permit]]\nid = "p"\nstate = "granted"\nwindows_mhz = [[1, 2]]\n',
            "unknown-key",
            "colour",
        ),
    ],
)
def test_a_brief_that_cannot_be_understood_says_so_once_and_writes_nothing(text, code, words, tmp_path, capsys):
    brief = tmp_path / "brief.toml"
    brief.write_text(text)
    assert run(["plan", str(brief), "--out", str(tmp_path / "out"), "--json"]) == 2
    errors = json.loads(capsys.readouterr().out)["errors"]
    assert any(error["code"] == code and words in error["text"] for error in errors)
    assert not (tmp_path / "out").exists()


def recordings():
    stated = os.environ.get("BANDWRIGHT_RECORDINGS")
    return Path(stated) if stated else Path(__file__).resolve().parents[3] / "shared" / "sweeps"


FM_BRIEF = """
[job]
title = "A plan against a recording of a full broadcast band"
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[87.6, 107.9]]
[[radio]]
id = "r"
tuning = [{ low_mhz = 87.6, high_mhz = 107.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
power_mw = 10
defaults = "analogue-fm-wide"
[[link]]
id = "L"
radio = "r"
count = 8
"""


def test_a_plan_against_a_recording_by_others_passes_check(tmp_path, capsys):
    sweep = recordings() / "fm_band_50_sweeps_as_columns.csv"
    if not sweep.exists():
        pytest.skip(f"recordings by others are not in {recordings()}")
    brief = tmp_path / "fm.toml"
    brief.write_text(FM_BRIEF)
    code = run(["plan", str(brief), "--sweep", str(sweep), "--out", str(tmp_path / "out")])
    assert code == 0
    capsys.readouterr()
    carriers = tmp_path / "out" / "carriers.csv"
    assert run(["check", str(brief), str(carriers), "--sweep", str(sweep), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["ok"] is True


def test_check_says_which_carriers_no_sweep_measured(folder, sheets, capsys, tmp_path):
    aside = tmp_path / "fm.csv"  # a sweep of 88 to 90 MHz says nothing of any link
    aside.write_text("2027-05-14, 08:10:00, 88000000, 90000000, 25000.00, 10, " + ", ".join(["-100.0"] * 80) + "\n")
    assert run(["check", str(folder / BRIEF_NAME), str(sheets / "carriers.csv"), "--sweep", str(aside), "--json"]) == 0
    warnings = {w["code"]: w["text"] for w in json.loads(capsys.readouterr().out)["warnings"]}
    assert warnings["unmeasured"].count("L0") == 9
    assert "own-transmitters-unknown" in warnings


def test_a_plan_stopped_by_hand_says_so_and_ends_with_130(folder, capsys, monkeypatch):
    monkeypatch.setattr(threading.Event, "is_set", lambda _: True)
    assert run(["plan", str(folder / BRIEF_NAME), "--json"]) == 130
    found = json.loads(capsys.readouterr().out)
    assert found["run"]["stopped"] == "cancelled"
    assert found["unplaced"] == [] or "ended-by-cancelled" in {w["code"] for w in found["warnings"]}


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["why", "606.7", "--link", "L01", "--radio", "heron"], "two-subjects"),
        (["why", "1e400", "--link", "L01"], "not-a-number"),
        (["plan", "--time-limit", "nan"], "bad-value"),
        (["plan", "--time-limit", "inf"], "bad-value"),
    ],
)
def test_what_makes_no_sense_on_the_command_line_is_refused_in_words(arguments, code, folder, capsys):
    name, *rest = arguments
    assert run([name, str(folder / BRIEF_NAME), *rest, "--json"]) == 2
    assert [e["code"] for e in json.loads(capsys.readouterr().out)["errors"]] == [code]


def test_a_file_in_the_way_of_the_outputs_is_told_before_any_work(folder, capsys):
    taken = str(folder / BRIEF_NAME)
    for arguments in (["demo", "--out", taken], ["plan", taken, "--out", taken]):
        assert run([*arguments, "--json"]) == 2
        assert [e["code"] for e in json.loads(capsys.readouterr().out)["errors"]] == ["out-not-a-folder"]


def test_why_on_a_tv_channel_that_only_the_sweep_knows_of_does_not_call_it_unclosed(folder, capsys):
    # TV channel 45 (662 to 670 MHz) is on the air in the generated scene, and not in the brief's list.
    brief = str(folder / BRIEF_NAME)
    assert run(["why", brief, "664", "--link", "E02", "--sweep", str(folder / SWEEP_NAME), "--json"]) == 1
    rules = {item["rule"]: item["text"] for item in json.loads(capsys.readouterr().out)["findings"]}
    assert "does not close TV channel 45, but the sweep shows a multiplex here" in rules["tv"]
    assert run(["why", brief, "664", "--link", "E02", "--json"]) == 0
    rules = {item["rule"]: item["text"] for item in json.loads(capsys.readouterr().out)["findings"]}
    assert rules["tv"] == "TV channel 45 is not closed here."
    assert rules["unmeasured"] == "No sweep was given: nothing tells whether it is quiet."


def test_check_names_the_first_of_many_missing_links_and_all_of_them_in_json(folder, tmp_path, capsys):
    short = tmp_path / "short.csv"
    short.write_text("link,mhz\nL04,609.400\n")
    assert run(["check", str(folder / BRIEF_NAME), str(short), "--json"]) == 0
    told = next(w for w in json.loads(capsys.readouterr().out)["warnings"] if w["code"] == "not-listed")
    assert told["text"] == (
        "18 links of the brief are not in the list and were not checked: L01, L02, L03, L05, L06 and 13 more."
    )
    assert len(told["where"].split(", ")) == 18


def test_check_says_who_shares_a_carrier_and_keeps_to_the_terminal(folder, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "70")
    both = tmp_path / "both.csv"
    both.write_text("link,mhz\nL08,606.700\nH02,606.700\nL01,606.700\n")
    assert run(["check", str(folder / BRIEF_NAME), str(both)]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert "L08 shares 606.700 MHz with H02 (the brief says they do not hear each other)" in " ".join(
        " ".join(lines).split()
    )
    assert max(map(len, lines)) <= 70

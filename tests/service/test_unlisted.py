"""Carriers that a sweep shows and nobody listed: told, written as entries to edit, never taken over silently."""

import json
import tomllib

import pytest

from bandwright.cli import run
from bandwright.reference.demo import demo_air, demo_brief_text
from bandwright.service.demo import BRIEF_NAME, SWEEP_NAME, write_demo_inputs


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("unlisted")
    write_demo_inputs(made)
    return made


@pytest.fixture
def answer(folder, capsys, monkeypatch):
    monkeypatch.chdir(folder)

    def ask(code, *words):
        assert run([*words, "--json"]) == code
        return json.loads(capsys.readouterr().out)

    return ask


def truth():
    """Return the carriers of the generated scene that its brief does not list, in Hz."""
    listed = {round(float(other["carrier_mhz"]) * 1e6) for other in tomllib.loads(demo_brief_text())["other"]}
    return sorted(item.carrier_hz for item in demo_air().scene.carriers if item.carrier_hz not in listed)


def warning(document):
    (found,) = (item for item in document["warnings"] if item["code"] == "carriers-not-listed")
    return found


def test_the_plan_names_the_carriers_that_the_scene_has_and_the_brief_does_not(answer):
    told = warning(answer(0, "plan", BRIEF_NAME, "--sweep", SWEEP_NAME, "--own-transmitters", "off"))
    assert len(truth()) == 2
    assert "shows 2 carriers that the brief does not list" in told["text"]
    assert "your own" not in told["text"]
    assert told["text"].endswith("but counts no products of it until it is noted as another user.")
    seen = [float(part.rpartition(" ")[2]) for part in told["text"].split(" MHz")[:-1]]
    assert seen == pytest.approx([hz / 1e6 for hz in truth()], abs=0.025)


@pytest.mark.parametrize(
    "words", [("plan", BRIEF_NAME, "--sweep", SWEEP_NAME), ("sweep", SWEEP_NAME, "--brief", BRIEF_NAME)]
)
def test_only_a_terminal_says_what_to_type(folder, capsys, monkeypatch, words):
    monkeypatch.chdir(folder)
    assert run([*words]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert told.count("bandwright sweep FILE --brief BRIEF --others NEW.toml writes [[other]] entries") == 1
    assert run([*words, "--json"]) == 0
    assert [item for item in json.loads(capsys.readouterr().out)["warnings"] if "--" in item["text"]] == []


def test_the_carriers_become_entries_that_a_brief_takes_over_word_by_word(answer, folder, tmp_path):
    file = tmp_path / "seen" / "others.toml"
    found = answer(0, "sweep", SWEEP_NAME, "--brief", BRIEF_NAME, "--others", str(file))
    assert found["others_written"] == str(file)
    assert "Some may be your own transmitters." in warning(found)["text"]  # nobody said whether they were off
    entries = tomllib.loads(file.read_text())["other"]
    assert [item["carrier_mhz"] for item in entries] == pytest.approx([hz / 1e6 for hz in truth()], abs=0.025)
    assert not any("level_dbm" in item for item in entries)  # this sweep is in uncalibrated dB
    longer = folder / "longer.toml"
    longer.write_text((folder / BRIEF_NAME).read_text() + file.read_text())
    after = answer(0, "plan", longer.name, "--sweep", SWEEP_NAME, "--own-transmitters", "off")
    assert "carriers-not-listed" not in [item["code"] for item in after["warnings"]]


def test_without_a_brief_all_carriers_are_written(answer, tmp_path):
    answer(0, "sweep", SWEEP_NAME, "--raster", "region1", "--others", str(tmp_path / "all.toml"))
    entries = tomllib.loads((tmp_path / "all.toml").read_text())["other"]
    every = sorted(item.carrier_hz / 1e6 for item in demo_air().scene.carriers)
    assert [item["carrier_mhz"] for item in entries] == pytest.approx(every, abs=0.025)


def test_a_file_that_is_there_is_not_written_over(answer, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text("mine")
    (error,) = answer(2, "sweep", SWEEP_NAME, "--others", str(file))["errors"]
    assert (error["code"], error["file"]) == ("exists", str(file))
    assert file.read_text() == "mine"


def narrow(low_khz, high_khz, *peaks):
    """Return a calibrated sweep on a grid of 25 kHz: noise that swings by 1 dB, and peaks 50 dB above it."""
    rows = [
        f"{khz / 1000:.3f},{-110 + number % 3 / 2 + 50 * any(abs(khz - peak) <= 50 for peak in peaks):.1f}"
        for number, khz in enumerate(range(low_khz, high_khz + 1, 25))
    ]
    return "\n".join(["MHz,dBm", *rows, ""])


TWO_PLACES = """\
[job]
title = "Two"
[[place]]
id = "quay"
timezone = "UTC"
[[place]]
id = "yard"
timezone = "UTC"
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606, 614]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 606, high_mhz = 614, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
defaults = "analogue-fm-wide"
[[link]]
id = "Q"
radio = "heron"
place = "quay"
hold_mhz = 610
[[link]]
id = "Y"
radio = "heron"
place = "yard"
[[other]]
id = "known"
carrier_mhz = 608
bandwidth_khz = 150
place = "yard"
"""


def test_each_place_lists_its_own_with_level_where_that_is_known(answer, folder, tmp_path):
    (folder / "two.toml").write_text(TWO_PLACES)
    (folder / "quay.csv").write_text(narrow(606_000, 614_000, 608_000, 610_000))
    (folder / "yard.csv").write_text(narrow(606_000, 614_000, 608_000, 612_000))
    file = tmp_path / "two.toml"
    answer(0, "sweep", "quay=quay.csv", "yard=yard.csv", "--brief", "two.toml", "--others", str(file))
    entries = tomllib.loads(file.read_text())["other"]
    assert [(item["place"], round(item["carrier_mhz"], 1)) for item in entries] == [
        ("quay", 608.0),
        ("quay", 610.0),
        ("yard", 612.0),
    ]
    # Five bins of 25 kHz at -60 to -59 dBm each hold -53 to -52 dBm.
    assert [item["level_dbm"] for item in entries] == pytest.approx([-52.5] * 3, abs=0.5)


def test_with_own_transmitters_on_a_held_link_accounts_for_its_carrier(answer, folder):
    (folder / "two.toml").write_text(TWO_PLACES)
    (folder / "on.csv").write_text(narrow(606_000, 614_000, 607_000, 610_000))
    words = ("plan", "two.toml", "--sweep", "quay=on.csv", "--own-transmitters")
    assert "shows 2 carriers" in warning(answer(1, *words, "off"))["text"]  # an intruder closes the held carrier
    told = warning(answer(1, *words, "on"))["text"]
    assert "shows a carrier that the brief does not list: 60" in told
    assert "61" not in told.partition("MHz")[0]
    assert "Some may be your own" in told

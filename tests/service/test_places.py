"""A brief of two places: sweeps count where they were made, and a spare carrier must hold wherever it may be needed."""

from __future__ import annotations

import csv
import json

import pytest

from bandwright.cli import run

BRIEF = """
[job]
title = "Two shores (invented)"
[[place]]
id = "quay"
name = "Quay stage"
tv_raster = "region1"
[[place]]
id = "yard"
name = "Boat yard"
tv_raster = "region1"
{yard}
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606, 622]]
[[radio]]
id = "heron"
tuning = [{{ low_mhz = 606.1, high_mhz = 621.9, step_khz = 25 }}]
emission = "fm"
bandwidth_khz = 200
power_mw = 10
defaults = "analogue-fm-wide"
[[link]]
id = "Q1"
radio = "heron"
place = "quay"
[[link]]
id = "Y1"
radio = "heron"
place = "yard"
{more}
[plan]
spares = {{ heron = 2 }}
unmeasured = "{unmeasured}"
"""


def sweep_text(low_khz, high_khz, *, loud=()):
    """Levels on a grid of 25 kHz: noise that swings by 1 dB, and 60 dB more in the loud spans (kHz)."""
    rows = ["MHz,dBm"]
    for number, khz in enumerate(range(low_khz, high_khz + 1, 25)):
        level = -110 + number % 3 / 2 + 60 * any(low <= khz <= high for low, high in loud)
        rows.append(f"{khz / 1000:.3f},{level:.1f}")
    return "\n".join(rows) + "\n"


@pytest.fixture
def files(tmp_path):
    """Return a function that writes the brief and the sweeps, and returns the folder."""

    def write(*, yard="", more="", unmeasured="avoid", **sweeps):
        (tmp_path / "two.toml").write_text(BRIEF.format(yard=yard, more=more, unmeasured=unmeasured))
        for name, text in sweeps.items():
            (tmp_path / f"{name}.csv").write_text(text)
        return tmp_path

    return write


def answer(capsys, code, *arguments):
    assert run([*map(str, arguments), "--json"]) == code
    return json.loads(capsys.readouterr().out)


def check(capsys, folder, code, carriers, *more):
    (folder / "list.csv").write_text("id,mhz\n" + "".join(f"{name},{mhz}\n" for name, mhz in carriers.items()))
    return answer(capsys, code, "check", folder / "two.toml", folder / "list.csv", *more)


def test_a_spare_carrier_keeps_off_what_is_closed_at_either_place(files, capsys):
    # TV channel 39 (614 to 622 MHz) is closed at the second place only, TV 38 (606 to 614 MHz) nowhere.
    folder = files(yard='tv_closed = ["39"]')
    plan = answer(capsys, 0, "plan", folder / "two.toml")
    assert len(plan["spares"]) == 2
    assert all(item["carrier_hz"] + 100_000 <= 614_000_000 for item in plan["spares"])


def test_check_and_why_agree_on_a_spare_carrier_that_is_closed_at_the_second_place(files, capsys):
    folder = files(yard='tv_closed = ["39"]')
    found = check(capsys, folder, 1, {"heron-spare-1": "618.000"})["violations"]
    why = answer(capsys, 1, "why", folder / "two.toml", "618.000", "--link", "heron-spare-1")["findings"]
    stops = [(item["rule"], item["text"]) for item in why if item["verdict"] == "stops"]
    assert [(item["rule"], item["text"]) for item in found] == stops
    assert [rule for rule, _ in stops] == ["tv"]
    assert "heron-spare-1 on 618.000 MHz at Boat yard" in stops[0][1]
    assert "TV channel 39 is not closed at Quay stage." in {item["text"] for item in why}
    any_link = answer(capsys, 1, "why", folder / "two.toml", "618.000", "--radio", "heron")["findings"]
    assert [item["rule"] for item in any_link if item["verdict"] == "stops"] == ["tv"]


def test_what_is_the_same_at_all_places_is_said_once(files, capsys):
    found = check(capsys, files(), 1, {"heron-spare-1": "618.010"})["violations"]
    assert [item["rule"] for item in found] == ["tuning"]


def test_an_other_user_at_the_second_place_keeps_a_spare_carrier_away(files, capsys):
    folder = files(more='[[other]]\nid = "o"\ncarrier_mhz = 612\nbandwidth_khz = 12.5\nplace = "yard"')
    found = check(capsys, folder, 1, {"heron-spare-1": "612.100"})["violations"]
    assert [(item["rule"], item["sources"]) for item in found] == [("other", ["o"])]
    assert check(capsys, folder, 0, {"Q1": "612.100"})["ok"]


def test_a_permit_of_one_place_does_not_cover_a_spare_carrier_for_two(files, capsys):
    folder = files(more='[[permit]]\nid = "q"\nstate = "granted"\nplace = "yard"\nwindows_mhz = [[606, 607]]')
    brief = folder / "two.toml"
    brief.write_text(brief.read_text().replace("[[606, 622]]", "[[608, 622]]"))
    found = check(capsys, folder, 1, {"heron-spare-1": "606.500"})["violations"]
    assert [item["rule"] for item in found] == ["permit"]
    assert "at Quay stage" in found[0]["text"]
    assert check(capsys, folder, 0, {"Y1": "606.500"})["ok"]


def test_a_spare_carrier_of_a_type_that_works_at_one_place_is_judged_there_only(files, capsys):
    folder = files(yard='tv_closed = ["39"]')
    brief = folder / "two.toml"
    brief.write_text(brief.read_text().replace('place = "yard"', 'place = "quay"'))
    assert check(capsys, folder, 0, {"heron-spare-1": "618.000"})["ok"]
    brief.write_text(brief.read_text().replace('place = "quay"', 'place = "yard"'))
    assert not check(capsys, folder, 1, {"heron-spare-1": "618.000"})["ok"]


def test_a_spare_carrier_without_any_link_of_its_type_is_judged_everywhere(files, capsys):
    folder = files(yard='tv_closed = ["39"]')
    brief = folder / "two.toml"
    text = brief.read_text()
    brief.write_text(text[: text.index("[[link]]")] + text[text.index("[plan]") :])
    assert not check(capsys, folder, 1, {"heron-spare-1": "618.000"})["ok"]


def test_only_the_sweeps_of_its_own_place_close_a_carrier(files, capsys):
    folder = files(quiet=sweep_text(606_000, 622_000), loud=sweep_text(606_000, 622_000, loud=[(611_900, 612_100)]))
    sweeps = ["--sweep", f"quay={folder / 'quiet.csv'}", "--sweep", f"yard={folder / 'loud.csv'}"]
    carriers = {"Q1": "612.000", "heron-spare-1": "609.000"}
    assert check(capsys, folder, 0, carriers, *sweeps)["ok"]
    found = check(capsys, folder, 1, {"Q1": "609.000", "Y1": "612.000"}, *sweeps)["violations"]
    assert [(item["rule"], item["victim"]) for item in found] == [("noise", "Y1")]
    found = check(capsys, folder, 1, {"heron-spare-1": "612.000"}, *sweeps)["violations"]
    assert [item["rule"] for item in found] == ["noise"]
    assert "at Boat yard: closed by loud.csv" in found[0]["text"]


def test_a_spare_carrier_is_measured_where_it_was_at_every_place(files, capsys):
    folder = files(one=sweep_text(606_000, 622_000), two=sweep_text(606_000, 612_000))
    sweeps = ["--sweep", f"quay={folder / 'one.csv'}", "--sweep", f"yard={folder / 'two.csv'}"]
    plan = answer(capsys, 0, "plan", folder / "two.toml", *sweeps)
    assert all(item["carrier_hz"] < 612_000_000 for item in plan["spares"])
    found = check(capsys, folder, 0, {"heron-spare-1": "618.000", "Q1": "617.000"}, *sweeps)["warnings"]
    assert ["heron-spare-1" in item["text"] for item in found if item["code"] == "unmeasured"] == [True]
    folder = files(unmeasured="close")
    found = check(capsys, folder, 1, {"heron-spare-1": "618.000"}, *sweeps)["violations"]
    assert [item["rule"] for item in found] == ["unmeasured"]


def test_a_sweep_without_a_place_counts_for_every_place_and_that_is_said_once(files, capsys):
    folder = files(loud=sweep_text(606_000, 622_000, loud=[(611_900, 612_100)]))
    sweep = ["--sweep", folder / "loud.csv"]
    found = check(capsys, folder, 1, {"Q1": "612.000", "Y1": "612.000"}, *sweep)
    assert [item["victim"] for item in found["violations"]] == ["Q1", "Y1"]
    why = answer(capsys, 1, "why", folder / "two.toml", "612.000", "--link", "Q1", *sweep)
    plan = answer(capsys, 0, "plan", folder / "two.toml", *sweep)
    for document in (found, why, plan):
        told = [item for item in document["warnings"] if item["code"] == "sweep-place-unknown"]
        assert len(told) == 1
        assert "loud.csv was made, so it counts for every place." in told[0]["text"]
        assert "--sweep" not in told[0]["text"]
    assert run(["plan", str(folder / "two.toml"), *map(str, sweep)]) == 0
    assert "Say so with --sweep quay=loud.csv." in " ".join(capsys.readouterr().out.split())


def test_a_word_before_the_file_that_is_no_place_lists_the_places(files, capsys):
    folder = files(quiet=sweep_text(606_000, 622_000))
    error = answer(capsys, 2, "plan", folder / "two.toml", "--sweep", "yrad=base.csv")["errors"][0]
    assert error["code"] == "unknown-place"
    assert "quay" in error["allowed"]
    assert "yard" in error["hint"]
    error = answer(capsys, 2, "plan", folder / "two.toml", "--sweep", "yard=")["errors"][0]
    assert (error["code"], error["text"]) == ("no-file", '"yard=" names no file behind the place.')
    (folder / "a=b.csv").write_text((folder / "quiet.csv").read_text())
    assert (
        answer(capsys, 0, "plan", folder / "two.toml", "--sweep", folder / "a=b.csv")["inputs"][1]["name"] == "a=b.csv"
    )


def test_each_place_with_a_sweep_has_its_picture_and_says_which_it_is(files, capsys):
    folder = files(one=sweep_text(606_000, 622_000), two=sweep_text(606_000, 622_000))
    sweeps = ["--sweep", f"quay={folder / 'one.csv'}", "--sweep", f"yard={folder / 'two.csv'}"]
    answer(capsys, 0, "plan", folder / "two.toml", *sweeps, "--out", folder / "out")
    first, second = ((folder / "out" / name).read_text() for name in ("sweep.svg", "sweep-2.svg"))
    for picture, place, there, elsewhere in ((first, "Quay stage", "Q1", "Y1"), (second, "Boat yard", "Y1", "Q1")):
        assert f"Two shores (invented), {place}" in picture
        assert f">{there}<" in picture
        assert f">{elsewhere}<" not in picture
    rows = list(csv.DictReader((folder / "out" / "carriers.csv").read_text().splitlines()))
    assert {row["id"] for row in rows} == {"Q1", "Y1", "heron-spare-1", "heron-spare-2"}
    sheet = (folder / "out" / "sheet.html").read_text()
    assert sheet.count("<figure>") == 2
    assert "one.csv, at Quay stage" in sheet


def test_a_plan_without_sweeps_takes_the_older_pictures_away_and_no_file_of_others(files, capsys):
    folder = files(one=sweep_text(606_000, 622_000))
    brief, out = folder / "two.toml", folder / "out"
    answer(capsys, 0, "plan", brief, "--sweep", folder / "one.csv", "--out", out)
    (out / "sweep-notes.svg").write_text("mine")
    assert {path.name for path in out.glob("*.svg")} == {"sweep.svg", "sweep-2.svg", "sweep-notes.svg"}
    answer(capsys, 0, "plan", brief, "--out", out)
    assert {path.name for path in out.glob("*.svg")} == {"sweep-notes.svg"}

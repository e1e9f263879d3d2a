"""One brief with everything that sets links apart or lets them share, from the text to plan, check and why."""

from __future__ import annotations

import csv
import io
import itertools
import json

import pytest

from bandwright.cli import run

BRIEF = """
[job]
title = "Mixed"
dates = [2027-05-14, 2027-05-15]

[[place]]
id = "quay"
timezone = "Europe/Lisbon"

[[permit]]
id = "shared"
state = "granted"
windows_mhz = [[606.0, 622.0]]

[[radio]]
id = "heron"
tuning = [{ low_mhz = 606.1, high_mhz = 621.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
spacing_khz = 350
clearance_khz = { "2A-B" = 100, "A+B-C" = 50 }
front_end_window_mhz = 6
channels_per_unit = 2

[[radio]]
id = "siskin"
direction = "to-person"
tuning = [{ low_mhz = 606.15, high_mhz = 621.85, step_khz = 50 }]
emission = "fm-stereo"
bandwidth_khz = 200
spacing_khz = 500
clearance_khz = { "2A-B" = 150 }

[[radio]]
id = "dipper"
direction = "both"
presets = [{ label = "1", mhz = 608.0125 }, { label = "2", mhz = 621.5125 }]
emission = "fm"
bandwidth_khz = 12.5
spacing_khz = 100

[[earshot]]
id = "stage"
[[earshot]]
id = "foyer"
[[earshot]]
id = "yard"
[[isolation]]
between = ["stage", "foyer"]
db = 45
[[isolation]]
between = ["stage", "yard"]
db = 70

[[unit]]
id = "R1"
radio = "heron"
[[unit]]
id = "R2"
radio = "heron"

[[link]]
id = "lead"
radio = "heron"
earshot = "stage"
wearer = "mara"
unit = "R1"
apart_from = ["backup"]
[[link]]
id = "backup"
radio = "heron"
earshot = "stage"
unit = "R2"
[[link]]
id = "second"
radio = "heron"
earshot = "stage"
unit = "R1"
[[link]]
id = "ear"
radio = "siskin"
earshot = "stage"
wearer = "mara"
role = "in-ear"
[[link]]
id = "stage-talk"
radio = "dipper"
earshot = "stage"
[[link]]
id = "yard-talk"
radio = "dipper"
earshot = "yard"
count = 2
[[link]]
id = "host"
radio = "heron"
earshot = "foyer"
count = 3
[[link]]
id = "night"
radio = "heron"
earshot = "yard"
on_air = [{ start = "22:00", end = "02:00" }]
[[link]]
id = "late"
radio = "heron"
earshot = "yard"
on_air = [{ start = "01:00", end = "03:00" }]

[[pair]]
id = "belt"
one = "siskin"
two = "heron"
spacing_khz = 8000
where = "same-wearer"
[[pair]]
id = "ears"
one = "in-ear"
two = "heron"
spacing_khz = 600

[[block]]
id = "ears-up-here"
for = "in-ear"
windows_mhz = [[614.0, 620.0]]
keep_out = true

[plan]
time_limit_s = 60
"""


@pytest.fixture
def answer(tmp_path, capsys):
    brief = tmp_path / "brief.toml"
    brief.write_text(BRIEF, encoding="utf-8")

    def ask(code, command, *arguments):
        assert run([command, str(brief), *map(str, arguments), "--json"]) == code
        return json.loads(capsys.readouterr().out)

    return ask


def carriers_csv(path, carriers_hz):
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(("link", "mhz"))
    rows.writerows((name, f"{hz / 1e6:.6f}") for name, hz in carriers_hz.items())
    path.write_text(text.getvalue(), encoding="utf-8")
    return path


def test_a_plan_of_mixed_kit_keeps_what_the_brief_asks_and_shares_what_it_lets_share(answer, tmp_path):
    plan = answer(0, "plan")
    f = {item["id"]: item["carrier_hz"] for item in plan["links"]}
    assert len(f) == 12
    assert abs(f["ear"] - f["lead"]) >= 8_000_000
    assert abs(f["lead"] - f["backup"]) >= 4_000_000
    assert abs(f["lead"] - f["second"]) <= 6_000_000
    assert 614_100_000 <= f["ear"] <= 619_900_000
    assert not any(613_900_000 < hz < 620_100_000 for name, hz in f.items() if name != "ear" and "talk" not in name)
    assert len({f["yard-talk.1"], f["yard-talk.2"]}) == 1 or abs(f["yard-talk.1"] - f["yard-talk.2"]) >= 100_000
    stage = ("lead", "backup", "second", "ear")
    for here, there in itertools.product(stage, ("host.1", "host.2", "host.3")):
        assert abs(f[here] - f[there]) >= (600_000 if here == "ear" else 350_000)  # spacing binds across 45 dB
    assert abs(f["night"] - f["late"]) >= 350_000  # both are on the air from one to two, the morning after
    assert "Between stage and foyer only the carrier spacing is asked: isolated by 45 dB." in {
        warning["text"] for warning in plan["warnings"]
    }
    checked = answer(0, "check", carriers_csv(tmp_path / "carriers.csv", f))
    assert checked["ok"]


def test_check_names_each_rule_of_mixed_kit_by_its_word(answer, tmp_path):
    f = {item["id"]: item["carrier_hz"] for item in answer(0, "plan")["links"]}
    cases = [
        ({"ear": f["lead"] + 7_950_000 if f["lead"] < 612_000_000 else f["lead"] - 7_950_000}, "spacing"),
        ({"backup": f["lead"] + 3_900_000 if f["lead"] < 612_000_000 else f["lead"] - 3_900_000}, "spacing"),
        ({"second": f["lead"] + 6_025_000 if f["lead"] < 612_000_000 else f["lead"] - 6_025_000}, "unit"),
        ({"ear": 612_150_000}, "block"),
        ({"host.1": 615_000_000}, "block"),
        ({"stage-talk": 608_000_000}, "tuning"),
        ({"late": f["night"]}, "spacing"),
    ]
    for change, rule in cases:
        found = answer(1, "check", carriers_csv(tmp_path / "changed.csv", f | change))["violations"]
        (name,) = change
        assert rule in {item["rule"] for item in found if name in (item["victim"], *item["sources"])}


def test_what_does_not_bind_is_no_violation_and_why_says_so(answer, tmp_path):
    listed = {"lead": 606_500_000, "night": 606_500_000, "host.1": 607_000_000, "host.2": 607_500_000}
    checked = answer(0, "check", carriers_csv(tmp_path / "carriers.csv", listed))
    assert checked["ok"]  # 2A-B of the two in the foyer falls on the lead
    assert {w["text"] for w in checked["warnings"] if w["code"] == "isolated"} == {
        "Between stage and foyer only the carrier spacing is asked: isolated by 45 dB.",
        "Between stage and yard nothing is asked: isolated by 70 dB.",
    }

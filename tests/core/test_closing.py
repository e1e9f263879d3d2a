"""Why links have no open carrier: one deciding rule, or what each leaves to the next, counted by hand."""

import json

import pytest

from bandwright.cli import run

BRIEF = """\
[job]
title = "Unplaced"
[[place]]
id = "quay"
timezone = "UTC"
tv_raster = "region1"
tv_closed = ["38"]
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606, 616]]
[[radio]]
id = "wren"
tuning = [{ low_mhz = 470.0125, high_mhz = 525.9875, step_khz = 12.5 }]
emission = "fm"
bandwidth_khz = 12.5
defaults = "talkback-narrow"
[[radio]]
id = "heron"
tuning = [{ low_mhz = 600, high_mhz = 616, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
defaults = "analogue-fm-wide"
[[link]]
id = "T"
name = "Talk"
radio = "wren"
count = 2
[[link]]
id = "H"
radio = "heron"
[[other]]
id = "near"
carrier_mhz = 615
bandwidth_khz = 1800
keep_away_khz = 1500
[plan]
spares = { wren = 2 }
"""
NO_PERMIT = "No permit covers what it can be set to (470.0125-525.9875 MHz)."


@pytest.fixture
def brief(tmp_path):
    path = tmp_path / "unplaced.toml"
    path.write_text(BRIEF)
    return path


def reasons(brief, capsys):
    assert run(["plan", str(brief), "--json"]) == 1
    return {item["id"]: item["reasons"] for item in json.loads(capsys.readouterr().out)["unplaced"]}


def test_a_rule_that_closes_everything_is_the_only_reason(brief, capsys):
    found = reasons(brief, capsys)
    for name in ("T.1", "T.2", "wren-spare-1", "wren-spare-2"):
        assert found[name] == [{"code": "permit", "text": NO_PERMIT}]


def test_where_no_rule_closes_everything_each_says_what_it_takes_of_what_is_left(brief, capsys):
    # 600 to 616 MHz in steps of 25 kHz: 641. Inside the permit 606.1 to 615.9: 393, so 248 are outside. In TV channel
    # 38 (606 to 614 MHz, 100 kHz of the carrier's own beside it) 606.1 to 614.075: 320. The other 73 are within 1.5 MHz
    # of the other user.
    assert reasons(brief, capsys)["H"] == [
        {
            "code": "permit",
            "text": "Of the 641 carriers it can be set to (600.000-616.000 MHz), 248 are covered by no permit.",
        },
        {"code": "tv", "text": "Of the other 393, 320 lie in closed TV channels."},
        {"code": "other", "text": "The other 73 are too near to other users."},
    ]


def test_too_much_power_names_the_key_that_says_so(brief, capsys):
    limit = 'windows_mhz = [[606, 616]]\nmax_power = { any_mw = 50, kind = "erp" }'
    text = BRIEF.replace("windows_mhz = [[606, 616]]", limit)
    brief.write_text(text.replace("bandwidth_khz = 200", 'bandwidth_khz = 200\npower_mw = [100]\npower_kind = "erp"'))
    assert reasons(brief, capsys)["H"][1:] == [
        {"code": "power", "text": "The other 393 lie where the permit allows less power than its power_mw."}
    ]


def test_one_carrier_that_is_left_is_not_spoken_of_as_several(brief, capsys):
    brief.write_text(BRIEF.replace("windows_mhz = [[606, 616]]", "windows_mhz = [[606, 606.2]]"))
    assert reasons(brief, capsys)["H"][1:] == [{"code": "tv", "text": "The other one lies in a closed TV channel."}]


def test_the_text_says_a_reason_once_for_all_that_have_it(brief, capsys):
    run(["plan", str(brief)])
    text = " ".join(capsys.readouterr().out.split())
    assert f"T.1 Talk 1 and T.2 Talk 2: {NO_PERMIT}" in text
    assert "wren-spare-1 and wren-spare-2: unplaced, for the same reason as T.1." in text
    assert text.count(NO_PERMIT) == 1


def test_the_sheet_points_at_the_row_that_says_the_reason(brief, capsys, tmp_path):
    run(["plan", str(brief), "--out", str(tmp_path / "out")])
    page = (tmp_path / "out" / "sheet.html").read_text(encoding="utf-8")
    assert "for the same reason as T.1" in page
    assert page.count(NO_PERMIT) == 1  # for the links and for the spare carriers

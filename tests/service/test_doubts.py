"""What a carrier may be doubted for: the law weighs more than noise, and doubt is used last."""

import json

import pytest

from bandwright.cli import run

# The doubtful permit covers 606 to 608 MHz, the clear one 608 to 609.5 MHz: room for 4 carriers at 350 kHz.
BRIEF = """\
[job]
title = "Doubts"
[[permit]]
id = "doubtful"
state = "{state}"
windows_mhz = [[606, 608]]
max_power = {{ {limit}, kind = "erp" }}
[[permit]]
id = "clear"
state = "granted"
windows_mhz = [[608, 609.5]]
max_power = {{ any_mw = 50, kind = "erp" }}
[[radio]]
id = "siskin"
direction = "to-person"
tuning = [{{ low_mhz = 606, high_mhz = 610, step_khz = 25 }}]
emission = "fm"
bandwidth_khz = 200
power_mw = 50
power_kind = "erp"
spacing_khz = 350
clearance_khz = {{ "2A-B" = 1 }}
[[link]]
id = "E"
radio = "siskin"
count = {count}
"""
# An in-ear mix is sent from a rack, and no limit for a rack is stated.
NOT_SHOWN = {"state": "granted", "limit": "bodyworn_mw = 50"}
APPLIED = {"state": "applied", "limit": "any_mw = 50"}


def sweep_text(low_khz, high_khz):
    """Noise on a grid of 25 kHz that swings by 1 dB."""
    rows = (f"{khz / 1000:.3f},{-110 + number % 3 / 2:.1f}" for number, khz in enumerate(range(low_khz, high_khz, 25)))
    return "\n".join(["MHz,dBm", *rows, ""])


def permits_of(tmp_path, capsys, brief, *sweeps):
    path = tmp_path / "doubts.toml"
    path.write_text(brief)
    assert run(["plan", str(path), *sweeps, "--json"]) == 0
    plan = json.loads(capsys.readouterr().out)
    return [link["permit"] for link in plan["links"]], plan


@pytest.mark.parametrize("doubt", [NOT_SHOWN, APPLIED])
def test_a_carrier_whose_right_is_in_doubt_is_used_only_when_no_other_is_left(doubt, tmp_path, capsys):
    assert permits_of(tmp_path, capsys, BRIEF.format(**doubt, count=4))[0] == ["clear"] * 4
    found, plan = permits_of(tmp_path, capsys, BRIEF.format(**doubt, count=6))
    assert {"clear", "doubtful"} == set(found)
    clear = [link["carrier_hz"] for link in plan["links"] if link["permit"] == "clear"]
    # Nobody stands on a doubtful carrier while a clear one (608.1 to 609.4 MHz, 100 kHz inside its window) has room.
    others = range(608_100_000, 609_400_001, 25_000)
    assert not [hz for hz in others if all(abs(hz - taken) >= 350_000 for taken in clear)]
    assert all(set(link["cautions"]) > {"unmeasured"} for link in plan["links"] if link["permit"] == "doubtful")


@pytest.mark.parametrize("doubt", [NOT_SHOWN, APPLIED])
def test_a_carrier_that_nobody_measured_comes_before_a_quiet_one_whose_right_is_in_doubt(doubt, tmp_path, capsys):
    sweep = tmp_path / "low.csv"
    sweep.write_text(sweep_text(605_000, 608_000))
    found, plan = permits_of(tmp_path, capsys, BRIEF.format(**doubt, count=3), "--sweep", str(sweep))
    assert found == ["clear"] * 3
    assert all(link["cautions"] == ["unmeasured"] for link in plan["links"])


def test_of_two_permits_for_one_carrier_the_one_without_doubt_is_taken(tmp_path, capsys):
    brief = BRIEF.format(**NOT_SHOWN, count=1).replace("[[608, 609.5]]", "[[606, 608]]")
    found, plan = permits_of(tmp_path, capsys, brief)
    assert found == ["clear"]
    assert plan["links"][0]["cautions"] == ["unmeasured"]

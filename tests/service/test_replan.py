"""Replanning a brief: verdict, moves, order, who is left alone, the new plan and its sheets, and what is refused."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from importlib import resources

import pytest
from jsonschema import Draft202012Validator

from bandwright.cli import run
from bandwright.service.context import Context
from bandwright.service.replan import replan_brief

BRIEF = """
[job]
title = "Evening at the quay"
dates = [2027-05-14]
[[place]]
id = "quay"
timezone = "Europe/Lisbon"
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606.5, 613.5]]
[[radio]]
id = "heron"
name = "Heron (invented)"
tuning = [{ low_mhz = 606.6, high_mhz = 613.4, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
power_mw = 10
spacing_khz = 350
clearance_khz = { "2A-B" = 100, "A+B-C" = 50 }
[[radio]]
id = "siskin"
name = "Siskin (invented)"
direction = "to-person"
tuning = [{ low_mhz = 606.6, high_mhz = 613.4, step_khz = 25 }]
emission = "fm-stereo"
bandwidth_khz = 200
power_mw = 10
spacing_khz = 350
clearance_khz = { "2A-B" = 100 }
[[link]]
id = "L01"
name = "Mara"
radio = "heron"
[[link]]
id = "L02"
name = "Odo"
radio = "heron"
[[link]]
id = "L03"
name = "Wanja"
radio = "heron"
movable = "break"
[[link]]
id = "L04"
name = "Pit stand"
radio = "heron"
hold_mhz = 612.0
[[link]]
id = "E01"
name = "Mara's ears"
radio = "siskin"
[plan]
spares = { heron = 1 }
"""

CARRIERS = """kind,id,mhz
link,L01,606.700
link,L02,607.400
link,L03,608.800
link,L04,612.000
link,E01,610.300
spare,heron-spare-1,613.200
"""

SHOW = datetime(2027, 5, 14, 20, 0, tzinfo=UTC)
OFFICE = datetime(2027, 5, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "quay.toml").write_text(BRIEF)
    (tmp_path / "carriers.csv").write_text(CARRIERS)
    return tmp_path


def replanned(folder, *, now=SHOW, **given):
    context = Context(now=lambda: now)
    return replan_brief(context, folder / "quay.toml", folder / "carriers.csv", **given)


def moved(found):
    return [(move.link, move.from_hz, move.to_hz) for move in found.change.moves]


def test_a_plan_that_still_holds_moves_nobody_and_says_so(folder):
    found = replanned(folder)
    assert found.change.broken == ()
    assert found.change.moves == ()
    assert found.change.fine == ("L01", "L02", "L03", "L04", "E01")
    assert found.change.fewest == "proven"
    assert found.exit_code == 0
    assert "Nobody has to move." in found.text()


def test_a_lost_carrier_is_left_for_the_spare_carrier_and_the_spare_is_placed_again(folder):
    found = replanned(folder, lost=["L02"])
    assert moved(found) == [("L02", 607_400_000, 613_200_000)]
    assert found.change.moves[0].spare == "heron-spare-1"
    assert "interference was heard on 607.400 MHz" in found.change.moves[0].text
    (spare,) = found.planned.plan.spares
    assert spare.carrier_hz not in (607_400_000, 613_200_000)
    assert "went to L02" in found.change.spares[0].text
    assert [item.text for item in found.change.broken] == ["L02 on 607.400 MHz: interference was heard there."]


def test_a_spare_carrier_of_another_radio_type_is_not_taken_first(folder):
    (folder / "quay.toml").write_text(BRIEF.replace("spares = { heron = 1 }", "spares = { siskin = 1 }"))
    (folder / "carriers.csv").write_text(CARRIERS.replace("heron-spare-1", "siskin-spare-1"))
    found = replanned(folder, lost=["L02"], off_air=True)
    assert [move.spare for move in found.change.moves] == [None]
    assert [item.carrier_hz for item in found.planned.plan.spares] == [613_200_000]


def test_a_lost_carrier_and_its_neighbours_within_half_the_bandwidth_stay_empty(folder):
    (folder / "carriers.csv").write_text(CARRIERS.replace("613.200", "607.400").replace("L02,607.400", "L02,607.425"))
    found = replanned(folder, lost=["L02"])
    carriers = [item.carrier_hz for item in (*found.planned.plan.links, *found.planned.plan.spares)]
    assert all(abs(hz - 607_425_000) > 100_000 for hz in carriers)


def test_a_new_link_gets_a_carrier_and_is_no_move_of_others(folder):
    (folder / "quay.toml").write_text(BRIEF.replace("[plan]", '[[link]]\nid = "L05"\nradio = "heron"\n[plan]'))
    found = replanned(folder)
    assert [(move.link, move.from_hz) for move in found.change.moves] == [("L05", None)]
    assert "The plan has no carrier for L05" in found.text()


NARROW = (
    BRIEF[: BRIEF.index("[[link]]")].replace("[[606.5, 613.5]]", "[[606.5, 607.2]]")
    + """
[[link]]
id = "L01"
radio = "heron"
[[link]]
id = "L02"
radio = "heron"
"""
)


@pytest.mark.parametrize("had_none", [True, False])
def test_nobody_moves_for_a_link_that_the_plan_had_no_carrier_for_but_somebody_does_for_a_new_one(tmp_path, had_none):
    (tmp_path / "quay.toml").write_text(NARROW)
    plan = {
        "schema": "bandwright.plan/1",
        "job": {"title": "Evening at the quay"},
        "number": 4,
        "check_phrase": "babab-babab",
        "links": [{"id": "L01", "carrier_hz": 606_850_000, "carrier_mhz": "606.850"}],
        "spares": [],
        "unplaced": [{"id": "L02", "reasons": []}] if had_none else [],
        "inputs": [],
    }
    (tmp_path / "plan.json").write_text(json.dumps(plan))
    found = replan_brief(Context(now=lambda: SHOW), tmp_path / "quay.toml", tmp_path / "plan.json")
    # 606.6 to 607.1 MHz holds two carriers 350 kHz apart, but none beside 606.850.
    placed = {row.id for row in found.planned.plan.links}
    assert placed == ({"L01"} if had_none else {"L01", "L02"})
    assert [move.link for move in found.change.moves if move.from_hz is not None] == ([] if had_none else ["L01"])
    assert ("unplaced-before" in {warn.code for warn in found.warnings}) is had_none


def test_links_without_a_carrier_for_one_reason_stand_on_one_line(tmp_path):
    far = NARROW.replace("606.6, high_mhz = 613.4", "700.0, high_mhz = 702.0")
    (tmp_path / "quay.toml").write_text(far)
    (tmp_path / "carriers.csv").write_text("id,mhz\nL01,606.850\nL02,607.200\n")
    found = replan_brief(Context(now=lambda: SHOW), tmp_path / "quay.toml", tmp_path / "carriers.csv")
    lines = [line for line in found.text().splitlines() if "No permit covers" in line]
    assert len(lines) == 1
    assert lines[0].strip().startswith("L01 and L02: ")


def test_in_ears_in_use_are_not_touched_and_are_named(folder):
    (folder / "carriers.csv").write_text(CARRIERS.replace("L02,607.400", "L02,610.200"))
    during = replanned(folder)
    assert [move.link for move in during.change.moves] == ["L02"]
    assert ("E01", "it is in somebody's ears now") in [(one.link, one.why) for one in during.change.not_touched]
    assert "E01: it is in somebody's ears now." in during.text()


def test_an_in_ear_whose_own_carrier_is_lost_waits_until_it_is_in_nobodys_ears(folder):
    during = replanned(folder, lost=["E01"])
    (move,) = during.change.moves
    assert (move.link, move.at_break) == ("E01", True)
    assert "once it is in nobody's ears" in move.text
    for found in (replanned(folder, lost=["E01"], now=OFFICE), replanned(folder, lost=["E01"], off_air=True)):
        assert [(m.link, m.at_break) for m in found.change.moves] == [("E01", False)]


def test_who_may_move_now_moves_before_who_must_wait_for_a_break(folder):
    (folder / "carriers.csv").write_text(CARRIERS.replace("L02,607.400", "L02,608.700"))
    found = replanned(folder)
    assert [(move.link, move.at_break) for move in found.change.moves] == [("L02", False)]
    lost = replanned(folder, lost=["L03"])
    assert ("L03", True) in [(move.link, move.at_break) for move in lost.change.moves]
    assert "At the next break" in lost.text()


def test_a_held_link_stays_where_it_is_even_when_its_carrier_is_lost_and_the_exit_code_says_so(folder):
    found = replanned(folder, lost=["L04"])
    assert found.change.moves == ()
    assert [item.link for item in found.change.stuck] == ["L04"]
    assert found.exit_code == 1
    (link,) = [item for item in found.planned.plan.links if item.id == "L04"]
    assert (link.carrier_hz, link.status) == (612_000_000, "blocked")
    assert "held on 612.000 MHz, though" in found.text()


def test_a_link_held_elsewhere_by_a_newer_brief_goes_there(folder):
    (folder / "quay.toml").write_text(BRIEF.replace("hold_mhz = 612.0", "hold_mhz = 611.5"))
    assert moved(replanned(folder)) == [("L04", 612_000_000, 611_500_000)]


def test_links_that_change_places_are_told_who_is_switched_off_first(folder):
    newer = BRIEF.replace('name = "Mara"', 'name = "Mara"\nhold_mhz = 607.4').replace("spares = { heron = 1 }", "")
    newer = newer.replace('name = "Odo"', 'name = "Odo"\nhold_mhz = 606.7')
    (folder / "quay.toml").write_text(newer)
    found = replanned(folder, off_air=True)
    assert [(step.link, step.action) for step in found.change.steps] == [
        ("L01", "switch off"),
        ("L02", "retune"),
        ("L01", "switch on"),
    ]
    assert moved(found) == [("L02", 607_400_000, 606_700_000), ("L01", 606_700_000, 607_400_000)]
    assert "L01: switch it off" in found.text()
    assert "L01: switch it on with 607.400 MHz" in found.text()


def test_a_link_without_any_carrier_left_is_unplaced_and_switched_off(folder):
    (folder / "quay.toml").write_text(BRIEF.replace("[[606.5, 613.5]]", "[[606.5, 607.6], [609.9, 613.5]]"))
    narrow = BRIEF.replace("[[606.5, 613.5]]", "[[606.5, 606.9]]").replace("hold_mhz = 612.0\n", "")
    (folder / "quay.toml").write_text(narrow)
    found = replanned(folder, off_air=True)
    assert found.exit_code == 1
    assert len(found.planned.plan.links) == 1
    off = {step.link for step in found.change.steps if step.to_hz is None}
    assert off == {"L02", "L03", "L04", "E01"}
    assert "no carrier is left for it" in found.text()


def sweep_with(*carriers_mhz):
    """A sweep of 606 to 614 MHz in 25 kHz bins at -110 dBm, with these carriers 200 kHz wide at -60 dBm."""
    levels = ["-110.0"] * 320
    for mhz in carriers_mhz:
        middle = round((mhz - 606.0) / 0.025)
        levels[middle - 4 : middle + 4] = ["-60.0"] * 8
    rows = [f"2027-05-14, 15:40:{second:02d}, 606000000, 614000000, 25000.00, 10, " for second in range(4)]
    return "".join(row + ", ".join(levels) + "\n" for row in rows)


def test_an_intruder_that_a_newer_sweep_shows_moves_the_link_that_was_on_it(folder):
    sweep = folder / "newer.csv"
    sweep.write_text(sweep_with(607.4))
    found = replanned(folder, sweep_paths=[sweep], own_transmitters="off")
    assert [move.link for move in found.change.moves] == ["L02"]
    assert [violation.rule for violation in found.change.broken] == ["noise"]
    assert "newer.csv" in found.text()


def test_with_own_transmitters_on_a_link_is_not_driven_off_by_its_own_carrier(folder):
    sweep = folder / "during.csv"
    sweep.write_text(sweep_with(606.7, 607.4, 608.8, 612.0, 610.3))
    during = replanned(folder, sweep_paths=[sweep], own_transmitters="on")
    assert during.change.moves == ()
    assert {item.noise.state for item in during.planned.plan.links} == {"not measured"}
    assert "made with own transmitters on" in during.text()
    unknown = replanned(folder, sweep_paths=[sweep], own_transmitters="unknown")
    assert len(unknown.change.broken) >= 5


def test_with_own_transmitters_on_nobody_moves_onto_an_intruder(folder):
    sweep = folder / "during.csv"
    sweep.write_text(sweep_with(606.7, 607.4, 608.8, 612.0, 610.3, 613.2))
    found = replanned(folder, sweep_paths=[sweep], own_transmitters="on", lost=["L02"])
    (move,) = found.change.moves
    assert abs(move.to_hz - 613_200_000) >= 200_000
    assert found.change.spares[0].from_hz == 613_200_000


def test_the_new_plan_passes_check_and_its_sheets_are_numbered_after_the_plan_before(folder, capsys):
    brief, out = str(folder / "quay.toml"), str(folder / "sheets")
    assert run(["plan", brief, "--out", out]) == 0
    assert run(["replan", brief, out, "--lost", "L01", "--off-air", "--out", out]) == 0
    plan = json.loads((folder / "sheets" / "plan.json").read_text())
    assert plan["number"] == 2
    assert {"carriers.csv", "sheet.pdf", "sheet.html"} <= {path.name for path in (folder / "sheets").iterdir()}
    capsys.readouterr()
    assert run(["check", brief, str(folder / "sheets" / "carriers.csv")]) == 0


def test_the_document_fits_its_published_schema_and_is_equal_but_for_what_stands_under_run(folder, capsys):
    documents = []
    for _ in range(2):
        arguments = [str(folder / "quay.toml"), str(folder / "carriers.csv"), "--lost", "L02", "--off-air", "--json"]
        assert run(["replan", *arguments]) == 0
        documents.append(json.loads(capsys.readouterr().out))
    schema = json.loads(resources.files("bandwright.documents").joinpath("schemas", "replan.json").read_text())
    Draft202012Validator(schema).validate(documents[0])
    assert documents[0]["moves"][0] | {"text": "", "reason": ""} == {
        "link": "L02",
        "from_hz": 607_400_000,
        "to_hz": 613_200_000,
        "when": "now",
        "spare": "heron-spare-1",
        "text": "",
        "reason": "",
    }
    assert documents[0]["fewest"] == "proven"
    assert documents[0]["checked"]["in_trouble"] == ["L02"]
    for document in documents:
        document.pop("run")
        document["plan"].pop("run")
    assert documents[0] == documents[1]


@pytest.mark.parametrize(
    ("carriers", "arguments", "code", "words"),
    [
        (CARRIERS, ["--lost", "L2"], "unknown-link", "L02"),
        (CARRIERS.replace("link,L02,607.400\n", ""), ["--lost", "L02"], "unknown-link", 'no link "L02"'),
        ("link,mhz\nX1,606.7\n", [], "other-job", "knows none of the links"),
        ("link,mhz\nL01,high\n", [], "not-a-number", "high"),
    ],
)
def test_what_cannot_be_understood_is_refused_in_words(folder, capsys, carriers, arguments, code, words):
    (folder / "carriers.csv").write_text(carriers)
    assert run(["replan", str(folder / "quay.toml"), str(folder / "carriers.csv"), *arguments, "--json"]) == 2
    errors = json.loads(capsys.readouterr().out)["errors"]
    assert [error["code"] for error in errors] == [code]
    assert words in errors[0]["text"] + (errors[0]["hint"] or "")


def test_links_that_the_brief_does_not_know_are_named_and_do_not_count(folder):
    (folder / "carriers.csv").write_text(CARRIERS + "link,Z9,611.0\n")
    found = replanned(folder)
    assert found.change.moves == ()
    assert "does not know, and they do not count here: Z9" in found.text()


def test_a_folder_without_a_plan_is_refused_in_words(folder, capsys):
    assert run(["replan", str(folder / "quay.toml"), str(folder), "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["errors"][0]["code"] == "no-file"


def test_a_replan_stopped_by_hand_says_so_and_ends_with_130(folder):
    context = Context(now=lambda: SHOW, cancelled=lambda: True)
    found = replan_brief(context, folder / "quay.toml", folder / "carriers.csv", lost=["L02"])
    assert found.exit_code == 130
    assert found.change.fewest == "found"

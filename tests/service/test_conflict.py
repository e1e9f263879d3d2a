"""What a plan says of what it could not place: a proven bound, wishes that cannot hold together, and what would do."""

from __future__ import annotations

import html
import json
import re
from importlib import resources

import pytest
from brief_examples import SAMPLE
from jsonschema import Draft202012Validator

from bandwright.cli import run
from bandwright.core.planning.build import compile_job
from bandwright.engines.solve import Outcome
from bandwright.service.conflict import Shortfall, look_into_shortfall
from bandwright.service.context import Context
from bandwright.service.inputs import load_brief
from bandwright.service.plan import plan_brief

BLOCK = SAMPLE.split("[[other]]", maxsplit=1)[0]
MORE = '[[link]]\nid = "M"\nradio = "heron"\ncount = {count}\n'


@pytest.fixture(scope="module")
def overfull(tmp_path_factory):
    """Plan 14 links where 11 fit; returns the folder of the brief and its plan."""
    folder = tmp_path_factory.mktemp("overfull")
    (folder / "brief.toml").write_text(BLOCK + MORE.format(count=13))
    assert run(["plan", str(folder / "brief.toml"), "--time-limit", "60", "--out", str(folder / "out")]) == 1
    return folder


def plan_of(folder):
    return json.loads((folder / "out" / "plan.json").read_text())


def test_no_larger_plan_exists_and_the_twelve_that_cannot_share_the_window_are_named(overfull):
    plan = plan_of(overfull)
    schema = json.loads(resources.files("bandwright.documents").joinpath("schemas", "plan.json").read_text())
    Draft202012Validator(schema).validate(plan)
    bound = plan["bound"]
    assert (bound["found"], bound["upper_bound"], bound["status"]) == (11, 11, "proven")
    (conflict,) = plan["conflicts"]
    assert (len(conflict["links"]), conflict["status"]) == (12, "proven")
    assert "cannot share 606.500-613.500 MHz under spacing 350 kHz, 2A-B 100 kHz" in conflict["text"]
    assert "any 11 of them can. All of them fit with " in conflict["text"]


def test_each_remedy_really_makes_room_for_all_of_them(overfull, tmp_path, capsys):
    (conflict,) = plan_of(overfull)["conflicts"]
    named = "".join(f'[[link]]\nid = "{name}"\nradio = "heron"\n' for name in conflict["links"])
    brief = BLOCK.split("[[link]]", maxsplit=1)[0] + named
    assert conflict["remedies"]
    for remedy in conflict["remedies"]:
        eased = tmp_path / "eased.toml"
        eased.write_text(made_easier(brief, remedy))
        assert run(["plan", str(eased), "--time-limit", "60"]) == 0, remedy
    capsys.readouterr()


def made_easier(brief, remedy):
    """The brief with the change that a remedy names."""
    if match := re.fullmatch(r"(.+) at (\S+) kHz in place of (\S+) kHz", remedy):
        family, eased, asked = match.groups()
        return brief.replace(f'"{family}" = {asked}', f'"{family}" = {eased}')
    if match := re.fullmatch(r"family (.+) off", remedy):
        return re.sub(rf'"{re.escape(match.group(1))}" = \d+,? ?', "", brief)
    if match := re.fullmatch(r"spacing (\S+) kHz in place of (\S+) kHz", remedy):
        return brief.replace(f"spacing_khz = {match.group(2)}", f"spacing_khz = {match.group(1)}")
    assert remedy.startswith("TV channel 37 as well")
    return brief.replace("[[606.5, 613.5]]", "[[598, 606], [606.5, 613.5]]")


def test_text_and_sheets_say_it_too(overfull, capsys):
    (conflict,) = plan_of(overfull)["conflicts"]
    page = (overfull / "out" / "sheet.html").read_text()
    assert html.escape(conflict["text"]) in page
    run(["plan", str(overfull / "brief.toml"), "--time-limit", "60"])
    said = " ".join(capsys.readouterr().out.split())
    assert conflict["text"] in said
    assert "11 links placed; no larger plan exists under these rules (proven: " in said


def test_where_all_is_placed_nothing_is_in_conflict(tmp_path, capsys):
    brief = tmp_path / "brief.toml"
    brief.write_text(BLOCK)
    assert run(["plan", str(brief), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["conflicts"] == []


def test_two_types_that_crowd_each_other_out_are_named_with_the_type_that_a_remedy_is_for(tmp_path):
    ears = """
[[radio]]
id = "ear"
direction = "to-person"
tuning = [{ low_mhz = 606.6, high_mhz = 608.4, step_khz = 25 }]
emission = "fm-stereo"
bandwidth_khz = 200
power_mw = 10
spacing_khz = 600
clearance_khz = { "2A-B" = 150 }
[[link]]
id = "E"
radio = "ear"
count = 3
"""
    brief = tmp_path / "brief.toml"
    text = BLOCK.replace("[[606.5, 613.5]]", "[[606.5, 608]]") + ears
    brief.write_text(text.replace('tv_raster = "region1"', "").replace('tv_closed = ["23", "26"]', ""))
    (conflict,) = plan_brief(Context(), brief).plan.conflicts
    # By hand: two neighbours 600 kHz apart each leave 100 kHz between their distances in 1.3 MHz, where 2A-B of the
    # outer and the middle one asks 150 of the in-ears; 575 + 725 kHz leave 150.
    assert conflict.proven
    assert sorted(name[0] for name in conflict.links) == ["E", "E", "L"]
    assert conflict.remedies == (
        "2A-B at 100 kHz in place of 150 kHz for ear",
        "spacing 575 kHz in place of 600 kHz for ear",
    )


def test_a_hand_that_stops_it_gets_the_plan_without_conflicts(tmp_path):
    brief = tmp_path / "brief.toml"
    brief.write_text(BLOCK + MORE.format(count=13))
    stopped = plan_brief(Context(cancelled=lambda: True), brief)
    assert stopped.stopped == "cancelled"
    assert stopped.plan.conflicts == ()
    assert stopped.plan.bound.upper_bound >= stopped.plan.bound.found


def test_nothing_is_looked_for_where_nothing_lacks(tmp_path):
    brief = tmp_path / "brief.toml"
    brief.write_text(BLOCK)
    told = []
    compiled = compile_job(load_brief(Context(), brief).job)
    carriers = (606_700_000, 608_000_000, 610_000_000)
    outcome = Outcome(
        carriers_hz=carriers, stopped="settled", moves=1, margin=1.0, upper_bound=3, method="all are placed"
    )
    found = look_into_shortfall(Context(progress=told.append), compiled, (), outcome)
    assert found == Shortfall(carriers_hz=carriers, ceiling=None, conflicts=())
    assert told == []


def test_the_proof_of_how_many_can_be_placed_ends_with_its_share_of_the_time(overfull, monkeypatch):
    monkeypatch.setattr("bandwright.service.conflict.until", lambda *_: lambda: True)  # all time is used up
    job = load_brief(Context(), overfull / "brief.toml").job
    compiled = compile_job(job)
    nowhere = tuple([-1] * len(compiled.seats))
    outcome = Outcome(carriers_hz=nowhere, stopped="time", moves=0, margin=1.0, upper_bound=14, method="counting")
    found = look_into_shortfall(Context(), compiled, (), outcome)
    assert found.conflicts == ()
    assert found.ceiling is not None
    assert found.ceiling.upper_bound > 11  # what counting says; that 11 are the most takes the whole search


@pytest.mark.parametrize(("site", "most"), [("[[630.0, 630.6]]", 2), ("[[630.0, 630.3]]", 1)])
def test_permits_that_split_the_spectrum_are_told_one_by_one_and_prove_who_is_too_many(site, most, tmp_path, capsys):
    """11 and no more fit in 606.5-613.5 MHz (above); 350 kHz apart two and one fit in the other permit: by hand."""
    other = f'[[permit]]\nid = "site"\nreference = "site licence"\nstate = "granted"\nwindows_mhz = {site}\n'
    brief = tmp_path / "two.toml"
    wide = re.sub(r"tuning = .*", "tuning = [{ low_mhz = 470.1, high_mhz = 693.9, step_khz = 25 }]", BLOCK)
    brief.write_text(wide + MORE.format(count=14) + other)
    assert run(["plan", str(brief), "--time-limit", "60", "--json"]) == 1
    plan = json.loads(capsys.readouterr().out)
    bound = plan["bound"]
    assert (bound["found"], bound["upper_bound"], bound["status"]) == (11 + most, 11 + most, "proven")
    reference = next(line for line in BLOCK.splitlines() if line.startswith("reference")).split('"')[1]
    assert bound["method"] == (
        f"at most 11 of these 15 under {reference} (exact search) and at most {most} of these 15 under site licence "
        "(spacing)"
    )
    assert {item["status"] for item in plan["conflicts"]} == {"proven"}

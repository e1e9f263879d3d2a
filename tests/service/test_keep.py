"""`bandwright plan --keep`: what an earlier plan has stays where it can, and the answer says who moved from where."""

from __future__ import annotations

import json
from importlib import resources

import pytest
from desks import planned_desk, sweep_csv
from jsonschema import Draft202012Validator

from bandwright.cli import run
from bandwright.documents.outputs.plan_back import plan_of, read_plan_document
from bandwright.service.job_plans import plan_in_force
from bandwright.service.job_runs import run_plan

BRIEF = """
bandwright = 1
[job]
title = "Evening at the quay"
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606.5, 613.5]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 606.6, high_mhz = 613.4, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
power_mw = 10
spacing_khz = 350
clearance_khz = { "2A-B" = 100, "A+B-C" = 50 }
[plan]
spares = { heron = 1 }
"""


def links(*ids):
    return BRIEF + "".join(f'[[link]]\nid = "{name}"\nname = "{name} (who)"\nradio = "heron"\n' for name in ids)


@pytest.fixture
def plan(tmp_path, capsys):
    """Plan a brief of these links with some arguments; returns the JSON answer."""

    def planned(ids, *arguments, code=0):
        brief = tmp_path / "quay.toml"
        brief.write_text(links(*ids))
        assert run(["plan", str(brief), *map(str, arguments), "--json"]) == code
        return json.loads(capsys.readouterr().out)

    return planned


def carriers(found):
    return {item["id"]: item["carrier_hz"] for item in (*found["links"], *found["spares"])}


@pytest.mark.parametrize("name", ["out", "out/plan.json", "out/carriers.csv"])
def test_a_plan_is_kept_whole_where_nothing_speaks_against_it(name, plan, tmp_path):
    first = plan(["A", "B", "C"], "--out", tmp_path / "out", "--seed", 3)
    again = plan(["C", "A", "B"], "--keep", tmp_path / name, "--seed", 4)
    assert carriers(again) == carriers(first)
    assert first["kept"] is None
    assert (again["kept"]["had"], again["kept"]["kept"], again["kept"]["status"]) == (4, 4, "proven")
    assert again["kept"]["moved"] == again["kept"]["new"] == []
    assert [link["was_mhz"] for link in again["links"]] == [link["carrier_mhz"] for link in again["links"]]
    Draft202012Validator(
        json.loads(resources.files("bandwright.documents").joinpath("schemas/plan.json").read_text())
    ).validate(again)


def test_new_links_are_placed_anew_and_those_that_are_gone_are_named(plan, tmp_path):
    first = plan(["A", "B", "C"], "--out", tmp_path / "out")
    again = plan(["A", "C", "D"], "--keep", tmp_path / "out", "--out", tmp_path / "out")
    was = {link["id"]: link["was_hz"] for link in again["links"]}
    assert was == {"A": carriers(first)["A"], "C": carriers(first)["C"], "D": None}
    assert again["kept"]["new"] == ["D"]
    assert again["number"] == 2
    assert [w["text"] for w in again["warnings"] if w["code"] == "plan-links-unknown"] == [
        f"Plan 1 ({first['check_phrase']}) has carriers that this brief does not know, and they do not count here: B."
    ]
    assert "plan.json" in [item["name"] for item in again["inputs"]]
    stored = read_plan_document((tmp_path / "out" / "plan.json").read_bytes(), file="plan.json")
    assert plan_of(stored).kept.new == ("D",)


def test_a_carrier_that_no_longer_holds_moves_and_the_words_say_from_where(plan, tmp_path, capsys):
    """606.725 MHz is 25 kHz from 606.700, where 350 are asked: of two, one moves, by hand."""
    listed = tmp_path / "list.csv"
    listed.write_text("link,mhz\nA,606.700\nB,606.725\nC,611.000\n")
    found = plan(["A", "B", "C"], "--keep", listed)
    (moved,) = found["kept"]["moved"]
    assert (found["kept"]["kept"], found["kept"]["status"]) == (2, "proven")
    assert moved["id"] in "AB"
    assert moved["from_mhz"] == {"A": "606.700", "B": "606.725"}[moved["id"]]
    assert moved["to_hz"] == carriers(found)[moved["id"]]
    assert run(["plan", str(tmp_path / "quay.toml"), "--keep", str(listed)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "2 of 3 carriers of list.csv are kept, and no plan that places as much keeps more (proven)." in said
    assert f"Moved: {moved['id']} from {moved['from_mhz']} to {moved['to_mhz']} MHz. New: heron-spare-1." in said


def test_all_who_can_be_placed_come_before_what_is_kept(tmp_path, capsys):
    """606.8 MHz leaves no carrier for a second link 350 kHz away in 606.6-607.0; without it two fit: by hand."""
    brief, listed = tmp_path / "narrow.toml", tmp_path / "list.csv"
    brief.write_text(links("A", "B").replace("613.5", "607.1").replace("spares = { heron = 1 }", ""))
    listed.write_text("link,mhz\nA,606.800\n")
    assert run(["plan", str(brief), "--keep", str(listed), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert len(found["links"]) == 2
    assert (found["kept"]["kept"], found["kept"]["status"], found["kept"]["new"]) == (0, "proven", ["B"])


def test_the_sheets_say_what_is_kept(plan, tmp_path):
    plan(["A", "B"], "--out", tmp_path / "out")
    plan(["A", "B"], "--keep", tmp_path / "out", "--out", tmp_path / "new", "--names", "roles")
    assert "All 3 carriers of Plan 1" in (tmp_path / "new" / "sheet.html").read_text()


def test_a_job_file_keeps_to_a_plan_as_its_brief_does(plan, tmp_path, capsys):
    first = plan(["A", "B"], "--out", tmp_path / "out")
    job = tmp_path / "quay.bwjob"
    assert run(["job", "import", str(tmp_path / "quay.toml"), str(job)]) == 0
    capsys.readouterr()
    assert run(["plan", str(job), "--keep", str(tmp_path / "out"), "--seed", "9", "--json"]) == 0
    assert carriers(json.loads(capsys.readouterr().out)) == carriers(first)


def test_a_plan_of_another_job_is_refused(plan, tmp_path):
    listed = tmp_path / "list.csv"
    listed.write_text("link,mhz\nZ9,606.700\n")
    found = plan(["A"], "--keep", listed, code=2)
    assert [error["code"] for error in found["errors"]] == ["other-job"]
    assert found["errors"][0]["text"] == "The brief knows none of the links in this list (Z9)."
    assert [error["code"] for error in plan(["A"], "--keep", tmp_path / "none", code=2)["errors"]] == ["no-file"]


def test_of_alike_links_the_last_goes_without_and_the_rest_of_the_plan_follows(tmp_path, capsys):
    """350 kHz apart two carriers fit in 606.6-607.0 MHz: by hand. `check` then finds nothing in what is written."""
    brief, out = tmp_path / "narrow.toml", tmp_path / "out"
    brief.write_text(links("D", "C", "B", "A").replace("613.5", "607.1"))
    for seed in ("1", "2", "3"):
        assert run(["plan", str(brief), "--seed", seed, "--out", str(out), "--json"]) == 1
        found = json.loads(capsys.readouterr().out)
        assert [link["id"] for link in found["links"]] == ["D", "C"]
        assert [item["id"] for item in found["unplaced"]] == ["B", "A", "heron-spare-1"]
        assert {tuple(link["closest"]["sources"]) for link in found["links"]} == {("D",), ("C",)}
        assert all(set(item["links"]) & {"B", "A", "heron-spare-1"} for item in found["conflicts"])
    assert run(["check", str(brief), str(out / "carriers.csv"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["violations"] == []


def test_what_own_transmitters_that_were_on_sent_drives_nobody_off_the_carrier_that_is_kept(plan, tmp_path):
    listed, sweep = tmp_path / "list.csv", tmp_path / "during.csv"
    listed.write_text("link,mhz\nA,609.700\n")
    sweep.write_bytes(sweep_csv(loud_mhz=609.7))
    arguments = ("--keep", listed, "--sweep", sweep, "--own-transmitters")
    on, off = plan(["A", "B"], *arguments, "on"), plan(["A", "B"], *arguments, "off")
    assert (on["kept"]["kept"], off["kept"]["kept"]) == (1, 0)
    assert "own-transmitters-on" in {item["code"] for item in on["warnings"]}


def test_a_run_of_an_open_job_keeps_to_the_plan_in_force(tmp_path):
    with planned_desk(tmp_path, links("A", "B", "C")) as desk:
        first = plan_in_force(desk)
        run_plan(desk, who="Ines", seed=8, keep=True)
        again = plan_in_force(desk)
        assert again.number == 2
        assert again.carriers() == first.carriers()
        assert again.document.kept.of == f"Plan 1 ({first.row.check_phrase})"
        assert first.document.kept is None

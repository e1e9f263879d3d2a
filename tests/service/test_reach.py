"""Reach from a brief to text and JSON, with everything that may be wrong or missing on the way."""

from __future__ import annotations

import json
import math
import re
import tomllib
from importlib import resources
from pathlib import Path

import pytest
from brief_examples import SAMPLE, SMALL, faults_of, job_of
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from reach_examples import REACH
from thorough import cases

from bandwright.cli import run
from bandwright.core.drawing import texts
from bandwright.core.picture_reach import margin_pictures, way_pictures
from bandwright.core.reach.advice import CAUTIONS, advice_on
from bandwright.core.reach.link import link_reach
from bandwright.documents.outputs import reach_document
from bandwright.reference import reach_tables
from bandwright.service.brief_words import matters_for_plan, matters_on_sheet
from bandwright.service.differences import Difference
from bandwright.sheets.headed_pdf import PageHead, headed_pdf
from bandwright.sheets.reach_text import reach_text
from bandwright.sheets.terminal import display_width

SCHEMA = json.loads(resources.files("bandwright.documents").joinpath("schemas", "reach.json").read_text("utf-8"))


@pytest.fixture
def ask(tmp_path, capsys):
    """Run `bandwright reach` on a brief; returns (exit code, what it said)."""

    def run_it(*options, text=REACH):
        brief = tmp_path / "quay.toml"
        brief.write_text(text, encoding="utf-8")
        code = run(["reach", str(brief), *options])
        said = capsys.readouterr()
        return code, said.out or said.err

    return run_it


def test_the_text_shows_the_way_of_each_signal_and_what_to_do(ask):
    code, text = ask()
    assert code == 1  # the in-ear has one antenna and is short of what one dropout in 10 min asks
    assert "o transmitter Heron (invented), e.i.r.p." in text
    assert "east-run: 4-way splitter costs 6.0 dB." in text
    assert "Never raise it" in text
    assert "third-order intercept point at the antenna 5.1 dBm" in " ".join(text.split())  # -5 + 4.1 + 6.02
    assert "power lines" in text
    lines = text.splitlines()
    assert lines[0].split() == ["Label", "Name", "MHz", "dBm", "C/N", "dB", "Margin", "Needs", "State"]
    assert lines[1].split()[0] == "L01"
    assert lines[1].split()[-1] == "enough"
    assert [line for line in lines if len(line) > 100] == []


def test_the_document_keeps_its_schema_and_adds_up(ask):
    code, text = ask("--json")
    document = json.loads(text)
    assert code == 1
    Draft202012Validator(SCHEMA).validate(document)
    assert document["schema"] == "bandwright.reach/1"
    assert document["ok"] is False
    for link in document["links"]:
        for branch in link["branches"]:
            levels = [step["level_dbm"] for step in branch["steps"]]
            gains = [step["gain_db"] for step in branch["steps"]]
            assert levels[0] + sum(gains) == pytest.approx(levels[-1], abs=0.05)
            assert levels[-1] == branch["level_dbm"]


def test_dropouts_that_are_heard_are_told_with_what_counts_as_heard(ask):
    walks = {}
    for stated in ("", "audible_ms = 20\n", "audible_ms = 0\n"):
        text = REACH.replace("needs_cn_db = 20\n", f"needs_cn_db = 20\n{stated}", 1).replace("at_m = [2, 0]\n", "")
        code, said = ask("--link", "L01", "--json", text=text)
        assert code == 0
        walks[stated] = json.loads(said)["links"][0]["walk"]
        words = " ".join(ask("--link", "L01", text=text)[1].split())
        assert ("assumed, unless audible_ms of the radio type states it" in words) is (stated == "")
        assert "no more than one audible dropout in 10 min" in words
    assumed, longer, every = walks.values()
    assert (assumed["audible_ms"], assumed["audible_stated"]) == (5, False)
    assert (longer["audible_ms"], longer["audible_stated"]) == (20, True)
    assert longer["audible_dropouts_per_min"] < assumed["audible_dropouts_per_min"] < assumed["dropouts_per_min"]
    assert every["audible_dropouts_per_min"] == every["dropouts_per_min"] == assumed["dropouts_per_min"]
    assert longer["needed_db"] < assumed["needed_db"] < every["needed_db"]
    assert {walk["outage"] for walk in walks.values()} == {assumed["outage"]}


def test_the_sheet_says_which_dropouts_count_and_that_this_is_assumed():
    job = job_of(REACH.replace("needs_cn_db = 20", "needs_cn_db = 20\naudible_ms = 8", 1))
    found = [link_reach(job, link, carriers={}, tables=reach_tables(), every_s=600) for link in job.links]
    (page,) = margin_pictures(found, {"L01": "a", "E01": "b"})
    (line,) = (item.text for item in texts(page) if item.text.startswith("Needed:"))
    assert line == (
        "Needed: no more than one audible dropout in 10 min of walking there. Audible is what lasts longer than "
        "5 ms (assumed, unless audible_ms of the radio type states it) or 8 ms (stated)."
    )


def test_one_link_alone_decides_the_exit_code(ask):
    assert ask("--link", "L01")[0] == 0
    assert ask("--link", "E01")[0] == 1


def test_fewer_minutes_ask_for_less_margin(ask):
    needed = [
        json.loads(ask("--link", "L01", "--minutes", minutes, "--json")[1])["links"][0]["walk"]["needed_db"]
        for minutes in ("1", "10", "120")
    ]
    assert needed == sorted(needed)
    assert needed[0] < needed[-1]


def test_a_signal_that_is_never_there_does_not_count_as_one_without_dropouts(ask):
    code, text = ask("--link", "L01", text=REACH.replace("distance_m = 35", "distance_m = 50000"))
    assert code == 1
    assert "below what the receiver needs over 99.9 % of the time" in " ".join(text.split())
    assert "dropout in 100 h" not in text


def test_a_brief_without_a_word_about_reach_is_told_what_to_fill_in(ask):
    code, said = ask(text=SAMPLE)
    assert code == 1
    assert "distance_m in [[link]] for L01" in said
    assert "feeds in [[run]] for L01" in " ".join(said.split())


def test_carriers_come_from_a_plan(ask, tmp_path, capsys):
    text = REACH.replace("hold_mhz = 606.7\n", "").replace("hold_mhz = 608\n", "")
    brief = tmp_path / "quay.toml"
    brief.write_text(text, encoding="utf-8")
    assert run(["plan", str(brief), "--out", str(tmp_path / "out"), "--time-limit", "2"]) in (0, 1)
    capsys.readouterr()
    carriers = {
        link["id"]: link["carrier_hz"] for link in json.loads((tmp_path / "out" / "plan.json").read_text())["links"]
    }
    _, said = ask("--plan", str(tmp_path / "out" / "plan.json"), "--json", text=text)
    links = json.loads(said)["links"]
    assert {link["id"]: link["carrier_hz"] for link in links} == carriers
    assert {link["carrier_from"] for link in links} == {"the plan"}


def test_an_unknown_link_and_a_brief_without_links_are_refused(ask):
    code, said = ask("--link", "L1")
    assert code == 2
    assert 'no link "L1"; known: L01, E01.' in said
    code, said = ask(text=SMALL)
    assert code == 2
    assert "brief has no links; add a [[link]] for each carrier." in said


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('type = "rg-58"', 'type = "rg-59"', 'there is no type of cable "rg-59"'),
        ('antenna = "west"', 'antenna = "wets"', 'there is no antenna "wets"; known: east, west, ears.'),
        ('feeds = "R1"', 'feeds = "R2"', 'there is no unit, link, rack, receiver or antenna "R2"'),
        ('id = "quay"\n', 'id = "quay"\npath = "free"\n', 'there is no path model "free"'),
        ("ways = 4 }]\n\n[[run]]", "length_m = 4 }]\n\n[[run]]", "a splitter has no length_m"),
        ('what = "pad", loss_db = 3', 'what = "pad"', "a pad must say what it does to a signal"),
        ('what = "pad", loss_db = 3', 'what = "amplifier"', "an amplifier must say what it does to a signal"),
        ("distance_m = 35", "distance_m = 0", "must be more than 0 and at most 100000 m"),
        ("distance_m = 35", "distance_m = 35\nwalls = [{ thickness_mm = 5 }]", "must say what the wall costs"),
        ("distance_m = 35", 'distance_m = 35\nwalls = [{ material = "brik", thickness_mm = 5 }]', 'no material "brik"'),
        ("at_m = [2, 0]", "at_m = [2]", "must be two numbers of m in brackets"),
        ("at_m = [2, 0]", "at_m = [2, 1000000]", "must lie within 100000 m"),
        ("at_m = [2, 0]", "place = 'pier'", 'there is no place "pier"'),
        ('id = "quay"\n', 'id = "quay"\npath_exponent = 0.5\n', "must lie between 1 and 8; 2 is free space"),
        ('id = "quay"\n', 'id = "quay"\nrice_k_db = 40\n', "must lie between -20 and 20 dB"),
        ("needs_cn_db = 20", "audible_ms = -1", "must lie between 0 and 1000 ms"),
        ('diversity = "selection"', 'diversity = "select"', "must be one of"),
    ],
)
def test_what_is_wrong_with_the_tables_is_said_in_words(old, new, told):
    assert old in REACH
    faults = faults_of(REACH.replace(old, new, 1))
    assert [told for fault in faults if told in str(fault)], [str(fault) for fault in faults]


def test_the_tables_on_the_page_about_reach_can_be_taken_as_they_are():
    page = (Path(__file__).parents[2] / "docs" / "reach.md").read_text(encoding="utf-8")
    block, *more = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    assert all(map(tomllib.loads, more))
    (run_of_east,) = job_of(SMALL + '[[unit]]\nid = "R1"\nradio = "heron"\n' + block).runs
    assert run_of_east.antenna.at_m == (0, 0)
    assert [part.what for part in run_of_east.parts] == ["cable", "splitter"]


def test_a_run_feeds_every_link_that_a_count_makes():
    text = REACH.replace('feeds = "R1"', 'feeds = "L01"').replace('id = "L01"\n', 'id = "L01"\ncount = 2\n')
    (_, run_of_west, _) = job_of(text.replace("hold_mhz = 606.7\n", "")).runs
    assert run_of_west.feeds == ("L01.1", "L01.2")


def difference(kind, before, after):
    images = [
        None if value is None else {"kind": kind, "id": "x", "value": value, "position": 1} for value in (before, after)
    ]
    return Difference(noun="entry", uid="u", before=images[0], after=images[1])


def test_what_says_how_far_signals_reach_asks_for_no_new_plan_or_sheet():
    for found in (
        difference("run", None, {"antenna": "east"}),
        difference("antenna", {"gain_dbi": 3}, {"gain_dbi": 6}),
        difference("link", {"distance_m": 3}, {"distance_m": 6}),
        difference("place", {}, {"path": "two-ray"}),
    ):
        assert not matters_for_plan(found)
        assert not matters_on_sheet(found)
    assert matters_for_plan(difference("link", {"radio": "heron"}, {"radio": "siskin"}))


HEAD = PageHead(title="a", about="reach", when="b", carriers="c", minute="d")
NUMBERS = st.floats(0, 100, allow_nan=False).map(lambda x: round(x, 2))
PARTS = st.one_of(
    st.builds("{{ what = 'cable', type = 'rg-58', length_m = {} }}".format, st.integers(1, 100_000)),
    st.builds("{{ what = 'cable', length_m = {}, db_per_100m = {} }}".format, st.integers(1, 100_000), NUMBERS),
    st.builds("{{ what = 'splitter', ways = {} }}".format, st.integers(2, 64)),
    st.builds("{{ what = 'pad', loss_db = {} }}".format, NUMBERS),
    st.builds(
        "{{ what = 'amplifier', gain_db = {}, noise_figure_db = {}, iip3_dbm = {} }}".format,
        st.integers(-500, 500),
        NUMBERS,
        st.integers(-500, 500),
    ),
    st.builds("{{ what = 'amplifier', gain_db = {} }}".format, st.integers(-500, 500)),
    st.builds(
        "{{ what = 'amplifier', gain_db = {}, noise_figure_db = 4, p1db_dbm = {}, supply = '{}' }}".format,
        st.integers(-500, 500),
        st.integers(-500, 500),
        st.sampled_from(["gives", "passes", "blocks", "needs"]),
    ),
    st.builds(
        "{{ what = 'filter', loss_db = {}, passband_mhz = [{}, 700], stopband_db = {} }}".format,
        NUMBERS,
        st.sampled_from([470, 606, 650]),
        NUMBERS,
    ),
    st.builds(
        "{{ what = 'cable', points = [{{ mhz = {}, db = {} }}, {{ mhz = 650, db = -2 }}] }}".format,
        st.sampled_from([500, 612]),
        st.integers(-500, 500),
    ),
)
PATHS = st.sampled_from(["free-space", "two-ray", "log-distance", "industrial-nlos", "office-los"])
DISTANCES = st.sampled_from(["1e-300", "0.01", "35", "100000"])


@settings(max_examples=cases(80), deadline=None)
@given(
    parts=st.lists(PARTS, max_size=24),
    path=PATHS,
    metres=DISTANCES,
    gain=st.integers(-500, 500),
    more=st.sampled_from(["", "path_exponent = 8\n", "rice_k_db = 20\nshadowing_db = 0\n"]),
    diversity=st.sampled_from(["none", "switching", "selection", "combining"]),
    front=st.sampled_from(
        ["", "p1db_dbm = 500", "antenna_supply = true", "selectivity = [{ offset_khz = 1, db = 9 }]"]
    ),
)
def test_whatever_a_brief_says_is_told_in_numbers(parts, path, metres, gain, more, diversity, front):
    text = (
        REACH.replace(
            '{ what = "cable", length_m = 8, loss_db = 4.1 }, { what = "splitter", ways = 4 }', ", ".join(parts)
        )
        .replace('id = "quay"\n', f'id = "quay"\npath = "{path}"\n{more}', 1)
        .replace("gain_dbi = 6\n", f"gain_dbi = {gain}\nheight_m = {metres}\n")
        .replace("distance_m = 35", f"distance_m = {metres}")
        .replace('"selection"', f'"{diversity}"\n{front}')
        .replace('{ what = "pad", loss_db = 3 }', ", ".join(parts))
    ) + '\n[[other]]\nid = "mast"\ncarrier_mhz = 650\nbandwidth_khz = 8000\nlevel_dbm = -20\n'
    assert faults_of(text) == ()
    job = job_of(text)
    found = [link_reach(job, link, carriers={}, tables=reach_tables(), every_s=600) for link in job.links]
    advice = {item.link.id: advice_on(item) for item in found}
    document = reach_document(found, advice, cautions=CAUTIONS, inputs=(), warnings=())
    Draft202012Validator(SCHEMA).validate(json.loads(document.model_dump_json(by_alias=True)))
    said = reach_text(found, advice, cautions=CAUTIONS, notes=(), columns=80)
    pages = (*margin_pictures(found, {"L01": "a", "E01": "b"}), *way_pictures(found, advice))
    assert len(parts) % 4 or headed_pdf(HEAD, pages, cautions=())  # on paper only a part of them, which takes its time
    levels = [step.level_dbm for item in found for branch in item.branches for step in branch.steps]
    if max(map(abs, levels), default=0) < 900:  # figures that fit their columns
        assert [line for line in said.splitlines() if display_width(line) > 80] == []
    assert "nan" not in said.split()
    assert all(map(math.isfinite, levels))


def test_what_receivers_hear_beside_their_carriers_is_told_by_check_why_and_plan(tmp_path, capsys):
    text = REACH.replace("iip3_dbm = -5", "iip3_dbm = -5\nif_mhz = 3\nlo_side = 'above'")
    more = '\n[[link]]\nid = "L02"\nradio = "heron"\nunit = "R1"\nhold_mhz = 612.7\n'
    (tmp_path / "brief.toml").write_text(text + more)
    (tmp_path / "carriers.csv").write_text("link,mhz\nL01,606.7\nL02,612.7\nE01,608\n")
    told = "A receiver also hears what lies on its image: L01 hears L02 at 612.700 MHz (IF 3.000 MHz)."
    brief = str(tmp_path / "brief.toml")
    for command in (
        ["check", brief, str(tmp_path / "carriers.csv"), "--json"],
        ["why", brief, "612.7", "--link", "L02", "--json"],
        ["plan", brief, "--out", str(tmp_path / "out"), "--json"],
    ):
        run(command)
        assert told in capsys.readouterr().out.replace("\\n", " ")

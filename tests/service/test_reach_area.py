"""The plan of a place from a brief to text, JSON and a map."""

from __future__ import annotations

import json
import tomllib
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
from area_examples import HALL
from brief_examples import changed, job_of
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from reach_examples import REACH
from thorough import cases

from bandwright.cli import run
from bandwright.core.picture_area import area_pictures
from bandwright.core.reach.area_reach import area_reach
from bandwright.documents.outputs.reach_area import area_model
from bandwright.reference import reach_tables
from bandwright.service.brief_words import matters_for_plan
from bandwright.service.differences import Difference
from bandwright.sheets.area_text import area_lines
from bandwright.sheets.svg import svg

SCHEMA = json.loads(resources.files("bandwright.documents").joinpath("schemas", "reach.json").read_text("utf-8"))
AREA_SCHEMA = {"$defs": SCHEMA["$defs"], "$ref": "#/$defs/AreaModel"}
TABLES = reach_tables()


@pytest.fixture
def ask(tmp_path, capsys):
    """Run `bandwright reach` on a brief; returns (exit code, what it said)."""

    def run_it(*options, text=HALL):
        brief = tmp_path / "hall.toml"
        brief.write_text(text, encoding="utf-8")
        code = run(["reach", str(brief), *map(str, options)])
        said = capsys.readouterr()
        return code, said.out or said.err

    return run_it


def test_the_text_tells_worst_points_spots_and_what_comes_too_near(ask):
    code, text = ask()
    said = " ".join(text.split())
    assert code == 0
    assert "On the plan (24 x 20 m), each link at the worst point of its zone:" in said
    assert "Along Entrance the lowest is Mara's ears at [1.0, 18.0] m:" in said
    assert "With one antenna the best of 6 positions is " in said
    assert "Of all 15 pairs of positions the best is " in said
    assert "Receiving antennas for microphones in the whole area and Stage together. With one antenna" in said
    assert "Receiving antennas for microphones in Stage. With one antenna" in said
    assert "Sending antennas for in-ears in Stage. With one antenna the best of 6 positions is " in said
    assert "Two antennas 2 m apart at " in said
    assert "m to Left a pack such as L01 drives Heron past its 1 dB point" in said
    assert "House talkback brings " in said
    assert max(map(len, text.splitlines())) <= 100


def test_two_positions_leave_no_choice_of_a_pair(ask):
    data = tomllib.loads(HALL)
    dropped = [f'id = "{one["id"]}"' for one in data["area"]["candidates"][2:]]
    kept = "\n".join(line for line in HALL.splitlines() if not any(words in line for words in dropped))
    said = " ".join(ask(text=kept)[1].split())
    assert "The only choice of 2 positions is " in said
    assert "Of all 1 " not in said


def test_a_zone_where_the_signal_is_mostly_gone_is_not_told_as_one_without_dropouts(ask):
    code, said = ask("--json", text=HALL.replace("sensitivity_dbm = -88", "sensitivity_dbm = -40"))
    area = json.loads(said)["area"]
    assert code == 1
    worst = area["links"][-1]["worst"]
    assert worst["outage"] > 0.5
    assert worst["audible_dropouts_per_min"] is None
    assert None in area["maps"][1]["audible_dropouts_per_min"][20]
    assert "mostly gone" in ask(text=HALL.replace("sensitivity_dbm = -88", "sensitivity_dbm = -40"))[1]


def test_the_guide_shows_what_the_program_says(ask):
    guide = (Path(__file__).parents[2] / "docs" / "reach.md").read_text(encoding="utf-8")
    shown = guide.partition("--map hall.svg\n")[2].partition("```")[0]
    _, said = ask()
    for line in shown.splitlines():
        assert line == "..." or line in said.splitlines()


def test_the_document_has_a_sampled_map_and_all_that_was_found(ask):
    _, said = ask("--json")
    document = json.loads(said)
    Draft202012Validator(SCHEMA).validate(document)
    area = document["area"]
    assert (area["columns"], area["rows"], area["step_m"]) == (40, 34, 0.6)
    first = area["maps"][0]
    assert first["links"] == ["L01", "L02", "M.1", "M.2", "M.3", "M.4"]
    assert first["antennas"] == ["left", "right"]
    assert [len(first["reserve_db"]), len(first["reserve_db"][0]), len(first["margins_db"])] == [34, 40, 2]
    assert first["reserve_db"][-1][-1] is None
    known = [value for row in first["reserve_db"] for value in row if value is not None]
    worst = next(one["worst"] for one in area["links"] if one["id"] == "L01")
    assert min(known) == pytest.approx(worst["reserve_db"], abs=0.2)
    assert max(value for row in first["outage"] for value in row if value is not None) < 0.01
    ears = area["maps"][1]["audible_dropouts_per_min"]
    often = max(value for row in ears for value in row if value is not None)
    entrance = area["links"][-1]["walks"][0]["lowest"]
    assert entrance["reserve_db"] < 0 < 1 / 10 < entrance["audible_dropouts_per_min"] < often * 1.1
    assert 0 < worst["audible_dropouts_per_min"] < 1 / 10 < worst["reserve_db"]
    assert worst["margins_db"].keys() == worst["levels_dbm"].keys() == {"left", "right"}
    assert [one["walk"] for one in area["links"][0]["walks"]] == ["entrance"]
    ranked = [(one["antennas"], one["sets"], one["every"]) for one in area["placing"]]
    assert ranked == [(1, 6, True), (2, 15, True)] * 3 + [(1, 6, True)]
    assert [one["inward"] for one in area["placing"]] == [True] * 6 + [False]
    assert [one["zones"] for one in area["placing"][::2]] == [[None, "stage"], [None], ["stage"], ["stage"]]
    assert [one["links"] for one in area["placing"][::2]][2:] == [["L02", "M.1", "M.2", "M.3", "M.4"], ["E01"]]
    assert area["placing"][1]["best"][0]["reserve_db"] >= area["now_db"]
    assert area["two_apart"]["two"]["reserve_db"] > area["two_apart"]["one"]["reserve_db"]
    assert {one["antenna"] for one in area["near"]} == {"left", "right"}
    assert area["strong"][0]["transmitter"] == "House talkback"
    assert area["ok"] is document["ok"] is True


def test_a_short_worst_point_ends_with_1(ask):
    far = changed('zone = "stage"\n\n[[link]]\nid = "M"', '\n[[link]]\nid = "M"', text=HALL)
    code, said = ask("--json", text=changed("rice_k_db = 9", "rice_k_db = 3", text=far))
    document = json.loads(said)
    assert (code, document["ok"], document["area"]["ok"]) == (1, False, False)


def test_missing_facts_give_a_part_and_the_list_of_what_is_lacking(ask):
    text = HALL.replace("at_m = [21, 0.5]\n", "").replace("iip3_dbm = -18\n", "")
    _, said = ask("--json", text=text)
    document = json.loads(said)
    mara = next(one for one in document["area"]["links"] if one["id"] == "L01")
    assert mara["antennas"] == ["left"]
    assert mara["worst"] is not None
    assert document["area"]["near"] == []
    lacking = {(gap["table"], gap["id"], gap["key"]) for gap in document["area"]["missing"]}
    assert {("antenna", "right", "at_m"), ("radio", "heron", "iip3_dbm or p1db_dbm")} <= lacking
    _, words = ask(text=text)
    assert "at_m in [[antenna]] for right" in " ".join(words.split())
    assert "iip3_dbm or p1db_dbm in [[radio]] for heron" in " ".join(words.split())


def standing_of_theo(ask, text):
    _, said = ask("--json", text=text)
    document = json.loads(said)
    link = next(one for one in document["links"] if one["id"] == "L02")
    worst = next(one["worst"] for one in document["area"]["links"] if one["id"] == "L02")
    return link, worst


def test_a_link_stands_by_its_worst_point_or_by_a_lower_figure_at_a_stated_distance(ask):
    link, worst = standing_of_theo(ask, HALL)
    far = round(link["walk"]["margin_db"] - link["walk"]["needed_db"], 2)
    # 20 m to the farthest corner of the stage: nobody stated that, and no point is so far from both antennas.
    assert far < worst["reserve_db"]
    assert (link["standing"]["where"], link["standing"]["at_m"]) == ("at the worst point of Stage", worst["at_m"])
    assert link["standing"]["reserve_db"] == worst["reserve_db"]
    assert link["standing"]["besides"]["where"] == "at 20 m"
    assert link["standing"]["besides"]["reserve_db"] == pytest.approx(far, abs=0.011)
    stated = changed("hold_mhz = 609.2\n", "hold_mhz = 609.2\ndistance_m = 200\n", text=HALL)
    link, worst = standing_of_theo(ask, stated)
    assert (link["standing"]["where"], link["standing"]["at_m"]) == ("at 200 m", None)
    assert link["standing"]["state"] == "enough" if link["standing"]["reserve_db"] >= 0 else "short"
    assert link["standing"]["besides"] == {"reserve_db": worst["reserve_db"], "where": "at the worst point of Stage"}


def test_the_text_says_by_how_much_and_where_a_link_falls_short(ask):
    text = changed("hold_mhz = 609.2\n", "hold_mhz = 609.2\ndistance_m = 2000\n", text=HALL)
    link, worst = standing_of_theo(ask, text)
    code, said = ask(text=text)
    words = " ".join(said.split())
    assert code == 1
    short, better = -link["standing"]["reserve_db"], worst["reserve_db"]
    assert f"L02 Theo falls short: {short:.1f} dB short at 2000 m" in words
    assert f"({better:.1f} dB over what it needs at the worst point of Stage)." in words


def test_links_of_another_place_are_not_on_the_plan(ask):
    elsewhere = HALL.replace('name = "Theo"\n', 'name = "Theo"\nplace = "yard"\n').replace(
        '[[permit]]\nid = "shared"', '[[place]]\nid = "yard"\n\n[[permit]]\nid = "shared"'
    )
    _, said = ask("--json", text=elsewhere)
    area = json.loads(said)["area"]
    assert area["elsewhere"] == ["L02"]
    assert "L02" not in {one["id"] for one in area["links"]}


@pytest.mark.parametrize(("name", "start"), [("m.svg", b"<svg"), ("m.png", b"\x89PNG"), ("m.pdf", b"%PDF")])
def test_the_map_is_written_in_the_form_its_name_asks_for(ask, tmp_path, name, start):
    code, _ = ask("--link", "L01", "--map", tmp_path / name)
    assert code == 0
    assert (tmp_path / name).read_bytes().startswith(start)


def test_a_map_for_one_link_shows_that_one_alone(ask, tmp_path):
    ask("--link", "L02", "--map", tmp_path / "m.svg")
    drawn = (tmp_path / "m.svg").read_text(encoding="utf-8")
    assert "worst: Theo" in drawn
    assert "Mara" not in drawn


@pytest.mark.parametrize(
    ("name", "code", "words"),
    [
        ("map.jpg", "unknown-picture", '"map.jpg" does not say which picture it is; it ends with .svg, .png, .pdf.'),
        ("hall.toml", "unknown-picture", "it ends with .svg, .png, .pdf."),
        ("there.svg", "exists", "This is there already and is not overwritten."),
    ],
)
def test_a_map_that_cannot_be_written_is_refused_before_the_work(ask, tmp_path, name, code, words):
    (tmp_path / "there.svg").write_text("x", encoding="utf-8")
    ended, said = ask("--json", "--map", tmp_path / name)
    (error,) = json.loads(said)["errors"]
    assert (ended, error["code"]) == (2, code)
    assert words in error["text"]
    assert (tmp_path / "there.svg").read_text(encoding="utf-8") == "x"


def test_a_brief_without_a_plan_has_no_map(ask, tmp_path):
    ended, said = ask("--map", tmp_path / "m.svg", text=REACH)
    assert ended == 2
    assert "The brief has no plan of the place" in said
    assert "Add [area] with width_m and depth_m" in said
    assert not (tmp_path / "m.svg").exists()


def test_a_brief_without_a_plan_has_no_area_in_the_document(ask):
    _, said = ask("--json", text=REACH)
    assert json.loads(said)["area"] is None


def test_the_plan_of_a_place_cannot_move_a_carrier():
    def change(kind, before, after):
        rows = [{"kind": kind, "id": "L01", "position": 1.0, "value": value} for value in (before, after)]
        return Difference(noun="entry", uid="u", before=rows[0], after=rows[1])

    assert not matters_for_plan(change("area", {"width_m": 20}, {"width_m": 24}))
    assert not matters_for_plan(change("link", {"id": "L01"}, {"id": "L01", "zone": "stage"}))


METRES = st.sampled_from([0.01, 0.5, 3.0, 24.0, 900.0, 100_000.0])
SPOTS = st.tuples(*[st.sampled_from([-50.0, 0.0, 0.005, 0.25, 1.5, 24.0, 90_000.0])] * 2)


@settings(max_examples=cases(15), deadline=None)
@given(
    width=METRES,
    depth=METRES,
    spots=st.lists(SPOTS, min_size=3, max_size=3),
    walls=st.lists(st.tuples(SPOTS, SPOTS).filter(lambda ends: ends[0] != ends[1]), max_size=3),
    candidates=st.lists(SPOTS, max_size=4),
    path=st.sampled_from(["free-space", "two-ray", "log-distance", "industrial-nlos"]),
    diversity=st.sampled_from(["none", "switching", "selection", "combining"]),
    pattern=st.sampled_from(['"omni"', '"directional"', "[[0, 0], [180, -100]]"]),
    height=st.sampled_from([0.001, 1.2, 100_000.0]),
    rice=st.sampled_from(["", "rice_k_db = 20\n", "rice_k_db = -20\n"]),
)
def test_whatever_a_plan_looks_like_is_told_in_numbers_and_drawn(
    width, depth, spots, walls, candidates, path, diversity, pattern, height, rice
):
    """Plans of a millimetre and of 100 km, antennas on each other and on walls: no NaN, no infinity, no mistake."""
    text = HALL[: HALL.index("[area]")] + HALL[HALL.index("[[link]]") :].replace('zone = "stage"\n', "")
    text = text.replace('path = "log-distance"', f'path = "{path}"').replace("rice_k_db = 9\n", rice)
    text = text.replace('diversity = "selection"', f'diversity = "{diversity}"')
    text = text.replace('pattern = "directional"', f"pattern = {pattern}").replace(
        "height_m = 2\n", f"height_m = {height}\n"
    )
    for old, spot in zip(("[3, 0.5]", "[21, 0.5]", "[18, 0.5]"), spots, strict=True):
        text = text.replace(f"at_m = {old}", f"at_m = {list(spot)}")
    rows = ", ".join(f"{{ from_m = {list(one)}, to_m = {list(two)}, loss_db = 7 }}" for one, two in walls)
    stands = ", ".join(f'{{ id = "c{k}", at_m = {list(spot)} }}' for k, spot in enumerate(candidates))
    text += f"\n[area]\nwidth_m = {width}\ndepth_m = {depth}\nwalls = [{rows}]\ncandidates = [{stands}]\n"
    job = job_of(text)
    found = area_reach(job, job.links, carriers={}, tables=TABLES, every_s=600, cells=24)
    with np.errstate(all="raise", under="ignore"):
        Draft202012Validator(AREA_SCHEMA).validate(json.loads(area_model(found).model_dump_json(by_alias=True)))
    assert "\n".join(area_lines(found, width=80))
    names = {link.id: link.name for link in job.links}
    assert all(svg(picture) for picture in area_pictures(found, title="x", names=names))

"""The plan of a place in a brief: outline, walls, zones, walks, patterns, and what is wrong with them."""

from __future__ import annotations

import pytest
from brief_examples import changed, faults_of, job_of
from reach_examples import REACH

from bandwright.core.rig import AntennaPattern, Wall

AREA = """
[area]
width_m = 24
depth_m = 16
walls = [
  { from_m = [8, 0], to_m = [8, 6], loss_db = 6, name = "Set" },
  { from_m = [8, 6], to_m = [12, 6], material = "brick", thickness_mm = 120 },
]
zones = [{ id = "stage", name = "Stage", corners_m = [[2, 2], [14, 2], [14, 9], [2, 9]] }]
walks = [{ id = "entrance", along_m = [[0, 3], [6, 3], [6, 8]], links = "L01" }]
candidates = [{ id = "pole", at_m = [1, -2], height_m = 3, facing_deg = 45 }]
transmitters = [{ name = "Talkback", at_m = [3, 1], carrier_mhz = 463.4, power_mw = 500 }]
"""
WITH_AREA = REACH.replace('name = "Mara"', 'name = "Mara"\nzone = "stage"') + AREA


def fault_of(old, new):
    (fault,) = faults_of(changed(old, new, text=WITH_AREA))
    return fault


def test_a_plan_is_read_in_metres():
    job = job_of(WITH_AREA)
    area = job.area
    assert area.outline_m == ((0, 0), (24, 0), (24, 16), (0, 16))
    assert [(wall.name, wall.start_m, wall.end_m) for wall in area.walls] == [
        ("Set", (8, 0), (8, 6)),
        (None, (8, 6), (12, 6)),
    ]
    assert area.walls[1].wall == Wall(material="brick", thickness_m=0.12)
    assert area.zone("stage").corners_m == ((2, 2), (14, 2), (14, 9), (2, 9))
    assert area.walks[0].links == ("L01",)
    assert (area.candidates[0].at_m, area.candidates[0].facing_deg) == ((1, -2), 45)
    assert (area.transmitters[0].carrier_hz, area.transmitters[0].power_mw) == (463_400_000, 500)
    assert [link.zone for link in job.links] == ["stage", None]


def test_a_transmitter_without_a_name_is_called_by_where_it_stands():
    area = job_of(changed('name = "Talkback", ', "", text=WITH_AREA)).area
    assert area.transmitters[0].name == "transmitter at [3, 1]"


def test_a_brief_without_a_plan_has_none():
    assert job_of(REACH).area is None


def test_an_outline_may_be_a_polygon_that_is_closed_by_hand():
    outline = "outline_m = [[0, 0], [24, 0], [24, 10], [12, 16], [0, 16], [0, 0]]"
    area = job_of(changed("width_m = 24\ndepth_m = 16", outline, text=WITH_AREA)).area
    assert area.outline_m == ((0, 0), (24, 0), (24, 10), (12, 16), (0, 16))
    assert area.box_m == (0, 0, 24, 16)
    assert area.middle_m == (12, 8)


@pytest.mark.parametrize(
    ("stated", "pattern"),
    [
        ('pattern = "omni"', AntennaPattern(name="omni")),
        (
            'pattern = "directional"\nbeamwidth_deg = 90\nfront_to_back_db = 18',
            AntennaPattern(name="directional", beamwidth_deg=90, front_to_back_db=18),
        ),
        (
            "pattern = [[0, 0], [60, -3], [180, -15.5]]",
            AntennaPattern(name="table", points=((0, 0), (60, -3), (180, -15.5))),
        ),
    ],
)
def test_an_antenna_has_a_pattern_and_a_direction(stated, pattern):
    job = job_of(
        changed('id = "east"\ngain_dbi = 6', f'id = "east"\ngain_dbi = 6\nfacing_deg = 45\n{stated}', text=REACH)
    )
    assert job.runs[0].antenna.pattern == pattern
    assert job.runs[0].antenna.facing_deg == 45


def test_an_antenna_without_a_pattern_states_none():
    antenna = job_of(REACH).runs[0].antenna
    assert (antenna.pattern, antenna.facing_deg) == (None, None)


@pytest.mark.parametrize(
    ("old", "new", "code", "text"),
    [
        ("to_m = [8, 6]", "to_m = [8, 0]", "no-length", "walls[1] is { from_m = [8, 0]"),
        ("depth_m = 16\n", "", "no-outline", "it has no outline"),
        (
            "depth_m = 16",
            "depth_m = 16\noutline_m = [[0, 0], [24, 0], [24, 16], [0, 16]]",
            "two-outlines",
            "it says both outline_m and width_m or depth_m",
        ),
        (
            "[[2, 2], [14, 2], [14, 9], [2, 9]]",
            "[[2, 2], [14, 9], [14, 2], [2, 9]]",
            "crosses-itself",
            "crosses itself",
        ),
        ("[[2, 2], [14, 2], [14, 9], [2, 9]]", "[[2, 2], [14, 2]]", "not-points", "a list of 3 to 200 corners"),
        ("[[2, 2], [14, 2], [14, 9], [2, 9]]", "[[2, 2], [14, 2], [8, 2]]", "no-area", "has no area"),
        (
            "[[2, 2], [14, 2], [14, 9], [2, 9]]",
            "[[2, 2], [30, 2], [14, 9]]",
            "outside-outline",
            'zones "stage" has a point at [30, 2] m, which lies outside the outline',
        ),
        (
            "[[0, 3], [6, 3], [6, 8]]",
            "[[0, 3], [6, 17]]",
            "outside-outline",
            'walks "entrance" has a point at [6, 17] m',
        ),
        ("[[0, 3], [6, 3], [6, 8]]", "[[0, 3], [0, 3]]", "no-length", "has no length"),
        ("[[0, 3], [6, 3], [6, 8]]", "[[0, 3], [6]]", "not-points", "two numbers of m for each point"),
        ('links = "L01"', 'links = "L09"', "unknown-link", 'there is no link "L09"'),
        ('material = "brick"', 'material = "brik"', "unknown-material", 'there is no material "brik"'),
        ('zone = "stage"', 'zone = "stag"', "unknown-zone", 'there is no zone "stag"; known: stage.'),
        ("facing_deg = 45", "facing_deg = 400", "out-of-range", "must lie between -360 and 360 degrees"),
        ("depth_m = 16", 'depth_m = 16\nplace = "key"', "unknown-place", 'there is no place "key"'),
        (
            'candidates = [{ id = "pole"',
            'candidates = [{ id = "pole", at_m = [2, 2] }, { id = "pole"',
            "id-twice",
            'candidates name "pole" twice',
        ),
    ],
)
def test_what_is_wrong_with_a_plan_is_told_in_its_words(old, new, code, text):
    fault = fault_of(old, new)
    assert fault.code == code
    assert text in fault.text
    assert fault.line is not None


@pytest.mark.parametrize(
    ("stated", "code", "text"),
    [
        ('pattern = "dish"', "unknown-pattern", '"omni", "directional", or a list of [degrees, dB]'),
        ("pattern = [[0, 0], [60]]", "unknown-pattern", '"omni", "directional"'),
        ("pattern = [[0, 0], [60, -3], [60, -4]]", "not-rising", "degrees upwards, each once"),
        ("pattern = [[10, 0], [180, -9]]", "out-of-range", "degrees from 0 on"),
        ("pattern = [[0, 0], [360, 0]]", "out-of-range", "to less than 360"),
        ('pattern = "directional"\nbeamwidth_deg = 0', "out-of-range", "between 1 and 360 degrees"),
        ("front_to_back_db = 12", "no-pattern", "must say pattern with beamwidth_deg or front_to_back_db"),
    ],
)
def test_what_is_wrong_with_a_pattern_is_told_in_its_words(stated, code, text):
    (fault,) = faults_of(changed('id = "east"\ngain_dbi = 6', f'id = "east"\ngain_dbi = 6\n{stated}', text=REACH))
    assert fault.code == code
    assert text in fault.text


def test_a_zone_of_a_plan_with_a_fault_is_not_called_unknown():
    assert fault_of("to_m = [8, 6]", "to_m = [8, 0]").code == "no-length"

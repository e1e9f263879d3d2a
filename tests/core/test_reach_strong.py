"""Strong signals, supplies on the line, and what receivers hear beside their carriers. Sums by hand in each test."""

from __future__ import annotations

import math

import numpy as np
import pytest
from brief_examples import changed, job_of
from reach_examples import REACH

from bandwright.core.kit import LoSide
from bandwright.core.planning.build import compile_job
from bandwright.core.reach.advice import advice_on
from bandwright.core.reach.link import link_reach
from bandwright.core.reach.receiver_facts import meets_others, receiver_hits, receiver_warnings, responses_of
from bandwright.reference import reach_tables

TABLES = reach_tables()
AMPLIFIER = '{ what = "amplifier", name = "booster", gain_db = 12, noise_figure_db = 4, p1db_dbm = -20'


def brief_with(parts, radio="", antenna="", more=""):
    start, end = REACH.index('[[run]]\nid = "east-run"'), REACH.index('[[run]]\nid = "ears-run"')
    run = f'[[run]]\nid = "east-run"\nantenna = "east"\nfeeds = "A"\nparts = [{parts}]\n\n'
    text = changed("iip3_dbm = -5\n", f"iip3_dbm = -5\n{radio}\n", text=REACH[:start] + run + REACH[end:])
    return changed("at_m = [0, 0]", f"at_m = [0, 0]\n{antenna}", text=text) + more


def reach_with(*args, **kwargs):
    job = job_of(brief_with(*args, **kwargs))
    return link_reach(job, job.links[0], carriers={}, tables=TABLES, every_s=600)


def said(reach):
    return {one.code: one.text for one in advice_on(reach)}


# ---------------------------------------------------------------------------------------------------- strong signals


def test_a_near_pack_clips_the_first_stage_where_free_space_says(authority):
    reach = reach_with(f"{AMPLIFIER} }}", "p1db_dbm = 0")
    (strong,) = reach.strong
    eirp_dbm = 10 * math.log10(50) + 2.15
    loss_db = eirp_dbm + 6 - -20
    distance_m = 299792458 / 606.7e6 / (4 * math.pi) * 10 ** (loss_db / 20)
    authority(
        "How near a pack clips an amplifier",
        source="Rec. ITU-R P.525 solved for the distance, by hand",
        kind="arithmetic",
        ours=strong.clips_at_m,
        theirs=distance_m,
        tolerance=0.01,
        unit="m",
    )
    assert said(reach)["clips"] == (
        "East-run: booster is the first to clip: 1 dB of gain is lost at -20 dBm at the antenna, which one of these "
        f"packs in sight reaches {distance_m:.1f} m from it (free space)."
    ).replace("East", "east")


def test_another_user_near_the_one_decibel_point_is_told_and_a_filter_counts():
    other = '\n[[other]]\nid = "mast"\nname = "The mast"\ncarrier_mhz = 650\nbandwidth_khz = 8000\nlevel_dbm = -25\n'
    reach = reach_with(f"{AMPLIFIER} }}", "p1db_dbm = 0", more=other)
    assert said(reach)["blocker"] == (
        "east-run: The mast (-25 dBm at the antenna) comes to 5 dB below the 1 dB point of booster; a filter ahead of "
        "it helps, gain does not."
    )
    filtered = '{ what = "filter", loss_db = 1, passband_mhz = [600, 614], stopband_db = 30 }'
    reach = reach_with(f"{filtered}, {AMPLIFIER} }}", "p1db_dbm = 0", more=other)
    assert "blocker" not in said(reach)
    late = reach_with(f"{AMPLIFIER} }}, {filtered}", "p1db_dbm = 0", more=other)
    assert late.strong[0].blockers[0].stage == "booster"


def test_phones_in_the_passband_are_told_with_how_near_they_clip():
    wide = f"{AMPLIFIER}, passband_mhz = [470, 720] }}"
    text = said(reach_with(wide, "p1db_dbm = 0"))["phones"]
    assert "phones on 663.000-698.000 MHz and 699.000-720.000 MHz" in text
    assert "base stations on 617.000-652.000 MHz" in text
    loss_db = 23 + 6 - -20
    distance_m = 299792458 / 680.5e6 / (4 * math.pi) * 10 ** (loss_db / 20)
    assert f"a phone that sends clips it from {distance_m:.0f} m on" in text
    assert "phones" not in said(reach_with(f"{AMPLIFIER}, passband_mhz = [470, 614] }}", "p1db_dbm = 0"))


# ---------------------------------------------------------------------------------------------------------- supplies


@pytest.mark.parametrize(
    ("parts", "radio", "antenna", "code", "text"),
    [
        (
            f'{AMPLIFIER}, supply = "needs" }}',
            "antenna_supply = false",
            "",
            "no-supply",
            "booster gets no supply: Heron (invented) gives none.",
        ),
        (
            f'{AMPLIFIER}, supply = "needs" }}, {{ what = "splitter", name = "divider", ways = 4, supply = "blocks" }}',
            "antenna_supply = true",
            "",
            "no-supply",
            "booster gets no supply: divider blocks it.",
        ),
        (
            '{ what = "cable", loss_db = 3 }',
            "antenna_supply = false",
            'supply = "needs"',
            "no-supply",
            "east gets no supply: Heron (invented) gives none.",
        ),
        (
            '{ what = "splitter", ways = 4, supply = "gives" }',
            "antenna_supply = true",
            "",
            "supplies-meet",
            "two supplies meet between Heron (invented) and 4-way splitter; switch one of them off.",
        ),
        (
            f'{AMPLIFIER}, supply = "needs" }}',
            "",
            "",
            "supply-open",
            "booster needs a supply, and antenna_supply of Heron (invented) is not stated.",
        ),
        (
            f'{AMPLIFIER}, supply = "needs" }}, {{ what = "splitter", ways = 4 }}',
            "antenna_supply = true",
            "",
            "supply-open",
            "booster needs a supply, and supply of the 4-way splitter is not stated.",
        ),
    ],
)
def test_a_supply_that_does_not_arrive_or_comes_twice_is_told(parts, radio, antenna, code, text):
    assert said(reach_with(parts, radio, antenna))[code] == f"east-run: {text}"


@pytest.mark.parametrize(
    "parts",
    [
        f'{AMPLIFIER}, supply = "needs" }}, {{ what = "cable", loss_db = 3 }}',
        f'{AMPLIFIER}, supply = "needs" }}, {{ what = "splitter", ways = 4, supply = "passes" }}',
    ],
)
def test_a_supply_that_arrives_is_not_mentioned(parts):
    codes = said(reach_with(parts, "antenna_supply = true"))
    assert not {"no-supply", "supplies-meet", "supply-open"} & set(codes)


def test_two_live_cables_on_one_antenna_meet():
    more = '\n[[run]]\nid = "second"\nantenna = "east"\nfeeds = "A"\nparts = [{ what = "cable", loss_db = 3 }]\n'
    codes = said(reach_with('{ what = "cable", loss_db = 3 }', "antenna_supply = true", more=more))
    assert (
        codes["supplies-meet"] == "second: two supplies meet at east: its own and that of east-run; block one of them."
    )
    assert "one-antenna-twice" in codes


# ------------------------------------------------------------------------------------------------------ receiver facts


def two_links(second_mhz, radio, more="", rack=True):
    box = 'unit = "R1"\n' if rack else ""
    link = f'\n[[link]]\nid = "L02"\nname = "Theo"\nradio = "heron"\nhold_mhz = {second_mhz}\n{box}distance_m = 5\n'
    text = brief_with('{ what = "cable", loss_db = 3 }', radio, more=link + more)
    return job_of(changed("windows_mhz = [[606.5, 613.5]]", "windows_mhz = [[470, 614]]", text=text))


def carriers_of(job):
    return {link.id: link.hold_hz for link in job.links}


def test_responses_of_a_receiver_lie_where_the_textbook_says(authority):
    """A superheterodyne on 100.1 MHz with 10.7 MHz and its oscillator above: image at 121.5 MHz (broadcast FM)."""
    radio = two_links(600.7, "if_mhz = 10.7\nlo_side = 'above'").radios[0]
    found = {item.kind.value: item.at_hz for item in responses_of(radio, 100_100_000)}
    authority(
        "Image frequency of a superheterodyne receiver",
        source="textbook example of FM broadcast reception: f + 2 x 10.7 MHz (from memory)",
        kind="memory",
        ours=found["image"] / 1e6,
        theirs=121.5,
        tolerance=0,
        unit="MHz",
    )
    assert found["lo-leak"] == 110_800_000
    assert found["half-if"] == 105_450_000
    assert radio.lo_side is LoSide.ABOVE


@pytest.mark.parametrize(
    ("second_mhz", "kind"),
    [(536.7, "lo-leak"), (466.7 + 5, None), (571.7, "half-if"), (571.85, None), (510.9, "image")],
)
def test_a_link_on_a_response_of_another_receiver_is_told(second_mhz, kind):
    ifs = "if_mhz = 47.9" if kind == "image" else "if_mhz = 70"
    job = two_links(second_mhz, f"{ifs}\nlo_side = 'below'")
    hits = [(hit.kind.value, hit.link, hit.source) for hit in receiver_hits(job, carriers_of(job))]
    assert hits == ([] if kind is None else [(kind, "L01", "L02")])


def test_a_leak_needs_a_line_that_carries_both():
    job = two_links(536.7, "if_mhz = 70\nlo_side = 'below'", rack=False)
    assert not list(receiver_hits(job, carriers_of(job)))


def test_other_users_and_closed_tv_channels_are_met_too_and_filters_lower_them():
    other = '\n[[other]]\nid = "mast"\nname = "The mast"\ncarrier_mhz = 746.9\nbandwidth_khz = 12.5\n'
    job = two_links(480.1, "if_mhz = 70\nlo_side = 'above'", more=other)
    (warning,) = receiver_warnings(job, {"L01": 606_900_000})
    assert warning.code == "image"
    assert warning.text == (
        "A receiver also hears what lies on its image: L01 hears The mast at 746.900 MHz (IF 70.000 MHz)."
    )
    selective = "selectivity = [{ offset_khz = 100000, db = 45 }]"
    job = two_links(480.1, f"if_mhz = 70\nlo_side = 'above'\n{selective}", more=other)
    (warning,) = receiver_warnings(job, {"L01": 606_900_000})
    assert "filters ahead lower it by 45 dB" in warning.text
    job = two_links(480.1, f"if_mhz = 70\nlo_side = 'above'\n{selective.replace('45', '60')}", more=other)
    assert not list(receiver_warnings(job, {"L01": 606_900_000}))
    text = brief_with('{ what = "cable", loss_db = 3 }', "if_mhz = 30\nlo_side = 'above'")
    tv = job_of(changed('id = "quay"\n', 'id = "quay"\ntv_raster = "region1"\ntv_closed = ["45"]\n', text=text))
    (warning,) = receiver_warnings(tv, {"L01": 606_900_000})
    assert "L01 hears closed TV channel 45 at 666.900 MHz" in warning.text


def test_without_intermediate_frequencies_nothing_is_told():
    job = two_links(536.7, "")
    assert not list(receiver_warnings(job, carriers_of(job)))


def test_a_plan_prefers_carriers_on_which_nothing_lies_on_the_image():
    """Channel 45 is 662 to 670 MHz; with 30 MHz above, a carrier of 200 kHz up to 610.1 MHz has its image there."""
    text = brief_with('{ what = "cable", loss_db = 3 }', "if_mhz = 30\nlo_side = 'above'")
    text = changed('id = "quay"\n', 'id = "quay"\ntv_raster = "region1"\ntv_closed = ["45"]\n', text=text)
    text = changed(
        'id = "L01"\nname = "Mara"\nradio = "heron"\nhold_mhz = 606.7', 'id = "L01"\nradio = "heron"', text=text
    )
    job = job_of(text)
    met = meets_others(job, job.links[0], np.array([606_600_000, 610_075_000, 610_100_000, 610_125_000, 613_000_000]))
    assert met.tolist() == [True, True, False, False, False]
    compiled = compile_job(job)
    choice = compiled.problem.choices[compiled.choice_of[0]]
    assert {int(w) for w in choice.wish[choice.carriers_hz < 610_100_000]} == {250}
    assert {int(w) for w in choice.wish[choice.carriers_hz >= 610_100_000]} == {0}


def test_carriers_that_all_meet_something_are_told_by_plain_search_too():
    other = '\n[[other]]\nid = "mast"\nname = "The mast"\ncarrier_mhz = 746.9\nbandwidth_khz = 12.5\n'
    job = two_links(480.1, "if_mhz = [70, 10.7]\nlo_side = 'either'", more=other)
    carriers = np.arange(470_000_000, 614_000_000, 25_000)
    met = meets_others(job, job.links[0], carriers)
    for hz, found in zip(carriers.tolist(), met.tolist(), strict=True):
        hits = [hit for hit in receiver_hits(job, {"L01": hz}) if hit.source == "mast"]
        assert bool(hits) == found
    assert met.any()

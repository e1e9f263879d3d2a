"""One link from end to end. Authority: the sum of its decibels by hand, beside each test."""

from __future__ import annotations

import math
import re

import pytest
from brief_examples import changed, job_of
from reach_examples import REACH

from bandwright.core.kit import Diversity
from bandwright.core.reach.advice import advice_on
from bandwright.core.reach.facts import Gap
from bandwright.core.reach.link import State, link_reach
from bandwright.reference import reach_tables

TABLES = reach_tables()


def reach_of(text=REACH, link_id="L01", *, carriers=None, every_s=600):
    job = job_of(text)
    (link,) = (link for link in job.links if link.id == link_id)
    return link_reach(job, link, carriers=carriers or {}, tables=TABLES, every_s=every_s)


def said(reach):
    return {one.code: one.text for one in advice_on(reach)}


def with_parts(parts, text=REACH):
    """Leave one run, with these parts."""
    start, end = text.index('[[run]]\nid = "east-run"'), text.index('[[run]]\nid = "ears-run"')
    return f'{text[:start]}[[run]]\nid = "east-run"\nantenna = "east"\nfeeds = "A"\nparts = [{parts}]\n\n{text[end:]}'


def test_the_decibels_of_a_microphone_add_up(authority):
    reach = reach_of()
    branch = reach.branches[0]
    free_space = 32.4478 + 20 * math.log10(606.7) + 20 * math.log10(0.035)
    eirp = 10 * math.log10(50) + 2.15
    level = eirp - 12 - free_space + 6 - 4.1 - 10 * math.log10(4)
    lost = 10 ** ((4.1 + 10 * math.log10(4) + 8) / 10)
    noise_at_antenna = -173.975 + 10 * math.log10(200e3) + 10 * math.log10(lost)
    noise = noise_at_antenna - 4.1 - 10 * math.log10(4)
    for what, ours, theirs in (
        ("Level at a receiver", branch.level_dbm, level),
        ("Noise at a receiver behind cable and splitter", branch.noise_dbm, noise),
        ("Margin of a link", branch.margin_db, level - noise - 20),
        ("Level with the body at its most", branch.lowest_dbm, level - 13),
    ):
        authority(
            what,
            source="sum by hand in the test",
            kind="arithmetic",
            ours=ours,
            theirs=theirs,
            tolerance=0.002,
            unit="dB",
        )
    assert [step.what for step in branch.steps] == ["transmitter", "body", "path", "antenna", "cable", "splitter"]
    assert branch.steps[-1].level_dbm == branch.level_dbm


def test_the_decibels_of_an_in_ear_add_up_the_other_way_round(authority):
    reach = reach_of(link_id="E01")
    (branch,) = reach.branches
    free_space = 32.4478 + 20 * math.log10(608) + 20 * math.log10(0.020)
    radiated = 10 * math.log10(50) - 3 + 4
    for what, ours, theirs in (
        ("Power radiated by a transmitter on another antenna", branch.radiated_dbm, radiated),
        ("Level at an in-ear receiver", branch.level_dbm, radiated - free_space - 10),
        ("Margin over sensitivity", branch.margin_db, radiated - free_space - 10 + 85),
    ):
        authority(
            what,
            source="sum by hand in the test",
            kind="arithmetic",
            ours=ours,
            theirs=theirs,
            tolerance=0.002,
            unit="dB",
        )
    assert [step.what for step in branch.steps] == ["transmitter", "pad", "antenna", "body", "path"]
    assert branch.cn_db is None
    assert branch.margin_over == "its sensitivity of -85 dBm"
    erp = 10 ** ((radiated - 2.15) / 10)
    assert f"it radiates {erp:.0f} mW ERP" in said(reach)["radiated"]


def test_two_antennas_two_metres_apart_are_counted_as_that_far_apart():
    walk = reach_of().walk
    assert walk.fading.branches == 2
    assert walk.fading.diversity is Diversity.SELECTION
    assert walk.spacing_m == 2
    assert walk.fading.correlation < 0.2
    assert walk.needed_db < walk.needed_alone_db - 12


def test_two_runs_at_one_antenna_are_no_diversity():
    reach = reach_of(changed('antenna = "west"', 'antenna = "east"', text=REACH))
    assert reach.walk.spacing_m == 0
    assert reach.walk.fading.correlation == 1
    assert said(reach)["one-antenna-twice"] == "Two of its runs begin at one antenna: both fade together."
    assert reach.walk.needed_db > reach_of().walk.needed_db + 5


def test_antennas_closer_than_half_a_wavelength_are_told():
    reach = reach_of(changed("at_m = [2, 0]", "at_m = [0.1, 0]", text=REACH))
    assert "0.10 m apart: less than half a wavelength (0.25 m)" in said(reach)["diversity"]


def test_without_positions_antennas_count_as_far_apart_and_that_is_told():
    reach = reach_of(REACH.replace("at_m = [2, 0]\n", ""))
    assert reach.walk.fading.correlation == 0
    assert Gap(table="antenna", id="west", key="at_m", meanwhile="they count as far apart") in reach.gaps


def test_a_receiver_for_two_antennas_with_one_is_told_what_a_second_one_brings():
    reach = reach_of(with_parts('{ what = "pad", loss_db = 1 }'))
    assert reach.walk.fading.branches == 1
    assert "only one run feeds it; a second one some wavelengths away would lower" in said(reach)["second-antenna"]


@pytest.mark.parametrize(
    ("old", "gap"),
    [
        ("distance_m = 35\n", Gap(table="link", id="L01", key="distance_m")),
        ("power_mw = [10, 50]\n", Gap(table="radio", id="heron", key="power_mw")),
        (
            "noise_figure_db = 8\nneeds_cn_db = 20\n",
            Gap(table="radio", id="heron", key="sensitivity_dbm with needs_cn_db"),
        ),
    ],
)
def test_what_is_missing_is_named_and_leaves_the_margin_open(old, gap):
    reach = reach_of(REACH.replace(old, ""))
    assert gap in reach.gaps
    assert reach.state is State.OPEN
    assert reach.margin_db is None


def test_a_missing_antenna_gain_counts_as_nothing_and_is_named():
    stated, silent = reach_of(), reach_of(REACH.replace("gain_dbi = 6\nat_m = [0, 0]", "at_m = [0, 0]"))
    assert silent.branches[0].level_dbm == pytest.approx(stated.branches[0].level_dbm - 6)
    assert Gap(table="antenna", id="east", key="gain_dbi", meanwhile="0 dBi counts") in silent.gaps


def test_a_link_that_no_run_feeds_has_an_antenna_right_at_the_box():
    reach = reach_of(changed('unit = "R1"\n', "", text=REACH))
    (branch,) = reach.branches
    assert branch.run is None
    assert branch.level_dbm == pytest.approx(reach_of().branches[0].level_dbm - 6 + 4.1 + 10 * math.log10(4))
    assert [gap.key for gap in reach.gaps] == ["feeds"]


def test_a_run_that_names_nothing_feeds_what_no_other_names():
    text = REACH.replace('feeds = "A"\n', "").replace('feeds = "R1"\n', "")
    assert [branch.run.id for branch in reach_of(text).branches] == ["east-run", "west-run"]
    assert [branch.run.id for branch in reach_of(text, "E01").branches] == ["ears-run"]


def test_the_carrier_is_that_of_the_plan_else_the_held_one_else_a_permitted_one():
    assert reach_of(carriers={"L01": 612_000_000}).facts.carrier_hz == 612_000_000
    assert (reach_of().facts.carrier_hz, reach_of().facts.carrier_from) == (606_700_000, "held")
    free = reach_of(changed("hold_mhz = 606.7\n", "", text=REACH)).facts
    assert 606_500_000 <= free.carrier_hz <= 613_500_000
    assert free.carrier_from == "the middle of what is permitted"


def test_a_hand_held_sends_no_more_than_its_permit_allows():
    reach = reach_of(changed('unit = "R1"\n', 'unit = "R1"\nworn = "hand"\n', text=REACH))
    assert reach.facts.power_mw == 10
    assert reach.facts.body_db == (2, 6, 15)


def test_eight_metres_of_thin_cable_are_told_with_their_spread():
    loss = reach_of(with_parts('{ what = "cable", type = "rg-58", length_m = 8 }'))
    assert said(loss)["loss"] == "east-run: 8 m of rg-58 costs 3.9 dB (3.3 to 4.5)."


def test_what_an_amplifier_brings_and_costs_is_that_of_the_cascade():
    """10 dB of cable before a noise figure of 8 dB: 18 dB; with 10 dB of gain at 4 dB ahead 4 dB and a rest."""
    text = said(reach_of(with_parts('{ what = "cable", length_m = 20, loss_db = 10 }')))["amplifier"]
    with_it = 10 * math.log10(10**0.4 + (10**1.8 - 1) / 10)
    assert f"would bring {18 - with_it:.1f} dB of carrier over noise and cost 10 dB of headroom" in text


def test_too_much_gain_is_told_with_what_a_pad_costs():
    parts = '{ what = "amplifier", gain_db = 20, noise_figure_db = 4, iip3_dbm = 10 }, { what = "pad", loss_db = 3 }'
    reach = reach_of(with_parts(parts))
    text = said(reach)["too-much-gain"]
    assert text.startswith("east-run: 17.0 dB more gain than loss: strong signals arrive stronger. A pad of 17 dB")
    assert "moves the intercept point up by" in text
    assert "amplifier" not in said(reach)


def test_a_pad_moves_the_intercept_point_by_no_more_than_it_says():
    parts = '{ what = "amplifier", gain_db = 12, noise_figure_db = 3, iip3_dbm = 30 }, { what = "pad", loss_db = 5.6 }'
    text = said(reach_of(with_parts(parts)))["too-much-gain"]
    told = re.search(r"A pad of (\d+) dB .* moves the intercept point up by ([\d.]+) dB", text)
    assert told[1] == "6"
    assert float(told[2]) <= 6


def test_a_link_that_is_short_with_one_antenna_is_told_what_diversity_asks_for():
    far = REACH.replace("distance_m = 35", "distance_m = 3000")
    text = with_parts('{ what = "cable", type = "rg-58", length_m = 8 }', far)
    for stated in ("", 'diversity = "none"\n'):
        reach = reach_of(re.sub(r'diversity = "\w+"\n', stated, text))
        told = said(reach)["second-antenna"]
        assert told.startswith("A receiver that takes the better of two antennas needs 24 dB in place of 39 dB")
        assert ("nobody says" in told) is (stated == "")


PAD = '{ what = "pad", loss_db = 60 }'


def test_an_antenna_that_hears_nothing_takes_nothing_away(authority):
    text = REACH.replace(
        'antenna = "west"\nfeeds = "R1"\nparts = [', f'antenna = "west"\nfeeds = "R1"\nparts = [{PAD}, '
    )
    dead = reach_of(text)
    east, west = (branch.margin_db for branch in dead.branches)
    assert west < 0
    assert dead.margin_db == east
    assert dead.walk.needed_db == dead.walk.needed_alone_db
    authority(
        "Outage with an antenna that hears nothing",
        source="1 - exp(-x) of the other one by hand in the test",
        kind="arithmetic",
        ours=dead.walk.outage,
        theirs=1 - math.exp(-(10 ** (-east / 10))),
        tolerance=1e-9,
    )
    assert said(dead)["useless-antenna"] == "By west-run too little arrives to help the other one."


def test_an_in_ear_transmitter_behind_much_loss_radiates_more_than_nothing():
    reach = reach_of(REACH.replace('what = "pad", loss_db = 3', 'what = "pad", loss_db = 25'), "E01")
    assert "it radiates 0.24 mW ERP" in said(reach)["radiated"]


def test_an_amplifier_behind_its_cable_is_told_to_move():
    parts = '{ what = "cable", length_m = 20, loss_db = 8 }, { what = "amplifier", gain_db = 10, noise_figure_db = 4 }'
    figure = 10 * math.log10(10**1.2 + (10**0.8 - 1) / 10**0.2)
    moved = 10 * math.log10(10**0.4 + (10**1.6 - 1) / 10)
    text = said(reach_of(with_parts(parts)))["amplifier-late"]
    assert f"at the antenna it would bring {figure - moved:.1f} dB" in text


def test_an_amplifier_without_a_noise_figure_leaves_the_noise_open():
    reach = reach_of(with_parts('{ what = "amplifier", gain_db = 10 }'))
    assert reach.branches[0].noise_dbm is None
    assert Gap(table="run", id="east-run", key="noise_figure_db of the amplifier") in reach.gaps
    assert reach.state is State.OPEN


def test_no_transmitter_sends_through_an_amplifier_made_to_receive():
    text = REACH.replace('{ what = "pad", loss_db = 3 }', '{ what = "amplifier", gain_db = 10 }')
    assert "cannot send through it" in said(reach_of(text, "E01"))["amplifier-backwards"]


def test_sensitivity_with_its_ratio_goes_before_the_noise_figure():
    reach = reach_of(changed("noise_figure_db = 8", "noise_figure_db = 8\nsensitivity_dbm = -90", text=with_parts("")))
    assert reach.branches[0].noise_dbm == pytest.approx(-110, abs=0.001)
    # A sensitivity below thermal noise is that of another bandwidth.
    reach = reach_of(changed("noise_figure_db = 8", "noise_figure_db = 8\nsensitivity_dbm = -102", text=with_parts("")))
    assert reach.branches[0].noise_dbm == pytest.approx(-112.965, abs=0.01)


def test_noise_of_the_site_counts(authority):
    quiet, loud = (
        reach_of(with_parts("")),
        reach_of(with_parts("").replace("gain_dbi = 6\n", "gain_dbi = 6\nsite_noise_db = 10\n")),
    )
    authority(
        "Noise of a receiver at a noisy site",
        source="k B (T_A + (F - 1) T0) by hand: T_A ten times T0, F of 8 dB",
        kind="arithmetic",
        ours=loud.branches[0].noise_dbm - quiet.branches[0].noise_dbm,
        theirs=10 * math.log10((10 + 10**0.8 - 1) / 10**0.8),
        tolerance=1e-9,
        unit="dB",
    )


def test_walls_are_taken_as_stated_first_and_by_their_material_else():
    stated = reach_of(REACH.replace("distance_m = 35", "distance_m = 35\nwalls = [{ loss_db = 6 }]"))
    assert stated.branches[0].path.walls_db == 6
    brick = 'distance_m = 35\nwalls = [{ material = "brick", thickness_mm = 120 }, { loss_db = 2 }]'
    reach = reach_of(REACH.replace("distance_m = 35", brick))
    assert reach.branches[0].path.walls_db > 4
    assert "606.7 MHz, and brick is published for 1 to 40 GHz" in said(reach)["outside-range"]


def test_squelch_lies_between_noise_and_the_lowest_level():
    squelch = reach_of().squelch
    noise = max(branch.noise_dbm for branch in reach_of().branches)
    assert squelch.over_noise_dbm == pytest.approx((noise + 6, noise + 10))
    assert squelch.level_dbm == pytest.approx(noise + 10)
    far = reach_of(REACH.replace("distance_m = 35", "distance_m = 6000")).squelch
    assert far.level_dbm is None


def test_sound_is_told_above_threshold_only(authority):
    reach = reach_of()
    best = max(branch.cn_db for branch in reach.branches)
    x = 2 * math.pi * 50e-6 * 15e3
    for text, deemphasis_db in (
        (REACH, 0),
        (REACH.replace("noise_figure", "preemphasis_us = 50\nnoise_figure", 1), 10.17),
    ):
        authority(
            "FM signal to noise of a link",
            source="3/2 (D/W)^2 B/W by hand: D 50, W 15, B 200 kHz; de-emphasis x^3 / 3 (x - arctan x)",
            kind="arithmetic",
            ours=reach_of(text).snr_db - best,
            theirs=10 * math.log10(1.5 * (50 / 15) ** 2 * 200 / 15) + deemphasis_db,
            tolerance=0.005,
            unit="dB",
        )
    assert 10 * math.log10(x**3 / 3 / (x - math.atan(x))) == pytest.approx(10.17, abs=0.005)
    assert reach_of(REACH.replace("distance_m = 35", "distance_m = 60000")).snr_db is None


def test_a_link_far_out_is_short_and_says_by_how_much():
    reach = reach_of(REACH.replace("distance_m = 35", "distance_m = 1500"))
    assert reach.state is State.SHORT
    short = reach.walk.needed_db - reach.walk.margin_db
    assert said(reach)["short"].startswith(f"{short:.0f} dB short of what keeps audible dropouts to one in 10 min")
    assert "rice_k_db" in said(reach)["no-direct-wave"]
    near = reach_of(REACH.replace("distance_m = 35", f"distance_m = {1500 / 10 ** ((short - 0.3) / 20):.1f}"))
    assert said(near)["short"].startswith("0.3 dB short of what keeps")  # free space: 20 dB for ten times as far


def test_a_direct_wave_lowers_what_is_needed():
    text = REACH.replace('id = "quay"\n', 'id = "quay"\nrice_k_db = 6\n', 1)
    assert reach_of(text).walk.needed_db < reach_of().walk.needed_db


def test_the_scatter_of_the_place_says_how_many_points_keep_the_margin(authority):
    text = REACH.replace('id = "quay"\n', 'id = "quay"\nshadowing_db = 8\n', 1)
    walk = reach_of(text).walk
    authority(
        "Share of points that keep a margin",
        source="normal distribution by the error function",
        kind="arithmetic",
        ours=walk.places,
        theirs=0.5 * (1 + math.erf((walk.margin_db - walk.needed_db) / 8 / math.sqrt(2))),
        tolerance=1e-9,
    )
    assert reach_of().walk.places is None


def test_two_rays_ask_for_a_height():
    text = REACH.replace('id = "quay"\n', 'id = "quay"\npath = "two-ray"\n', 1)
    assert Gap(table="antenna", id="east", key="height_m") in reach_of(text).gaps
    assert reach_of(text).state is State.OPEN
    high = text.replace("at_m = [0, 0]", "at_m = [0, 0]\nheight_m = 3").replace(
        "at_m = [2, 0]", "at_m = [2, 0]\nheight_m = 3"
    )
    assert reach_of(high).state is not State.OPEN
    no_run = reach_of(changed('unit = "R1"\n', "", text=text))
    assert no_run.gaps[0] == Gap(table="run", id="L01", key="feeds")


def test_an_exponent_is_asked_for_where_the_model_needs_one():
    text = REACH.replace('id = "quay"\n', 'id = "quay"\npath = "log-distance"\n', 1)
    assert Gap(table="place", id="quay", key="path_exponent") in reach_of(text).gaps
    assert (
        reach_of(text.replace('"log-distance"\n', '"log-distance"\npath_exponent = 3\n')).branches[0].path.loss_db > 70
    )


def test_what_is_lacking_with_the_body_at_its_most_is_told():
    reach = reach_of(REACH.replace("distance_m = 35", "distance_m = 10"))
    lowest = sum(branch.lowest_margin_db for branch in reach.branches) / 2
    far = reach_of(REACH.replace("distance_m = 35", "distance_m = 60"))
    assert reach.state is State.ENOUGH
    assert lowest > reach.walk.needed_db
    assert "short-at-worst" not in said(reach)
    lacking = far.walk.needed_db - sum(branch.lowest_margin_db for branch in far.branches) / 2
    assert far.state is State.ENOUGH
    assert f"with body and cables at their most {lacking:.0f} dB are lacking" in said(far)["short-at-worst"]


def test_an_in_ear_that_no_run_feeds_sends_from_its_own_antenna(authority):
    reach = reach_of(changed('feeds = "E01"\n', 'feeds = "L01"\n', text=REACH), "E01")
    free_space = 32.4478 + 20 * math.log10(608) + 20 * math.log10(0.020)
    authority(
        "Level at an in-ear receiver, half-wave antenna",
        source="sum by hand in the test",
        kind="arithmetic",
        ours=reach.branches[0].level_dbm,
        theirs=10 * math.log10(50) + 2.15 - free_space - 10,
        tolerance=0.002,
        unit="dBm",
    )
    assert Gap(table="run", id="E01", key="feeds", meanwhile="its own half-wave antenna counts") in reach.gaps

"""A front end seen from its antenna: intercept with selectivity, 1 dB points, measured gain. Authorities at each."""

from __future__ import annotations

import math

import numpy as np
import pytest
from brief_examples import changed, job_of
from reach_examples import REACH

from bandwright.core.bands import Span
from bandwright.core.reach.cascade import CUBIC_P1DB_BELOW_IIP3_DB
from bandwright.core.reach.facts import Gap
from bandwright.core.reach.link import State, link_reach
from bandwright.core.reach.receiver_front import front_end
from bandwright.reference import reach_tables

TABLES = reach_tables()


def reach_with(parts, radio="", antenna=""):
    start, end = REACH.index('[[run]]\nid = "east-run"'), REACH.index('[[run]]\nid = "ears-run"')
    run = f'[[run]]\nid = "east-run"\nantenna = "east"\nfeeds = "A"\nparts = [{parts}]\n\n'
    text = REACH[:start] + run + REACH[end:]
    text = changed("iip3_dbm = -5\n", f"iip3_dbm = -5\n{radio}\n", text=text)
    job = job_of(changed("gain_dbi = 6\nat_m = [0, 0]", f"gain_dbi = 6\nat_m = [0, 0]\n{antenna}", text=text))
    return link_reach(job, job.links[0], carriers={}, tables=TABLES, every_s=600)


def front_with(parts, radio=""):
    reach = reach_with(parts, radio)
    return front_end(reach.branches[0].chain, reach.link.radio)


AMPLIFIER = '{ what = "amplifier", gain_db = 12, noise_figure_db = 4, iip3_dbm = 10 }'
FILTER = '{ what = "filter", loss_db = 1, passband_mhz = [600, 614], stopband_db = 30 }'


def test_selectivity_ahead_raises_the_intercept_point_by_one_and_a_half_times_its_decibels(authority):
    front = front_with(FILTER)
    inside = float(front.iip3_for(607e6, 607e6, 608e6))
    outside = float(front.iip3_for(630e6, 630e6, 653e6))
    assert inside == pytest.approx(front.iip3_dbm)
    authority(
        "Rise of an intercept point by 30 dB of selectivity ahead",
        source='"Use selectivity to improve receiver intercept point", eqs 13-14, an application note of a chip maker',
        ours=outside - inside,
        theirs=1.5 * 30,
        tolerance=1e-9,
        unit="dB",
    )


def test_two_stages_of_a_cubic_in_time_behind_a_filter_agree(authority):
    """The amplifier sits ahead of the filter, the receiver behind it: two tones in time, the product off a spectrum."""
    front = front_with(f"{AMPLIFIER}, {FILTER}")
    size, one, two, level_dbm = 4096, 200, 230, -45.0
    n = np.arange(size)
    a = math.sqrt(2) * 10 ** (level_dbm / 20)
    signal = a * (np.cos(2 * np.pi * one * n / size) + np.cos(2 * np.pi * two * n / size))
    amplified = 10 ** (12 / 20) * (signal - signal**3 * 2 / (3 * 10 ** (10 / 10)))
    spectrum = np.fft.rfft(amplified)
    spectrum[[one, two]] *= 10 ** (-30 / 20)  # what the filter takes of the tones, and not of the product
    received = np.fft.irfft(spectrum, size) * 10 ** (-1 / 20)
    seen = received - received**3 * 2 / (3 * 10 ** (-5 / 10))
    product = np.abs(np.fft.rfft(seen))[2 * one - two] / size * 2
    product_dbm = 20 * math.log10(product / math.sqrt(2)) - 11
    ours = 3 * level_dbm - 2 * float(front.iip3_for(630e6, 630e6, 653e6))
    authority(
        "Product of an amplifier and, behind a filter, a receiver",
        source="two cubic stages in time and a Fourier transform, computed in the test",
        kind="arithmetic",
        ours=ours,
        theirs=product_dbm,
        tolerance=0.05,
        unit="dBm",
    )


def test_selectivity_of_a_receiver_counts_by_offset():
    front = front_with(FILTER, "selectivity = [{ offset_khz = 2000, db = 10 }, { offset_khz = 10000, db = 50 }]")
    carrier = front.carrier_hz
    offsets = np.array([0, 1e6, -2e6, 6e6, 5e7])
    assert front.stages[-1].weakened_db(carrier + offsets, carrier_hz=carrier).tolist() == pytest.approx(
        [0, 5, 10, 60 - 30 if carrier + 6e6 <= 614e6 else 60, 80]
    )
    assert front.selectivity == ((2_000_000, 10.0), (10_000_000, 50.0))
    assert front.passband_hz == (600_000_000, 614_000_000)


def test_a_cubic_stage_loses_one_decibel_where_its_intercept_says(authority):
    iip3_dbm = 10.0
    a3 = 4 / (3 * 2 * 10 ** (iip3_dbm / 10))
    n = np.arange(256)
    tone = np.cos(2 * np.pi * 8 * n / 256)
    peak = math.sqrt(2) * 10 ** ((iip3_dbm - CUBIC_P1DB_BELOW_IIP3_DB) / 20)
    out = peak * tone - a3 * (peak * tone) ** 3
    lost = 20 * math.log10(np.abs(np.fft.rfft(out))[8] / 128 / peak)
    authority(
        "Gain that a tone loses at the 1 dB point of a cubic stage",
        source="a cubic stage in time and a Fourier transform, computed in the test",
        kind="arithmetic",
        ours=-1.0,
        theirs=lost,
        tolerance=1e-4,
        unit="dB",
    )


def test_the_chain_clips_where_the_first_of_its_stages_does():
    """By hand: an amplifier at -20 dBm behind 1 dB of filter clips at -19 dBm, its receiver 11 dB later at -30."""
    amplifier = '{ what = "amplifier", gain_db = 12, noise_figure_db = 4, p1db_dbm = -20 }'
    early = front_with(f"{FILTER}, {amplifier}", "p1db_dbm = -5")
    assert early.p1db_dbm == pytest.approx(-19)
    assert early.clips_first == "amplifier"
    late = front_with(f"{FILTER}, {amplifier}", "p1db_dbm = -19")
    assert late.p1db_dbm == pytest.approx(-30)
    assert late.clips_first == "Heron (invented)"
    unknown = front_with('{ what = "amplifier", gain_db = 12, noise_figure_db = 4 }')
    assert unknown.p1db_dbm is None
    assert unknown.iip3_dbm is None
    assert unknown.iip3_for(1, 2, 3) is None


def test_measured_points_go_before_a_single_figure_and_end_where_they_end():
    cable = '{ what = "cable", points = [{ mhz = 500, db = -2 }, { mhz = 600, db = -3 }, { mhz = 614, db = -4.4 }] }'
    branch = reach_with(cable).branches[0]
    assert branch.chain.gain_db == pytest.approx(-3 - 6.7 / 10)
    short = '{ what = "cable", points = [{ mhz = 500, db = -2 }, { mhz = 600, db = -3 }] }'
    reach = reach_with(short)
    assert reach.state is State.OPEN
    assert reach.branches[0].level_dbm is None
    assert reach.branches[0].noise_dbm is None
    lacking = "a measurement of the cable at 606.700 MHz (its list of points runs from 500 to 600 MHz)"
    assert Gap(table="run", id="east-run", key=lacking) in reach.gaps


def test_gain_of_an_antenna_over_frequency_goes_before_its_one_figure():
    branch = reach_with(FILTER, antenna="points = [{ mhz = 500, db = 4 }, { mhz = 613.4, db = 5 }]").branches[0]
    assert branch.chain.antenna_gain_dbi == pytest.approx(4 + 106.7 / 113.4)
    assert reach_with(FILTER, antenna="points = [{ mhz = 500, db = 4 }, { mhz = 600, db = 5 }]").state is State.OPEN


def test_a_cable_with_gain_and_a_carrier_outside_a_passband_are_told():
    cable = '{ what = "cable", points = [{ mhz = 600, db = 1.5 }, { mhz = 620, db = -1 }] }'
    (doubt,) = reach_with(cable).branches[0].chain.doubts
    assert doubt == "cable only loses, but its list of points gives it 1.5 dB of gain; measure it again"
    other = '{ what = "filter", loss_db = 1, passband_mhz = [500, 600] }'
    (doubt,) = reach_with(other).branches[0].chain.doubts
    assert doubt == (
        f"606.700 MHz lies outside the passband of filter ({Span(500_000_000, 600_000_000)}); "
        "stopband_db does not say by how much it is lowered"
    )
    stopped = reach_with('{ what = "filter", loss_db = 1, passband_mhz = [500, 600], stopband_db = 40 }')
    assert stopped.branches[0].chain.gain_db == pytest.approx(-41)

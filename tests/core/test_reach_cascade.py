"""Noise and intercept points of stages in a row, and FM sound. Authorities: textbook examples, a signal in time."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bandwright.core.reach.cascade import (
    Stage,
    cascade_iip3_dbm,
    cascade_noise_figure_db,
    noise_dbm,
    splitter_loss_db,
)
from bandwright.core.reach.sound import deemphasis_gain_db, fm_gain_db


def stage(gain_db, figure_db=0.0, iip3_dbm=math.inf):
    return Stage(what="x", name="x", gain_db=gain_db, noise_figure_db=figure_db, iip3_dbm=iip3_dbm)


def test_noise_of_a_receiver_is_that_of_the_textbook(authority, authority_table):
    table = authority_table("reach")["cascade"]
    stages = [stage(gain, figure) for gain, figure in table["stages_gain_db_figure_db"]]
    figure_db = cascade_noise_figure_db(stages)
    noise = noise_dbm(noise_figure_db=figure_db, bandwidth_hz=table["bandwidth_hz"], antenna_k=table["antenna_k"])
    gain_db = sum(one.gain_db for one in stages)
    # The book rounds F to 1.80 before it takes the logarithm, and levels to a tenth.
    for what, ours, theirs, tolerance, unit in (
        ("Noise figure of a cascade", figure_db, table["figure_db"], 0.01, "dB"),
        ("Output noise of a receiver", noise + gain_db, table["output_noise_dbm"], 0.05, "dBm"),
        ("Input for 20 dB of signal to noise", noise + 20, table["input_for_20_db_dbm"], 0.06, "dBm"),
    ):
        authority(what, source=table["source"], ours=ours, theirs=theirs, tolerance=tolerance, unit=unit, kind="memory")


def test_intercept_and_noise_add_up_as_a_published_cascade(authority, authority_table):
    table = authority_table("reach")["cascade_iip3"]
    stages = [
        stage(gain, figure, math.inf if iip3 is None else iip3)
        for gain, figure, iip3 in zip(table["gain_db"], table["noise_figure_db"], table["iip3_dbm"], strict=True)
    ]
    for count in (1, 2, 3):
        authority(
            "Intercept point of a cascade",
            source=table["source"],
            ours=cascade_iip3_dbm(stages[:count]),
            theirs=table["cumulative_dbm"][count - 1],
            tolerance=5e-5,
            unit="dBm",
        )
        authority(
            "Noise figure of a cascade",
            source=table["source"],
            ours=cascade_noise_figure_db(stages[:count]),
            theirs=table["cumulative_figure_db"][count - 1],
            tolerance=5e-5,
            unit="dB",
        )


def test_products_of_two_stages_add_in_voltage(authority, authority_table):
    table = authority_table("reach")["cascade_of_two"]
    chain = [stage(20, 0, 22 - 20), stage(-6, 0, 13)]
    ours = cascade_iip3_dbm(chain) + 20 - 6
    authority(
        "Output intercept point of a cascade",
        source=table["source"],
        ours=ours,
        theirs=table["output_ip3_dbm"],
        tolerance=5e-4,
        kind="memory",
        unit="dBm",
    )


def test_a_cubic_in_time_makes_the_products_of_its_intercept_point(authority):
    """Two stages as polynomials, two tones, and the product read off a Fourier transform."""
    size, one, two = 4096, 200, 230
    level_dbm, gain_db = -40.0, 10.0
    iip3s = (10.0, 12.0)
    amplitude = math.sqrt(10 ** (level_dbm / 10))  # rms power in mW over 1: peak = sqrt 2 of it
    n = np.arange(size)
    signal = math.sqrt(2) * amplitude * (np.cos(2 * np.pi * one * n / size) + np.cos(2 * np.pi * two * n / size))
    for iip3_dbm, stage_gain in zip(iip3s, (gain_db, 0.0), strict=True):
        a1 = 10 ** (stage_gain / 20)
        # The product's amplitude 3/4 a3 A^3 equals a1 A at A^2 = 2 P(IIP3).
        a3 = -a1 * 4 / (3 * 2 * 10 ** (iip3_dbm / 10))
        signal = a1 * signal + a3 * signal**3
    spectrum = np.abs(np.fft.rfft(signal)) / size * 2
    product_dbm = 10 * math.log10(spectrum[2 * one - two] ** 2 / 2)
    cascade = cascade_iip3_dbm([stage(gain_db, 0, iip3s[0]), stage(0, 0, iip3s[1])])
    # Terms of fifth order, which the cascade formula leaves out, are 50 dB below.
    authority(
        "Third-order product of two stages, input-referred levels by the intercept point",
        source="two cubic stages in time and a Fourier transform, computed in the test",
        kind="arithmetic",
        ours=3 * level_dbm - 2 * cascade + gain_db,
        theirs=product_dbm,
        tolerance=0.05,
        unit="dBm",
    )


def test_what_nobody_knows_stays_unknown():
    assert cascade_noise_figure_db([stage(10, 2), stage(0, None)]) is None
    assert cascade_iip3_dbm([stage(10, 2, None)]) is None
    assert cascade_iip3_dbm([stage(10, 2)]) == math.inf


def test_a_pad_ahead_costs_its_loss_in_noise_and_moves_the_intercept_point_up():
    receiver = stage(0, 8, -5)
    pad = Stage.passive(what="pad", name="pad", loss_db=6)
    assert cascade_noise_figure_db([pad, receiver]) == pytest.approx(14)
    assert cascade_iip3_dbm([pad, receiver]) == pytest.approx(1)


def test_absurd_figures_stay_numbers():
    stages = [Stage.passive(what="cable", name="x", loss_db=500_000.0), stage(5000, 100, -400)] * 12
    assert math.isfinite(cascade_noise_figure_db(stages))
    assert math.isfinite(cascade_iip3_dbm(stages))


def test_splitters_lose_ten_log_of_their_ways(authority, authority_table):
    table = authority_table("reach")["splitter_db"]
    for ways, db in table["rows_ways_db"]:
        authority(
            "Loss of a splitter",
            source=table["source"],
            kind="arithmetic",
            ours=splitter_loss_db(ways),
            theirs=db,
            tolerance=0.005,
            unit="dB",
        )


def test_fm_turns_deviation_into_signal_to_noise(authority, authority_table):
    table = authority_table("reach")["fm"]
    for deviation, audio, bandwidth, db in table["rows_deviation_audio_bandwidth_db"]:
        ours = fm_gain_db(deviation_hz=deviation, audio_hz=audio, bandwidth_hz=bandwidth)
        authority("FM signal to noise", source=table["source"], ours=ours, theirs=db, tolerance=0.005, unit="dB")


def test_deemphasis_lowers_noise_as_its_integral_says(authority):
    from scipy.integrate import quad

    for tau, audio in ((50e-6, 15e3), (75e-6, 15e3), (50e-6, 20e3)):
        corner = 1 / (2 * math.pi * tau)
        shaped = quad(lambda f, corner=corner: f * f / (1 + (f / corner) ** 2), 0, audio)[0]
        authority(
            "Gain of de-emphasis on FM noise",
            source="noise density f^2 behind the network, integrated with scipy",
            kind="library",
            ours=deemphasis_gain_db(time_constant_s=tau, audio_hz=audio),
            theirs=10 * math.log10(audio**3 / 3 / shaped),
            tolerance=1e-6,
            unit="dB",
        )

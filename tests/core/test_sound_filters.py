"""Filters and weightings of sound: against scipy, against the networks they stand for, and against tables."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal as reference

from bandwright.core.sound.filters import emphasis, low_pass, low_pass_taps, shaped, taps_needed
from bandwright.core.sound.weighting import (
    Weighting,
    a_weighting_db,
    bs468_weighting_db,
    power_of,
    weighted,
    weighting_db,
)

RATE_HZ = 96_000


@pytest.mark.parametrize("tau_us", [50, 75])
@pytest.mark.parametrize(("rate_hz", "up_to_hz", "off_db"), [(96_000, 20_000, 0.04), (48_000, 15_000, 0.13)])
def test_deemphasis_is_the_network_of_one_resistor_and_one_capacitor(authority, tau_us, rate_hz, up_to_hz, off_db):
    hz = np.geomspace(20, up_to_hz, 40)
    found = emphasis(time_constant_s=tau_us / 1e6, rate_hz=rate_hz)
    _, response = reference.freqz([found.gain, found.gain * found.zero], [1, -found.pole], worN=hz, fs=rate_hz)
    wanted_db = -10 * np.log10(1 + (2 * np.pi * hz * tau_us / 1e6) ** 2)
    authority(
        f"De-emphasis at {rate_hz} Hz",
        source="magnitude of a first-order network, 1 / sqrt(1 + (2 pi f tau)^2)",
        ours=20 * np.log10(np.abs(response)),
        theirs=wanted_db,
        tolerance=off_db,
        kind="arithmetic",
        unit="dB",
    )


def test_emphasis_runs_as_scipy_runs_it_and_is_undone_exactly(authority):
    noise = np.random.default_rng(1).standard_normal(5_000)
    found = emphasis(time_constant_s=50e-6, rate_hz=RATE_HZ)
    theirs = reference.lfilter([found.gain, found.gain * found.zero], [1, -found.pole], noise)
    authority(
        "First-order filter of samples",
        source="scipy.signal.lfilter",
        ours=found.undone(noise),
        theirs=theirs,
        tolerance=1e-12,
        kind="library",
    )
    assert np.abs(found.undone(found.applied(noise)) - noise).max() < 1e-12
    assert abs(found.zero) < 1


def test_a_low_pass_is_the_windowed_sinc_of_scipy(authority):
    ours = low_pass_taps(cutoff_hz=17_000, rate_hz=RATE_HZ, taps=201, attenuation_db=80)
    theirs = reference.firwin(201, 17_000, window=("kaiser", reference.kaiser_beta(80)), fs=RATE_HZ)
    authority(
        "Windowed low-pass", source="scipy.signal.firwin", ours=ours, theirs=theirs, tolerance=1e-9, kind="library"
    )
    taps, _ = reference.kaiserord(80, 3_000 / (RATE_HZ / 2))
    authority(
        "Taps of a low-pass",
        source="scipy.signal.kaiserord",
        ours=taps_needed(transition_hz=3_000, rate_hz=RATE_HZ, attenuation_db=80),
        theirs=taps,
        tolerance=2,
        kind="library",
    )


def test_filtering_in_blocks_is_convolution_without_delay(authority):
    noise = np.random.default_rng(2).standard_normal(40_000)
    taps = low_pass_taps(cutoff_hz=17_000, rate_hz=RATE_HZ, taps=121, attenuation_db=80)
    authority(
        "Filtering in blocks",
        source="numpy.convolve",
        ours=shaped(noise, taps),
        theirs=np.convolve(noise, taps, mode="same"),
        tolerance=1e-12,
        kind="library",
    )
    assert len(shaped(noise[:1], taps)) == 1


def test_an_ultrasonic_low_pass_keeps_15_khz_and_takes_20_khz_away():
    at_s = np.arange(RATE_HZ) / RATE_HZ
    for hz, low_db, high_db in [(15_000, -0.01, 0.01), (17_000, -6.3, -5.7), (20_000, -200, -79)]:
        out = low_pass(np.sin(2 * np.pi * hz * at_s), cutoff_hz=17_000, rate_hz=RATE_HZ, transition_hz=3_000)
        assert low_db <= 10 * np.log10(2 * np.mean(out[2_000:-2_000] ** 2) + 1e-20) <= high_db
    whole = np.sin(at_s)
    assert low_pass(whole, cutoff_hz=47_000, rate_hz=RATE_HZ, transition_hz=3_000) is whole


def test_the_noise_weighting_is_the_table_of_bs468(authority, authority_table):
    table = authority_table("sound_noise")["bs468_db"]
    hz, wanted_db = np.array(table["rows_hz_db"]).T
    # The recommendation's own tolerance is 0.2 dB and more, and nothing at 6.3 kHz where its reading is rounded.
    authority(
        "Noise weighting BS.468",
        source=table["source"],
        ours=bs468_weighting_db(hz),
        theirs=wanted_db,
        tolerance=0.1,
        kind="memory",
        unit="dB",
    )


def test_a_weighting_is_the_table_of_iec_61672(authority, authority_table):
    table = authority_table("sound_noise")["a_db"]
    hz = 1_000 * 10 ** ((np.arange(len(table["db"])) + table["first_n"]) / 10)
    authority(
        "A-weighting",
        source=table["source"],
        ours=a_weighting_db(hz),
        theirs=table["db"],
        tolerance=0.06,
        unit="dB",
    )


@pytest.mark.parametrize("weighting", list(Weighting))
def test_a_tone_counts_with_its_weighting(weighting):
    at_s = np.arange(RATE_HZ) / RATE_HZ
    for hz in (100.0, 1_000.0, 6_300.0):
        power = power_of(np.sin(2 * np.pi * hz * at_s), weighting, rate_hz=RATE_HZ)
        assert 10 * np.log10(2 * power) == pytest.approx(float(weighting_db(weighting, hz)), abs=0.05)


def test_flat_weighting_ends_at_20_khz_and_nothing_has_no_power():
    at_s = np.arange(RATE_HZ) / RATE_HZ
    assert power_of(np.sin(2 * np.pi * 24_000 * at_s), Weighting.FLAT, rate_hz=RATE_HZ) < 1e-4
    assert power_of(np.zeros(0), Weighting.A, rate_hz=RATE_HZ) == 0
    assert len(weighted(np.ones(7), Weighting.FLAT, rate_hz=RATE_HZ)) == 7

"""Fading and diversity: outage and crossings. Authorities: closed forms, textbook examples, scipy, drawing lots."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special, stats

from bandwright.core.kit import Diversity
from bandwright.core.reach.fading import (
    Fading,
    dropouts_per_s,
    fade_duration_s,
    outage,
    spatial_correlation,
)

DRAWS = 400_000


def several(branches, diversity=Diversity.SELECTION, **other):
    return Fading(branches=branches, diversity=diversity, **other)


def test_diversity_needs_the_margins_of_the_closed_forms(authority, authority_table):
    table = authority_table("reach")["diversity_margin_db"]
    for word in ("selection", "combining"):
        for branches, margins in table[word].items():
            for part, margin_db in zip(table["outage"], margins, strict=True):
                fading = several(int(branches), Diversity(word))
                # The table has two decimals: 0.005 dB is 0.5 % of an outage for four branches.
                authority(
                    "Outage with diversity, Rayleigh",
                    source=table["source"],
                    kind="arithmetic",
                    ours=outage(margin_db, fading) / part,
                    theirs=1.0,
                    tolerance=0.006,
                )


def test_four_branches_have_the_outage_of_the_textbook(authority, authority_table):
    table = authority_table("reach")["diversity_outage"]
    one, four = outage(table["margin_db"], Fading()), outage(table["margin_db"], several(4))
    authority("Outage, one branch", source=table["source"], ours=one, theirs=table["one"], tolerance=5e-4)
    authority("Outage, four branches", source=table["source"], ours=four, theirs=table["four"], tolerance=5e-7)


def test_crossings_and_durations_are_those_of_the_textbook(authority, authority_table):
    table = authority_table("reach")["crossings"]
    rate = dropouts_per_s(0, Fading(), doppler_hz=20)
    authority(
        "Level crossing rate",
        source=table["source"],
        ours=rate,
        theirs=table["per_s_at_20_hz"],
        tolerance=0.005,
        kind="memory",
        unit="1/s",
    )
    for rho, seconds in table["durations_at_200_hz"]:
        ours = fade_duration_s(-20 * math.log10(rho), Fading(), doppler_hz=200)
        # Three digits are printed.
        authority(
            "Mean duration of a fade",
            source=table["source"],
            ours=ours / seconds,
            theirs=1.0,
            tolerance=0.003,
            kind="memory",
        )


@pytest.mark.parametrize("k_db", [-10, 0, 6, 12, 20])
def test_rice_fading_is_that_of_scipy(k_db, authority):
    k = 10 ** (k_db / 10)
    for margin_db in (-10, 0, 3, 10, 30):
        theirs = stats.ncx2.cdf(2 * (1 + k) * 10 ** (-margin_db / 10), 2, 2 * k)
        authority(
            "Outage, Rice",
            source="scipy.stats.ncx2",
            kind="library",
            ours=outage(margin_db, Fading(rice_k=k)),
            theirs=float(theirs),
            tolerance=1e-9,
        )


def test_maximum_ratio_of_rice_branches_is_that_of_scipy(authority):
    k, branches = 4.0, 3
    for margin_db in (-3, 0, 6):
        theirs = stats.ncx2.cdf(2 * (1 + k) * 10 ** (-margin_db / 10), 2 * branches, 2 * k * branches)
        authority(
            "Outage, maximum ratio of Rice branches",
            source="scipy.stats.ncx2",
            kind="library",
            ours=outage(margin_db, several(branches, Diversity.COMBINING, rice_k=k)),
            theirs=float(theirs),
            tolerance=1e-9,
        )


def drawn(correlation, rng):
    """Powers of two Rayleigh branches whose amplitudes are so much alike, mean 1."""
    parts = rng.standard_normal((4, DRAWS)) / math.sqrt(2)
    one, own = parts[0] + 1j * parts[1], parts[2] + 1j * parts[3]
    two = correlation * one + math.sqrt(1 - correlation**2) * own
    return np.abs(one) ** 2, np.abs(two) ** 2


@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.7, 0.95])
def test_correlated_branches_fade_as_drawn_at_random(correlation, authority):
    one, two = drawn(correlation, np.random.default_rng(7))
    for margin_db in (3, 8, 13):
        need = 10 ** (-margin_db / 10)
        for word, drawn_power in ((Diversity.SELECTION, np.maximum(one, two)), (Diversity.COMBINING, one + two)):
            ours = outage(margin_db, several(2, word, correlation=correlation))
            theirs = float(np.mean(drawn_power < need))
            # Four standard deviations of what 400,000 draws tell.
            tolerance = 4 * math.sqrt(max(ours, 1e-6) / DRAWS)
            authority(
                f"Outage of two correlated branches, {word.value}",
                source="fading drawn at random in the test",
                kind="arithmetic",
                ours=ours,
                theirs=theirs,
                tolerance=tolerance,
            )


def test_switching_at_what_is_needed_is_as_good_as_selection(authority):
    """Leave a branch when it gets too weak and stay on the other, whatever that one has: drawn step by step."""
    rng = np.random.default_rng(11)
    need = 10 ** (-6 / 10)
    powers = rng.exponential(size=(2, DRAWS))
    on, below = 0, 0
    for now in range(DRAWS):
        if powers[on, now] < need:
            on = 1 - on
        below += powers[on, now] < need
    ours = outage(6, several(2, Diversity.SWITCHING))
    authority(
        "Outage with switching diversity",
        source="switch and stay, drawn at random in the test",
        kind="arithmetic",
        ours=ours,
        theirs=below / DRAWS,
        tolerance=4 * math.sqrt(ours / DRAWS),
    )


def walked(doppler_hz, rate_hz, seconds, k, rng):
    """A branch in time: many waves from all around, and a direct one across the way that is K times as strong."""
    t = np.arange(int(seconds * rate_hz)) / rate_hz
    waves = 64
    angles = 2 * np.pi * (np.arange(waves) + rng.uniform()) / waves
    phases = rng.uniform(0, 2 * np.pi, waves)
    scattered = np.zeros(len(t), np.complex128)
    for angle, phase in zip(angles, phases, strict=True):
        scattered += np.exp(1j * (2 * np.pi * doppler_hz * np.cos(angle) * t + phase))
    scattered /= math.sqrt(waves)
    return np.abs(math.sqrt(k / (1 + k)) + scattered / math.sqrt(1 + k)) ** 2


@pytest.mark.parametrize(("k", "margin_db"), [(0.0, 5.0), (0.0, 10.0), (4.0, 5.0)])
def test_walking_drops_out_as_often_as_waves_drawn_at_random(k, margin_db, authority):
    doppler_hz, rate_hz, seconds = 3.0, 400.0, 150.0
    rng = np.random.default_rng(5)
    need = 10 ** (-margin_db / 10)
    down = total = 0
    for _ in range(12):
        power = walked(doppler_hz, rate_hz, seconds, k, rng)
        down += int(np.sum((power[:-1] >= need) & (power[1:] < need)))
        total += seconds
    fading = Fading(rice_k=k)
    ours = dropouts_per_s(margin_db, fading, doppler_hz=doppler_hz)
    # Crossings counted are a few hundred to thousands: 12 % is three standard deviations of the fewest.
    authority(
        "Dropouts a second while walking",
        source="64 waves from all around in time, drawn at random in the test",
        kind="arithmetic",
        ours=down / total / ours,
        theirs=1.0,
        tolerance=0.12,
    )


def test_selection_drops_out_as_often_as_two_walks_drawn_at_random(authority):
    doppler_hz, rate_hz, seconds, margin_db = 3.0, 400.0, 150.0, 5.0
    rng = np.random.default_rng(6)
    need = 10 ** (-margin_db / 10)
    down = total = 0
    for _ in range(12):
        power = np.maximum(*(walked(doppler_hz, rate_hz, seconds, 0.0, rng) for _ in range(2)))
        down += int(np.sum((power[:-1] >= need) & (power[1:] < need)))
        total += seconds
    ours = dropouts_per_s(margin_db, several(2), doppler_hz=doppler_hz)
    authority(
        "Dropouts a second with the better of two antennas",
        source="waves from all around in time, drawn at random in the test",
        kind="arithmetic",
        ours=down / total / ours,
        theirs=1.0,
        tolerance=0.15,
    )


def test_antennas_a_third_of_a_wavelength_apart_fade_by_themselves(authority):
    for wavelengths in (0.05, 0.2, 0.38, 1.0, 4.0, 200.0):
        authority(
            "Correlation of two antennas by spacing",
            source="Bessel function J0 of scipy",
            kind="library",
            ours=spatial_correlation(spacing_m=wavelengths * 0.5, wavelength_m=0.5),
            theirs=float(abs(special.j0(2 * math.pi * wavelengths))),
            tolerance=2e-4,
        )


@pytest.mark.parametrize("margin_db", [-5000.0, -400.0, -40.0, 0.0, 150.0, 5000.0])
@pytest.mark.parametrize(
    "fading", [Fading(), Fading(rice_k=100), several(2, correlation=0.9), several(3, Diversity.COMBINING)]
)
def test_absurd_margins_stay_numbers(margin_db, fading):
    part = outage(margin_db, fading)
    assert 0 <= part <= 1
    assert dropouts_per_s(margin_db, fading, doppler_hz=3) >= 0


def test_a_receiver_that_does_nothing_with_two_antennas_has_one():
    assert outage(10, several(2, Diversity.NONE)) == outage(10, Fading())

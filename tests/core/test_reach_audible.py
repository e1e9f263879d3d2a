"""Dropouts that are heard. Authority: fading made by filtering noise with Jakes' spectrum, its fades measured here."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from drawn_fading import DOPPLER_HZ, SAMPLES, branch, fades_s, power
from scipy import integrate, special

from bandwright.core.kit import Direction, Diversity, Emission, RadioType
from bandwright.core.reach.audible import (
    ASSUMED_AUDIBLE_MS,
    Audible,
    audible_dropouts_per_s,
    audible_of,
    counted_words,
    margin_needed_db,
    often_words,
)
from bandwright.core.reach.fade_lengths import share_left_longer, share_longer
from bandwright.core.reach.fading import Fading, dropouts_per_s, fade_duration_s

ROUNDS = 4
SOURCE = "noise with Jakes' Doppler spectrum, made by FFT in the test, its fades measured one by one"


def several(branches, diversity=Diversity.SELECTION, **other):
    return Fading(branches=branches, diversity=diversity, **other)


@cache
def drawn():
    rng = np.random.default_rng(17)
    return [[branch(rng) for _ in range(4)] for _ in range(ROUNDS)]


def measured(fading, margin_db):
    """The fades of some minutes, and how long these were in all."""
    found = [fades_s(power(branches, fading), margin_db) for branches in drawn()]
    return np.concatenate(found), ROUNDS * SAMPLES


def test_bessel_functions_behind_the_lengths_of_fades_are_those_of_scipy(authority):
    for u in (0.0, 0.01, 0.039, 0.041, 0.1, 0.5, 1.0, 2.0, 10.0, 100.0):
        x = math.inf if u == 0 else 2 / (math.pi * u * u)
        longer = 1.0 if u == 0 else 2 / u * float(special.i1e(x))
        left = 1.0 if u == 0 else 1 - float(special.i0e(x)) - float(special.i1e(x))
        for ours, theirs in ((share_longer(np.array(u)), longer), (share_left_longer(np.array(u)), left)):
            authority(
                "Part of deep fades that last longer",
                source="scipy.special.i0e, i1e in Rice's distribution (1958, from memory)",
                kind="library",
                ours=float(ours),
                theirs=theirs,
                tolerance=1e-6,
            )


def test_the_part_left_is_the_integral_of_the_part_that_is_longer(authority):
    for u in (0.0, 0.3, 1.0, 4.0):
        theirs, _ = integrate.quad(lambda t: float(share_longer(np.array(t))), u, 200, points=[1, 5], limit=400)
        authority(
            "Part of the time in fades with more than that before it",
            source="integral of the survival function (D. R. Cox, Renewal Theory, 1962)",
            kind="arithmetic",
            ours=float(share_left_longer(np.array(u))),
            theirs=theirs,
            tolerance=2e-5,  # beyond 200 mean durations lies 1 / (pi 200^2)
        )


@pytest.mark.parametrize("margin_db", [10.0, 15.0, 20.0])
def test_lengths_of_deep_fades_are_distributed_as_rice_says(margin_db, authority):
    """The law is the limit of deep fades: at 10 dB up to 8 % fewer last one mean duration, at 20 dB 4 %."""
    found, _ = measured(Fading(), margin_db)
    mean_s = fade_duration_s(margin_db, Fading(), doppler_hz=DOPPLER_HZ)
    for u in (0.2, 0.5, 1.0, 1.5):
        theirs = float(np.mean(found > u * mean_s))
        ours = float(share_longer(np.array(u)))
        allowed = {10.0: 0.03, 15.0: 0.015, 20.0: 0.01}[margin_db]  # the law's own error; then what the count tells
        authority(
            f"Part of the fades below {-margin_db:g} dB that are longer",
            source=SOURCE,
            kind="arithmetic",
            ours=ours,
            theirs=theirs,
            tolerance=allowed + 4 * math.sqrt(ours * (1 - ours) / len(found)),
        )


CASES = [
    *((Fading(), margin_db) for margin_db in (0.0, 5.0, 10.0, 20.0)),
    *((Fading(rice_k=k), margin_db) for k in (2.0, 6.0) for margin_db in (0.0, 5.0, 10.0)),
    *((several(n), margin_db) for n in (2, 3, 4) for margin_db in (0.0, 3.0, 6.0, 10.0)),
    *((several(n, Diversity.COMBINING), margin_db) for n in (2, 3, 4) for margin_db in (0.0, 3.0, 6.0)),
    *((several(2, rice_k=2.0), margin_db) for margin_db in (0.0, 3.0, 6.0)),
    (several(2, Diversity.COMBINING, rice_k=2.0), 0.0),
    *(
        (several(2, kind, correlation=alike), margin_db)
        for kind in (Diversity.SELECTION, Diversity.COMBINING)
        for alike in (0.3, 0.6, 0.9)
        for margin_db in (0.0, 5.0, 10.0, 15.0)
    ),
]


def named(case):
    fading, margin_db = case
    kind = "one" if fading.alone else f"{fading.branches} {fading.diversity.value}"
    return f"{kind}, K {fading.rice_k:g}, alike {fading.correlation:g}, {margin_db:g} dB"


@pytest.mark.parametrize("case", CASES, ids=named)
def test_no_fewer_dropouts_are_counted_than_waves_show(case, authority):
    """Up to 6 % of the count and four standard deviations, at every length; at most four times too many up to 1/10."""
    fading, margin_db = case
    found, seconds = measured(fading, margin_db)
    every = dropouts_per_s(margin_db, fading, doppler_hz=DOPPLER_HZ) * seconds
    authority(
        f"Dropouts of any length ({named(case)})",
        source=SOURCE,
        kind="arithmetic",
        ours=every / len(found),
        theirs=1.0,
        tolerance=0.04 + 4 / math.sqrt(len(found)),
    )
    for doppler_times in (0.003, 0.01, 0.02, 0.05, 0.1, 0.2, 0.4):
        audible_s = doppler_times / DOPPLER_HZ
        theirs = int(np.sum(found > audible_s))
        ours = audible_dropouts_per_s(margin_db, fading, doppler_hz=DOPPLER_HZ, audible_s=audible_s) * seconds
        few = 4 * math.sqrt(max(theirs, 1))
        assert ours >= theirs * 0.94 - few, (doppler_times, ours, theirs)
        if theirs >= len(found) / 10:
            assert ours <= theirs * 4 + few, (doppler_times, ours, theirs)
        if theirs >= len(found) * 0.9:
            assert ours <= theirs * 1.05 + few, (doppler_times, ours, theirs)


FADINGS = [
    Fading(),
    several(2),
    several(2, correlation=0.8),
    several(2, Diversity.COMBINING),
    several(2, Diversity.COMBINING, correlation=0.95),
    several(4),
    Fading(rice_k=4),
]


@pytest.mark.parametrize("fading", FADINGS, ids=lambda fading: named((fading, 0.0)))
@pytest.mark.parametrize("audible_s", [0.0, 0.002, 0.005, 0.05])
def test_the_margin_asked_for_gives_the_dropouts_asked_for(fading, audible_s):
    margin_db = margin_needed_db(fading, doppler_hz=2.8, audible_s=audible_s, at_most_every_s=600)
    often = audible_dropouts_per_s(margin_db, fading, doppler_hz=2.8, audible_s=audible_s)
    assert often * 600 == pytest.approx(1, rel=0.03)


@pytest.mark.parametrize("fading", FADINGS, ids=lambda fading: named((fading, 0.0)))
@pytest.mark.parametrize("audible_s", [0.0, 0.002, 0.05, 0.5])
def test_more_margin_never_means_more_audible_dropouts(fading, audible_s):
    """From 4 dB on; nearer to what is needed a signal that comes and goes more often is there more of the time."""
    often = [
        audible_dropouts_per_s(float(db), fading, doppler_hz=2.8, audible_s=audible_s) for db in np.arange(4, 100, 0.5)
    ]
    assert all(two <= one * (1 + 1e-9) for one, two in pairwise(often))


def test_with_nothing_to_bridge_every_dip_counts():
    for fading in FADINGS:
        every = dropouts_per_s(12.0, fading, doppler_hz=2.8)
        assert audible_dropouts_per_s(12.0, fading, doppler_hz=2.8, audible_s=0.0) == every
        assert audible_dropouts_per_s(12.0, fading, doppler_hz=2.8, audible_s=0.005) < every


def test_one_antenna_needs_the_margin_at_which_long_dips_get_rare(authority):
    """Where fades are deep, longer ones come (2 / pi) r^4 / (t^3 2 pi fd^2) times a second: r by hand."""
    doppler_hz, audible_s, every_s = 2.83, 0.005, 600.0
    fourth = audible_s**3 * (2 * math.pi) * doppler_hz**2 * math.pi / 2 / every_s
    authority(
        "Margin of one antenna for one dropout of 5 ms in 10 min",
        source="Rice's law at its tail, 2 / (pi u^3), solved by hand (from memory)",
        kind="arithmetic",
        ours=margin_needed_db(Fading(), doppler_hz=doppler_hz, audible_s=audible_s, at_most_every_s=every_s),
        theirs=-5 * math.log10(fourth),
        tolerance=0.6,  # r^4 leaves out fades of few mean durations, and the allowance adds 0.3 dB
        unit="dB",
    )


def test_who_walks_half_as_fast_needs_three_more_decibels_with_one_antenna():
    """By that law r^4 goes with the square of the speed: 5 log10 4 dB, by hand."""
    fast, slow = (
        margin_needed_db(Fading(), doppler_hz=doppler_hz, audible_s=0.005, at_most_every_s=600)
        for doppler_hz in (2.8, 1.4)
    )
    assert slow - fast == pytest.approx(3.0, abs=0.5)


def test_the_guide_shows_the_margins_that_are_asked_for():
    guide = (Path(__file__).parents[2] / "docs" / "reach.md").read_text(encoding="utf-8")
    rows = {
        "one antenna": Fading(),
        "the better of two": several(2),
        "two added up": several(2, Diversity.COMBINING),
        "one, `rice_k_db = 6`": Fading(rice_k=10**0.6),
        "one, `rice_k_db = 9`": Fading(rice_k=10**0.9),
    }
    for name, fading in rows.items():
        needed = [
            margin_needed_db(fading, doppler_hz=1.4 * 610 / 299.792458, audible_s=ms / 1000, at_most_every_s=600)
            for ms in (0, 2, 5, 10)
        ]
        assert f"| {name} | {' | '.join(f'{db:.0f} dB' for db in needed)} |" in guide


def test_a_second_antenna_never_asks_for_more_margin():
    for audible_s in (0.0, 0.005, 0.05):
        alone = margin_needed_db(Fading(), doppler_hz=2.8, audible_s=audible_s, at_most_every_s=600)
        for kind in (Diversity.SELECTION, Diversity.COMBINING):
            for alike in (0.0, 0.5, 0.9, 1.0):
                two = several(2, kind, correlation=alike)
                assert margin_needed_db(two, doppler_hz=2.8, audible_s=audible_s, at_most_every_s=600) < alone


@pytest.mark.parametrize("margin_db", [-5000.0, -400.0, -40.0, 0.0, 150.0, 5000.0])
@pytest.mark.parametrize("fading", [*FADINGS, Fading(rice_k=100), several(3, Diversity.COMBINING, rice_k=50)])
def test_absurd_margins_stay_numbers(margin_db, fading):
    often = audible_dropouts_per_s(margin_db, fading, doppler_hz=3, audible_s=0.005)
    assert 0 <= often <= dropouts_per_s(margin_db, fading, doppler_hz=3)


def test_what_is_audible_is_stated_by_the_radio_type_or_assumed_by_its_emission():
    radio = RadioType(
        id="heron",
        name="Heron",
        direction=Direction.FROM_PERSON,
        emission=Emission.FM,
        bandwidth_hz=200_000,
        spacing_hz=350_000,
        clearance_hz=(),
    )
    for emission in Emission:
        assumed = audible_of(replace(radio, emission=emission))
        assert assumed == Audible(ms=ASSUMED_AUDIBLE_MS[emission], stated=False)
    assert audible_of(replace(radio, audible_ms=20.0)) == Audible(ms=20, stated=True)
    assert audible_of(replace(radio, audible_ms=0.0)) == Audible(ms=0, stated=True)


def test_words_say_whose_figure_it_is():
    assumed, stated = Audible(ms=5, stated=False), Audible(ms=20, stated=True)
    assert stated.words == "over 20 ms, stated"
    assert counted_words([assumed, assumed]) == (
        "Audible is what lasts longer than 5 ms (assumed, unless audible_ms of the radio type states it)."
    )
    assert counted_words([assumed, stated, Audible(ms=2, stated=False)]) == (
        "Audible is what lasts longer than 2 or 5 ms (assumed, unless audible_ms of the radio type states it) "
        "or 20 ms (stated)."
    )
    assert counted_words([]) == ""
    assert counted_words([stated]) == "Audible is what lasts longer than 20 ms (stated)."
    assert often_words(1 / 300, "dip") == "one dip in 5 h"


@pytest.mark.parametrize("audible_s", [0.0, 0.005, 1.0])
@pytest.mark.parametrize("every_s", [6.0, 600.0])
def test_no_margin_is_enough_that_loses_more_than_a_hundredth_of_the_time(audible_s, every_s):
    needed = margin_needed_db(Fading(), doppler_hz=2.85, audible_s=audible_s, at_most_every_s=every_s)
    # Rayleigh fading in closed form: 1 - exp(-1 / 100) of the time lies 20 dB and more under the mean power.
    assert 1 - math.exp(-(10 ** (-needed / 10))) <= 0.01


def test_the_margin_against_every_dip_goes_on_rising_by_20_db_for_ten_times_the_time():
    # A Rayleigh signal crosses a level r far under its rms value sqrt(2 pi) f r times a second, by its closed form.
    margins = [
        margin_needed_db(Fading(), doppler_hz=2.85, audible_s=0, at_most_every_s=60.0 * m) for m in (10, 100, 1000)
    ]
    assert [b - a for a, b in pairwise(margins)] == pytest.approx([20, 20], abs=0.05)

"""Dropouts of many points at once. Authority: drawing lots, scipy's distributions, and published examples."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from drawn_fading import DOPPLER_HZ, SAMPLES, branch, fades_s
from scipy import integrate, stats

from bandwright.core.kit import Diversity
from bandwright.core.reach.audible import audible_dropouts_per_s
from bandwright.core.reach.coverage_fading import audible_dropouts, chances_above, outages
from bandwright.core.reach.fading import Fading, outage

DRAWS = 400_000


def both(diversity, correlation=0.0, branches=2, rice_k=0.0):
    return Fading(branches=branches, diversity=diversity, correlation=correlation, rice_k=rice_k)


def at(margins_db, fading):
    return float(outages(np.array(margins_db, dtype=float)[:, None], fading)[0])


def drawn_powers(margins_db, correlation, rng):
    """Draw mean powers that fade by Rayleigh, the amplitudes of the first two alike by a correlation."""
    fields = (rng.normal(size=(len(margins_db), DRAWS)) + 1j * rng.normal(size=(len(margins_db), DRAWS))) / np.sqrt(2)
    fields[1] = correlation * fields[0] + np.sqrt(1 - correlation**2) * fields[1]
    return np.abs(fields) ** 2 * 10 ** (np.array(margins_db)[:, None] / 10)


@pytest.mark.parametrize("diversity", [Diversity.SELECTION, Diversity.COMBINING])
@pytest.mark.parametrize(
    ("margins_db", "correlation"),
    [((3, -4), 0.0), ((3, -4), 0.6), ((6, 10), 0.6), ((8, 8), 0.9), ((-2, -9), 0.3), ((4, 1, -3), 0.0)],
)
def test_dropouts_of_unequal_antennas_are_those_that_come_by_drawing(margins_db, correlation, diversity, authority):
    powers = drawn_powers(margins_db, correlation, np.random.default_rng(11))
    heard = powers.max(axis=0) if diversity is Diversity.SELECTION else powers.sum(axis=0)
    drawn = float(np.mean(heard < 1))
    authority(
        f"Dropouts with antennas that hear unequally well ({diversity.value})",
        source=f"{DRAWS} draws of Rayleigh fading",
        kind="arithmetic",
        ours=at(margins_db, both(diversity, correlation, len(margins_db))),
        theirs=drawn,
        tolerance=5 * np.sqrt(drawn * (1 - drawn) / DRAWS),  # five standard deviations of drawing
    )


def test_combining_of_two_powers_is_the_hypoexponential_distribution(authority):
    one, two = 10 ** (12 / 10), 10 ** (5 / 10)
    integral, _ = integrate.quad(
        lambda x: stats.expon.pdf(x, scale=one) * stats.expon.cdf(1 - x, scale=two), 0, 1, epsabs=1e-14
    )
    authority(
        "Dropouts of a combiner with two unequal antennas",
        source="scipy, exponential distributions convolved",
        kind="library",
        ours=at((12, 5), both(Diversity.COMBINING)),
        theirs=integral,
        tolerance=1e-10,
    )


@pytest.mark.parametrize("branches", [2, 3, 4])
def test_equal_antennas_of_a_combiner_follow_the_gamma_distribution(branches, authority):
    for margin_db in (-3.0, 5.0, 20.0, 45.0):
        theirs = float(stats.gamma.cdf(10 ** (-margin_db / 10), branches))
        authority(
            "Dropouts of a combiner with equal antennas",
            source="scipy.stats.gamma",
            kind="library",
            ours=at([margin_db] * branches, both(Diversity.COMBINING, branches=branches)) / theirs,
            theirs=1.0,
            tolerance=1e-9,  # also where the probability is 1e-18
        )


def test_four_equal_antennas_keep_the_textbook_figure(authority):
    for antennas, theirs in ((1, 0.095), (4, 0.000082)):
        authority(
            "Dropouts at 10 dB of margin",
            source="T. S. Rappaport, Wireless Communications, 2nd ed., example 7.4",
            ours=at([10] * antennas, both(Diversity.SELECTION, branches=antennas)),
            theirs=theirs,
            tolerance=0.0005 if antennas == 1 else 5e-7,
        )


@pytest.mark.parametrize(
    "fading",
    [
        Fading(),
        Fading(rice_k=4.0),
        both(Diversity.SELECTION, 0.3),
        both(Diversity.SELECTION, 0.95),
        both(Diversity.COMBINING, 0.7),
        both(Diversity.SWITCHING, branches=3),
        both(Diversity.SELECTION, rice_k=4.0),
        both(Diversity.COMBINING, rice_k=4.0),
    ],
)
def test_many_points_have_what_each_of_them_has_by_itself(fading):
    margins = np.array([-12.0, -3.0, 0.0, 6.35, 17.0, 40.0])
    together = outages(np.tile(margins, (fading.branches, 1)), fading)
    alone = [outage(float(margin), fading) for margin in margins]
    # Two roads to one number; a table in steps of a tenth of a dB stands between them where a direct wave counts.
    assert together == pytest.approx(alone, rel=2e-4, abs=1e-12)


def test_an_antenna_that_hears_nothing_takes_nothing_from_the_other_one():
    for diversity in (Diversity.SELECTION, Diversity.COMBINING):
        for rice_k in (0.0, 4.0):
            alone = float(outages(np.array([[9.0]]), Fading(rice_k=rice_k))[0])
            assert at((9, -60), both(diversity, rice_k=rice_k)) == pytest.approx(alone, rel=0.02)


def test_chances_under_shadowing_are_those_of_the_normal_distribution(authority):
    margins = np.linspace(-15, 15, 61)
    authority(
        "Chance to stay above a level under log-normal shadowing, many points",
        source="scipy.stats.norm",
        kind="library",
        ours=chances_above(margins, sigma_db=5.04),
        theirs=stats.norm.cdf(margins / 5.04),
        tolerance=1e-5,
    )
    assert chances_above(np.array([-0.1, 0.0, 3.0]), sigma_db=0).tolist() == [0.0, 1.0, 1.0]


def often(margins_db, fading, *, doppler_hz=2.8, audible_s=0.005):
    margins = np.array(margins_db, dtype=float)[:, None]
    return float(audible_dropouts(margins, fading, doppler_hz=doppler_hz, audible_s=audible_s)[0])


@pytest.mark.parametrize("margin_db", [1.0, 6.3, 14.6, 33.2])
@pytest.mark.parametrize("audible_s", [0.0, 0.005, 0.05])
@pytest.mark.parametrize("rice_k", [0.0, 4.0])
def test_antennas_that_hear_equally_well_drop_out_as_on_their_own_page(margin_db, audible_s, rice_k):
    """The same number by the other road: equal branches have closed forms of their own."""
    fadings = [Fading(rice_k=rice_k), *(both(kind, 0.0, n, rice_k) for kind in list(Diversity)[1:] for n in (2, 3))]
    if not rice_k:
        fadings += [both(kind, 0.7) for kind in list(Diversity)[1:]]
    for fading in fadings:
        one = audible_dropouts_per_s(margin_db, fading, doppler_hz=2.8, audible_s=audible_s)
        alone = audible_dropouts_per_s(margin_db, fading.one(), doppler_hz=2.8, audible_s=audible_s)
        ours = often([margin_db] * fading.branches, fading, audible_s=audible_s)
        mostly_gone = outage(margin_db, fading) > 0.5
        assert np.isnan(ours) if mostly_gone else ours == pytest.approx(min(one, alone), rel=0.02)


@pytest.mark.parametrize("diversity", [Diversity.SELECTION, Diversity.COMBINING])
@pytest.mark.parametrize("correlation", [0.0, 0.7])
@pytest.mark.parametrize("margins_db", [(5, 9), (4, 14), (12, 3), (16, 1), (9, -12)])
def test_no_fewer_dropouts_of_unequal_antennas_are_counted_than_waves_show(
    margins_db, correlation, diversity, authority
):
    """Up to 10 % of the count and four standard deviations; four times too many at most up to a tenth of all."""
    rng = np.random.default_rng(23)
    found = []
    for _ in range(3):
        one, two = branch(rng), branch(rng)
        fields = (one, correlation * one + np.sqrt(1 - correlation**2) * two)
        powers = [np.abs(z) ** 2 * 10 ** (db / 10) for z, db in zip(fields, margins_db, strict=True)]
        together = np.max(powers, axis=0) if diversity is Diversity.SELECTION else np.sum(powers, axis=0)
        found.append(fades_s(together, 0.0))
    lengths, seconds = np.concatenate(found), 3 * SAMPLES
    for doppler_times in (0.003, 0.02, 0.05, 0.1):
        audible_s = doppler_times / DOPPLER_HZ
        theirs = int(np.sum(lengths > audible_s))
        ours = seconds * often(margins_db, both(diversity, correlation), doppler_hz=DOPPLER_HZ, audible_s=audible_s)
        authority(
            f"Audible dropouts of unequal antennas ({diversity.value}), at most as many in fading as are counted",
            source="noise with Jakes' Doppler spectrum, made by FFT in the test",
            kind="arithmetic",
            ours=ours,
            theirs=max(theirs, ours),
            tolerance=0.1 * theirs + 4 * np.sqrt(max(theirs, 1)),
        )
        if theirs >= len(lengths) / 10:
            assert ours <= theirs * 4 + 4 * np.sqrt(theirs)


def test_where_the_signal_is_mostly_gone_dropouts_are_not_counted():
    assert np.isnan(often([-5.0], Fading()))
    assert np.isnan(often([-5.0, -6.0], both(Diversity.SELECTION)))
    assert often([5.0, -60.0], both(Diversity.SELECTION)) == pytest.approx(often([5.0], Fading()))


def test_a_better_antenna_never_brings_more_dropouts():
    for diversity in (Diversity.SELECTION, Diversity.COMBINING):
        for correlation in (0.0, 0.8):
            fading = both(diversity, correlation)
            counts = [often([14.0, float(db)], fading) for db in np.arange(-20, 40, 0.5)]
            assert all(two <= one * (1 + 1e-6) for one, two in pairwise(counts))

"""Numbers of a chain at an RF level, and the one that is found best by them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bandwright.core.kit import Companding
from bandwright.core.sound.companding import compander_of
from bandwright.core.sound.fm import FmLink
from bandwright.core.sound.judging import CLEAR_DB, case_of, recommended, trial_of
from bandwright.core.sound.material import Material, made
from bandwright.core.sound.probing import LOWEST_DB, db_of
from bandwright.core.sound.simulate import Chain, RfLevel

RATE_HZ = 48_000
LINK = FmLink(deviation_hz=50e3, bandwidth_hz=200e3, rate_hz=RATE_HZ)


def chain(name="any", **axes):
    return Chain(id=name, sent=compander_of(Companding(**{"ratio": 2, "preemphasis_us": 50} | axes))[0], link=LINK)


@pytest.fixture(scope="module")
def speech():
    return 0.5 * made(Material.SPEECH, seconds=1, rate_hz=RATE_HZ, seed=1)


@pytest.fixture(scope="module")
def cases(speech):
    found = {}
    for name, axes in {"companded": {}, "plain": {"ratio": 1}}.items():
        trial = trial_of(chain(name, **axes), speech)
        for cn_db in (None, 40.0, 15.0):
            found[name, cn_db] = case_of(trial, RfLevel(name=f"{cn_db}", cn_db=cn_db), seed=1)[0]
    return found


def test_a_weaker_carrier_leaves_more_error_and_more_noise(cases):
    for name in ("companded", "plain"):
        clean, near, far = (cases[name, cn_db] for cn_db in (None, 40.0, 15.0))
        assert clean.error_468_db < near.error_468_db < far.error_468_db
        assert clean.error_468_db == pytest.approx(clean.tracking_468_db)
        assert near.noise.rest_468_db < far.noise.rest_468_db - 10


def test_noise_at_rest_goes_down_twice_as_fast_with_2_to_1_as_without(cases):
    """25 dB more carrier are 25 dB less noise without companding, and 50 dB with it."""
    falls = [cases[name, 15.0].noise.rest_db - cases[name, 40.0].noise.rest_db for name in ("plain", "companded")]
    assert falls == pytest.approx([25, 50], abs=1.5)


def test_noise_rises_behind_a_signal_only_with_companding_and_takes_its_release_to_fall(cases):
    assert abs(cases["plain", 15.0].noise.rise_db) < 1
    assert cases["plain", 15.0].noise.tail_s == 0
    assert cases["companded", 15.0].noise.rise_db > 15
    assert 0.1 < cases["companded", 15.0].noise.tail_s < 0.8


def test_a_burst_overshoots_before_the_compressor_has_followed(cases):
    burst = cases["companded", None].burst
    assert burst.peak_db > cases["plain", None].burst.peak_db
    assert burst.limited_s > 0
    assert burst.error_db < 0


def test_static_curves_are_straight_until_noise_or_limiter(cases):
    points = {point.in_db: point for point in cases["companded", None].static}
    for level_db in (-80, -50, -20, 0):
        # Pre-emphasis lifts 1 kHz by 0.41 dB, half of which is left on the air.
        assert points[level_db].air_db == pytest.approx(level_db / 2 + 0.2, abs=0.1)
        assert points[level_db].out_db == pytest.approx(level_db, abs=0.2)
    noisy = {point.in_db: point for point in cases["plain", 15.0].static}
    assert noisy[-100].out_db > -60  # the noise


def test_a_silent_sound_has_no_error():
    with pytest.raises(ValueError, match="silent"):
        case_of(trial_of(chain(), np.zeros(4_800)), RfLevel(name="x", cn_db=30), seed=1)


def test_the_least_worst_error_is_recommended_with_its_margin(cases):
    companded, plain = (cases[name, 15.0] for name in ("companded", "plain"))
    found = recommended([companded, plain, cases["companded", 40.0], cases["plain", 40.0]])
    assert (found.chain, found.level, found.decided_by) == ("companded", "15.0", "error_468_db")
    assert found.margin_db == pytest.approx(plain.error_468_db - companded.error_468_db)
    assert [name for name, _ in found.ranked] == ["companded", "plain"]
    assert found.alike == ("companded",)


def test_of_errors_that_are_alike_the_quieter_at_rest_is_recommended(cases):
    one = cases["companded", 15.0]
    near = replace(one, chain="quiet", error_468_db=one.error_468_db + 0.9 * CLEAR_DB)
    quieter = replace(near, noise=replace(near.noise, rest_468_db=near.noise.rest_468_db - 5))
    found = recommended([one, quieter])
    assert (found.chain, found.decided_by, found.margin_db) == ("quiet", "rest_468_db", 5)
    found = recommended([one, near])
    assert (found.chain, found.decided_by, found.alike) == ("companded", "error_468_db", ("companded", "quiet"))
    assert recommended([one]).margin_db is None


def test_levels_have_a_lowest_one():
    assert db_of(0.0) == db_of(1e-30) == LOWEST_DB
    assert db_of(10.0) == pytest.approx(10)

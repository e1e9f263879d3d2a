"""A sound through a whole link: identity, what pre-emphasis and the ultrasonic filter do, and what is assumed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from bandwright.core.kit import Companding, Detector, Direction, Emission, RadioType
from bandwright.core.sound.companding import compander_of
from bandwright.core.sound.fm import FmLink
from bandwright.core.sound.material import Material, made
from bandwright.core.sound.simulate import Chain, RfLevel, chain_of, on_air, out_of, passed, wanted

RATE_HZ = 96_000
CLEAN = RfLevel(name="clean", cn_db=None)
LINK = FmLink(deviation_hz=50e3, bandwidth_hz=200e3, rate_hz=RATE_HZ)


def chain(heard=None, **axes):
    sent, _ = compander_of(Companding(**{"ratio": 2, "preemphasis_us": 50} | axes))
    return Chain(id="any", sent=sent, heard=heard, link=LINK)


def tone(level_db, *, hz=1_000, seconds=0.6):
    return 10 ** (level_db / 20) * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE_HZ)) / RATE_HZ)


def steady_db(signal):
    return 10 * math.log10(2 * np.mean(signal[-RATE_HZ // 5 : -RATE_HZ // 50] ** 2))


@pytest.mark.parametrize(
    "axes",
    [
        {},
        {"preemphasis_us": 0},
        {"ratio": 1},
        {"ratio": 3, "unity_db": -10},
        {"detector": Detector.PEAK, "attack_ms": 1},
        {"bands": 3, "preemphasis_us": 75},
        {"ultrasonic_filter_hz": 17_000},
    ],
)
def test_a_steady_tone_comes_out_of_a_good_link_as_it_went_in(authority, axes):
    found = [steady_db(passed(tone(db, hz=hz), chain(**axes), CLEAN, seed=1)) for db, hz in CASES]
    authority(
        "Whole link without noise: steady tones",
        source="definition: an expander undoes its compressor, and de-emphasis its pre-emphasis",
        ours=found,
        theirs=[db for db, _ in CASES],
        tolerance=0.1,
        kind="arithmetic",
        unit="dB",
    )


CASES = [(-6, 1_000), (-40, 1_000), (-30, 100), (-30, 8_000)]


def test_a_tone_of_0_db_modulates_fully_wherever_unity_is():
    for unity_db in (0, -12):
        air = on_air(tone(0), chain(preemphasis_us=0, unity_db=unity_db))
        assert steady_db(air) == pytest.approx(0, abs=0.05)


def test_a_receiver_of_another_ratio_gives_other_levels():
    other, _ = compander_of(Companding(ratio=3, preemphasis_us=0))
    out = passed(tone(-30), chain(heard=other, preemphasis_us=0), CLEAN, seed=1)
    assert steady_db(out) == pytest.approx(-45, abs=0.2)  # 15 dB on the air, three times that behind it


def test_a_receiver_that_expands_less_is_held_against_reduced_dynamics():
    reduced = chain(expansion=1.5)
    sound = tone(-40)
    assert steady_db(wanted(sound, reduced)) == pytest.approx(-30, abs=0.3)
    assert wanted(sound, chain()) is sound
    out = passed(sound, reduced, CLEAN, seed=1)
    assert np.max(np.abs(out - wanted(sound, reduced))[RATE_HZ // 10 :]) < 0.01 * np.max(np.abs(out))


def error_db(sound, kind, level):
    out, target = passed(sound, kind, level, seed=1), wanted(sound, kind)
    difference, target = (np.fft.rfft(part)[: round(20_000 * len(sound) / RATE_HZ)] for part in (out - target, target))
    return 10 * math.log10(np.sum(np.abs(difference) ** 2) / np.sum(np.abs(target) ** 2))


@pytest.fixture(scope="module")
def keys():
    return 0.5 * made(Material.KEYS, seconds=1.5, rate_hz=RATE_HZ, seed=1)


def test_practice_is_borne_out_jangling_keys_want_an_ultrasonic_filter_or_less_preemphasis(authority, keys):
    high = error_db(keys, chain(preemphasis_us=75), RfLevel(name="near", cn_db=40))
    low = error_db(keys, chain(preemphasis_us=0), RfLevel(name="near", cn_db=40))
    filtered = error_db(keys, chain(preemphasis_us=75, ultrasonic_filter_hz=17_000), RfLevel(name="near", cn_db=40))
    authority(
        "Jangling keys: high pre-emphasis is worse than low, and than high with an ultrasonic filter",
        source="common practice of people who work with radio microphones",
        ours=[bool(high > low + 3), bool(high > filtered + 3)],
        theirs=[True, True],
        kind="common practice",
    )


def test_practice_is_borne_out_high_preemphasis_is_quieter_for_speech_near_the_limit(authority):
    speech = 0.5 * made(Material.SPEECH, seconds=1.5, rate_hz=RATE_HZ, seed=1)
    limit = RfLevel(name="limit", cn_db=15)
    high, low, plain = (
        error_db(speech, chain(**axes), limit) for axes in ({"preemphasis_us": 75}, {"preemphasis_us": 0}, {"ratio": 1})
    )
    authority(
        "Speech near the limit: high pre-emphasis is quieter than none, and companding than no companding",
        source="common practice of people who work with radio microphones",
        ours=[bool(high < low - 3), bool(high < plain - 3)],
        theirs=[True, True],
        kind="common practice",
    )


def test_noise_and_fading_are_the_same_for_the_same_seed():
    sound = tone(-20, seconds=0.1)
    level = RfLevel(name="walk", cn_db=15, doppler_hz=3.0)
    one, again, other = (passed(sound, chain(), level, seed=seed) for seed in (1, 1, 2))
    assert np.array_equal(one, again)
    assert not np.allclose(one, other)
    assert np.array_equal(passed(sound, chain(), level, seed=1, modulating=on_air(sound, chain())), one)


@pytest.mark.parametrize(
    "sound",
    [
        np.zeros(2_000),
        np.sign(np.sin(np.arange(4_000) / 7)),
        np.ones(3_000),
        np.array([1.0]),
        1e-300 * np.ones(500),
    ],
    ids=["silence", "full-scale square", "direct voltage", "one sample", "next to nothing"],
)
def test_odd_sounds_come_out_finite_and_as_long_as_they_were(sound):
    for axes in ({}, {"ratio": 1}, {"bands": 4, "ratio": 3, "detector": Detector.PEAK}):
        out = passed(sound, chain(**axes), RfLevel(name="bad", cn_db=3.0, doppler_hz=3.0), seed=1)
        assert len(out) == len(sound)
        assert np.all(np.isfinite(out))


RADIO = RadioType(
    id="heron",
    name="Heron (invented)",
    direction=Direction.FROM_PERSON,
    emission=Emission.FM,
    bandwidth_hz=200_000,
    spacing_hz=350_000,
    clearance_hz=(),
)


def test_the_chain_of_a_radio_type_says_what_it_assumed():
    found = chain_of(RADIO, Companding(name="smooth", ratio=2), rate_hz=RATE_HZ)
    assert found.id == "smooth"
    assert (found.link.deviation_hz, found.link.audio_hz) == (50_000, 20_000)
    assert found.assumed == ("detector", "attack_ms", "release_ms", "bands", "preemphasis_us", "peak_deviation_hz")
    assert chain_of(RADIO, Companding(ratio=20, unity_db=-150), rate_hz=RATE_HZ).sent.full_db == 0
    stated = replace(RADIO, peak_deviation_hz=75_000, bandwidth_hz=180_000, preemphasis_us=75)
    found = chain_of(stated, Companding(ratio=1), rate_hz=RATE_HZ, heard=Companding(ratio=2))
    assert (found.id, found.link.audio_hz, found.sent.preemphasis_s, found.assumed) == ("heron", 15_000, 75e-6, ())
    assert found.receiver.ratio == 2
    with pytest.raises(ValueError, match="only FM in mono"):
        chain_of(replace(RADIO, emission=Emission.DIGITAL), Companding(ratio=1), rate_hz=RATE_HZ)


def test_undoing_without_a_carrier_between_gives_the_sound_back_exactly():
    sound = np.random.default_rng(1).standard_normal(5_000)
    for axes in ({}, {"bands": 2}, {"detector": Detector.PEAK, "unity_db": -8}):
        assert np.abs(out_of(on_air(sound, chain(**axes)), chain(**axes)) - sound).max() < 1e-9

"""A compander: what it does to steady tones, that the expander undoes it, and what it makes of errors on the way."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bandwright.core.kit import Companding, Detector
from bandwright.core.sound.companding import (
    ASSUMED,
    GAIN_LIMIT_DB,
    compander_of,
    compressed,
    crossovers_hz,
    expanded,
)

RATE_HZ = 48_000
DEFINITION = "definition of a compander: a level of L dB against unity becomes L / ratio, and comes back as L"

KINDS = {
    "2:1 rms": Companding(ratio=2),
    "2:1 peak": Companding(ratio=2, detector=Detector.PEAK, attack_ms=2, release_ms=80),
    "3:1 rms": Companding(ratio=3),
    "1.7:1 rms, unity -12 dB": Companding(ratio=1.7, unity_db=-12),
    "2:1 rms in two bands": Companding(ratio=2, bands=2),
    "2:1 peak in four bands": Companding(ratio=2, bands=4, detector=Detector.PEAK),
}


def settled(kind, **more):
    return compander_of(kind, **more)[0]


def tone(level_db, *, hz=1_000, seconds=1.0):
    return 10 ** (level_db / 20) * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE_HZ)) / RATE_HZ)


def steady_db(signal):
    """Level of the last tenth of a second against a tone of peak 1."""
    return 10 * math.log10(2 * np.mean(signal[-RATE_HZ // 10 :] ** 2))


@pytest.mark.parametrize("name", KINDS)
@pytest.mark.parametrize("level_db", [0, -20, -50])
def test_a_steady_tone_is_compressed_by_the_ratio_and_comes_back(authority, name, level_db):
    kind = KINDS[name]
    compander = settled(kind)
    unity_db = kind.unity_db or 0
    air = compressed(tone(level_db), compander, rate_hz=RATE_HZ)
    out = expanded(air, compander, rate_hz=RATE_HZ)
    wanted_db = [unity_db + (level_db - unity_db) / kind.ratio, level_db]
    authority(
        f"Compander {name}: on the air and behind it",
        source=DEFINITION,
        ours=[steady_db(air), steady_db(out)],
        theirs=wanted_db,
        tolerance=0.1,
        kind="arithmetic",
        unit="dB",
    )


@pytest.mark.parametrize("name", KINDS)
def test_over_a_flat_link_the_expander_undoes_the_compressor_whatever_the_signal_does(name):
    random = np.random.default_rng(3)
    steps = np.repeat(10 ** (random.uniform(-80, 0, 40) / 20), RATE_HZ // 40)
    sound = steps * random.standard_normal(RATE_HZ)
    compander = settled(KINDS[name])
    out = expanded(compressed(sound, compander, rate_hz=RATE_HZ), compander, rate_hz=RATE_HZ)
    assert np.abs(out - sound).max() < 1e-9 * np.abs(sound).max()


@pytest.mark.parametrize("ratio", [1.5, 2, 3])
def test_an_error_of_gain_on_the_way_comes_out_multiplied_by_the_ratio(authority, ratio):
    compander = settled(Companding(ratio=ratio))
    air = compressed(tone(-30), compander, rate_hz=RATE_HZ)
    for error_db in (-3.0, 1.0):
        out = expanded(air * 10 ** (error_db / 20), compander, rate_hz=RATE_HZ)
        authority(
            f"An error of gain between compressor and expander, {ratio}:1",
            source="definition of a compander: an error of g dB on the way is ratio times g behind it",
            ours=steady_db(out) + 30,
            theirs=ratio * error_db,
            tolerance=0.1,
            kind="arithmetic",
            unit="dB",
        )


def test_an_expander_of_less_than_the_ratio_hands_on_reduced_dynamics():
    compander = settled(Companding(ratio=2, expansion=1.5))
    out = [
        steady_db(expanded(compressed(tone(db), compander, rate_hz=RATE_HZ), compander, rate_hz=RATE_HZ))
        for db in (-10, -30, -50)
    ]
    assert np.diff(out) == pytest.approx([-15, -15], abs=0.1)


@pytest.mark.parametrize("detector", list(Detector))
def test_a_compressor_amplifies_silence_by_no_more_than_its_limit(detector):
    compander = settled(Companding(ratio=2, detector=detector))
    quiet = 1e-9 * tone(0)
    assert steady_db(compressed(quiet, compander, rate_hz=RATE_HZ)) == pytest.approx(-180 + GAIN_LIMIT_DB, abs=0.1)
    assert not np.any(compressed(np.zeros(100), compander, rate_hz=RATE_HZ))


def test_attack_and_release_take_the_time_they_state():
    compander = settled(Companding(ratio=2, detector=Detector.RMS, attack_ms=10, release_ms=10))
    sound = np.concatenate([tone(-40, hz=6_000, seconds=0.5), tone(0, hz=6_000, seconds=0.5)])
    air = compressed(sound, compander, rate_hz=RATE_HZ)
    power = air.reshape(-1, 48)  # 1 ms each
    levels = 10 * np.log10(2 * np.mean(power**2, axis=1))
    assert levels[495] == pytest.approx(-20, abs=0.1)
    assert levels[500] > 5  # the step goes through first
    assert levels[560] == pytest.approx(0, abs=0.1)


@pytest.mark.parametrize("ratio", [1.0001, 1.01, 20])
def test_ratios_at_either_end_are_undone_too(ratio):
    sound = np.append(np.zeros(200), np.random.default_rng(4).standard_normal(2_000))
    compander = settled(Companding(ratio=ratio, bands=8, attack_ms=0.001, release_ms=10_000))
    out = expanded(compressed(sound, compander, rate_hz=RATE_HZ), compander, rate_hz=RATE_HZ)
    assert np.abs(out - sound).max() < 1e-6


def test_without_companding_the_signal_passes_as_it_is():
    compander, assumed = compander_of(Companding(ratio=1, preemphasis_us=0))
    sound = tone(-7)
    assert np.array_equal(compressed(sound, compander, rate_hz=RATE_HZ), sound)
    assert np.array_equal(expanded(sound, compander, rate_hz=RATE_HZ), sound)
    assert assumed == ()


def test_what_nobody_stated_is_assumed_and_named():
    compander, assumed = compander_of(Companding(ratio=2, detector=Detector.PEAK), preemphasis_us=75)
    assert assumed == ("attack_ms", "release_ms", "bands", "unity_db")
    assert (compander.attack_s, compander.preemphasis_s) == (ASSUMED["attack_ms"] / 1e3, 75e-6)
    _, assumed = compander_of(Companding(ratio=1))
    assert assumed == ("preemphasis_us",)
    with pytest.raises(ValueError, match="without ratio"):
        compander_of(Companding(detector=Detector.RMS))


def test_what_no_compander_can_be_is_refused():
    for kind, said in [
        (Companding(ratio=0.5), "at least 1"),
        (Companding(ratio=2, attack_ms=0), "more than 0 s"),
        (Companding(ratio=2, bands=0), "at least one band"),
        (Companding(ratio=math.nan), "at least 1"),
    ]:
        with pytest.raises(ValueError, match=said):
            compander_of(kind)


def test_bands_meet_evenly_on_a_logarithmic_scale():
    assert crossovers_hz(1) == ()
    assert np.diff(np.log(crossovers_hz(5))) == pytest.approx([math.log(100) / 5] * 3)

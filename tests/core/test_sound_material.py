"""Sounds that are made from a seed have the peak, the length and the spectrum that they promise."""

from __future__ import annotations

import numpy as np
import pytest

from bandwright.core.sound.material import Material, made

RATE_HZ = 96_000


def share(sound, low_hz, high_hz, rate_hz=RATE_HZ):
    power = np.abs(np.fft.rfft(sound)) ** 2
    hz = np.fft.rfftfreq(len(sound), 1 / rate_hz)
    return power[(hz >= low_hz) & (hz < high_hz)].sum() / power.sum()


@pytest.mark.parametrize("material", list(Material))
def test_the_same_seed_gives_the_same_sound_with_a_peak_of_one(material):
    one, again, other = (made(material, seconds=1.2, rate_hz=RATE_HZ, seed=seed) for seed in (1, 1, 2))
    assert len(one) == round(1.2 * RATE_HZ)
    assert np.abs(one).max() == pytest.approx(1)
    assert np.array_equal(one, again)
    assert not np.allclose(one, other)
    assert abs(one.mean()) < 1e-3
    assert np.abs(one[:20]).max() < 0.01
    assert np.abs(one[-20:]).max() < 0.01


@pytest.mark.parametrize("material", list(Material))
@pytest.mark.parametrize("rate_hz", [8_000, 48_000])
def test_any_rate_and_any_length_will_do(material, rate_hz):
    for seconds in (0, 0.01, 0.7):
        sound = made(material, seconds=seconds, rate_hz=rate_hz, seed=3)
        assert len(sound) == max(1, round(seconds * rate_hz))
        assert np.all(np.isfinite(sound))


def test_keys_reach_40_khz_and_a_voice_does_not():
    keys, speech, sung, clapper = (
        made(kind, seconds=3, rate_hz=RATE_HZ, seed=1)
        for kind in (Material.KEYS, Material.SPEECH, Material.SUNG, Material.CLAPPER)
    )
    assert share(keys, 20_000, 40_000) > 0.05
    assert share(keys, 40_000, 48_000) < 1e-3
    assert share(keys, 3_000, 40_000) > 0.95
    for voice in (speech, sung):
        assert share(voice, 13_000, 48_000) < 1e-5
        assert share(voice, 80, 5_000) > 0.95
    assert share(clapper, 500, 12_000) > 0.7


def test_speech_pauses_and_a_clapper_stands_out():
    speech, clapper = (made(kind, seconds=8, rate_hz=48_000, seed=1) for kind in (Material.SPEECH, Material.CLAPPER))
    frames = np.sqrt(np.mean(speech.reshape(-1, 480) ** 2, axis=1))
    assert np.mean(frames < 0.003) > 0.1
    assert np.abs(clapper).max() / np.sqrt(np.mean(clapper**2)) > 20

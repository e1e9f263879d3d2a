"""Recordings at any rate become sounds for a link, and come back no louder than they were."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal as reference

from bandwright.core.sound.recording import PEAK_DB, Recording, driven, made_ready, prepared, resampled, tracks

RATES = [(44_100, 96_000), (8_000, 96_000), (96_000, 48_000), (48_000, 44_100), (22_050, 96_000), (192_000, 96_000)]


def tone(hz, rate_hz, *, seconds=0.5):
    at_s = np.arange(round(seconds * rate_hz)) / rate_hz
    return np.sin(2 * np.pi * hz * at_s) * np.sin(np.pi * at_s / seconds) ** 2


@pytest.mark.parametrize(("from_hz", "to_hz"), RATES)
def test_a_tone_is_the_same_tone_at_another_rate(authority, from_hz, to_hz):
    hz = 0.4 * min(from_hz, to_hz)
    found = resampled(tone(hz, from_hz), from_hz=from_hz, to_hz=to_hz)
    authority(
        f"Resampling from {from_hz} Hz to {to_hz} Hz",
        source="the same tone, sampled at the other rate",
        ours=found[100:-100:7],
        theirs=tone(hz, to_hz)[100 : len(found) - 100 : 7],
        tolerance=1e-5,
        kind="arithmetic",
    )
    assert len(found) == round(0.5 * to_hz)


def test_nothing_is_folded_and_nothing_is_mirrored():
    for from_hz, to_hz, hz in [(96_000, 48_000, 30_000), (96_000, 44_100, 22_500), (192_000, 96_000, 70_000)]:
        assert np.abs(resampled(tone(hz, from_hz), from_hz=from_hz, to_hz=to_hz)).max() < 1e-6
    up = resampled(tone(3_000, 8_000), from_hz=8_000, to_hz=96_000)
    spectrum = np.abs(np.fft.rfft(up))
    at_hz = np.fft.rfftfreq(len(up), 1 / 96_000)
    assert spectrum[at_hz > 3_200].max() < 1e-5 * spectrum.max()


def test_noise_below_the_roll_off_is_resampled_as_scipy_does_it(authority):
    noise = np.random.default_rng(1).standard_normal(9_600)
    taps = reference.firwin(801, 15_000, fs=48_000, window=("kaiser", 9))
    quiet = np.convolve(noise, taps, mode="same") * np.hanning(9_600)
    authority(
        "Resampling noise from 48 kHz to 96 kHz",
        source="scipy.signal.resample",
        ours=resampled(quiet, from_hz=48_000, to_hz=96_000),
        theirs=reference.resample(quiet, 19_200),
        tolerance=1e-4,
        kind="library",
    )


def test_a_recording_becomes_one_sound_with_a_known_peak_that_fades_in_and_out():
    two = np.stack([tone(440, 44_100), 0.5 * tone(440, 44_100)], axis=1) + 0.1
    ready = prepared(Recording(samples=two, rate_hz=44_100, of_seconds=3.0), rate_hz=96_000)
    assert 20 * np.log10(np.abs(ready.sound).max()) == pytest.approx(PEAK_DB)
    assert abs(ready.sound.mean()) < 1e-3
    assert ready.sound[0] == ready.sound[-1] == 0
    assert (ready.channels, ready.seconds, ready.of_seconds, ready.cut) == (2, 0.5, 3.0, False)
    assert ready.peak == pytest.approx(0.75, abs=0.03)


@pytest.mark.parametrize(
    "samples",
    [np.zeros((100, 1)), np.full((1, 1), 0.5), np.full((4_000, 2), -0.3), np.array([[0.5, -0.5]] * 2_000)],
    ids=["silence", "one sample", "direct voltage", "channels that cancel"],
)
def test_nothing_but_silence_is_refused(samples):
    with pytest.raises(ValueError, match="nothing but silence"):
        prepared(Recording(samples=samples, rate_hz=48_000, of_seconds=1.0), rate_hz=96_000)


def test_no_track_is_louder_than_what_came_in():
    ready = made_ready(tone(1_000, 96_000), rate_hz=96_000)
    louder = (3 * ready.sound).astype(np.float32)
    softer = (0.5 * ready.sound).astype(np.float32)
    found = tracks(ready, {("full", "near"): louder, ("flat", "near"): softer}, rate_hz=96_000, to_hz=48_000)
    assert [track.name for track in found] == ["sent", "full-near", "flat-near"]
    assert all(np.abs(track.samples).max() <= ready.peak * (1 + 1e-6) for track in found)
    assert [round(track.lowered_db, 2) for track in found] == [0, 9.54, 0]
    assert np.abs(found[2].samples).max() == pytest.approx(ready.peak / 2, rel=1e-3)


def test_a_sound_is_driven_to_its_peak_and_the_same_rate_is_left_alone():
    assert np.abs(driven(np.array([0.1, -0.2]))).max() == pytest.approx(10 ** (PEAK_DB / 20))
    sound = np.ones(3)
    assert resampled(sound, from_hz=5, to_hz=5) is sound

"""Sounds to try a link with, made from a seed: speech-like, sung, keys jangling, a clapper.

They are made up of what matters here: how level and spectrum move. Each comes out with a peak of 1, in a quiet room.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from enum import StrEnum

import numpy as np
import numpy.typing as npt

__all__ = ["Material", "made"]

Floats = npt.NDArray[np.float64]
Random = np.random.Generator

_VOWELS: tuple[tuple[float, ...], ...] = (
    (730, 1090, 2440, 3400),
    (270, 2290, 3010, 3700),
    (300, 870, 2240, 3300),
    (530, 1840, 2480, 3500),
    (570, 840, 2410, 3300),
)
"""Formants of five vowels in Hz; textbook averages (Peterson and Barney, 1952), the fourth by common practice."""

_NOTHING = 1e-12  # keeps silence from being divided by
_EDGE_S = 0.02  # how softly a sound begins and ends
_ROOM_DB = -66.0
"""Noise of a quiet room against the peak; common practice: 30 dB(A) behind a voice of 90 dB or more at a microphone."""

_FORMANT_WIDTHS_HZ = (80.0, 100.0, 140.0, 250.0)


class Material(StrEnum):
    """What to make."""

    SPEECH = "speech"
    SUNG = "sung"
    KEYS = "keys"
    CLAPPER = "clapper"


def made(material: Material, *, seconds: float, rate_hz: int, seed: int) -> Floats:
    """Return so many seconds of a sound with a peak of 1; the same seed and rate give the same samples.

    Voices have nothing above 12 kHz; keys reach 40 kHz, or 0.45 of the rate where that is less.
    """
    count = max(1, round(seconds * rate_hz))
    random = np.random.default_rng([seed, list(Material).index(material)])
    found = _MAKERS[material](count, rate_hz, random)
    found /= max(float(np.abs(found).max()), _NOTHING)
    found += 10 ** (_ROOM_DB / 20) * _room(count, rate_hz, random)
    if count > 2:
        found = _edged(found, int(_EDGE_S * rate_hz), int(_EDGE_S * rate_hz))
    return found / float(np.abs(found).max())


def _room(count: int, rate_hz: int, random: Random) -> Floats:
    """Return noise of rms 1 that falls by 6 dB an octave above 200 Hz."""
    size = count + count % 2
    spectrum = np.fft.rfft(random.standard_normal(size)) / np.hypot(1, np.fft.rfftfreq(size, 1 / rate_hz) / 200)
    out = np.fft.irfft(spectrum, size)[:count]
    return out / max(math.sqrt(float(np.mean(out * out))), _NOTHING)


def _add(out: Floats, start: int, piece: Floats) -> None:
    piece = piece[: max(0, len(out) - start)]
    out[start : start + len(piece)] += piece


def _edged(piece: Floats, rise: int, fall: int) -> Floats:
    """Return a piece that rises and falls over so many samples, in the shape of a raised cosine."""
    rise, fall = min(rise, len(piece) // 2), min(fall, len(piece) // 2)
    piece = piece.copy()
    piece[:rise] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / max(rise, 1))
    piece[len(piece) - fall :] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, fall + 1) / max(fall, 1))
    return piece


def _voice(pitch_hz: Floats, formants_hz: Sequence[float], tilt_db: float, rate_hz: int) -> Floats:
    """Return harmonics of a pitch with a slope of so many dB an octave, through the resonances of a vowel."""
    turns = np.cumsum(pitch_hz) / rate_hz
    middle_hz = float(pitch_hz.mean())
    out = np.zeros(len(pitch_hz))
    for number in range(1, int(min(12_000, 0.45 * rate_hz) / float(pitch_hz.max())) + 1):
        at_hz = number * middle_hz
        level = 10 ** (tilt_db * math.log2(number) / 20)
        for formant_hz, width_hz in zip(formants_hz, _FORMANT_WIDTHS_HZ, strict=False):
            level *= formant_hz**2 / math.hypot(formant_hz**2 - at_hz**2, width_hz * at_hz)
            level += 0.02 * 10 ** (tilt_db * math.log2(number) / 20)
        out += level * np.sin(2 * np.pi * number * turns)
    return out / max(float(np.abs(out).max()), _NOTHING)


def _hiss(count: int, low_hz: float, high_hz: float, rate_hz: int, random: Random) -> Floats:
    """Return noise of peak 1 between two frequencies."""
    spectrum = np.fft.rfft(random.standard_normal(count))
    at_hz = np.fft.rfftfreq(count, 1 / rate_hz)
    spectrum *= (at_hz >= low_hz) & (at_hz <= high_hz)
    out = np.fft.irfft(spectrum, count)
    return out / max(float(np.abs(out).max()), _NOTHING)


def _speech(count: int, rate_hz: int, random: Random) -> Floats:
    """Phrases of syllables, four a second: a vowel, often with a fricative before it; pauses between phrases."""
    out = np.zeros(count)
    at_s, left = 0.15, int(random.integers(4, 9))
    base_hz = float(random.uniform(105, 190))
    while at_s * rate_hz < count:
        loud = 10 ** (random.uniform(-14, 0) / 20)
        if random.uniform() < 0.55:
            long_s = random.uniform(0.05, 0.12)
            hiss = _hiss(max(2, int(long_s * rate_hz)), random.uniform(2_000, 4_500), 11_000, rate_hz, random)
            _add(out, int(at_s * rate_hz), 0.25 * loud * _edged(hiss, rate_hz // 100, rate_hz // 60))
            at_s += 0.8 * long_s
        long_s = random.uniform(0.1, 0.24)
        length = max(2, int(long_s * rate_hz))
        glide = np.linspace(random.uniform(0.95, 1.15), random.uniform(0.8, 1.0), length)
        voice = _voice(base_hz * glide, _VOWELS[int(random.integers(5))], -9.0, rate_hz)
        _add(out, int(at_s * rate_hz), loud * _edged(voice, rate_hz // 70, rate_hz // 20))
        at_s += long_s + random.uniform(0.0, 0.06)
        left -= 1
        if left == 0:
            at_s += random.uniform(0.35, 0.9)
            left = int(random.integers(4, 9))
    return out


def _sung(count: int, rate_hz: int, random: Random) -> Floats:
    """Long notes of a scale with vibrato, swelling and dying away; resonances close together near 3 kHz."""
    out = np.zeros(count)
    at_s, step = 0.1, 0
    while at_s * rate_hz < count:
        step = int(np.clip(step + random.integers(-3, 4), -5, 7))
        long_s = random.uniform(0.7, 2.2)
        length = max(2, int(long_s * rate_hz))
        beat = np.sin(2 * np.pi * 5.5 * np.arange(length) / rate_hz)
        pitch_hz = 261.63 * 2 ** (step / 12) * (1 + 0.012 * beat)
        first, second, _, _ = _VOWELS[int(random.integers(5))]
        note = _voice(pitch_hz, (first, second, 2_800, 3_200), -7.0, rate_hz)
        swell = 10 ** (-random.uniform(6, 24) / 20 * (1 - np.sin(np.pi * np.linspace(0, 1, length))))
        _add(out, int(at_s * rate_hz), _edged(note * swell, rate_hz // 30, rate_hz // 10))
        at_s += long_s + random.uniform(0.0, 0.25)
    return out


def _struck(
    count: int, rate_hz: int, random: Random, *, modes: int, low_hz: float, high_hz: float, decay_s: tuple[float, float]
) -> Floats:
    """Return what a struck body sounds like: partials that die away, the high ones sooner."""
    at_s = np.arange(count) / rate_hz
    high_hz = min(high_hz, 0.45 * rate_hz)
    out = np.zeros(count)
    for _ in range(modes):
        mode_hz = low_hz * (high_hz / low_hz) ** random.uniform()
        decay = random.uniform(*decay_s) * (low_hz / mode_hz) ** 0.5
        out += random.uniform(0.3, 1) * np.exp(-at_s / decay) * np.sin(2 * np.pi * mode_hz * at_s)
    return out


def _keys(count: int, rate_hz: int, random: Random) -> Floats:
    """Metal on metal, about 35 times a second in bursts, from 3 kHz to 40 kHz."""
    out = np.zeros(count)
    at_s = 0.05
    while at_s * rate_hz < count:
        shake = 0.5 + 0.5 * math.sin(2 * math.pi * 1.7 * at_s)
        hit = _struck(int(0.12 * rate_hz), rate_hz, random, modes=7, low_hz=3_000, high_hz=40_000, decay_s=(0.01, 0.05))
        _add(out, int(at_s * rate_hz), 10 ** (random.uniform(-24, 0) / 20) * (0.1 + shake) * hit)
        at_s += random.exponential(1 / (10 + 50 * shake))
    return out


def _clapper(count: int, rate_hz: int, random: Random) -> Floats:
    """Wood on wood every two seconds: a crack of a few milliseconds and the room after it."""
    out = np.zeros(count)
    for start in range(int(0.4 * rate_hz), count, 2 * rate_hz):
        crack = _struck(
            int(0.1 * rate_hz), rate_hz, random, modes=14, low_hz=500, high_hz=12_000, decay_s=(0.004, 0.02)
        )
        _add(out, start, crack)
        at_s = np.arange(int(0.5 * rate_hz)) / rate_hz
        _add(out, start, 0.12 * np.exp(-at_s / 0.08) * _hiss(len(at_s), 200, 6_000, rate_hz, random))
    return out


_MAKERS: dict[Material, Callable[[int, int, Random], Floats]] = {
    Material.SPEECH: _speech,
    Material.SUNG: _sung,
    Material.KEYS: _keys,
    Material.CLAPPER: _clapper,
}

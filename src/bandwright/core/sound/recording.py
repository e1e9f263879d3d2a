"""A recording as it was read, made ready for a link, and what came out made ready for a file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

__all__ = [
    "LONGEST_S",
    "PEAK_DB",
    "Prepared",
    "Recording",
    "Track",
    "driven",
    "made_ready",
    "prepared",
    "resampled",
    "tracks",
]

Floats = npt.NDArray[np.float64]
Sounds = npt.NDArray[np.float32]

PEAK_DB = -6.0
"""Where the highest peak of a sound is set, against what modulates fully: 6 dB of headroom; common practice."""

LONGEST_S = 30.0
"""No more than this of a recording is taken, from its start."""

_FADE_S = 0.03  # how softly a recording begins and ends
_ROLL_OFF = 0.06  # the part of the lower rate over which a resampler lets less and less through
_MADE_PEAK_DB = -12.0
_QUIETEST = 1e-7  # less than a step of 24 bits is silence


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """Samples by time and channel, 1.0 being full scale, out of a file that holds `of_seconds`.

    `cut` where the file ends before it says.
    """

    samples: Floats
    rate_hz: int
    of_seconds: float
    cut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """A sound for a link, its highest peak at `PEAK_DB`, and the peak it had in its file.

    `seconds` of `of_seconds` were taken; `channels` were averaged.
    """

    sound: Floats
    peak: float
    seconds: float
    of_seconds: float
    channels: int = 1
    cut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """Samples for a file, lowered by so many dB so that they are no louder than what came in."""

    name: str
    samples: Floats
    lowered_db: float


def resampled(signal: Floats, *, from_hz: int, to_hz: int) -> Floats:
    """Return a signal at another rate, not delayed.

    By its Fourier transform, with a tenth of a second of silence between its end and its start: what lies above half
    the lower rate is gone, with nothing folded, and the last 6 % below that roll off.

    Parameters
    ----------
    signal
        Samples.
    from_hz, to_hz
        Samples per second, whole numbers.
    """
    if from_hz == to_hz or len(signal) == 0:
        return signal
    ratio = Fraction(to_hz, from_hz)
    blocks = _smooth(math.ceil((len(signal) + from_hz / 10) / ratio.denominator))
    whole = np.zeros(blocks * ratio.denominator)
    whole[: len(signal)] = signal
    spectrum = np.fft.rfft(whole)
    size = blocks * ratio.numerator
    kept = np.zeros(size // 2 + 1, np.complex128)
    count = min(len(kept), len(spectrum))
    half = min(from_hz, to_hz) / 2
    share = np.clip((half - np.arange(count) * from_hz / len(whole)) / (_ROLL_OFF * half), 0, 1)
    kept[:count] = spectrum[:count] * (0.5 - 0.5 * np.cos(np.pi * share))
    return np.fft.irfft(kept, size)[: math.ceil(len(signal) * ratio)] * float(ratio)


def _smooth(size: int) -> int:
    """Return the next size that has no prime factor above 5."""
    while True:
        left = size
        for prime in (2, 3, 5):
            while left % prime == 0:
                left //= prime
        if left == 1:
            return size
        size += 1


def driven(sound: Floats) -> Floats:
    """Return a sound with its highest peak at `PEAK_DB`."""
    return sound * (10 ** (PEAK_DB / 20) / float(np.abs(sound).max()))


def prepared(recording: Recording, *, rate_hz: int) -> Prepared:
    """Return what a link is tried with: channels averaged, at its rate, faded in and out over 30 ms.

    A compressor needs a moment to settle on a sound that is there at once, and a sound that is cut clicks.

    Raises
    ------
    ValueError
        When nothing is in it: silence, or channels that cancel one another.
    """
    taken = recording.samples
    one = taken.mean(axis=1)
    sound = resampled(one - one.mean(), from_hz=recording.rate_hz, to_hz=rate_hz)
    fade = min(len(sound) // 2, round(_FADE_S * rate_hz))
    shape = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / max(fade, 1))
    sound[:fade] *= shape
    sound[len(sound) - fade :] *= shape[::-1]
    peak = float(np.abs(sound).max(initial=0.0))
    if not peak > _QUIETEST:
        raise ValueError("nothing but silence")
    return Prepared(
        sound=driven(sound),
        peak=min(peak, float(np.abs(taken).max())),
        seconds=len(taken) / recording.rate_hz,
        of_seconds=recording.of_seconds,
        channels=recording.samples.shape[1],
        cut=recording.cut,
    )


def made_ready(sound: Floats, *, rate_hz: int) -> Prepared:
    """Return a sound of ours for a link; files of it get a peak of -12 dB against full scale."""
    seconds = len(sound) / rate_hz
    return Prepared(sound=driven(sound), peak=10 ** (_MADE_PEAK_DB / 20), seconds=seconds, of_seconds=seconds)


def tracks(
    ready: Prepared, received: Mapping[tuple[str, str], Sounds], *, rate_hz: int, to_hz: int
) -> tuple[Track, ...]:
    """Return the sound sent, then what was received by chain and level, on one scale.

    None is louder than the recording was: one whose peak would be is lowered as a whole, and says by how much.
    """
    scale = ready.peak / float(np.abs(ready.sound).max())
    found = [("sent", ready.sound)]
    found += [(f"{chain}-{level}", sound.astype(np.float64)) for (chain, level), sound in received.items()]
    return tuple(_track(name, sound * scale, ready.peak, rate_hz, to_hz) for name, sound in found)


def _track(name: str, sound: Floats, most: float, rate_hz: int, to_hz: int) -> Track:
    samples = resampled(sound, from_hz=rate_hz, to_hz=to_hz)
    over = float(np.abs(samples).max()) / most
    if over <= 1:
        return Track(name=name, samples=samples, lowered_db=0.0)
    return Track(name=name, samples=samples / over, lowered_db=20 * math.log10(over))

"""What a chain does to test signals: noise at rest and behind a tone, a burst of high frequencies, steady tones."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.sound.simulate import Chain, RfLevel, on_air, passed
from bandwright.core.sound.weighting import Weighting, power_of, weighted

__all__ = [
    "LOWEST_DB",
    "Burst",
    "Noise",
    "NoiseProbe",
    "StaticPoint",
    "burst_through",
    "db_of",
    "noise_of",
    "noise_probe",
    "static_curve",
]

Floats = npt.NDArray[np.float64]

LOWEST_DB = -160.0
"""Whatever is less is told as this."""

# Signals of our own choice, in dB against full modulation: silence, tone and silence; a burst out of a quiet tone.
_REST_S, _TONE_S, _AFTER_S, _TONE_HZ, _TONE_DB = 0.7, 0.7, 1.0, 200.0, -10.0
_WINDOW_S = 0.02
_TAIL_OVER_DB = 6.0
_BURST_HZ, _BURST_S, _BURST_EDGE_S, _BURST_DB = 8_000.0, 0.02, 0.0005, -6.0
_BEFORE_S, _BEFORE_HZ, _BEFORE_DB = 0.15, 500.0, -50.0
_STATIC_S, _STATIC_TAIL_S, _STATIC_HZ, _ATTACKS = 0.1, 0.05, 1_000.0, 10
_STATIC_DB = tuple(range(-100, 11, 10))
_FULL_POWER = 0.5  # of a sine of peak 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """Noise at the output, in dB against a tone that modulates fully.

    `rest_db` counts 20 Hz to 20 kHz alike, `rest_468_db` and `rest_a_db` are weighted. `behind_468_db` is the noise
    behind a 200 Hz tone of -10 dB (what the same link without noise puts out is taken off), `rise_db` how much more
    that is than at rest, and `tail_s` how long after the tone it takes to come back within 6 dB of rest; None where it
    has not after a second.
    """

    rest_db: float
    rest_468_db: float
    rest_a_db: float
    behind_468_db: float
    rise_db: float
    tail_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """What becomes of 20 ms of 8 kHz at -6 dB that begin out of a quiet tone.

    `peak_db` is the highest peak before the limiter, against peak deviation; above 0 dB it is cut off, for `limited_s`
    altogether. `error_db` is the difference between sent and received over the burst against the burst.
    """

    peak_db: float
    limited_s: float
    error_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StaticPoint:
    """A steady 1 kHz tone: its level before the transmitter, on the air and behind the receiver.

    In dB against a tone that modulates fully; on the air against peak deviation. What comes out includes the noise.
    """

    in_db: float
    air_db: float
    out_db: float


def db_of(power: float, reference: float = 1.0) -> float:
    """Return a power against another in dB, `LOWEST_DB` at least."""
    return max(LOWEST_DB, 10 * math.log10(power / reference)) if power > 0 and reference > 0 else LOWEST_DB


def _tone(seconds: float, hz: float, level_db: float, rate_hz: int) -> Floats:
    return 10 ** (level_db / 20) * np.sin(2 * np.pi * hz * np.arange(round(seconds * rate_hz)) / rate_hz)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class NoiseProbe:
    """Silence, a tone and silence, on the air and behind a link without noise."""

    sound: Floats
    modulating: Floats
    clean: Floats


def noise_probe(chain: Chain) -> NoiseProbe:
    """Return what shows the noise of a chain at any RF level."""
    rate_hz = chain.link.rate_hz
    sound = np.concatenate(
        [
            np.zeros(round(_REST_S * rate_hz)),
            _tone(_TONE_S, _TONE_HZ, _TONE_DB, rate_hz),
            np.zeros(round(_AFTER_S * rate_hz)),
        ]
    )
    modulating = on_air(sound, chain)
    clean = passed(sound, chain, RfLevel(name="clean", cn_db=None), seed=0, modulating=modulating)
    return NoiseProbe(sound=sound, modulating=modulating, clean=clean)


def noise_of(chain: Chain, level: RfLevel, probe: NoiseProbe, *, seed: int) -> Noise:
    """Return noise at rest and behind a tone; the carrier does not fade meanwhile."""
    rate_hz = chain.link.rate_hz
    steady = RfLevel(name=level.name, cn_db=level.cn_db)
    noise = passed(probe.sound, chain, steady, seed=seed, modulating=probe.modulating) - probe.clean
    rest = noise[round(0.3 * rate_hz) : round((_REST_S - 0.05) * rate_hz)]
    behind = noise[round((_REST_S + 0.3) * rate_hz) : round((_REST_S + _TONE_S - 0.05) * rate_hz)]
    rest_468 = power_of(rest, Weighting.BS468, rate_hz=rate_hz)
    behind_468 = power_of(behind, Weighting.BS468, rate_hz=rate_hz)
    return Noise(
        rest_db=db_of(power_of(rest, Weighting.FLAT, rate_hz=rate_hz), _FULL_POWER),
        rest_468_db=db_of(rest_468, _FULL_POWER),
        rest_a_db=db_of(power_of(rest, Weighting.A, rate_hz=rate_hz), _FULL_POWER),
        behind_468_db=db_of(behind_468, _FULL_POWER),
        rise_db=db_of(behind_468, _FULL_POWER) - db_of(rest_468, _FULL_POWER),
        tail_s=_tail_s(noise[round((_REST_S + _TONE_S) * rate_hz) :], rest_468, rate_hz),
    )


def _tail_s(noise: Floats, rest_468: float, rate_hz: int) -> float | None:
    window = round(_WINDOW_S * rate_hz)
    heard = weighted(noise, Weighting.BS468, rate_hz=rate_hz) ** 2
    powers = heard[: len(heard) // window * window].reshape(-1, window).mean(axis=1)
    above = np.flatnonzero(powers > rest_468 * 10 ** (_TAIL_OVER_DB / 10))
    last = int(above[-1]) + 1 if len(above) else 0
    return None if last >= len(powers) else last * _WINDOW_S


def burst_through(chain: Chain, level: RfLevel, *, seed: int) -> Burst:
    """Return what becomes of a burst of high frequencies; the carrier does not fade meanwhile."""
    rate_hz = chain.link.rate_hz
    burst = _tone(_BURST_S, _BURST_HZ, _BURST_DB, rate_hz)
    edge = round(_BURST_EDGE_S * rate_hz)
    shape = 0.5 - 0.5 * np.cos(np.pi * (np.arange(edge) + 0.5) / edge)
    burst[:edge] *= shape
    burst[-edge:] *= shape[::-1]
    sound = _tone(2 * _BEFORE_S + _BURST_S, _BEFORE_HZ, _BEFORE_DB, rate_hz)
    at = slice(round(_BEFORE_S * rate_hz), round(_BEFORE_S * rate_hz) + len(burst))
    sound[at] += burst
    modulating = on_air(sound, chain)
    steady = RfLevel(name=level.name, cn_db=level.cn_db)
    error = (passed(sound, chain, steady, seed=seed, modulating=modulating) - sound)[at]
    peaks = np.abs(modulating[at])
    return Burst(
        peak_db=20 * math.log10(float(peaks.max())),
        limited_s=float(np.count_nonzero(peaks > 1)) / rate_hz,
        error_db=db_of(float(np.mean(error**2)), float(np.mean(sound[at] ** 2))),
    )


def static_curve(chain: Chain, level: RfLevel, *, seed: int) -> tuple[StaticPoint, ...]:
    """Return steady 1 kHz tones from -100 dB to 10 dB, in, on the air and out; the carrier does not fade meanwhile."""
    rate_hz = chain.link.rate_hz
    step = round((_STATIC_S + _ATTACKS * chain.sent.attack_s) * rate_hz)
    tail = round(_STATIC_TAIL_S * rate_hz)
    sound = np.concatenate([_tone(step / rate_hz, _STATIC_HZ, level_db, rate_hz) for level_db in _STATIC_DB])
    modulating = on_air(sound, chain)
    steady = RfLevel(name=level.name, cn_db=level.cn_db)
    out = passed(sound, chain, steady, seed=seed, modulating=modulating)
    ends = [step * (number + 1) for number in range(len(_STATIC_DB))]
    return tuple(
        StaticPoint(
            in_db=float(level_db),
            air_db=_level_db(np.clip(modulating[end - tail : end], -1, 1)),
            out_db=_level_db(out[end - tail : end]),
        )
        for level_db, end in zip(_STATIC_DB, ends, strict=True)
    )


def _level_db(signal: Floats) -> float:
    return db_of(float(np.mean(signal**2)), _FULL_POWER)

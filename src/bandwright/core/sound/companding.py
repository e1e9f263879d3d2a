"""A compressor before the air and an expander after it, each by its own detector, as filters of samples.

The compressor is the expander in a feedback loop, as in the analogue circuits: both take their gain from what is on
the air, so that over a flat link without noise the expander undoes the compressor exactly, whatever the signal does.
Their detectors see no more than peak deviation: what goes on the air behind the limiter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.kit import Companding, Detector
from bandwright.kernels.audio import follow

__all__ = ["ASSUMED", "GAIN_LIMIT_DB", "Compander", "compander_of", "compressed", "crossovers_hz", "expanded"]

Floats = npt.NDArray[np.float64]

ASSUMED = {
    "detector": Detector.RMS,
    "attack_ms": 5.0,
    "release_ms": 100.0,
    "bands": 1,
    "preemphasis_us": 50.0,
    "unity_db": 0.0,
}
"""What stands for an axis of companding that nobody stated; common practice for radio microphones."""

GAIN_LIMIT_DB = 60.0
"""A compressor amplifies by no more than this, and an expander attenuates by no more; common practice."""

_LOWEST_HZ, _HIGHEST_HZ = 100.0, 10_000.0
_TONE_HZ = 1_000.0  # the tone that full modulation is stated for
_SMALLEST = 1e-200  # with a ratio near 1 the limit is at an envelope that no number holds


@dataclass(frozen=True, slots=True, kw_only=True)
class Compander:
    """A compressor and the expander that belongs to it, with every axis settled.

    `ratio` is dB in for each dB on the air, `expansion` dB out for each dB on the air. `unity_db` is the level, against
    full deviation, that both leave as it is.
    """

    ratio: float
    expansion: float
    detector: Detector
    attack_s: float
    release_s: float
    bands: int
    unity_db: float
    preemphasis_s: float
    ultrasonic_filter_hz: float | None

    def __post_init__(self) -> None:
        if not (self.ratio >= 1 and self.expansion >= 1):
            raise ValueError(f"ratio and expansion are at least 1; given {self.ratio} and {self.expansion}")
        if not (self.attack_s > 0 and self.release_s > 0 and self.preemphasis_s >= 0 and self.bands >= 1):
            raise ValueError("time constants of a detector are more than 0 s, and there is at least one band")

    @property
    def full_db(self) -> float:
        """The level before the compressor that becomes full deviation, in dB against full deviation."""
        return -(self.ratio - 1) * self.unity_db


def compander_of(companding: Companding, *, preemphasis_us: float | None = None) -> tuple[Compander, tuple[str, ...]]:
    """Return a kind of companding with every axis settled, and the names of those that were assumed.

    Parameters
    ----------
    companding
        The axes as stated; its ratio must be.
    preemphasis_us
        What the radio type states, for a kind that leaves it open.

    Raises
    ------
    ValueError
        When the ratio is not stated: nothing can stand for it.
    """
    if companding.ratio is None:
        raise ValueError("a kind of companding without ratio cannot be simulated; 1 is none")
    stated: dict[str, object] = {name: getattr(companding, name) for name in ASSUMED}
    if stated["preemphasis_us"] is None:
        stated["preemphasis_us"] = preemphasis_us
    silent = ("detector", "attack_ms", "release_ms", "bands", "unity_db") if companding.ratio == 1 else ()
    assumed = tuple(name for name, value in stated.items() if value is None and name not in silent)
    whole = {name: ASSUMED[name] if value is None else value for name, value in stated.items()}
    settled = Compander(
        ratio=companding.ratio,
        expansion=companding.ratio if companding.expansion is None else companding.expansion,
        detector=Detector(str(whole["detector"])),
        attack_s=_number(whole["attack_ms"]) / 1e3,
        release_s=_number(whole["release_ms"]) / 1e3,
        bands=int(_number(whole["bands"])),
        unity_db=_number(whole["unity_db"]),
        preemphasis_s=_number(whole["preemphasis_us"]) / 1e6,
        ultrasonic_filter_hz=companding.ultrasonic_filter_hz,
    )
    return settled, assumed


def _number(value: object) -> float:
    return float(value) if isinstance(value, (int, float)) else math.nan


def crossovers_hz(bands: int) -> tuple[float, ...]:
    """Return where bands meet: evenly on a logarithmic scale from 100 Hz to 10 kHz, 1 kHz for two; a choice of ours.

    Examples
    --------
    >>> crossovers_hz(2)
    (1000.0,)
    """
    step = (_HIGHEST_HZ / _LOWEST_HZ) ** (1 / bands)
    return tuple(_LOWEST_HZ * step**number for number in range(1, bands))


def compressed(signal: Floats, compander: Compander, *, rate_hz: int) -> Floats:
    """Return a signal behind the compressor: `ratio` dB become one; 1.0 is the peak of a tone at full deviation."""
    return _followed(signal, compander, rate_hz=rate_hz, exponent=compander.ratio - 1, inverse=True)


def expanded(signal: Floats, compander: Compander, *, rate_hz: int) -> Floats:
    """Return a signal behind the expander: one dB becomes `expansion` dB."""
    return _followed(signal, compander, rate_hz=rate_hz, exponent=compander.expansion - 1, inverse=False)


def _followed(signal: Floats, compander: Compander, *, rate_hz: int, exponent: float, inverse: bool) -> Floats:
    out = np.empty(len(signal))
    if exponent == 0:
        out[:] = signal
        return out
    squared = compander.detector is Detector.RMS
    power = exponent / 2 if squared else float(exponent)
    follow(
        np.ascontiguousarray(signal, np.float64),
        _poles(compander.bands, rate_hz),
        _step(compander.attack_s, rate_hz),
        _step(compander.release_s, rate_hz),
        squared,
        _scale(compander, rate_hz, exponent),
        max(10 ** (-GAIN_LIMIT_DB / 20 / power), _SMALLEST),
        power,
        inverse,
        out,
    )
    return out


def _step(time_constant_s: float, rate_hz: int) -> float:
    return 1 - math.exp(-1 / (time_constant_s * rate_hz))


def _poles(bands: int, rate_hz: int) -> Floats:
    return np.array([math.exp(-2 * math.pi * hz / rate_hz) for hz in crossovers_hz(bands)] + [0.0])


def _scale(compander: Compander, rate_hz: int, exponent: float) -> float:
    """Return what the envelopes are multiplied by so that a 1 kHz tone at the unity level passes as it is.

    Attack and release read a tone unlike its rms, and each band holds only its part of it.
    """
    squared = compander.detector is Detector.RMS
    attack, release = _step(compander.attack_s, rate_hz), _step(compander.release_s, rate_hz)
    level = 10 ** (compander.unity_db / 20)
    reading = _reading(attack, release, squared) * (level * level if squared else level)
    poles = _poles(compander.bands, rate_hz)
    low = (1 - poles) / (1 - poles * np.exp(-2j * np.pi * _TONE_HZ / rate_hz))
    bands = np.diff(low, prepend=0)
    through = abs(complex(np.sum(np.abs(bands) ** exponent * bands)))
    return float(through ** (-(2 if squared else 1) / exponent) / reading)


def _reading(attack: float, release: float, squared: bool) -> float:
    """Return the steady envelope of a tone of peak 1, averaged over phase, much faster than the detector.

    In steady state what the detector gains while the signal is above the envelope e it loses while it is below:
    `attack * mean(max(v - e, 0)) = release * mean(max(e - v, 0))`; solved by halving.
    """
    wave = np.sin(np.pi * (np.arange(20_000) + 0.5) / 20_000)
    values = wave * wave if squared else wave
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        up = attack * np.maximum(values - middle, 0).mean()
        down = release * np.maximum(middle - values, 0).mean()
        low, high = (middle, high) if up > down else (low, middle)
    return (low + high) / 2

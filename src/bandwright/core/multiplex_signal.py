"""Television multiplexes as complex baseband: OFDM of two standards, the 8-level sideband signal, and echoes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bandwright.core.bands import Span

__all__ = ["ATSC_PILOT_HZ", "OFDM", "Echo", "Multiplex", "OfdmMode", "Standard", "multiplex_baseband"]

Complex = NDArray[np.complex128]
Standard = Literal["dvb-t", "isdb-t", "atsc"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OfdmMode:
    """Carriers, points of the transform, and the elementary rate as a multiple of the slot width."""

    carriers: int
    size: int
    rate: Fraction


OFDM: dict[str, OfdmMode] = {
    "dvb-t": OfdmMode(carriers=6817, size=8192, rate=Fraction(8, 7)),  # EN 300 744, 8k mode
    "isdb-t": OfdmMode(carriers=5617, size=8192, rate=Fraction(256, 189)),  # ARIB STD-B31, mode 3: 512/63 MHz in 6 MHz
}
"""OFDM modes by standard (from memory)."""

ATSC_PILOT_HZ = 309_440.559
"""The pilot's distance from the lower edge of the TV channel (ATSC A/53)."""

_ATSC_RATE_HZ = Fraction(1_539_000_000, 143)  # 4.5 / 286 * 684 MHz
_ATSC_BLOCK = 1539
_ATSC_PILOT = 1.25  # beside levels of -7, -5 ... 7
_OVERSAMPLING = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Echo:
    """A second path, `delay_ns` later and at `amplitude` of the first: a notch every 1 / delay.

    One notch lies `notch_hz` above the centre of the multiplex.
    """

    delay_ns: float
    amplitude: float
    notch_hz: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Multiplex:
    """A television multiplex, scaled to the slot width (OFDM: 896 us useful in 8 MHz).

    `level_dbm` is the power of the whole multiplex at the receiver's input; `guard_divisor` is 4 for a guard interval
    of a quarter of the useful symbol (4, 8, 16 or 32; OFDM only). `centre_hz` is the middle of an OFDM signal, and of
    the TV channel for the 8-level sideband signal.
    """

    label: str
    centre_hz: int
    slot_hz: int
    level_dbm: float
    guard_divisor: int = 4
    standard: Standard = "dvb-t"
    echo: Echo | None = None

    def __post_init__(self) -> None:
        if self.guard_divisor not in (4, 8, 16, 32):
            raise ValueError(f"the guard interval is 1/4, 1/8, 1/16 or 1/32; given 1/{self.guard_divisor}")
        if self.standard != "atsc" and self.standard not in OFDM:
            raise ValueError(f"unknown standard {self.standard!r}; known: {', '.join(sorted((*OFDM, 'atsc')))}")
        if self.standard == "atsc" and self.slot_hz != 6_000_000:
            raise ValueError(f"the 8-level sideband signal is made for 6 MHz; given {self.slot_hz} Hz")

    @property
    def waveform(self) -> tuple[object, ...]:
        """What two multiplexes share whose baseband is alike."""
        return self.standard, self.slot_hz, self.guard_divisor, self.echo

    @property
    def rate_hz(self) -> Fraction:
        """Rate of the generated baseband: twice the elementary rate, so that the skirts run out below the noise."""
        rate = _ATSC_RATE_HZ if self.standard == "atsc" else self.slot_hz * OFDM[self.standard].rate
        return rate * _OVERSAMPLING

    @property
    def useful_s(self) -> float:
        """Useful OFDM symbol in seconds."""
        return float(OFDM[self.standard].size * _OVERSAMPLING / self.rate_hz)

    @property
    def width_hz(self) -> float:
        """Distance of the outermost carriers: 7.607 MHz in an 8 MHz slot; half-power width of the sideband signal."""
        if self.standard == "atsc":
            return float(_ATSC_RATE_HZ / 2)
        return (OFDM[self.standard].carriers - 1) / self.useful_s

    @property
    def symbol_samples(self) -> int:
        """Samples of a symbol with its guard interval, or of a block of the sideband signal."""
        if self.standard == "atsc":
            return _OVERSAMPLING * _ATSC_BLOCK
        size = OFDM[self.standard].size
        return _OVERSAMPLING * (size + size // self.guard_divisor)

    @property
    def span(self) -> Span:
        """The occupied stretch, edges rounded outwards."""
        half = math.ceil(self.width_hz / 2)
        return Span(self.centre_hz - half, self.centre_hz + half)


def multiplex_baseband(multiplex: Multiplex, *, symbols: int, rng: np.random.Generator) -> Complex:
    """Return so many symbols of a multiplex at `rate_hz`, around 0 Hz, with a mean power of 1, its echo included."""
    make = _sideband if multiplex.standard == "atsc" else _ofdm
    signal = make(multiplex, symbols, rng)
    if multiplex.echo is not None:
        signal = _echoed(signal, multiplex.echo, float(multiplex.rate_hz))
    return signal / math.sqrt(float(np.mean(np.abs(signal) ** 2)))


def _ofdm(multiplex: Multiplex, symbols: int, rng: np.random.Generator) -> Complex:
    """Return OFDM symbols with guard intervals: carriers of random 64-QAM.

    Pilots carry 2.5 dB more in the standards and are left out here.
    """
    mode = OFDM[multiplex.standard]
    half = mode.carriers // 2
    points = rng.integers(0, 8, size=(2, symbols, mode.carriers)) * 2.0 - 7.0
    spectrum = np.zeros((symbols, _OVERSAMPLING * mode.size), dtype=np.complex128)
    spectrum[:, np.arange(-half, half + 1)] = points[0] + 1j * points[1]
    useful = np.fft.ifft(spectrum, axis=1)
    guard = _OVERSAMPLING * mode.size // multiplex.guard_divisor
    return np.concatenate((useful[:, -guard:], useful), axis=1).ravel()


def _sideband(multiplex: Multiplex, symbols: int, rng: np.random.Generator) -> Complex:
    """Return 8-level symbols and their pilot through the vestigial-sideband filter of ATSC A/53.

    The filter is the root of a raised cosine: half power at the pilot and half a symbol rate above it, and nothing
    left a pilot's distance from the channel's edge beyond. The pilot lies within half a line of the block's spectrum
    (10.76 MHz over its symbols) of its place.
    """
    size = symbols * _ATSC_BLOCK
    levels = np.fft.fft(rng.integers(0, 8, size=size) * 2.0 - 7.0 + _ATSC_PILOT)
    line_hz = float(_ATSC_RATE_HZ) / size
    reach = int(ATSC_PILOT_HZ / line_hz)
    index = np.arange(-reach, int((multiplex.width_hz + ATSC_PILOT_HZ) / line_hz) + 1)
    inside_hz = np.minimum(index * line_hz, multiplex.width_hz - index * line_hz)
    power = 0.5 * (1 + np.sin(np.pi / 2 * np.clip(inside_hz / ATSC_PILOT_HZ, -1, 1)))
    lowest_hz = ATSC_PILOT_HZ - multiplex.slot_hz / 2
    spectrum = np.zeros(_OVERSAMPLING * size, dtype=np.complex128)
    spectrum[(index + round(lowest_hz / line_hz)) % spectrum.size] = levels[index % size] * np.sqrt(power)
    return np.fft.ifft(spectrum)


def _echoed(signal: Complex, echo: Echo, rate_hz: float) -> Complex:
    offset_hz = np.fft.fftfreq(len(signal), 1 / rate_hz) - echo.notch_hz
    return np.fft.ifft(
        np.fft.fft(signal) * (1 - echo.amplitude * np.exp(-2j * np.pi * offset_hz * echo.delay_ns * 1e-9))
    )

"""Generated air with known truth: multiplexes and carriers made in the time domain, heard by a stated receiver.

Nothing here draws a spectrum. Every hop of a sweep is complex baseband in units of the square root of a milliwatt:
television multiplexes made symbol by symbol, FM carriers made from an audio-like signal, thermal noise, then the
receiver's own faults (DC offset, clipping), then Welch's estimate. So a generated sweep has the statistics, the
skirts and the blind spots of a measured one, and the truth behind it is known.

Levels are power per bin: power density times `bin_hz`. The sum of a channel's bins is the channel's power, whatever
the window.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from bandwright.core.bands import Span
from bandwright.core.multiplex_signal import Multiplex, multiplex_baseband
from bandwright.core.receiver import thermal_dbm
from bandwright.core.welch import hann
from bandwright.units import mhz_text, mw_from_dbm

__all__ = [
    "WINDOWS",
    "AirCarrier",
    "AirReceiver",
    "AirRow",
    "FloorStep",
    "Scene",
    "fm_baseband",
    "render",
    "welch_density",
]

Complex: TypeAlias = NDArray[np.complex64] | NDArray[np.complex128]
Real: TypeAlias = NDArray[np.float64]

_LONGEST_MULTIPLEX_SYMBOLS = 512


@dataclass(frozen=True, slots=True, kw_only=True)
class AirCarrier:
    """An FM carrier; it is on the air in a sweep with the chance `duty`."""

    label: str
    carrier_hz: int
    level_dbm: float
    peak_deviation_hz: int
    audio_hz: int = 15_000
    duty: float = 1.0

    @property
    def width_hz(self) -> int:
        """Carson's bandwidth, 2 (peak deviation + highest audio frequency)."""
        return 2 * (self.peak_deviation_hz + self.audio_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorStep:
    """From this frequency upwards the receiver's noise figure is another one: a band switch inside the instrument."""

    from_hz: int
    noise_figure_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirReceiver:
    """What listens, hop by hop.

    `hop_hz` is the middle part of the `sample_rate_hz` that is kept. `averages` half-overlapping segments make one
    level; 1 is a single shot. `dc_spike_dbm` is a carrier in each hop's centre; `full_scale_dbm` is the power of a
    tone at which each of I and Q begins to clip; `top_dbm` is the highest level that a bin can read.
    """

    noise_figure_db: float
    sample_rate_hz: int
    hop_hz: int
    bin_hz: int
    averages: int = 96
    window: str = "hann"
    floor_steps: tuple[FloorStep, ...] = ()
    dc_spike_dbm: float | None = None
    full_scale_dbm: float | None = None
    top_dbm: float | None = None

    def __post_init__(self) -> None:
        if self.bin_hz <= 0 or self.sample_rate_hz % (2 * self.bin_hz) or self.hop_hz % self.bin_hz:
            raise ValueError(
                f"the sample rate must be an even and the hop a whole number of bins; given {self.sample_rate_hz} and "
                f"{self.hop_hz} Hz in bins of {self.bin_hz} Hz"
            )
        if not 0 < self.hop_hz <= self.sample_rate_hz:
            raise ValueError(f"a hop is at most the sample rate; given {self.hop_hz} of {self.sample_rate_hz} Hz")
        if self.averages < 1:
            raise ValueError(f"a level is made of 1 segment or more; given {self.averages}")
        if self.window not in WINDOWS:
            raise ValueError(f"unknown window {self.window!r}; known: {', '.join(WINDOWS)}")

    @property
    def size(self) -> int:
        """Points of the transform."""
        return self.sample_rate_hz // self.bin_hz

    @property
    def samples(self) -> int:
        """Samples of one hop."""
        return self.size // 2 * (self.averages + 1)

    def noise_figure_at(self, hz: int) -> float:
        """Return the noise figure in dB of a hop that starts at this frequency."""
        reached = [step for step in self.floor_steps if step.from_hz <= hz]
        return max(reached, key=lambda step: step.from_hz).noise_figure_db if reached else self.noise_figure_db


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is on the air from `low_hz` to `high_hz`, and how it is listened to: `sweeps` times, `interval_s` apart."""

    name: str
    low_hz: int
    high_hz: int
    receiver: AirReceiver
    multiplexes: tuple[Multiplex, ...] = ()
    carriers: tuple[AirCarrier, ...] = ()
    sweeps: int = 1
    interval_s: float = 10.0

    def __post_init__(self) -> None:
        if self.high_hz <= self.low_hz or (self.high_hz - self.low_hz) % self.receiver.bin_hz:
            raise ValueError(
                f"a scene is a whole number of bins of {self.receiver.bin_hz} Hz, upwards; "
                f"given {mhz_text(self.low_hz)} to {mhz_text(self.high_hz)} MHz"
            )

    @property
    def hops(self) -> tuple[Span, ...]:
        """The kept stretch of each hop; the last one may be shorter."""
        step = self.receiver.hop_hz
        return tuple(Span(low, min(low + step, self.high_hz)) for low in range(self.low_hz, self.high_hz, step))


@dataclass(frozen=True, slots=True, kw_only=True)
class AirRow:
    """One hop as it was heard: `levels_dbm[i]` is the power from `low_hz + i * bin_hz` to one bin above."""

    sweep: int
    seconds: float
    low_hz: int
    bin_hz: int
    samples: int
    levels_dbm: Real

    @property
    def high_hz(self) -> int:
        """Upper edge of the last bin."""
        return self.low_hz + self.bin_hz * len(self.levels_dbm)


WINDOWS: dict[str, Callable[[int], Real]] = {"hann": hann, "rectangular": np.ones}
"""Periodic windows by name."""


def welch_density(signal: Complex, *, rate_hz: float, size: int, window: str = "hann") -> Real:
    """Return the power density of complex baseband by Welch's method, in mW/Hz, from -rate/2 upwards.

    Half-overlapping segments, each times the window; the mean of their squared transforms is divided by the rate and
    the window's energy, which is the correction for its equivalent noise bandwidth (P. D. Welch, IEEE Trans. Audio
    Electroacoust. AU-15, 1967, 70-73). Nothing is detrended. Samples after the last whole segment are not used.
    """
    weights = WINDOWS[window](size)
    step = size // 2
    segments = np.lib.stride_tricks.sliding_window_view(signal, size)[::step]
    spectra = np.fft.fft(segments * weights.astype(signal.real.dtype), axis=1)
    power = (spectra.real**2 + spectra.imag**2).mean(axis=0, dtype=np.float64)
    return np.fft.fftshift(power) / (rate_hz * float(np.sum(weights**2)))


def fm_baseband(
    *, size: int, rate_hz: float, peak_deviation_hz: float, audio_hz: float, rng: np.random.Generator
) -> NDArray[np.complex128]:
    """Return an FM carrier at 0 Hz with a power of 1, modulated by noise shaped like speech up to `audio_hz`.

    The modulation is periodic over `size` samples and reaches the peak deviation once; its spectrum is flat to
    800 Hz and falls by 6 dB an octave above.
    """
    frequency = np.fft.rfftfreq(size, 1 / rate_hz)
    inside = (frequency > 0) & (frequency <= audio_hz)
    shape = np.where(inside, 1 / np.hypot(1.0, frequency / 800.0), 0.0)
    audio = np.fft.irfft(shape * (rng.standard_normal(len(shape)) + 1j * rng.standard_normal(len(shape))), size)
    peak = float(np.max(np.abs(audio)))
    deviation = audio * (peak_deviation_hz / peak) if peak > 0 else audio
    turns = np.cumsum(deviation) / rate_hz + rng.random()
    return np.asarray(np.exp(2j * np.pi * turns), dtype=np.complex128)


def _placed(signal: Complex, *, offset_hz: float, seconds: float, size: int) -> NDArray[np.complex64]:
    """Return a signal periodic over `seconds`, moved by an offset and seen in `size` samples of the same duration.

    What falls outside the new rate's band is left out, as a filter ahead of the converter would.
    """
    spectrum = np.fft.fft(signal)
    index = np.rint(np.fft.fftfreq(len(signal), 1 / len(signal))).astype(np.int64)
    steps = round(offset_hz * seconds)
    moved = index + steps
    inside = (moved >= -(size // 2)) & (moved < size - size // 2)
    target = np.zeros(size, dtype=np.complex128)
    target[moved[inside] % size] = spectrum[inside]
    placed = np.fft.ifft(target) * (size / len(signal))
    rest_hz = offset_hz - steps / seconds
    if abs(rest_hz) * seconds > 1e-9:
        placed = placed * np.exp(2j * np.pi * rest_hz * seconds / size * np.arange(size))
    return placed.astype(np.complex64)


def _symbols_for(multiplex: Multiplex, receiver: AirReceiver) -> int:
    """Return how many symbols fill a hop and make a whole number of the receiver's samples."""
    for symbols in range(1, _LONGEST_MULTIPLEX_SYMBOLS):
        samples = symbols * multiplex.symbol_samples * receiver.sample_rate_hz / multiplex.rate_hz
        if samples.denominator == 1 and samples >= receiver.samples:
            return symbols
    raise ValueError(
        f"{_LONGEST_MULTIPLEX_SYMBOLS} symbols of multiplex {multiplex.label} never make a whole number of samples at "
        f"{receiver.sample_rate_hz} Hz that fills a hop; choose another sample rate or fewer averages"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hop:
    """One hop, ready to be heard: its kept span, the tuned centre, what the multiplexes put there, and the carriers."""

    span: Span
    centre_hz: float
    noise_mw: float
    waveforms: tuple[tuple[float, NDArray[np.complex64]], ...]
    carriers: tuple[AirCarrier, ...]


def _centre_hz(span: Span, receiver: AirReceiver) -> float:
    """Tune so that the bins tile the span: the transform's centre bin lies half a bin above the middle."""
    return span.low_hz + receiver.hop_hz // receiver.bin_hz // 2 * receiver.bin_hz + receiver.bin_hz / 2


def _hops(scene: Scene, rng: np.random.Generator) -> Iterator[_Hop]:
    receiver = scene.receiver
    symbols = {m: _symbols_for(m, receiver) for m in scene.multiplexes}
    forms = {m.waveform: m for m in scene.multiplexes}
    air = {key: multiplex_baseband(m, symbols=symbols[m], rng=rng) for key, m in forms.items()}
    for span in scene.hops:
        centre_hz = _centre_hz(span, receiver)
        reach_hz = receiver.sample_rate_hz / 2
        noise_dbm = thermal_dbm(
            bandwidth_hz=receiver.sample_rate_hz, noise_figure_db=receiver.noise_figure_at(span.low_hz)
        )
        heard = [m for m in scene.multiplexes if abs(m.centre_hz - centre_hz) < reach_hz + m.rate_hz / 2]
        waveforms = []
        for m in heard:
            signal = air[m.waveform]
            seconds = float(len(signal) / m.rate_hz)
            size = round(seconds * receiver.sample_rate_hz)
            placed = _placed(signal, offset_hz=m.centre_hz - centre_hz, seconds=seconds, size=size)
            waveforms.append((math.sqrt(mw_from_dbm(m.level_dbm)), placed))
        yield _Hop(
            span=span,
            centre_hz=centre_hz,
            noise_mw=mw_from_dbm(noise_dbm),
            waveforms=tuple(waveforms),
            carriers=tuple(c for c in scene.carriers if abs(c.carrier_hz - centre_hz) < reach_hz + c.width_hz),
        )


def _noise(power_mw: float, size: int, rng: np.random.Generator) -> NDArray[np.complex64]:
    parts = rng.standard_normal(2 * size, dtype=np.float32)
    parts *= np.float32(math.sqrt(power_mw / 2))
    return parts.view(np.complex64)


def _baseband(
    hop: _Hop, receiver: AirReceiver, on: frozenset[AirCarrier], rng: np.random.Generator
) -> NDArray[np.complex64]:
    """Return what reaches the converter in one hop."""
    size = receiver.samples
    signal = _noise(hop.noise_mw, size, rng)
    for amplitude, waveform in hop.waveforms:
        start = int(rng.integers(len(waveform)))
        turn = np.complex64(amplitude * np.exp(2j * np.pi * rng.random()))
        signal += turn * np.take(waveform, np.arange(start, start + size), mode="wrap")
    for carrier in hop.carriers:
        if carrier not in on:
            continue
        rate_hz = receiver.sample_rate_hz
        fm = fm_baseband(
            size=size,
            rate_hz=rate_hz,
            peak_deviation_hz=carrier.peak_deviation_hz,
            audio_hz=carrier.audio_hz,
            rng=rng,
        )
        placed = _placed(fm, offset_hz=carrier.carrier_hz - hop.centre_hz, seconds=size / rate_hz, size=size)
        signal += np.complex64(math.sqrt(mw_from_dbm(carrier.level_dbm))) * placed
    return _faults(signal, receiver)


def _faults(signal: NDArray[np.complex64], receiver: AirReceiver) -> NDArray[np.complex64]:
    if receiver.full_scale_dbm is not None:
        limit = math.sqrt(mw_from_dbm(receiver.full_scale_dbm))
        signal = np.clip(signal.real, -limit, limit) + np.complex64(1j) * np.clip(signal.imag, -limit, limit)
    if receiver.dc_spike_dbm is not None:
        signal = signal + np.complex64(math.sqrt(mw_from_dbm(receiver.dc_spike_dbm)))
    return signal


def render(scene: Scene, rng: np.random.Generator) -> Iterator[AirRow]:
    """Yield the rows of every sweep of a scene, hop by hop from the lowest; the same generator state gives the same."""
    receiver = scene.receiver
    hops = tuple(_hops(scene, rng))
    first = receiver.size // 2 - receiver.hop_hz // receiver.bin_hz // 2
    for sweep in range(scene.sweeps):
        on = frozenset(c for c in scene.carriers if rng.random() < c.duty)
        for hop in hops:
            signal = _baseband(hop, receiver, on, rng)
            density = welch_density(signal, rate_hz=receiver.sample_rate_hz, size=receiver.size, window=receiver.window)
            kept = density[first : first + hop.span.width_hz // receiver.bin_hz]
            levels = 10 * np.log10(kept * receiver.bin_hz)
            yield AirRow(
                sweep=sweep,
                seconds=sweep * scene.interval_s,
                low_hz=hop.span.low_hz,
                bin_hz=receiver.bin_hz,
                samples=receiver.samples,
                levels_dbm=levels if receiver.top_dbm is None else np.minimum(levels, receiver.top_dbm),
            )

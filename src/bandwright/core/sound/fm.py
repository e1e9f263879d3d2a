"""A frequency-modulated link at complex baseband: carrier, noise, fading, receiver filter and discriminator.

Nothing here is a formula for noise: the carrier and the noise are added as they meet at a receiver, and crackle below
threshold comes out of the phase that the sum has. Samples of the carrier are taken often enough for the receiver's
bandwidth (`FmLink.oversampling`); the audio is interpolated to them, and taken back.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from bandwright.core.sound.filters import low_pass, low_pass_taps, taps_needed

__all__ = ["FmLink", "fading_gain", "through_fm"]

Floats = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

_SIDE = 24  # samples of audio on either side that an interpolated one rests on
_ATTENUATION_DB = 80.0  # of images of audio, and beyond the skirt of the receiver's filter
_SAMPLES_PER_BANDWIDTH = 3.0
_CRACKLE_DB = 16.0  # C/N below which clicks are looked for; above it they are too rare to matter
_CRACKLE_SAMPLES = 9.0  # for each Hz of bandwidth, since some clicks are fast
_SKIRT = 0.15  # from the pass band to -80 dB, as a part of the bandwidth
_WAVES = 24  # that arrive, evenly round the receiver: Clarke's model
_CONTROL_HZ = 500.0  # fading is worked out at this rate at least, and straight between


@dataclass(frozen=True, slots=True, kw_only=True)
class FmLink:
    """What modulates and what demodulates.

    `deviation_hz` is the peak deviation, reached by samples of 1.0 and never exceeded (the limiter clips the
    interpolated signal, so that clipping makes no aliases). `bandwidth_hz` is the receiver's noise bandwidth, in which
    the carrier-to-noise ratio is stated. `audio_hz` is where the receiver cuts its audio off.
    """

    deviation_hz: float
    bandwidth_hz: float
    rate_hz: int
    audio_hz: float = 20_000.0

    def __post_init__(self) -> None:
        if not (self.deviation_hz > 0 and self.bandwidth_hz > 0 and self.rate_hz > 0 and self.audio_hz > 0):
            raise ValueError("deviation, bandwidth and rates of an FM link are more than 0 Hz")

    @property
    def oversampling(self) -> int:
        """Samples of the carrier for each sample of audio: even, and at least three for each Hz of bandwidth."""
        wanted = max(_SAMPLES_PER_BANDWIDTH * self.bandwidth_hz, 4.0 * self.rate_hz)
        return 2 * math.ceil(wanted / self.rate_hz / 2)

    @property
    def carrier_rate_hz(self) -> int:
        """Samples of the carrier per second."""
        return self.oversampling * self.rate_hz


@dataclass(frozen=True, slots=True, eq=False)
class _Filters:
    """Filters of a link: to and from the carrier's rate by phases, and the receiver's as a spectrum of blocks."""

    phases: Floats
    spectrum: Complex
    half: int
    hop: int


@lru_cache(maxsize=8)
def _filters(link: FmLink) -> _Filters:
    many = link.oversampling
    taps = 2 * _SIDE * many + 1
    prototype = low_pass_taps(
        cutoff_hz=link.rate_hz / 2, rate_hz=link.carrier_rate_hz, taps=taps, attenuation_db=_ATTENUATION_DB
    )
    phases = np.append(prototype, np.zeros(many - 1)).reshape(2 * _SIDE + 1, many)
    needed = taps_needed(
        transition_hz=_SKIRT * link.bandwidth_hz, rate_hz=link.carrier_rate_hz, attenuation_db=_ATTENUATION_DB
    )
    half = many * math.ceil((needed // 2) / many)
    size = many << max(9, (8 * half // many).bit_length())
    return _Filters(phases, np.fft.fft(_receiver(link, 2 * half + 1), size), half, size - 2 * half)


def _receiver(link: FmLink, taps: int) -> Floats:
    """Return a low-pass whose noise bandwidth, counted on both sides of the carrier, is that of the link."""
    cutoff_hz, found = link.bandwidth_hz / 2, np.ones(1)
    for _ in range(3):
        found = low_pass_taps(
            cutoff_hz=cutoff_hz, rate_hz=link.carrier_rate_hz, taps=taps, attenuation_db=_ATTENUATION_DB
        )
        cutoff_hz *= link.bandwidth_hz / (float(found @ found) * link.carrier_rate_hz)
    return found


def through_fm(
    signal: Floats,
    link: FmLink,
    *,
    cn_db: float | None,
    random: np.random.Generator,
    gain: Complex | None = None,
    heard: Callable[[float], None] = lambda _: None,
) -> Floats:
    """Return a signal behind an FM link, as long as it was and not delayed.

    Parameters
    ----------
    signal
        Samples at the link's rate; 1.0 is peak deviation, and more is clipped.
    link
        Deviation, bandwidth and rate.
    cn_db
        Carrier over noise in the receiver's bandwidth; with fading, the mean. None is a carrier without noise.
    random
        Where the noise comes from; the same generator gives the same noise, whatever the signal.
    gain
        Complex gain of the way of the carrier for each sample of the signal, of mean power 1; None does not fade.
    heard
        Called with the share that is done, and free to raise.

    Notes
    -----
    The discriminator is `arg(z[n] conj z[n-1])` of the filtered sum, times the carrier's rate: what an ideal limiter
    and discriminator give. A click is a turn of 2 pi of that phase, as in Rice's model. Where the noise is strong
    enough for clicks the filtered sum is taken at nine samples for each Hz of bandwidth and more, since some are fast.
    """
    filters = _filters(link)
    many, step = link.oversampling, filters.hop // link.oversampling
    delay = filters.half // many
    blocks = -(-(len(signal) + _SIDE + delay) // step)
    ahead = np.zeros(blocks * step + 2 * _SIDE)
    ahead[_SIDE : _SIDE + len(signal)] = signal
    turns = link.deviation_hz / link.carrier_rate_hz
    sigma = 0.0 if cn_db is None else math.sqrt(link.carrier_rate_hz / (2 * link.bandwidth_hz * 10 ** (cn_db / 10)))
    crackles = cn_db is not None and (cn_db < _CRACKLE_DB or gain is not None)
    fine = math.ceil(_CRACKLE_SAMPLES * link.bandwidth_hz / link.carrier_rate_hz) if crackles else 1
    first = (2 * filters.half - 1) * fine + 1  # so many phase steps end at each sample of the carrier
    phase = 0.0
    at_rest = np.complex128(1.0) if gain is None else gain[0]  # before the first sample the carrier is just there
    carrier = np.full(2 * filters.half + filters.hop, at_rest)
    before = np.full(1, at_rest)
    frequency = np.zeros((2 * _SIDE + step, many))
    out = np.empty(blocks * step)
    for block in range(blocks):
        at = block * step
        windows = np.lib.stride_tricks.sliding_window_view(ahead[at : at + step + 2 * _SIDE], 2 * _SIDE + 1)
        modulating = (windows @ filters.phases[::-1] * many).reshape(-1)
        path = np.cumsum(np.clip(modulating, -1, 1)) * turns + phase
        phase = path[-1] % 1.0
        path *= 2 * math.pi
        fresh = carrier[2 * filters.half :]
        fresh.real, fresh.imag = np.cos(path), np.sin(path)
        if gain is not None:
            fresh *= np.repeat(_stretch(gain, at, step), many)
        if sigma > 0:
            fresh += sigma * random.standard_normal((filters.hop, 2)).view(np.complex128)[:, 0]
        received = _finer(np.fft.fft(carrier) * filters.spectrum, fine)[first : first + filters.hop * fine]
        carrier[: 2 * filters.half] = carrier[filters.hop :].copy()
        turned = received * np.conj(np.concatenate((before, received[:-1])))
        before = received[-1:]
        angles = np.arctan2(turned.imag, turned.real).reshape(-1, fine).sum(axis=1)
        frequency[2 * _SIDE :] = (angles / (2 * math.pi * turns)).reshape(step, many)
        parts = frequency @ filters.phases.T
        out[at : at + step] = sum(parts[k : k + step, k] for k in range(2 * _SIDE + 1))
        frequency[: 2 * _SIDE] = frequency[step:].copy()
        heard((block + 1) / blocks)
    wanted = out[_SIDE + delay :][: len(signal)]
    return low_pass(wanted, cutoff_hz=link.audio_hz, rate_hz=link.rate_hz, transition_hz=link.rate_hz / 24)


def _finer(spectrum: Complex, fine: int) -> Complex:
    """Return the samples of a spectrum, and between each two of them so many less one."""
    size, half = len(spectrum), len(spectrum) // 2
    padded = np.zeros(size * fine, np.complex128)
    padded[:half], padded[len(padded) - half :] = spectrum[:half], spectrum[half:]
    return np.fft.ifft(padded) * fine


def _stretch(gain: Complex, start: int, count: int) -> Complex:
    """Return so many values from one on; the last one stands for what follows."""
    return gain[np.minimum(np.arange(start, start + count), len(gain) - 1)]


def fading_gain(count: int, *, rate_hz: int, doppler_hz: float, random: np.random.Generator) -> Complex:
    """Return the gain of a way without line of sight while somebody moves: Rayleigh, of mean power 1.

    A sum of waves from all round (Clarke's model), each from an angle of its own, so that the autocorrelation is
    `J0(2 pi doppler t)`.

    Parameters
    ----------
    count
        Samples.
    rate_hz
        Samples per second.
    doppler_hz
        Speed over wavelength; 2.8 Hz when walking at 600 MHz.
    random
        Where angles and phases come from.
    """
    angles = 2 * np.pi * (np.arange(_WAVES) + random.uniform(size=_WAVES)) / _WAVES
    phases = random.uniform(0, 2 * np.pi, _WAVES)
    control_hz = max(_CONTROL_HZ, 100 * doppler_hz)
    slow_s = np.arange(math.ceil(count / rate_hz * control_hz) + 2) / control_hz
    turned = 2 * np.pi * doppler_hz * np.cos(angles)[:, None] * slow_s + phases[:, None]
    slow = np.exp(1j * turned).sum(axis=0) / math.sqrt(_WAVES)
    at_s = np.arange(count) / rate_hz
    out = np.empty(count, np.complex128)
    out.real, out.imag = np.interp(at_s, slow_s, slow.real), np.interp(at_s, slow_s, slow.imag)
    return out

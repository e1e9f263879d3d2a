r"""IQ samples to power over frequency by Welch's method, in memory that does not grow with the recording.

P. D. Welch, "The use of fast Fourier transform for the estimation of power spectra", IEEE Trans. Audio Electroacoust.
AU-15 (1967), 70-73: the samples are cut into segments that overlap by half, each is weighted by a window w, and the
squared magnitudes of their transforms X are averaged. Scaled by the sum of the window,

.. math:: P_k = \frac{\overline{|X_k|^2}}{(\sum w)^2} ,

a steady carrier in the middle of a bin reads its own power, and noise reads its density times the equivalent noise
bandwidth of the window (F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
transform", Proc. IEEE 66 (1978), 51-83, eq. 11)

.. math:: B = f_s \frac{\sum w^2}{(\sum w)^2} ,

which is 1.5 bins for the Hann window.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

__all__ = ["Welch", "hann", "noise_bandwidth_bins"]

Floats = npt.NDArray[np.float64]
Complexes = npt.NDArray[np.complex128]

_AT_ONCE = 2**17  # samples under transformation at a time, before the overlap doubles them


def hann(size: int) -> Floats:
    """Return the periodic Hann window of `size` points.

    >>> hann(4).round(9).tolist()
    [0.0, 0.5, 1.0, 0.5]
    """
    return np.asarray(0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size) / size))


def noise_bandwidth_bins(window: Floats) -> float:
    """Return the equivalent noise bandwidth of a window in bins of its transform (Harris 1978, eq. 11).

    >>> noise_bandwidth_bins(hann(1024))
    1.5
    """
    return float(window.size * np.sum(window**2) / np.sum(window) ** 2)


@dataclass(slots=True, kw_only=True)
class Welch:
    """Averages transforms of `size` samples (even, at least 2) and gives the power of each bin, lowest frequency first.

    Samples come in pieces of any length; `segments` counts what was averaged since the last `take`. Segments that
    hold a value that is no number are left out and counted in `spoiled`.
    """

    size: int
    segments: int = 0
    spoiled: int = 0
    _window: Floats = field(init=False)
    _sum: Floats = field(init=False)
    _rest: Complexes = field(default_factory=lambda: np.zeros(0, dtype=np.complex128))

    def __post_init__(self) -> None:
        self._window = hann(self.size)
        self._sum = np.zeros(self.size)

    @property
    def step(self) -> int:
        """Samples from one segment to the next."""
        return self.size // 2

    def add(self, samples: Complexes) -> None:
        """Average in the segments that these samples complete."""
        joined = np.concatenate((self._rest, samples))
        count = max(0, (joined.size - self.size) // self.step + 1)
        at_once = max(1, _AT_ONCE // self.size)
        for first in range(0, count, at_once):
            number = min(at_once, count - first)
            piece = joined[first * self.step : (first + number - 1) * self.step + self.size]
            self._transform(np.lib.stride_tricks.sliding_window_view(piece, self.size)[:: self.step])
        self._rest = joined[count * self.step :].copy()

    def _transform(self, segments: Complexes) -> None:
        spectra = np.fft.fft(segments * self._window, axis=1)
        power = spectra.real**2 + spectra.imag**2
        good = np.isfinite(power).all(axis=1)
        self.spoiled += int(np.count_nonzero(~good))
        self.segments += int(np.count_nonzero(good))
        self._sum += power[good].sum(axis=0)

    def break_off(self) -> None:
        """Forget samples that complete no segment: what comes next does not follow on them."""
        self._rest = self._rest[:0]

    def take(self) -> tuple[Floats, int]:
        """Return the sum of the segments' powers in each bin and how many they are, and begin anew.

        Overlap with the next segment stays.
        """
        found = np.fft.fftshift(self._sum) / self._window.sum() ** 2, self.segments
        self._sum = np.zeros(self.size)
        self.segments = 0
        return found

"""Filters with memory and gains that follow a signal: what sound needs one sample after the other."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bandwright.kernels.jit import compiled

__all__ = ["first_order", "follow"]

Floats = npt.NDArray[np.float64]

_TINY = 1e-30  # keeps a fading envelope out of the range where processors are slow


@compiled
def first_order(signal: Floats, b0: float, b1: float, a1: float, out: Floats) -> None:
    """Write `out[n] = b0 x[n] + b1 x[n-1] - a1 out[n-1]`, from rest."""
    before_in = 0.0
    before_out = 0.0
    for n in range(signal.shape[0]):
        value = b0 * signal[n] + b1 * before_in - a1 * before_out
        before_in = signal[n]
        before_out = value
        out[n] = value


@compiled
def follow(
    signal: Floats,
    poles: Floats,
    attack: float,
    release: float,
    squared: bool,
    scale: float,
    floor: float,
    power: float,
    inverse: bool,
    out: Floats,
) -> None:
    """Amplify each band of a signal by its own envelope to some power, or undo exactly that.

    Band k is low-pass k less low-pass k - 1. Low-pass k is of first order with `poles[k]`, rising in frequency; the
    last pole is 0, which lets everything through, so that the bands add up to the signal. The envelope of a band
    moves by `attack` of the way where the band is above it and by `release` where it is below; it follows the square
    where `squared`. The gain is `max(scale * envelope, floor) ** power`, of the envelope one sample ago.

    Without `inverse`, `signal` is what bands and envelopes are taken from, as far as it is within -1 and 1. With it,
    `out` is, and `out` is the one signal that this function without `inverse` turns back into `signal`.
    """
    bands = poles.shape[0]
    low = np.zeros(bands)
    kept = np.zeros(bands)
    envelope = np.zeros(bands)
    gain = np.full(bands, max(0.0, floor) ** power)
    for n in range(signal.shape[0]):
        direct = 0.0
        rest = 0.0
        part_before = 0.0
        kept_before = 0.0
        for k in range(bands):
            part = 1.0 - poles[k]
            kept[k] = poles[k] * low[k]
            direct += gain[k] * (part - part_before)
            rest += gain[k] * (kept[k] - kept_before)
            part_before = part
            kept_before = kept[k]
        if inverse:
            value = (signal[n] - rest) / direct
            out[n] = value
        else:
            value = signal[n]
            out[n] = direct * value + rest
        value = min(max(value, -1.0), 1.0)
        low_before = 0.0
        for k in range(bands):
            low[k] = kept[k] + (1.0 - poles[k]) * value
            band = low[k] - low_before
            low_before = low[k]
            band = band * band if squared else abs(band)
            step = attack if band > envelope[k] else release
            envelope[k] = max(envelope[k] + step * (band - envelope[k]), _TINY)
            gain[k] = max(scale * envelope[k], floor) ** power

"""What a detector of carriers can find at best, from the exact distributions of power in noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from bandwright.core.detect import FALSE_ALARMS
from bandwright.core.receiver import thermal_dbm
from bandwright.core.scene import AirCarrier, AirReceiver, Scene, render
from bandwright.units import mw_from_dbm

__all__ = ["Achievable", "achievable", "chance_to_find"]

_HANN = (4 / 9, 1 / 36)  # correlation of power in neighbouring lines; the second also that of half-overlapping segments
_WIDEST_HZ = 250_000
_SILENT_DB = -120.0
_AROUND_HZ = 400_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Achievable:
    """Chance that a carrier is found by who knows its place and width, and how far its power lies from its centre."""

    chance: float
    off_hz: float


def chance_to_find(*, snr: float, degrees: float, rate: float = FALSE_ALARMS) -> float:
    """Return the chance that a mean of power exceeds what noise alone exceeds with a chance `rate`.

    The mean of noise with `degrees` degrees of freedom is chi-square, with a signal of `snr` (linear, over the same
    bandwidth) non-central chi-square of degrees times snr (`scipy.stats.ncx2`).
    """
    return float(stats.ncx2.sf(stats.chi2.isf(rate, degrees), degrees, degrees * snr))


def achievable(scene: Scene, carrier: AirCarrier, rng: np.random.Generator) -> Achievable:
    """Return what can be found of a carrier in a scene: the best of all windows of its bins up to 250 kHz."""
    receiver = scene.receiver
    alone = replace(
        scene,
        receiver=replace(receiver, noise_figure_db=_SILENT_DB, floor_steps=(), dc_spike_dbm=None, full_scale_dbm=None),
        multiplexes=(),
        carriers=(carrier,),
    )
    bins = round((scene.high_hz - scene.low_hz) / receiver.bin_hz)
    power = np.zeros(bins)
    for row in render(alone, rng):
        first = (row.low_hz - scene.low_hz) // row.bin_hz
        power[first : first + row.levels_dbm.size] += 10 ** (row.levels_dbm / 10) / scene.sweeps
    hop_hz = max(hop.low_hz for hop in scene.hops if hop.low_hz <= carrier.carrier_hz)
    noise = mw_from_dbm(thermal_dbm(bandwidth_hz=receiver.bin_hz, noise_figure_db=receiver.noise_figure_at(hop_hz)))
    middle = round((carrier.carrier_hz - scene.low_hz) / receiver.bin_hz)
    reach = max(3, round(_AROUND_HZ / receiver.bin_hz))
    first = max(0, middle - reach)
    near = power[first : middle + reach + 1]
    centres_hz = scene.low_hz + (np.arange(first, first + near.size) + 0.5) * receiver.bin_hz
    widths = range(1, max(1, _WIDEST_HZ // receiver.bin_hz) + 1)
    return Achievable(
        chance=max(_best(near / noise, width, receiver, scene.sweeps) for width in widths),
        off_hz=abs(float(np.sum(near * centres_hz) / np.sum(near)) - carrier.carrier_hz),
    )


def _best(ratio: np.ndarray, width: int, receiver: AirReceiver, sweeps: int) -> float:
    snr = float(np.max(np.convolve(ratio, np.ones(width) / width, mode="valid")))
    return chance_to_find(snr=snr, degrees=2 * _looks(receiver, sweeps) * width / _spread(width, _HANN))


def _looks(receiver: AirReceiver, sweeps: int) -> float:
    """Return how many independent looks one level stands on."""
    return sweeps * receiver.averages / _spread(receiver.averages, _HANN[1:])


def _spread(count: int, correlations: tuple[float, ...]) -> float:
    return 1 + 2 * sum((1 - lag / count) * r for lag, r in enumerate(correlations, 1) if lag < count)

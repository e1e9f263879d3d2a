"""What devices bring into the air: sweeps with one more of them switched on, against sweeps with all of them off.

Levels are compared over 200 kHz at places 100 kHz apart. The same air measured twice does not read the same: the
greatest rise of a second look at it, with nothing switched on, is what chance alone does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.sweep import Sweep, channel_levels

__all__ = ["BEYOND_CHANCE_DB", "OVER_HZ", "Peak", "Rise", "Rises", "rises_of"]

Floats = npt.NDArray[np.float64]

OVER_HZ = 200_000
BEYOND_CHANCE_DB = 3.0  # common practice: what doubles the noise is worth a look
_STEP_HZ = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """The greatest rise over the band, and where."""

    rise_db: float
    at_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """What one device brought: the median rise, the greatest of the mean level, the greatest of the highest level.

    None where no place was measured both times. The highest level also shows what sends in short bursts.
    """

    name: str
    sweeps: int
    median_db: float | None
    mean: Peak | None
    highest: Peak | None

    def beyond(self, chance: Rise) -> bool:
        """Whether this is clearly more than chance does."""
        pairs = ((self.mean, chance.mean), (self.highest, chance.highest))
        peaks = any(one and two and one.rise_db > max(two.rise_db, 0.0) + BEYOND_CHANCE_DB for one, two in pairs)
        if peaks or self.median_db is None or chance.median_db is None:
            return peaks
        return self.median_db - chance.median_db > BEYOND_CHANCE_DB


@dataclass(frozen=True, slots=True, kw_only=True)
class Rises:
    """What every device brought, in the order they were switched on, and what chance alone does."""

    unit: str
    chance: Rise
    devices: tuple[Rise, ...]

    def seen(self, rise: Rise) -> bool:
        """Whether a device is clearly to be seen."""
        return rise.beyond(self.chance)


def rises_of(*, base: Sweep, again: Sweep, devices: Sequence[tuple[str, Sweep]]) -> Rises:
    """Return what each device brought above `base`; `again` is the same air, measured a second time."""
    return Rises(
        unit=base.unit,
        chance=_rise("", base, again),
        devices=tuple(_rise(name, base, sweep) for name, sweep in devices),
    )


def _rise(name: str, base: Sweep, on: Sweep) -> Rise:
    low_hz, high_hz = max(base.low_hz, on.low_hz), min(base.high_hz, on.high_hz)
    places = np.arange(int(low_hz) + OVER_HZ // 2, int(high_hz) - OVER_HZ // 2 + 1, _STEP_HZ, dtype=np.int64)
    if not places.size:
        return Rise(name=name, sweeps=on.sweeps, median_db=None, mean=None, highest=None)
    before = channel_levels(base, carriers_hz=places, bandwidth_hz=OVER_HZ)
    after = channel_levels(on, carriers_hz=places, bandwidth_hz=OVER_HZ)
    mean = after.typical_db - before.typical_db
    known = np.isfinite(mean)
    return Rise(
        name=name,
        sweeps=on.sweeps,
        median_db=float(np.median(mean[known])) if known.any() else None,
        mean=_peak(mean, places),
        highest=_peak(after.highest_db - before.highest_db, places),
    )


def _peak(rise: Floats, places: npt.NDArray[np.int64]) -> Peak | None:
    if not np.isfinite(rise).any():
        return None
    top = int(np.nanargmax(rise))
    return Peak(rise_db=float(rise[top]), at_hz=int(places[top]))

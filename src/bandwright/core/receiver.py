"""What a receiver can bear of noise and other signals in its bandwidth, from the facts of its radio type."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bandwright.core.kit import RadioType
from bandwright.units import khz_text

__all__ = ["THERMAL_DBM_PER_HZ", "Bearable", "bearable", "thermal_dbm"]

THERMAL_DBM_PER_HZ = -173.975
"""k T0 with T0 = 290 K, dBm/Hz: k is 1.380649e-23 J/K (exact in the SI); -120.96 dBm in 200 kHz."""


def thermal_dbm(*, bandwidth_hz: float, noise_figure_db: float = 0.0) -> float:
    """Return the thermal noise power at a receiver's input in dBm: k T0 B times the noise factor.

    >>> round(thermal_dbm(bandwidth_hz=200_000), 2)
    -120.96
    """
    return THERMAL_DBM_PER_HZ + 10 * math.log10(bandwidth_hz) + noise_figure_db


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearable:
    """The highest level from outside that a link can bear over its occupied bandwidth, and what that rests on."""

    level_dbm: float
    grounds: str


def bearable(radio: RadioType) -> Bearable | None:
    """Return what receivers of a radio type can bear over their bandwidth, in dBm at the antenna; None if unknown.

    ::

        level = S - C/N               where sensitivity S (dBm) and the carrier-to-noise ratio C/N (dB) at it are known
        level = k T0 B + NF           else, from the noise figure NF (dB): -173.975 dBm/Hz + 10 log10(B / Hz) + NF

    Both are the noise that the receiver makes itself, referred to its input: as much again from outside costs it 3 dB
    of sensitivity (I/N = 0 dB, the criterion is common practice), less costs less. S may also be the weakest carrier
    that the links are to work with; then this is what leaves that carrier its C/N, as long as the receiver's own noise
    is small beside it. Valid for receivers at 290 K and noise-like interference; gain between antenna and receiver is
    taken to make up for the loss there. Neither half of S and C/N alone says anything, and nothing is invented for
    the other.

    References: thermal noise and noise figure, Rec. ITU-R P.372, with k from the SI (2019).

    >>> from bandwright.core.kit import Direction, Emission
    >>> radio = RadioType(id="heron", name="Heron", direction=Direction.FROM_PERSON, emission=Emission.FM,
    ...                   bandwidth_hz=200_000, spacing_hz=350_000, clearance_hz=(), noise_figure_db=8.0)
    >>> found = bearable(radio)
    >>> round(found.level_dbm, 2), found.grounds
    (-112.96, 'its own noise in 200 kHz at a noise figure of 8 dB')
    """
    if radio.sensitivity_dbm is not None and radio.needs_cn_db is not None:
        grounds = f"{radio.needs_cn_db:g} dB below its sensitivity of {radio.sensitivity_dbm:g} dBm"
        return Bearable(level_dbm=radio.sensitivity_dbm - radio.needs_cn_db, grounds=grounds)
    if radio.noise_figure_db is not None:
        level_dbm = thermal_dbm(bandwidth_hz=radio.bandwidth_hz, noise_figure_db=radio.noise_figure_db)
        wide = khz_text(radio.bandwidth_hz)
        grounds = f"its own noise in {wide} kHz at a noise figure of {radio.noise_figure_db:g} dB"
        return Bearable(level_dbm=level_dbm, grounds=grounds)
    return None

"""Coaxial cable: attenuation between and beyond the frequencies of a published table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Cable", "fitted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cable:
    """A type of cable: its published attenuation, and how far a piece of it may be off.

    `points` pairs Hz with dB per 100 m. `tolerance` is the stated spread as a fraction, 0 where the figures are limits
    that no piece of it exceeds when new.
    """

    name: str
    about: str
    points: tuple[tuple[float, float], ...]
    tolerance: float
    source: str

    def covers(self, frequency_hz: float) -> bool:
        """Whether a frequency lies within the table."""
        return self.points[0][0] <= frequency_hz <= self.points[-1][0]

    def loss_db(self, *, length_m: float, frequency_hz: float) -> float:
        """Return what a length takes away in dB: k1 sqrt f + k2 f, fitted to the table.

        >>> cable = Cable(name="x", about="", points=((50e6, 13.1), (1e9, 91.9)), tolerance=0, source="limits")
        >>> round(cable.loss_db(length_m=100, frequency_hz=1e9), 1)
        91.9
        """
        k1, k2 = fitted(self.points)
        mhz = frequency_hz / 1e6
        return (k1 * math.sqrt(mhz) + k2 * mhz) * length_m / 100


def fitted(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return k1 and k2 of a = k1 sqrt(f / MHz) + k2 f / MHz, in dB per 100 m.

    The first term is the skin effect in the conductors, the second one the loss in the dielectric; neither is negative.
    Two points are met exactly, more in the sense of least squares of the relative error, as attenuation spans decades.

    Parameters
    ----------
    points
        Frequency in Hz and attenuation in dB per 100 m, one or more of each.

    References
    ----------
    The usual two-term law of coaxial cable (skin effect and dielectric loss).

    Examples
    --------
    >>> k1, k2 = fitted([(100e6, 12.0), (400e6, 28.0)])
    >>> round(k1, 3), round(k2, 3)
    (1.0, 0.02)
    """
    rows = [(math.sqrt(hz / 1e6) / db, hz / 1e6 / db) for hz, db in points]
    aa, bb = sum(a * a for a, _ in rows), sum(b * b for _, b in rows)
    ab, a1, b1 = sum(a * b for a, b in rows), sum(a for a, _ in rows), sum(b for _, b in rows)
    determinant = aa * bb - ab * ab
    if len(rows) == 1 or determinant <= 1e-12 * aa * bb:
        return a1 / aa, 0.0
    k1, k2 = (a1 * bb - b1 * ab) / determinant, (b1 * aa - a1 * ab) / determinant
    if k2 < 0:
        return a1 / aa, 0.0
    if k1 < 0:
        return 0.0, b1 / bb
    return k1, k2

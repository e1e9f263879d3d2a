"""What a wall takes away: building materials by their published constants."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from bandwright.core.reach.path import LIGHT_M_PER_S

__all__ = ["Material", "slab_loss_db"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A building material: permittivity a f^b, conductivity c f^d in S/m, f in GHz, within its range of frequencies."""

    name: str
    a: float
    b: float
    c: float
    d: float
    low_ghz: float
    high_ghz: float
    source: str

    def covers(self, frequency_hz: float) -> bool:
        """Whether a frequency lies within the range that the constants are published for."""
        return self.low_ghz <= frequency_hz / 1e9 <= self.high_ghz

    def permittivity(self, frequency_hz: float) -> complex:
        """Return the complex relative permittivity eta = a f^b - j c f^d / (eps0 omega), f in GHz.

        >>> brick = Material(name="brick", a=3.91, b=0, c=0.0238, d=0.16, low_ghz=1, high_ghz=40, source="P.2040")
        >>> eta = brick.permittivity(1e9)
        >>> round(eta.real, 2), round(eta.imag, 3)
        (3.91, -0.428)
        """
        ghz = frequency_hz / 1e9
        vacuum = 8.8541878128e-12  # F/m, CODATA 2018
        conductivity = self.c * ghz**self.d
        return complex(self.a * ghz**self.b, -conductivity / (2 * math.pi * frequency_hz * vacuum))


def slab_loss_db(*, permittivity: complex, thickness_m: float, frequency_hz: float) -> float:
    """Return what a flat wall takes from a wave that meets it head on, in dB.

    ::

        T = (1 - R^2) exp(-j q) / (1 - R^2 exp(-2 j q)),   loss = -20 log10 |T|
        q = (2 pi d / lambda) sqrt(eta),   R = (1 - sqrt eta) / (1 + sqrt eta)

    All inner reflections are in it, so that the loss rises and falls with thickness. One layer, infinite and smooth;
    a wall with studs, wires, tiles or water in it takes another amount.

    Parameters
    ----------
    permittivity
        Complex relative permittivity, imaginary part not above 0.
    thickness_m
        Thickness in m, more than 0.
    frequency_hz
        Carrier in Hz.

    References
    ----------
    Rec. ITU-R P.2040, section on reflection from and transmission through a single-layer slab, at normal incidence.

    Examples
    --------
    >>> half_a_wave = slab_loss_db(permittivity=4, thickness_m=0.125, frequency_hz=299_792_458 * 2)
    >>> abs(half_a_wave) < 1e-9
    True
    """
    root = cmath.sqrt(permittivity)
    phase = 2 * math.pi * thickness_m * frequency_hz / LIGHT_M_PER_S * root
    edge = ((1 - root) / (1 + root)) ** 2
    # A thick sheet of metal lets nothing through: kept above what a float can hold.
    through = (1 - edge) * cmath.exp(-1j * phase) / (1 - edge * cmath.exp(-2j * phase))
    return -20 * math.log10(max(abs(through), 1e-25))

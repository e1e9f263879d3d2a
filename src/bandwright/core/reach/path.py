"""Loss between two antennas: one published equation a function. Frequencies in Hz, distances in metres, losses in dB.

Distances may be arrays. None of these knows the place: they give what is typical. Real rooms scatter around it
(`chance_above`).
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "LIGHT_M_PER_S",
    "Metres",
    "chance_above",
    "free_space_loss_db",
    "log_distance_loss_db",
    "site_general_loss_db",
    "two_ray_loss_db",
    "wavelength_m",
]

Metres = TypeVar("Metres", float, NDArray[np.float64])
"""One distance, or many at once: the loss has the same shape."""

LIGHT_M_PER_S = 299_792_458.0
"""Speed of light in vacuum, exact in the SI."""


def wavelength_m(frequency_hz: float) -> float:
    """Return the wavelength in m.

    >>> round(wavelength_m(606e6), 3)
    0.495
    """
    return LIGHT_M_PER_S / frequency_hz


def free_space_loss_db(*, distance_m: Metres, frequency_hz: float) -> Metres:
    """Return the free-space basic transmission loss between isotropic antennas in dB.

    ::

        L = 20 log10(4 pi d / lambda)

    The Recommendation prints 32.4 + 20 log10(f / MHz) + 20 log10(d / km). Valid in the far field: a few wavelengths
    away at least. Nothing is in the way, and nothing reflects.

    Parameters
    ----------
    distance_m
        Distance in m, more than 0.
    frequency_hz
        Carrier in Hz, more than 0.

    References
    ----------
    Rec. ITU-R P.525, equation for free-space basic transmission loss.

    Examples
    --------
    >>> round(free_space_loss_db(distance_m=10, frequency_hz=606e6), 2)
    48.1
    """
    return 20 * _log10(4 * math.pi * distance_m / wavelength_m(frequency_hz))


def two_ray_loss_db(*, distance_m: Metres, frequency_hz: float, low_m: float, high_m: float) -> Metres:
    """Return the loss over flat ground where the direct wave and its reflection add up, in dB.

    ::

        L = -20 log10( lambda / (4 pi) |exp(-j k r1) / r1 - exp(-j k r2) / r2| )
        r1 = sqrt(d^2 + (h1 - h2)^2),  r2 = sqrt(d^2 + (h1 + h2)^2),  k = 2 pi / lambda

    The ground reflects with -1, which holds at grazing incidence (d well above h1 + h2); close to the mast it
    exaggerates ups and downs. Far out it becomes 40 log10 d - 20 log10(h1 h2).

    Parameters
    ----------
    distance_m
        Distance over the ground in m, more than 0.
    frequency_hz
        Carrier in Hz.
    low_m, high_m
        Heights of the two antennas above the ground in m, more than 0.

    References
    ----------
    T. S. Rappaport, Wireless Communications, 2nd ed., section 4.6 (ground reflection, two-ray model), with both paths
    kept exact where the book goes on to approximate.

    Examples
    --------
    >>> round(two_ray_loss_db(distance_m=1000, frequency_hz=606e6, low_m=1.2, high_m=4), 1)
    106.4
    """
    lam = wavelength_m(frequency_hz)
    direct = _hypot(distance_m, high_m - low_m)
    mirrored = _hypot(distance_m, high_m + low_m)
    turn = 2 * math.pi * (mirrored - direct) / lam
    real = 1 / direct - _cos(turn) / mirrored
    imaginary = _sin(turn) / mirrored
    # Heights of next to nothing cancel both waves: kept above what a float can hold.
    return -20 * _log10(_at_least(lam / (4 * math.pi) * _hypot(real, imaginary), 1e-30))


def log_distance_loss_db(
    *, distance_m: Metres, frequency_hz: float, exponent: float, reference_m: float = 1.0
) -> Metres:
    """Return the loss that grows by 10 n dB for each tenfold distance, in dB.

    ::

        L = L0(d0) + 10 n log10(d / d0)

    with L0 the free-space loss at d0. n is 2 in free space, about 1.6 to 1.8 along corridors, 3 to 4 where walls and
    sets are in the way; it is yours to state. Closer than d0 it is the free-space loss.

    References
    ----------
    T. S. Rappaport, Wireless Communications, 2nd ed., section 4.9.1 (log-distance path loss), equation 4.68.

    Examples
    --------
    >>> round(log_distance_loss_db(distance_m=10, frequency_hz=606e6, exponent=3), 1)
    58.1
    """
    free = free_space_loss_db(distance_m=distance_m, frequency_hz=frequency_hz)
    beyond = _log10(_at_least(distance_m / reference_m, 1.0))
    return free + (10 * exponent - 20) * beyond


def site_general_loss_db(*, distance_m: Metres, frequency_hz: float, alpha: float, beta: float, gamma: float) -> Metres:
    """Return the median indoor loss of the site-general model in dB.

    ::

        L = 10 alpha log10(d / m) + beta + 10 gamma log10(f / GHz)

    The coefficients belong to a class of rooms, and hold in its ranges of frequency and distance only (the shipped
    table has them); losses scatter around L with the standard deviation that it lists.

    References
    ----------
    Rec. ITU-R P.1238-11, section 3 (site-general models), table 2.

    Examples
    --------
    >>> round(site_general_loss_db(distance_m=10, frequency_hz=0.6e9, alpha=1.46, beta=34.62, gamma=2.03), 2)
    44.72
    """
    return 10 * alpha * _log10(distance_m) + beta + 10 * gamma * math.log10(frequency_hz / 1e9)


def chance_above(*, margin_db: float, sigma_db: float) -> float:
    """Return the probability that a level stays above what is needed under log-normal shadowing.

    ::

        P = Q(-margin / sigma)

    with Q the tail of the normal distribution, margin = median level over what is needed (dB) and sigma the standard
    deviation of the shadowing (dB). Without shadowing (0) it is 0 or 1.

    References
    ----------
    T. S. Rappaport, Wireless Communications, 2nd ed., section 4.9.2 (log-normal shadowing), equation 4.71.

    Examples
    --------
    >>> round(chance_above(margin_db=2.76, sigma_db=6.17), 3)
    0.673
    """
    if sigma_db == 0:
        return 1.0 if margin_db >= 0 else 0.0
    return NormalDist().cdf(margin_db / sigma_db)


def _log10(value: Metres) -> Metres:
    return np.log10(value) if isinstance(value, np.ndarray) else math.log10(value)


def _cos(value: Metres) -> Metres:
    return np.cos(value) if isinstance(value, np.ndarray) else math.cos(value)


def _sin(value: Metres) -> Metres:
    return np.sin(value) if isinstance(value, np.ndarray) else math.sin(value)


def _hypot(one: Metres, two: Metres | float) -> Metres:
    if isinstance(one, np.ndarray) or isinstance(two, np.ndarray):
        return np.hypot(one, two)
    return math.hypot(one, two)


def _at_least(value: Metres, least: float) -> Metres:
    return np.maximum(value, least) if isinstance(value, np.ndarray) else max(value, least)

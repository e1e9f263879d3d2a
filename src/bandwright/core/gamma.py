"""Tails of the gamma distribution: n averages of a power spectrum are gamma with shape n (chi-square, 2n degrees)."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

__all__ = ["gamma_excess", "gamma_shape", "gamma_tail"]

Floats = npt.NDArray[np.float64]

_LEAST = 1e-300
_STEPS = 10_000


def gamma_tail(*, shape: float, value: float) -> float:
    r"""Return the chance that a gamma variable of scale 1 exceeds a value, :math:`Q(a, x) = \Gamma(a, x) / \Gamma(a)`.

    By the power series below a + 1 and by the continued fraction (modified Lentz) above it: Abramowitz and Stegun
    6.5.29 and 6.5.31.

    >>> round(gamma_tail(shape=1, value=3), 6) == round(math.exp(-3), 6)
    True
    """
    if value <= 0:
        return 1.0
    front = math.exp(shape * math.log(value) - value - math.lgamma(shape))
    return 1 - front * _series(shape, value) if value < shape + 1 else front * _fraction(shape, value)


def _series(shape: float, value: float) -> float:
    term = total = 1 / shape
    for step in range(1, _STEPS):
        term *= value / (shape + step)
        total += term
        if term < 1e-15 * total:
            break
    return total


def _fraction(shape: float, value: float) -> float:
    b = value + 1 - shape
    c, d = 1 / _LEAST, 1 / b
    result = d
    for step in range(1, _STEPS):
        numerator = -step * (step - shape)
        b += 2
        d = 1 / (numerator * d + b or _LEAST)
        c = b + numerator / c or _LEAST
        result *= d * c
        if abs(d * c - 1) < 1e-14:
            break
    return result


def gamma_excess(*, shape: float, tail: float) -> float:
    """Return the multiple of its mean that a gamma variable exceeds with the chance `tail` (0 to 1, both excluded).

    >>> round(gamma_excess(shape=1, tail=1e-6), 3) == round(math.log(1e6), 3)
    True
    """
    if not (0 < tail < 1 and shape > 0):
        raise ValueError(f"a tail lies between 0 and 1 and a shape above 0; given {tail} and {shape}")
    low, high = 0.0, 1.0
    while gamma_tail(shape=shape, value=shape * high) > tail:
        low, high = high, 2 * high
    while high - low > 1e-6 * high:
        middle = (low + high) / 2
        if gamma_tail(shape=shape, value=shape * middle) > tail:
            low = middle
        else:
            high = middle
    return high


def gamma_shape(values: Floats) -> float:
    """Return the shape of the gamma distribution most likely behind positive values; infinite where all are equal.

    The closed form of T. Minka, "Estimating a Gamma distribution" (2002), right to 1.5 %.
    """
    spread = float(np.log(values.mean()) - np.log(values).mean())
    if spread <= 1e-12:
        return math.inf
    return (3 - spread + math.sqrt((spread - 3) ** 2 + 24 * spread)) / (12 * spread)

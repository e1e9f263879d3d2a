"""Sets whose differences are all different, round a modulus: where large plans can start from.

A set is a Sidon set modulo m when a + b = c + d (mod m) holds only for {a, b} = {c, d}; its differences are then all
different, which is what `A+B-C` asks of carriers on a raster as coarse as its clearance. Two constructions are nearly
as dense as such a set can be. Both are built here for primes p; Bose's also exists for powers of primes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["SidonSet", "bose_chowla", "ruzsa", "sets_about"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SidonSet:
    """Rising residues modulo `modulus` whose differences are all different.

    Each of `factors` gives another such set (`image`); any other factor without common divisor with the modulus gives a
    shift of one of these or of its mirror image.
    """

    residues: NDArray[np.int64]
    modulus: int
    factors: tuple[int, ...]

    def image(self, factor: int) -> NDArray[np.int64]:
        """Return the residues times a factor without common divisor with the modulus, rising."""
        return np.sort(self.residues * factor % self.modulus)


@lru_cache(maxsize=64)
def bose_chowla(p: int) -> SidonSet:
    """Return p residues modulo p^2 - 1: the a with t^a - t in GF(p), t a generator of GF(p^2).

    Parameters
    ----------
    p
        A prime from 3.

    Raises
    ------
    ValueError
        When `p` is no such prime.

    Notes
    -----
    R. C. Bose and S. Chowla, "Theorems in the additive theory of numbers", Comment. Math. Helv. 37 (1962), 141-147,
    for h = 2.

    Examples
    --------
    >>> len(bose_chowla(7).residues), bose_chowla(7).modulus
    (7, 48)
    """
    _check_prime(p)
    order = p * p - 1
    square = next(n for n in range(2, p) if pow(n, (p - 1) // 2, p) == p - 1)  # GF(p^2) = GF(p)[r], r^2 = square
    start = next(
        (u, 1) for u in range(p) if all(_power((u, 1), order // f, square, p) != (1, 0) for f in _prime_factors(order))
    )
    residues, value = [], (1, 0)
    for exponent in range(order):
        if value[1] == start[1]:
            residues.append(exponent)
        value = _times(value, start, square, p)
    # The residues times p are a shift of themselves: they are the exponents of the conjugates. Times -1 mirrors them.
    coprime = [f for f in range(1, order // 2 + 1) if math.gcd(f, order) == 1]
    factors = [f for f in coprime if f <= min(f * p % order, -f * p % order)]
    return SidonSet(residues=np.array(residues, np.int64), modulus=order, factors=tuple(factors))


@lru_cache(maxsize=64)
def ruzsa(p: int) -> SidonSet:
    """Return p - 1 residues modulo p (p - 1): the x that are i modulo p - 1 and g^i modulo p, g a primitive root.

    Parameters
    ----------
    p
        A prime from 3.

    Raises
    ------
    ValueError
        When `p` is no such prime.

    Notes
    -----
    I. Z. Ruzsa, "Solving a linear equation in a set of integers I", Acta Arith. 65 (1993), 259-282.

    Examples
    --------
    >>> ruzsa(5).residues.tolist(), ruzsa(5).modulus
    ([3, 14, 16, 17], 20)
    """
    _check_prime(p)
    factors = _prime_factors(p - 1)
    root = next(g for g in range(2, p) if all(pow(g, (p - 1) // f, p) != 1 for f in factors))
    modulus = p * (p - 1)
    residues = sorted((p * i - (p - 1) * pow(root, i, p)) % modulus for i in range(1, p))
    # Factors that agree modulo p - 1 give shifts of each other: i is then one that many steps of g away.
    distinct = tuple(f for f in range(1, (p - 1) // 2 + 1) if math.gcd(f, p - 1) == 1)
    return SidonSet(residues=np.array(residues, np.int64), modulus=modulus, factors=distinct)


def sets_about(length: int, *, shortest: float, longest: float) -> list[SidonSet]:
    """Return the sets of both kinds with a modulus from `shortest` to `longest` times a length, smallest first."""
    low, high = shortest * length, longest * length
    primes = [p for p in range(3, math.isqrt(int(high)) + 2) if _is_prime(p)]
    sets = [bose_chowla(p) for p in primes if low <= p * p - 1 <= high]
    sets += [ruzsa(p) for p in primes if low <= p * (p - 1) <= high]
    return sorted(sets, key=lambda sidon: sidon.modulus)


def _times(x: tuple[int, int], y: tuple[int, int], square: int, p: int) -> tuple[int, int]:
    return (x[0] * y[0] + square * x[1] * y[1]) % p, (x[0] * y[1] + x[1] * y[0]) % p


def _power(x: tuple[int, int], exponent: int, square: int, p: int) -> tuple[int, int]:
    result = (1, 0)
    while exponent:
        if exponent & 1:
            result = _times(result, x, square, p)
        x, exponent = _times(x, x, square, p), exponent >> 1
    return result


def _prime_factors(n: int) -> list[int]:
    return [f for f in range(2, n + 1) if n % f == 0 and _is_prime(f)]


def _is_prime(n: int) -> bool:
    return n > 1 and all(n % f for f in range(2, math.isqrt(n) + 1))


def _check_prime(p: int) -> None:
    if p < 3 or not _is_prime(p):
        raise ValueError(f"these sets are built for odd primes; given {p}")

"""What receivers make of tones: by what powers are scaled so that products multiply, and what a product is at most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.intermod import UNDER_TONE_DB
from bandwright.core.reach.receiver_front import FrontEnd

__all__ = ["LOUDEST_DBM", "ceilings", "fifth_ceilings", "fifth_scale", "front_factors"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LOUDEST_DBM = 300.0
"""Far above anything real; keeps sums of powers finite."""


def front_factors(fronts: Sequence[FrontEnd | None], f: Ints, makes: NDArray[np.bool_]) -> Floats:
    """Return by what each tone's power is scaled so that a product of third order is the product of three of them.

    `fronts` are those of the members on the carriers `f`, `makes` tells whose carriers take part in products.

    ::

        P = Pa Pb Pc / IIP3^2 (mW), IIP3 for tones that filters weaken as they weaken this one

    Exact for one stage that makes products, and for tones that are weakened alike; else an upper bound (Hoelder), since
    products of several stages are taken to add in voltage.
    """
    factors = np.zeros((len(f), len(f)))
    for local, front in enumerate(fronts):
        if front is None:
            continue
        with np.errstate(over="ignore"):
            met = replace(front, carrier_hz=int(f[local])).iip3_for(f, f, f)
        if met is not None:
            factors[local] = 10 ** (-2 / 30 * np.clip(met, -LOUDEST_DBM, math.inf))
    factors[:, ~makes] = 0.0
    return factors


def ceilings(fronts: Sequence[FrontEnd | None]) -> Floats:
    """Return for each receiver how much its strongest tone leaves at most of third order.

    ::

        P <= max(P'a, P'b, P'c) / 9,  P' = P 10^(-s / 10) behind filters that take s dB

    as a part of tones that `front_factors` scales, which are P' 10^(-2/30 IIP3); see `intermod.third_order_dbm`.
    """
    iip3 = np.array([0.0 if front is None else front.iip3_dbm or 0.0 for front in fronts])
    return np.asarray(_of_tones(3) * 10 ** (2 / 30 * np.clip(iip3, -LOUDEST_DBM, LOUDEST_DBM)))


def _of_tones(order: int) -> float:
    return float(10 ** (-UNDER_TONE_DB[order] / 10))


def fifth_ceilings(scale: Floats) -> Floats:
    """Return the same for fifth order, with the receivers' `fifth_scale`: a twenty-fifth of the strongest tone."""
    return _of_tones(5) / np.where(scale > 0, scale, math.inf)


def fifth_scale(iip5_dbm: Floats) -> Floats:
    """Return by what each receiver scales powers so that a product of fifth order is the product of five of them."""
    clipped = np.clip(np.nan_to_num(iip5_dbm), -LOUDEST_DBM, math.inf)
    known: Floats = np.where(np.isnan(iip5_dbm), math.inf, clipped)
    return np.asarray(10 ** (-4 / 50 * known))

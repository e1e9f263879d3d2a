"""The kernels of the search: random numbers, and counts that say what the verifier says."""

from __future__ import annotations

import numpy as np

from bandwright.kernels.search import next_random

MASK = 2**64 - 1


def xorshift64star(x):
    """S. Vigna, 'An experimental exploration of Marsaglia's xorshift generators, scrambled', 2016, in whole numbers."""
    x ^= x >> 12
    x = (x ^ (x << 25)) & MASK
    x ^= x >> 27
    return x, (x * 2685821657736338717 & MASK) >> 32


def test_random_numbers_are_the_upper_halves_of_the_published_generator(authority):
    state = np.array([88172645463325252], np.uint64)
    x = int(state[0])
    ours, theirs = [], []
    for _ in range(1000):
        x, number = xorshift64star(x)
        theirs.append(number)
        ours.append(int(next_random(state)))
    authority(
        "xorshift64* random numbers, upper 32 bits",
        source="S. Vigna, ACM TOMS 42(4), 2016: shifts 12, 25, 27 and the multiplier, from memory",
        ours=ours,
        theirs=theirs,
        kind="memory",
    )

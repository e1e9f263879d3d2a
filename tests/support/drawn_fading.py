"""Fading in time from an independent construction: noise through a filter of Jakes' Doppler spectrum, made by FFT.

One second is one sample.
"""

from __future__ import annotations

import math

import numpy as np

from bandwright.core.kit import Diversity

__all__ = ["DOPPLER_HZ", "SAMPLES", "branch", "fades_s", "power"]

DOPPLER_HZ, SAMPLES = 0.004, 2**19


def branch(rng):
    """A Rayleigh branch of mean power 1: Gaussian lines with the power of 1 / (pi sqrt(fd^2 - f^2)) around each."""
    cycles = DOPPLER_HZ * SAMPLES
    lines = np.arange(-int(cycles) + 1, int(cycles))
    edges = np.arcsin(np.clip((lines[:, None] + [-0.5, 0.5]) / cycles, -1, 1)) / math.pi
    spectrum = np.zeros(SAMPLES, np.complex128)
    drawn = rng.standard_normal((2, len(lines)))
    spectrum[lines] = np.sqrt((edges[:, 1] - edges[:, 0]) / 2) * (drawn[0] + 1j * drawn[1])
    return np.fft.ifft(spectrum) * SAMPLES


def fades_s(power, margin_db):
    """How long each fade lasts; between samples amplitudes run straight."""
    over = np.sqrt(power) - 10 ** (-margin_db / 20)
    steps = np.diff((over < 0).astype(np.int8))
    down, up = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
    up = up[up > down[0]]
    down = down[: len(up)]
    begins, ends = (at + over[at] / (over[at] - over[at + 1]) for at in (down, up))
    return ends - begins


def power(branches, fading):
    """The power of these branches together, by the kind of fading."""
    if fading.correlation:
        alike, other = branches[0], branches[1]
        branches = [alike, fading.correlation * alike + math.sqrt(1 - fading.correlation**2) * other]
    k = fading.rice_k
    each = [np.abs((math.sqrt(k) + one) / math.sqrt(1 + k)) ** 2 for one in branches[: fading.branches]]
    return np.sum(each, axis=0) if fading.diversity is Diversity.COMBINING else np.max(each, axis=0)

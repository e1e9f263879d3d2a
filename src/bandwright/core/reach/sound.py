"""What reaches the ear of an analogue link: signal to noise after the FM demodulator."""

from __future__ import annotations

import math

__all__ = ["FM_THRESHOLD_DB", "deemphasis_gain_db", "fm_gain_db"]

FM_THRESHOLD_DB = 10.0
"""Carrier-to-noise ratio under which an FM demodulator crackles and the formula no longer holds (textbook value)."""


def fm_gain_db(*, deviation_hz: float, audio_hz: float, bandwidth_hz: float) -> float:
    """Return by how much the signal-to-noise ratio of FM audio exceeds the carrier-to-noise ratio, in dB.

    ::

        SNR / CNR = 3/2 (D / W)^2 B / W

    for a tone at full deviation D, audio up to W, noise measured over B. With B = 2 (D + W), Carson's bandwidth, it is
    3 b^2 (b + 1), b = D / W. Valid above threshold (carrier at least 10 dB over the noise), without de-emphasis and
    without companding.

    References
    ----------
    S. Haykin, Communication Systems, chapter on noise in frequency modulation; L. W. Couch, Digital and Analog
    Communication Systems.

    Examples
    --------
    >>> round(fm_gain_db(deviation_hz=75e3, audio_hz=15e3, bandwidth_hz=180e3), 2)
    26.53
    """
    return 10 * math.log10(1.5 * (deviation_hz / audio_hz) ** 2 * bandwidth_hz / audio_hz)


def deemphasis_gain_db(*, time_constant_s: float, audio_hz: float) -> float:
    """Return by how much de-emphasis lowers FM noise, in dB; what pre-emphasis costs in headroom is not in it.

    ::

        I = x^3 / (3 (x - arctan x)),   x = 2 pi tau W

    References
    ----------
    S. Haykin, Communication Systems, chapter on noise in frequency modulation (pre-emphasis and de-emphasis).

    Examples
    --------
    >>> round(deemphasis_gain_db(time_constant_s=50e-6, audio_hz=15e3), 2)
    10.17
    """
    x = 2 * math.pi * time_constant_s * audio_hz
    return 10 * math.log10(x**3 / (3 * (x - math.atan(x))))

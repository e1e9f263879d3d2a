"""Levels and widths of intermodulation products: one published equation a function. Levels in dBm, widths in Hz."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bandwright.core.products import family_named

__all__ = [
    "SPEECH_DEVIATION",
    "UNDER_TONE_DB",
    "fifth_order_dbm",
    "product_rms_hz",
    "rms_deviation_hz",
    "third_order_dbm",
    "transmitter_product_dbm",
]

SPEECH_DEVIATION = 0.5
"""RMS deviation of a busy FM carrier as a part of its peak deviation; common practice."""

UNDER_TONE_DB = {3: 20 * math.log10(3), 5: 20 * math.log10(5)}
"""By how much products of each order lie below the strongest tone at least: see `third_order_dbm`."""

_AUDIO_HZ = 15_000.0  # highest sound that modulates: Carson's rule then gives the peak deviation from the bandwidth


def third_order_dbm(family: str, levels_dbm: Sequence[float], *, iip3_dbm: float) -> float:
    """Return a third-order product in dBm, referred to the input where the tones are measured.

    ::

        2A-B:   2 Pa + Pb - 2 IIP3
        A+B-C:  Pa + Pb + Pc - 2 IIP3 + 6.02 dB
        both:   at most the strongest tone - 9.54 dB (20 log10 3)

    The first two hold while the tones are well below the 1 dB compression point (about 10 dB below IIP3); from a power
    series of a memoryless nonlinearity. Beyond, what limits leaves less: of two equal tones through a hard limiter 2A-B
    comes out at a third of either tone's amplitude, and no tone comes out stronger than it went in. So no product is
    predicted above that bound, which is an upper one, to be read as "overload".

    Parameters
    ----------
    family
        "2A-B" or "A+B-C".
    levels_dbm
        The tones in the order of the family's letters.
    iip3_dbm
        Input third-order intercept point where these levels are measured.

    References
    ----------
    Rec. ITU-R SM.1134, general model (from memory: K21 = 2 IIP3, K111 = K21 - 6 dB); D. M. Pozar, Microwave
    Engineering, 4th ed., section 10.3. The 6.02 dB are 20 log10 of (6/4) / (3/4). The limiter: the double Fourier
    series of sgn(cos a + cos b) has m a + n b at (8 / pi^2) / |m^2 - n^2| (m + n odd; Weber and Schafheitlin's
    integral of J_m J_n / u), a third of a tone for 2, -1 and a fifth for 3, -2.

    Examples
    --------
    >>> round(third_order_dbm("2A-B", [-30, -30], iip3_dbm=10), 2)
    -110.0
    >>> round(third_order_dbm("A+B-C", [-30, -30, -30], iip3_dbm=10), 2)
    -103.98
    >>> round(third_order_dbm("2A-B", [0, 0], iip3_dbm=-20), 2)
    -9.54
    """
    return _product_dbm(family, levels_dbm, order=3, intercept_dbm=iip3_dbm)


def fifth_order_dbm(family: str, levels_dbm: Sequence[float], *, iip5_dbm: float) -> float:
    """Return a fifth-order product in dBm, referred to the input: sum of |k| P - 4 IIP5 and the family's own weight.

    ::

        3A-2B: 3 Pa + 2 Pb - 4 IIP5        2A+B-2C: + 9.54 dB        3A-B-C: + 6.02 dB
        all: at most the strongest tone - 13.98 dB (20 log10 5)

    As for `third_order_dbm`. IIP5 is rarely stated; where it is not, equal intercept points (IIP5 = IIP3) are assumed.

    Examples
    --------
    >>> round(fifth_order_dbm("3A-2B", [-10, -10], iip5_dbm=10), 2)
    -90.0
    >>> round(fifth_order_dbm("2A+B-2C", [-10, -10, -10], iip5_dbm=10), 2)
    -80.46
    """
    return _product_dbm(family, levels_dbm, order=5, intercept_dbm=iip5_dbm)


def _product_dbm(family: str, levels_dbm: Sequence[float], *, order: int, intercept_dbm: float) -> float:
    known = family_named(family)
    if known.order != order:
        raise ValueError(f"{family} is a product of order {known.order}; one of order {order} is asked for")
    of_tones = sum(abs(k) * dbm for k, dbm in zip(known.coefficients, levels_dbm, strict=True))
    by_power_law = of_tones - (order - 1) * intercept_dbm + known.level_db
    return min(by_power_law, max(levels_dbm) - UNDER_TONE_DB[order])


def transmitter_product_dbm(*, own_dbm: float, isolation_db: float, conversion_loss_db: float) -> float:
    """Return 2A-B made in the transmitter of A, in dBm wherever A's carrier is `own_dbm`.

    ::

        P = Pa - I - K

    I is by how much B is weaker than A at A's output (isolation from pack to pack), K the conversion loss of A's
    output stage: what comes in at f_b leaves at 2 f_a - f_b, K dB weaker. Both travel the same way, so that their
    difference is the same at every receiver. K must be stated or assumed; the textbook span is 5 to 20 dB.

    References
    ----------
    Rec. ITU-R SM.1134, power of transmitter intermodulation products (from memory).

    Examples
    --------
    >>> transmitter_product_dbm(own_dbm=-40, isolation_db=30, conversion_loss_db=10)
    -80
    """
    return own_dbm - isolation_db - conversion_loss_db


def product_rms_hz(family: str, rms_hz: Sequence[float]) -> float:
    """Return the rms width of a product in Hz: sqrt of the sum of (k s)^2 over its generators.

    ::

        2A-B: sqrt(4 sa^2 + sb^2)      equal carriers: sqrt 5 s;  A+B-C: sqrt 3 s;  3A-2B: sqrt 13 s

    The phase of a product is the same sum of its generators' phases, so frequency deviations add with the coefficients;
    of independent modulation the variances add.

    Examples
    --------
    >>> round(product_rms_hz("3A-2B", [1.0, 1.0]) ** 2)
    13
    """
    pairs = zip(family_named(family).coefficients, rms_hz, strict=True)
    return math.sqrt(sum((k * rms) ** 2 for k, rms in pairs))


def rms_deviation_hz(*, bandwidth_hz: float, peak_deviation_hz: float | None, digital: bool) -> float:
    """Return the rms width of a carrier's spectrum in Hz.

    FM: half the peak deviation (common practice for speech and song at full level); an unknown peak deviation follows
    from the bandwidth by Carson's rule, B / 2 - 15 kHz. Digital: a flat spectrum as wide as the bandwidth, B / sqrt 12.

    Examples
    --------
    >>> rms_deviation_hz(bandwidth_hz=200_000, peak_deviation_hz=48_000, digital=False)
    24000.0
    """
    if digital:
        return bandwidth_hz / math.sqrt(12)
    peak = peak_deviation_hz if peak_deviation_hz is not None else max(bandwidth_hz / 2 - _AUDIO_HZ, bandwidth_hz / 4)
    return SPEECH_DEVIATION * peak

"""Exact frequencies and power kinds.

Frequencies are whole Hz, read through decimals: `int(mhz * 1e6)` is wrong for 199 of the 8,960 carriers on the
25 kHz grid of 470-694 MHz, because most of those numbers have no exact binary form.
"""

from __future__ import annotations

import math
from decimal import Decimal, InvalidOperation, Overflow

__all__ = [
    "ERP_TO_EIRP_DB",
    "HIGHEST_CARRIER_HZ",
    "HZ_PER_KHZ",
    "HZ_PER_MHZ",
    "dbm_from_mw",
    "hz_from",
    "hz_from_khz",
    "hz_from_mhz",
    "khz_text",
    "mhz_text",
    "mw_from_dbm",
]

HZ_PER_KHZ = 1_000
HZ_PER_MHZ = 1_000_000

# No radio link works above 100 GHz; a larger number of MHz is one of kHz or Hz.
HIGHEST_CARRIER_HZ = 100_000 * HZ_PER_MHZ

_MOST_DIGITS = 30  # before whole Hz are counted out: 1E+999999 has a million

# Gain of a half-wave dipole over an isotropic radiator; ITU-R V.573 prints 2.15 dB.
ERP_TO_EIRP_DB = 2.15


def hz_from(value: Decimal | str | int, *, hz_per_unit: int) -> int:
    """Return `value` times `hz_per_unit` as whole Hz.

    Raises
    ------
    ValueError
        When the value is no finite number, of more than 30 digits in Hz, or falls between two whole Hz.
    """
    try:
        number = Decimal(value) * hz_per_unit
    except InvalidOperation as error:
        raise ValueError(f"{value!r} is not a number") from error
    except Overflow as error:
        raise ValueError(f"{value} is too large") from error
    if not number.is_finite():
        raise ValueError(f"{value} is not a finite number")
    if number.adjusted() > _MOST_DIGITS:
        raise ValueError(f"{value} is too large")
    whole = int(number)
    if whole != number:
        raise ValueError(f"{value} is finer than 1 Hz")
    return whole


def hz_from_mhz(mhz: Decimal | str | int) -> int:
    """Return whole Hz from MHz, exactly.

    >>> hz_from_mhz("606.7")
    606700000
    """
    return hz_from(mhz, hz_per_unit=HZ_PER_MHZ)


def hz_from_khz(khz: Decimal | str | int) -> int:
    """Return whole Hz from kHz, exactly.

    >>> hz_from_khz("12.5")
    12500
    """
    return hz_from(khz, hz_per_unit=HZ_PER_KHZ)


def mhz_text(hz: int) -> str:
    """Return Hz as MHz text with three decimals, or as many as it takes to be exact.

    >>> mhz_text(606_700_000), mhz_text(606_712_500)
    ('606.700', '606.7125')
    """
    sign = "-" if hz < 0 else ""
    whole, rest = divmod(abs(hz), HZ_PER_MHZ)
    digits = f"{rest:06d}".rstrip("0").ljust(3, "0")
    return f"{sign}{whole}.{digits}"


def khz_text(hz: int) -> str:
    """Return Hz as kHz text without needless zeros.

    >>> khz_text(350_000), khz_text(-12_500)
    ('350', '-12.5')
    """
    sign = "-" if hz < 0 else ""
    whole, rest = divmod(abs(hz), HZ_PER_KHZ)
    fraction = f"{rest:03d}".rstrip("0")
    return f"{sign}{whole}.{fraction}" if fraction else f"{sign}{whole}"


def dbm_from_mw(mw: float) -> float:
    """Return dBm from milliwatts (more than 0).

    >>> round(dbm_from_mw(50), 2)
    16.99
    """
    if not mw > 0:
        raise ValueError(f"{mw} mW has no level in dBm; a power above 0 mW is needed")
    return 10 * math.log10(mw)


def mw_from_dbm(dbm: float) -> float:
    """Return milliwatts from dBm.

    >>> round(mw_from_dbm(16.99), 1)
    50.0
    """
    return float(10 ** (dbm / 10))

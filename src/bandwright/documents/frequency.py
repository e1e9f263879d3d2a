"""A carrier as people write it, in MHz: read exactly, or refused in words that say what was meant."""

from __future__ import annotations

import re
from dataclasses import dataclass

from bandwright.units import HIGHEST_CARRIER_HZ, HZ_PER_KHZ, HZ_PER_MHZ, hz_from_mhz, mhz_text

__all__ = ["MHZ_ALLOWED", "Carrier", "read_mhz"]

MHZ_ALLOWED = "a number of MHz, at most six decimals, such as 606.700"

_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]*)?")
_UNIT = re.compile(r"\s*MHz$", re.IGNORECASE)
# As many characters as decimals hold without rounding.
_LONGEST_NUMBER = 24
# What a number of kHz or Hz in the place of MHz is likely to have meant.
_LIKELY_HZ = range(25 * HZ_PER_MHZ, 10_000 * HZ_PER_MHZ)


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """A carrier in Hz; where it is None, a code, words that go on after the value given, and a hint."""

    hz: int | None
    code: str = ""
    words: str = ""
    hint: str | None = None


def read_mhz(text: str) -> Carrier:
    """Return the carrier that a text states in MHz, with or without the unit, with decimal point or comma.

    >>> read_mhz("606,7 MHz").hz, read_mhz("609500").hint
    (606700000, 'Did you mean 609.500?')
    """
    number = _UNIT.sub("", text.strip())
    if len(number) > _LONGEST_NUMBER or not _NUMBER.fullmatch(number):
        return Carrier(hz=None, code="not-a-number", words="is no number of MHz")
    try:
        carrier_hz = hz_from_mhz(number.replace(",", "."))
    except ValueError:
        return Carrier(hz=None, code="finer-than-1-hz", words="MHz is finer than 1 Hz")
    if 0 < carrier_hz <= HIGHEST_CARRIER_HZ:
        return Carrier(hz=carrier_hz)
    words = "is no carrier of a radio link (MHz are asked for, not kHz or Hz)"
    return Carrier(hz=None, code="out-of-range", words=words, hint=_meant(carrier_hz))


def _meant(carrier_hz: int) -> str | None:
    """Return what was meant if the number was one of kHz or of Hz."""
    for factor in (HZ_PER_KHZ, HZ_PER_MHZ):
        if carrier_hz % factor == 0 and carrier_hz // factor in _LIKELY_HZ:
            return f"Did you mean {mhz_text(carrier_hz // factor)}?"
    return None

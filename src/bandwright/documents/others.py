"""Carriers that sweeps show, as `[[other]]` entries of a brief: a text to look through, edit and copy from."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from bandwright.core.kit import MakesProducts, Other
from bandwright.core.unlisted import Unlisted
from bandwright.core.words import one_line
from bandwright.units import khz_text, mhz_text

__all__ = ["other_row", "others_text"]

_HEAD = """\
# Carriers seen in {sweeps},
# as [[other]] entries of a brief. Nothing here counts before somebody copies it there.
# Find out who each one is. Delete what is your own or gone, and round carrier and bandwidth to what its owner states:
# here they are as measured.
"""
_UNKNOWN_LEVEL = """\
# This sweep is not calibrated, so levels at your antenna are not known, and products count in full. State level_dbm
# where you know it, or makes_products = false for one that is far away.
"""


def others_text(found: Sequence[Unlisted], *, places: bool = False) -> str:
    """Return the entries as TOML with comments; `places` says at which place each was seen."""
    sweeps = ", ".join(dict.fromkeys(one_line(item.sweep) for item in found)) or "no sweep"
    unknown = _UNKNOWN_LEVEL if any(item.unit != "dBm" for item in found) else ""
    entries = ("\n".join(_lines(item, places=places)) + "\n" for item in found)
    return "\n".join([_HEAD.format(sweeps=sweeps) + unknown, *entries])


_MAKES_PRODUCTS: Mapping[MakesProducts, bool | str] = {
    MakesProducts.YES: True,
    MakesProducts.NO: False,
    MakesProducts.AUTO: "auto",
}


def other_row(other: Other) -> dict[str, Any]:
    """Return a transmitter that is not ours as the table of a brief that reads back as it.

    For one without times on air and clearances of its own, such as interference that was heard.
    """
    row = {
        "id": other.id,
        "name": other.name,
        "carrier_mhz": Decimal(mhz_text(other.carrier_hz)),
        "bandwidth_khz": Decimal(khz_text(other.bandwidth_hz)),
        "keep_away_khz": None if other.keep_away_hz is None else Decimal(khz_text(other.keep_away_hz)),
        "makes_products": _MAKES_PRODUCTS[other.makes_products],
        "earshot": sorted(other.earshots) or None,
        "place": other.place,
    }
    return {key: value for key, value in row.items() if value is not None}


def _lines(item: Unlisted, *, places: bool) -> Iterator[str]:
    yield "[[other]]"
    yield f'id = "seen-{mhz_text(item.carrier_hz)}{"-" + item.place if places else ""}"'
    yield f"name = {json.dumps(f'Seen in {one_line(item.sweep)}', ensure_ascii=False)}"
    yield f"carrier_mhz = {mhz_text(item.carrier_hz)}"
    yield f"bandwidth_khz = {item.width}        # {item.above_floor_db:.0f} dB above the floor"
    if places:
        yield f'place = "{item.place}"'
    if item.unit == "dBm":
        yield f"level_dbm = {item.level_db:g}"

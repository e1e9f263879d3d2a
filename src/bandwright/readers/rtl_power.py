"""rtl_power logs: uncalibrated dB, whole seconds, and usually the last level of a row twice."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from bandwright.core.sweep import SweepItem
from bandwright.readers.hop_rows import hop_lines, parse_hops

__all__ = ["parse", "sniff"]


def sniff(head: bytes) -> bool:
    """Whether the file's head has rows of hops."""
    return bool(hop_lines(head))


def parse(blocks: Iterable[bytes]) -> Iterator[SweepItem]:
    """Yield a block for each row.

    The program writes the bins of a shifted FFT, the first of them centred on the low frequency, and repeats the last
    level (bins + 1 levels; known from its source, from memory). A row with exactly as many levels as bins comes from
    elsewhere and is read as bins from edge to edge; so is a hop of a single bin.
    """
    return parse_hops(blocks, unit="dB", first_centre=_first_centre)


def _first_centre(low_hz: float, bin_hz: float, repeated: bool) -> float:
    return low_hz if repeated else low_hz + bin_hz / 2

"""hackrf_sweep logs: uncalibrated dB, fractions of seconds, hops in interleaved order, one timestamp for a sweep."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from bandwright.core.sweep import SweepItem
from bandwright.readers.hop_rows import hop_lines, parse_hops

__all__ = ["parse", "sniff"]


def sniff(head: bytes) -> bool:
    """Whether the file's head has rows of hops whose times have fractions of a second."""
    return any(b"." in fields[1] for fields in hop_lines(head))


def parse(blocks: Iterable[bytes]) -> Iterator[SweepItem]:
    """Yield a block for each row; the first bin runs from the low frequency to one bin width above."""
    return parse_hops(blocks, unit="dB", first_centre=_first_centre)


def _first_centre(low_hz: float, bin_hz: float, _repeated: bool) -> float:
    return low_hz + bin_hz / 2

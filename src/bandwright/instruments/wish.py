"""What is asked of a source, and what it gives."""

from __future__ import annotations

from dataclasses import dataclass

from bandwright.core.sweep import SweepBlock

__all__ = ["Taken", "Wish"]

_HIGHEST_HZ = 10**12


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """The range to sweep, the width of a bin, and whether one sweep is enough."""

    low_hz: int
    high_hz: int
    bin_hz: int
    once: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.low_hz < self.high_hz:
            raise ValueError(f"a range rises from above 0 Hz; given {self.low_hz} to {self.high_hz}")
        if self.high_hz > _HIGHEST_HZ:
            raise ValueError(f"a range ends at {_HIGHEST_HZ} Hz at most; given {self.high_hz}")
        if not 0 < self.bin_hz <= self.high_hz - self.low_hz:
            raise ValueError(f"a bin is wider than 0 Hz and fits into the range; given {self.bin_hz}")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """What a source measured: whole lines for the log, and the same as blocks."""

    text: bytes
    blocks: tuple[SweepBlock, ...]

"""Stretches of spectrum and TV rasters, in whole Hz."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bandwright.units import mhz_text

__all__ = ["Span", "TvChannel", "TvRaster", "joined", "occupied"]


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of spectrum from `low_hz` to `high_hz`, both edges included."""

    low_hz: int
    high_hz: int

    def __post_init__(self) -> None:
        if not 0 <= self.low_hz <= self.high_hz:
            raise ValueError(f"a span runs upwards from 0 Hz; given {self.low_hz} to {self.high_hz} Hz")

    @property
    def width_hz(self) -> int:
        """Width in Hz."""
        return self.high_hz - self.low_hz

    def holds(self, other: Span) -> bool:
        """Whether the whole of `other` lies inside, edges included."""
        return self.low_hz <= other.low_hz and other.high_hz <= self.high_hz

    def holds_hz(self, hz: int) -> bool:
        """Whether the single frequency lies inside, edges included."""
        return self.low_hz <= hz <= self.high_hz

    def overlaps(self, other: Span) -> bool:
        """Whether the two share more than an edge."""
        return self.low_hz < other.high_hz and other.low_hz < self.high_hz

    def __str__(self) -> str:
        return f"{mhz_text(self.low_hz)}-{mhz_text(self.high_hz)} MHz"


def joined(spans: Iterable[Span], *, within_hz: int = 0) -> tuple[Span, ...]:
    """Return the same spectrum in rising spans, those that touch, overlap or lie within some Hz as one.

    >>> [str(span) for span in joined([Span(610, 614), Span(606, 610), Span(620, 621)])]
    ['0.000606-0.000614 MHz', '0.00062-0.000621 MHz']
    """
    whole: list[Span] = []
    for span in sorted(spans):
        if whole and span.low_hz <= whole[-1].high_hz + within_hz:
            whole[-1] = Span(whole[-1].low_hz, max(whole[-1].high_hz, span.high_hz))
        else:
            whole.append(span)
    return tuple(whole)


def occupied(carrier_hz: int, bandwidth_hz: int) -> Span:
    """Return the occupied bandwidth around a carrier; an odd width is rounded outwards by half a Hz.

    >>> str(occupied(606_700_000, 200_000))
    '606.600-606.800 MHz'
    """
    half = -(-bandwidth_hz // 2)
    return Span(max(0, carrier_hz - half), carrier_hz + half)


@dataclass(frozen=True, slots=True, kw_only=True)
class TvChannel:
    """One TV channel: its label (a string: there is a 9A) and the whole raster slot."""

    label: str
    span: Span
    use: str = "tv"


@dataclass(frozen=True, slots=True, kw_only=True)
class TvRaster:
    """The TV channels of a region, in rising order."""

    id: str
    name: str
    source: str
    channels: tuple[TvChannel, ...]

    def at(self, hz: int) -> TvChannel | None:
        """Return the TV channel that holds the frequency (the upper one on a shared edge), or None."""
        found = None
        for channel in self.channels:
            if channel.span.holds_hz(hz):
                found = channel
        return found

    def touched_by(self, span: Span) -> tuple[TvChannel, ...]:
        """Return the TV channels that share more than an edge with the span."""
        return tuple(channel for channel in self.channels if channel.span.overlaps(span))

    def named(self, labels: Iterable[str]) -> tuple[TvChannel, ...]:
        """Return the TV channels with these labels; raises KeyError for an unknown one."""
        by_label = {channel.label: channel for channel in self.channels}
        return tuple(by_label[label] for label in labels)

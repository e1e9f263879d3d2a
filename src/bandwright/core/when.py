"""Times on air: spans of aware time, start included, end excluded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

__all__ = ["TimeSpan", "covered", "days_of", "share_a_moment"]


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class TimeSpan:
    """From `start` up to but without `end`; both carry a time zone."""

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        if self.start.tzinfo is None or self.end.tzinfo is None:
            raise ValueError("a time on air needs a time zone")
        if self.end <= self.start:
            raise ValueError(f"a time on air ends after it starts; given {self.start} to {self.end}")

    def overlaps(self, other: TimeSpan) -> bool:
        """Whether the two share a moment."""
        return self.start < other.end and other.start < self.end


def share_a_moment(one: Sequence[TimeSpan], two: Sequence[TimeSpan]) -> bool:
    """Whether two lists of times overlap; an empty list means always."""
    if not one or not two:
        return True
    return any(a.overlaps(b) for a in one for b in two)


def covered(wanted: TimeSpan, by: Sequence[TimeSpan]) -> bool:
    """Whether spans that meet end to end or overlap cover all of `wanted` together."""
    reached = wanted.start
    for span in sorted(by):
        if span.start > reached:
            break
        reached = max(reached, span.end)
    return reached >= wanted.end


def days_of(spans: Sequence[TimeSpan]) -> set[date]:
    """Return the dates that spans touch, each in its own time zone."""
    return {
        span.start.date() + timedelta(days=days)
        for span in spans
        for days in range(((span.end - timedelta(microseconds=1)).date() - span.start.date()).days + 1)
    }

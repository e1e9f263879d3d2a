"""Times on air: spans of aware time, start included, end excluded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo

__all__ = ["TimeSpan", "clock_reading", "covered", "days_of", "share_a_moment"]


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class TimeSpan:
    """From `start` up to but without `end`; both carry a time zone.

    Both are kept at the offset from UTC that their zone has then. Two times of one zone would compare by what the clock
    shows, which goes through the same hour twice in autumn; at fixed offsets they compare as moments.
    """

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        if self.start.tzinfo is None or self.end.tzinfo is None:
            raise ValueError("a time on air needs a time zone")
        for name in ("start", "end"):
            moment: datetime = getattr(self, name)
            offset = moment.utcoffset()
            object.__setattr__(self, name, moment.astimezone(timezone(offset)) if offset else moment.astimezone(UTC))
        if self.end <= self.start:
            raise ValueError(f"a time on air ends after it starts; given {self.start} to {self.end}")

    def overlaps(self, other: TimeSpan) -> bool:
        """Whether the two share a moment."""
        return self.start < other.end and other.start < self.end


def clock_reading(moment: datetime, zone: tzinfo, *, late: bool) -> datetime:
    """Return the moment at which a clock in a zone shows a time; the earlier or the later one where there are two.

    A time that a clock never shows, because it was put forward over it, is counted from before or from after the jump.

    >>> from zoneinfo import ZoneInfo
    >>> twice = datetime(2027, 10, 31, 1, 30)
    >>> [clock_reading(twice, ZoneInfo("Europe/Lisbon"), late=late).isoformat() for late in (False, True)]
    ['2027-10-31T01:30:00+01:00', '2027-10-31T01:30:00+00:00']
    """
    readings = [moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1)]
    return (max if late else min)(readings, key=datetime.timestamp)


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

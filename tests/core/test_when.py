"""Times on air, as moments and not as what a clock shows."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from bandwright.core.when import TimeSpan, covered, days_of, share_a_moment

LISBON = ZoneInfo("Europe/Lisbon")


def autumn(hour, minute=0, *, fold=0):
    """A time of the night to 2027-10-31, on which Lisbon's clocks show 01:00 to 02:00 twice (UTC+1, then UTC)."""
    return datetime(2027, 10, 31, hour, minute, tzinfo=LISBON, fold=fold)


def test_the_two_passes_of_the_doubled_hour_are_different_moments():
    first = TimeSpan(start=autumn(1, 10), end=autumn(1, 50))
    second = TimeSpan(start=autumn(1, 10, fold=1), end=autumn(1, 50, fold=1))
    assert not first.overlaps(second)
    assert not share_a_moment((first,), (second,))
    assert sorted([second, first]) == [first, second]
    assert len({first.start, second.start}) == 2


def test_a_span_over_the_change_of_clocks_is_as_long_as_it_really_is():
    span = TimeSpan(start=autumn(0, 30), end=autumn(2, 30))
    assert (span.end - span.start).total_seconds() == 3 * 3600
    half = TimeSpan(start=autumn(1, 30), end=autumn(1, 30, fold=1))
    assert (half.end - half.start).total_seconds() == 3600
    assert covered(half, [span])
    assert not covered(
        span, [TimeSpan(start=autumn(0, 30), end=autumn(1, 30)), TimeSpan(start=autumn(1, 30, fold=1), end=autumn(3))]
    )


def test_what_the_clock_shows_is_kept():
    span = TimeSpan(start=autumn(1, 30), end=autumn(1, 30, fold=1))
    assert (f"{span.start:%H:%M %z}", f"{span.end:%H:%M %z}") == ("01:30 +0100", "01:30 +0000")
    assert days_of([span]) == {autumn(1).date()}


def test_spans_of_different_zones_compare_as_moments():
    there = TimeSpan(start=datetime(2027, 10, 31, 1, 0, tzinfo=UTC), end=datetime(2027, 10, 31, 2, 0, tzinfo=UTC))
    assert there.overlaps(TimeSpan(start=autumn(1, fold=1), end=autumn(2)))
    assert not there.overlaps(TimeSpan(start=autumn(1), end=autumn(1, 59)))


def test_a_span_that_ends_before_it_starts_or_has_no_zone_is_refused():
    with pytest.raises(ValueError, match="ends after it starts"):
        TimeSpan(start=autumn(1, 30, fold=1), end=autumn(1, 40))
    with pytest.raises(ValueError, match="needs a time zone"):
        TimeSpan(start=datetime(2027, 10, 31), end=autumn(2))  # noqa: DTZ001 - it is the point

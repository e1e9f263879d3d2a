"""Levels at the ear and how long they may last, by published limits; a caution, and local rules decide.

Nothing more clever than is known: an earpiece's sensitivity at 1 kHz stands for all frequencies, and the level counts
as A-weighted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from bandwright.core.reach.facts import Gap
from bandwright.core.sound.lineup import LineUp
from bandwright.core.sound.tables import ExposureLimit, SoundTables

__all__ = ["CAUTION", "AtEar", "Judged", "at_ear", "daily_exposure_db", "hours_allowed"]

CAUTION = (
    "In-ear levels can harm hearing: these are estimates, local rules and a measurement decide. Never retune or switch "
    "a transmitter that is in somebody's ears."
)
# Equal energy over a working day, ISO 1999.
_EXCHANGE_DB = 3.0
_WORKING_DAY_H = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A published limit, how long the level at the ear may last by it in a day, and whether the hours keep it."""

    limit: ExposureLimit
    hours: float
    kept: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AtEar:
    """The levels at the ear of one link, in dB SPL.

    `loudest_db` is that of the programme (not above what the limiter lets through), `most_db` where the limiter holds,
    or full deviation without one. `daily_db` is the exposure over 8 h if the loudest lasted as long as somebody
    listens.
    """

    loudest_db: float | None
    most_db: float
    limited: bool
    daily_db: float | None
    by_loudest: tuple[Judged, ...]
    by_most: tuple[Judged, ...]
    gaps: tuple[Gap, ...]


def hours_allowed(level_db: float, *, over_8h_db: float) -> float:
    """Return how long a steady level may last in a day: half as long for each 3 dB more, not more than a day.

    ::

        T = 8 h 2^((L8 - L) / 3)

    References
    ----------
    ISO 1999 (equal energy), as Directive 2003/10/EC takes it.

    Examples
    --------
    >>> [hours_allowed(level, over_8h_db=85) for level in (85, 88, 94)]
    [8.0, 4.0, 1.0]
    """
    return min(24.0, _WORKING_DAY_H * 2 ** ((over_8h_db - level_db) / _EXCHANGE_DB))


def daily_exposure_db(level_db: float, *, hours: float) -> float:
    """Return the daily noise exposure level over 8 h of a steady level.

    ::

        L_EX,8h = L + 10 log10(T / 8 h)

    References
    ----------
    ISO 1999.

    Examples
    --------
    >>> round(daily_exposure_db(94, hours=1), 2)
    84.97
    """
    return level_db + 10 * math.log10(hours / _WORKING_DAY_H)


def at_ear(item: LineUp, tables: SoundTables) -> AtEar | None:
    """Return the levels at the ear of a way that ends there and can be told."""
    point, feed = item.point("ear"), item.facts.feed
    if point is None or point.full is None or feed is None:
        return None
    gaps = []
    if feed.limiter_db is None:
        gaps.append(Gap(table="feed", id=feed.id, key="limiter_db", meanwhile="full deviation is the most"))
    if feed.hours is None:
        gaps.append(Gap(table="feed", id=feed.id, key="hours"))
    most_db = point.full if feed.limiter_db is None else min(point.full, point.full + feed.limiter_db)
    loudest_db = None if point.loudest is None else min(point.loudest, most_db)
    daily_db = None
    if loudest_db is not None and feed.hours is not None:
        daily_db = daily_exposure_db(loudest_db, hours=feed.hours)
    return AtEar(
        loudest_db=loudest_db,
        most_db=most_db,
        limited=feed.limiter_db is not None,
        daily_db=daily_db,
        by_loudest=() if loudest_db is None else _judged(loudest_db, feed.hours, tables),
        by_most=_judged(most_db, None, tables),
        gaps=tuple(gaps),
    )


def _judged(level_db: float, hours: float | None, tables: SoundTables) -> tuple[Judged, ...]:
    found = []
    for limit in tables.exposure:
        allowed = hours_allowed(level_db, over_8h_db=limit.over_8h_db)
        found.append(Judged(limit=limit, hours=allowed, kept=None if hours is None else hours <= allowed))
    return tuple(found)

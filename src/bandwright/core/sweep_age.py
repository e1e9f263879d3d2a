"""How old a sweep is: what was quiet three hours ago, or last week, need not be quiet now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from bandwright.core.job import Job
from bandwright.core.planning.plan import Warn
from bandwright.core.sweep import Sweep
from bandwright.core.when import clock_reading

__all__ = ["age_of", "age_warnings", "age_words", "moment_of"]

_CLOCKS_AGREE = timedelta(minutes=2)
_MINUTES_UNTIL = timedelta(minutes=90)
_HOURS_UNTIL = timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Taken:
    """When a sweep began, and when the plan was made, both by the clock of the place where it was made."""

    began: datetime
    made: datetime

    @property
    def age(self) -> timedelta:
        return timedelta(seconds=self.made.timestamp() - self.began.timestamp())

    @property
    def days(self) -> int:
        return (self.made.date() - self.began.date()).days


def moment_of(sweep: Sweep, job: Job) -> datetime | None:
    """Return when a sweep began, in the zone of its place (of the first one where nobody stated any).

    In the hour that a clock shows twice the earlier moment counts: a sweep must not look fresher than it is.
    """
    if sweep.started is None:
        return None
    return clock_reading(sweep.started, ZoneInfo(job.place_of(sweep).timezone), late=False)


def _taken(sweep: Sweep, job: Job, made: datetime) -> _Taken | None:
    began = moment_of(sweep, job)
    return None if began is None else _Taken(began=began, made=made.astimezone(began.tzinfo))


def age_of(sweep: Sweep, job: Job, *, made: datetime) -> timedelta | None:
    """Return how long before a plan a sweep began; negative where its clock ran ahead, None where nobody knows."""
    taken = _taken(sweep, job, made)
    return None if taken is None else taken.age


def age_words(sweep: Sweep, job: Job, *, made: datetime, ago: bool = False) -> str | None:
    """Return the age of a sweep in words: "3 hours before this plan", "made yesterday"; None where nobody knows it.

    With `ago` it is said as of now, for what is read at once: "3 hours ago".
    """
    taken = _taken(sweep, job, made)
    if taken is None:
        return None
    if taken.age < -_CLOCKS_AGREE:
        return None if job.invented else f"dated {'ahead of now' if ago else 'after this plan'}"
    since = "ago" if ago else "before this plan"
    if taken.age < _MINUTES_UNTIL:
        count = int(taken.age / timedelta(minutes=1) + 0.5)
        return _counted(count, "minute", since) if count else f"made within a minute of {'now' if ago else 'this plan'}"
    if taken.age < _HOURS_UNTIL or taken.days == 0:
        return _counted(int(taken.age / timedelta(hours=1) + 0.5), "hour", since)
    return "made yesterday" if taken.days == 1 else _counted(taken.days, "day", since)


def _counted(count: int, word: str, since: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'} {since}"


def age_warnings(job: Job, sweeps: Sequence[Sweep], *, made: datetime, ago: bool = False) -> tuple[Warn, ...]:
    """Name the sweeps that are from an earlier day than a plan (or, with `ago`, now), from after it, or of no time."""
    return tuple(_warnings(job, sweeps, made, ago))


def _warnings(job: Job, sweeps: Sequence[Sweep], made: datetime, ago: bool) -> Iterator[Warn]:
    when = ("a day ago", "ahead of now") if ago else ("a day before this plan", "after this plan")
    for sweep in sweeps:
        taken = _taken(sweep, job, made)
        if taken is None:
            text = (
                f"Nobody said when {sweep.name} was made, so nobody knows how old it is; "
                f"write started = 2027-05-14T09:30:00 (its date and time) into {sweep.name}.toml beside it."
            )
            yield Warn(code="sweep-time-unknown", text=text, where=sweep.name)
        elif taken.days > 0:
            text = (
                f"{sweep.name} is from {taken.began:%Y-%m-%d %H:%M}, {when[0]} or longer: the air may "
                "have changed; sweep again on the day."
            )
            yield Warn(code="sweep-old", text=text, where=sweep.name)
        elif taken.age < -_CLOCKS_AGREE and not job.invented:
            text = (
                f"{sweep.name} is dated {taken.began:%Y-%m-%d %H:%M}, which is {when[1]}: the clock of what made "
                "it, or of this machine, or the time zone of its place is wrong."
            )
            yield Warn(code="sweep-time-ahead", text=text, where=sweep.name)

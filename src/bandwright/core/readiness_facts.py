"""The plain facts that readiness is told from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bandwright.core.permits import PermitState

__all__ = [
    "LinkFacts",
    "PermitFacts",
    "PlanFacts",
    "ReadinessFacts",
    "Said",
    "SoundFacts",
    "SpareFacts",
    "StrongFacts",
    "SweepFacts",
    "how_old",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Who stated something, when, and with which remark."""

    uid: str
    who: str
    at: datetime
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkFacts:
    """A link of the brief: `carrier_hz` in the plan in force (None: it has none), and what was ticked of it there.

    `status` is "clear", "caution" or "blocked" where it is placed.
    """

    uid: str
    id: str
    name: str
    carrier_hz: int | None = None
    status: str | None = None
    cautions: tuple[str, ...] = ()
    permit: str | None = None
    ticked: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFacts:
    """The plan in force. `stale` says what changed since it was made, None where nothing did."""

    number: int
    check_phrase: str
    made: datetime
    stale: str | None = None
    unplaced: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepFacts:
    """The newest sweep of the job.

    `age` is how old it is in words ("3 hours old", "from yesterday"), None where nobody knows; `old` means of another
    day or longer ago.
    """

    name: str
    own_transmitters: str
    age: str | None = None
    old: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitFacts:
    """A permit; `ends` is when the last of its times is over, None where it states no times. `over` means: past.

    `covers_dates` tells whether it is valid on every date of the job.
    """

    uid: str | None
    id: str
    reference: str
    state: PermitState
    ends: datetime | None = None
    over: bool = False
    covers_dates: bool = True
    confirmed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareFacts:
    """Spare carriers of one radio type: how many were wished for, and how many the plan in force still has."""

    radio: str
    wished: int
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundFacts:
    """What line-up and companding tell of links: how many fit, and the names of those with a caution.

    And those that are wrong, with the first reason, and those of which it cannot be told.
    """

    fits: int = 0
    cautions: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()
    untold: tuple[str, ...] = ()
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StrongFacts:
    """What reach tells of links: how many have enough, the names of those that fall short, and of those untold.

    `least_db` is the least that a link (`least`) has over what it needs, `where` in words the place of that. `pending`:
    it is being worked out.
    """

    enough: int = 0
    short: tuple[str, ...] = ()
    untold: tuple[str, ...] = ()
    least_db: float | None = None
    least: str | None = None
    where: str | None = None
    pending: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadinessFacts:
    """Everything that readiness is told from.

    `faults` are the sentences that keep the brief from being a job. `printed` is who printed the sheet of the plan in
    force and when; `since_print` what changed on it since. `strong` is None where nothing is written down from which it
    could be told. `statements` are those about the points, by their words.
    """

    faults: tuple[str, ...] = ()
    permits: tuple[PermitFacts, ...] = ()
    links: tuple[LinkFacts, ...] = ()
    sweep: SweepFacts | None = None
    plan: PlanFacts | None = None
    spares: tuple[SpareFacts, ...] = ()
    printed: Said | None = None
    since_print: tuple[str, ...] = ()
    strong: StrongFacts | None = None
    sound: SoundFacts | None = None
    statements: tuple[tuple[str, Said], ...] = ()

    def said(self, point: str) -> Said | None:
        """Return what somebody stated of a point."""
        return dict(self.statements).get(point)


def how_old(began: datetime, now: datetime) -> tuple[str, bool]:
    """Return how old something is in words, and whether it is of another day; both times by the clock of its place.

    >>> morning = datetime(2027, 5, 14, 9, 30)
    >>> how_old(morning, morning + timedelta(minutes=4)), how_old(morning, morning + timedelta(hours=20))
    (('4 minutes old', False), ('from yesterday', True))
    """
    age, days = now - began, (now.date() - began.date()).days
    if age < _CLOCKS_AGREE:
        return "dated ahead of this clock", True
    if days == 1:
        return "from yesterday", True
    for unit, word, until in _UNITS:
        if age < until:
            count = max(int(age / unit + 0.5), 1)
            return f"{count} {word}{'' if count == 1 else 's'} old", False
    return f"{days} days old", True


_CLOCKS_AGREE = timedelta(minutes=-2)
_UNITS = (
    (timedelta(minutes=1), "minute", timedelta(minutes=90)),
    (timedelta(hours=1), "hour", timedelta(hours=24)),
)

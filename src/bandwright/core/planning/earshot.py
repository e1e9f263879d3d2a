"""Who binds whom: at one place, on the air at one time, in earshots that hear each other well enough.

What isolation between two earshots is worth. With I dB, the other earshot's carriers arrive I dB below the wanted
carriers here.

* Products: a third-order product of which one carrier is I dB weaker falls by I dB; by 2 I where that carrier is the
  doubled one (P = 2 P1 + P2 - 2 IIP3 in dBm). The rules in kHz are there for products about as strong as the wanted
  carrier, so one that is `PROTECTION_DB` weaker does no harm: across `PROTECTION_DB` or more no product is asked about.
  Counting every product as falling by I only errs towards asking too much.
* Spacing: a carrier from over there, on the same frequency, is I dB below the wanted one while that one is at its usual
  level. In a fade of `FADE_DB` it must still be `PROTECTION_DB` below: from the sum of the two on, nothing is asked.

Without a stated isolation two earshots do not hear each other at all.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime

from bandwright.core.job import Binds, Isolation, Job
from bandwright.core.kit import Link, Other
from bandwright.core.planning.plan import Reason, Warn
from bandwright.core.when import share_a_moment

__all__ = [
    "FADE_DB",
    "PROTECTION_DB",
    "binding",
    "contexts_of",
    "hears",
    "isolation_warnings",
    "unasked_because",
    "weaker_by_db",
    "worth",
]

Member = Link | Other

# What keeps an FM carrier clear of another on its own frequency. Rec. ITU-R BS.412 asks 36 dB for mono and 45 dB for
# stereo broadcasting (steady interference, no offset; from memory); 40 dB is common practice for microphones.
PROTECTION_DB = 40.0
# How far the wanted carrier may fade behind a body or between reflections, with diversity; common practice.
FADE_DB = 20.0


def worth(isolation_db: float | None) -> Binds:
    """Return what still binds across this isolation (None: they do not hear each other at all).

    >>> [worth(db).name for db in (39.9, 40.0, 59.9, 60.0, None)]
    ['ALL', 'SPACING', 'SPACING', 'NOTHING', 'NOTHING']
    """
    if isolation_db is None or isolation_db >= PROTECTION_DB + FADE_DB:
        return Binds.NOTHING
    return Binds.SPACING if isolation_db >= PROTECTION_DB else Binds.ALL


def _of(isolation: Isolation) -> Binds:
    return worth(isolation.isolation_db) if isolation.binds is None else isolation.binds


@functools.lru_cache(maxsize=64)
def _stated(isolations: tuple[Isolation, ...]) -> Mapping[frozenset[str], Isolation]:
    """Return the isolation between each two earshots; of several entries the one that binds most."""
    found: dict[frozenset[str], Isolation] = {}
    for item in sorted(isolations, key=_of):
        found[frozenset((item.one, item.two))] = item
    return found


def _between(job: Job, one: Member, two: Member) -> tuple[Binds, Isolation | None]:
    """Return what binds by earshots alone, and the isolation that says so; None where none is stated."""
    if not one.earshots or not two.earshots or one.earshots & two.earshots:
        return Binds.ALL, None
    if not job.isolations:
        return Binds.NOTHING, None
    stated = _stated(job.isolations)
    pairs = [frozenset((a, b)) for a in sorted(one.earshots) for b in sorted(two.earshots)]
    known = [stated[pair] for pair in pairs if pair in stated]
    if not known:
        return Binds.NOTHING, None
    most = max(known, key=_of)
    return _of(most), most


def binding(job: Job, one: Member, two: Member) -> Binds:
    """Return what binds two carriers: all rules, spacing only, or nothing.

    Nothing stated means everywhere, always, heard by all. A spare carrier is clean together with every link.
    """
    if _stands_by(one, two):
        return Binds.ALL
    by_earshot = _between(job, one, two)[0]
    if by_earshot is Binds.NOTHING or not _meet(job, one, two) or not share_a_moment(one.on_air, two.on_air):
        return Binds.NOTHING
    return by_earshot


def weaker_by_db(job: Job, one: Member, two: Member) -> float:
    """Return by how many dB a carrier is weaker at the other's receiver because of earshots; infinite: not heard there.

    Where the brief says in words alone what binds across an isolation, all of it is 0 dB and spacing alone 40 dB.
    """
    binds, isolation = _between(job, one, two)
    together = _stands_by(one, two) or (_meet(job, one, two) and share_a_moment(one.on_air, two.on_air))
    if not together or (isolation is None and binds is Binds.NOTHING):
        return math.inf
    if isolation is None:
        return 0.0
    if isolation.isolation_db is not None:
        return isolation.isolation_db
    return {Binds.ALL: 0.0, Binds.SPACING: PROTECTION_DB}.get(binds, math.inf)


def hears(job: Job, one: Member, two: Member) -> bool:
    """Whether anything binds two carriers."""
    return binding(job, one, two) is not Binds.NOTHING


def _stands_by(one: Member, two: Member) -> bool:
    return isinstance(one, Link) and isinstance(two, Link) and bool(one.spare_at or two.spare_at)


def _meet(job: Job, one: Member, two: Member) -> bool:
    return one.place == two.place or not {p.id for p in job.places_of(one)}.isdisjoint(p.id for p in job.places_of(two))


def unasked_because(job: Job, one: Member, two: Member) -> Reason | None:
    """Return why fewer than all rules are asked between two carriers; None where all are.

    The codes are place, time, earshot (no common one, and nothing stated) and isolation.
    """
    if binding(job, one, two) is Binds.ALL:
        return None
    if not _meet(job, one, two):
        return Reason(code="place", text="at another place")
    if not share_a_moment(one.on_air, two.on_air):
        return Reason(code="time", text="not on the air at the same time")
    isolation = _between(job, one, two)[1]
    if isolation is None:
        return Reason(code="earshot", text="no common earshot, and no isolation stated between theirs")
    across = f"{isolation.one} and {isolation.two}"
    if isolation.binds is not None and isolation.isolation_db is None:
        return Reason(code="isolation", text=f"the brief says so between {across}")
    level = "altogether" if isolation.isolation_db is None else f"by {isolation.isolation_db:g} dB"
    return Reason(code="isolation", text=f"isolated {level} between {across}")


def isolation_warnings(job: Job, links: Sequence[Link]) -> Iterator[Warn]:
    """Yield what is not asked between earshots that links of both are in, and the isolation that rests on."""
    used = {name for link in links for name in link.earshots}
    for pair, isolation in _stated(job.isolations).items():
        if pair <= used and (asked := _ASKED[_of(isolation)]) is not None:
            level = "as the brief says"
            if isolation.binds is None:
                db = isolation.isolation_db
                level = "isolated altogether" if db is None else f"isolated by {db:g} dB"
            text = f"Between {isolation.one} and {isolation.two} {asked} asked: {level}."
            yield Warn(code="isolated", text=text, where=f"{isolation.one}, {isolation.two}")


_ASKED = {Binds.ALL: None, Binds.SPACING: "only the carrier spacing is", Binds.NOTHING: "nothing is"}


# ------------------------------------------------------------------------------------------------------- contexts


def contexts_of(job: Job, members: Sequence[Member]) -> list[tuple[int, ...]]:
    """Return for each member the contexts it is in, numbered from 0.

    A context is a largest set of carriers that make products together: at one place, at one moment, in earshots that
    all hear each other. Sets are bits of whole numbers, and moments are only those after which somebody goes off air.
    """
    sets: set[int] = set()
    for place in {place.id for member in members for place in job.places_of(member)}:
        here = [i for i, m in enumerate(members) if _is_at(job, m, place)]
        for within in _hearing(job, members, here):
            sets.update(_at_once(members, within))
    largest = sorted(_maximal(sets), key=lambda s: (-s.bit_count(), _bits(s)))
    return [tuple(number for number, s in enumerate(largest) if s >> i & 1) for i in range(len(members))]


def _is_at(job: Job, member: Member, place: str) -> bool:
    """Whether a member counts at a place; a spare carrier is clean together with everything."""
    return bool(isinstance(member, Link) and member.spare_at) or any(p.id == place for p in job.places_of(member))


def _hearing(job: Job, members: Sequence[Member], here: Sequence[int]) -> Iterator[list[int]]:
    """Yield the members in each largest set of earshots that all hear each other."""
    earshots = sorted({name for i in here for name in members[i].earshots})
    if not earshots:
        yield list(here)
        return
    stated = _stated(job.isolations)
    heard: dict[str, set[str]] = {name: set() for name in earshots}
    for pair, isolation in stated.items():
        if _of(isolation) is Binds.ALL and len(pair) == 2 and pair <= heard.keys():
            one, two = pair
            heard[one].add(two)
            heard[two].add(one)
    for together in _cliques(heard, set(), set(earshots), set()):
        yield [i for i in here if not members[i].earshots or members[i].earshots & together]


def _cliques(near: Mapping[str, set[str]], chosen: set[str], open_: set[str], done: set[str]) -> Iterator[set[str]]:
    """Yield the largest sets in which all are neighbours (Bron and Kerbosch 1973, with a pivot)."""
    if not open_ and not done:
        yield chosen
        return
    pivot = max(sorted(open_ | done), key=lambda name: len(near[name] & open_))
    for name in sorted(open_ - near[pivot]):
        yield from _cliques(near, chosen | {name}, open_ & near[name], done & near[name])
        open_ = open_ - {name}
        done = done | {name}


def _at_once(members: Sequence[Member], within: Sequence[int]) -> Iterator[int]:
    """Yield, as bits, who is on air just before somebody goes off: every other moment has fewer of the same."""
    now = sum(1 << i for i in within if not members[i].on_air)
    changes: list[tuple[datetime, bool, int]] = []
    for i in within:
        for span in members[i].on_air:
            changes.append((span.start.astimezone(UTC), True, i))
            changes.append((span.end.astimezone(UTC), False, i))
    if not changes:
        yield now
        return
    on_air = dict.fromkeys(within, 0)  # spans of one member may overlap
    grown = False
    for _, starts, i in sorted(changes):  # who ends at a moment is off before others start
        if grown and not starts:
            yield now
        grown = starts
        on_air[i] += 1 if starts else -1
        now = now | 1 << i if on_air[i] else now & ~(1 << i)


def _maximal(sets: set[int]) -> list[int]:
    """Return the sets that lie in no other."""
    kept: list[int] = []
    for one in sorted(sets, key=int.bit_count, reverse=True):
        if one and not any(one & other == one for other in kept):
            kept.append(one)
    return kept


def _bits(number: int) -> tuple[int, ...]:
    return tuple(i for i in range(number.bit_length()) if number >> i & 1)

"""Which packs to lower one power step, and in which order, to find out what makes a product that is heard.

Lowering a transmitter by x dB moves a product by |k| x dB, k being its coefficient there: 2 dB for each dB where it is
doubled, 1 dB where it stands once. A carrier of somebody else does not move. A pad of p dB at the antenna lowers what
is on the air by p, and a product of order n that is made behind it by n p.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from bandwright.core.job import Job
from bandwright.core.kit import Direction, Link, Other
from bandwright.core.planning.build import sends_of
from bandwright.core.planning.earshot import hears
from bandwright.core.planning.problem import Sends
from bandwright.core.products import FAMILIES, Family
from bandwright.core.reach.suspect_levels import SuspectLevels

__all__ = ["Drop", "Outcome", "Suspect", "Suspicion", "products_near", "suspicion"]

SUSPECTED = ("2A-B", "A+B-C", "3A-2B")
"""Families that are suspected: those of third order, and the strongest of fifth."""

MOST_SUSPECTS = 16
_LEVELS_ASKED = 100  # products whose levels are worked out, the simplest first


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A product near what is heard: its generators by id in the order of the family's letters.

    `level_dbm` is what it is predicted to add at the receiver at most; None where that is not known.
    """

    family: Family
    members: tuple[str, ...]
    product_hz: int
    offset_hz: int
    level_dbm: float | None = None

    def weight_of(self, member: str) -> int:
        """Return by how many dB it moves for each dB of one member; 0 for those that take no part."""
        return sum(abs(c) for c, one in zip(self.family.coefficients, self.members, strict=True) if one == member)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the needle may do when a pack is lowered, and which suspects (by number) do that.

    `db` is None where the step is not known. `then` is the pack to lower next to tell these suspects apart, None where
    one is left or nothing tells them apart.
    """

    db_per_db: int
    db: float | None
    suspects: tuple[int, ...]
    then: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """One pack to lower: from and to which setting in mW (None: not known), and what the needle then says."""

    link: str
    name: str
    from_mw: float | None
    to_mw: float | None
    in_ear: bool
    outcomes: tuple[Outcome, ...]

    @property
    def step_db(self) -> float | None:
        """By how many dB it is lowered."""
        if self.from_mw is None or self.to_mw is None:
            return None
        return 10 * math.log10(self.from_mw / self.to_mw)


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """What may be heard on a frequency, and how to find out with the fewest packs lowered.

    `drops` are in order; together they reach every suspect that any pack of ours can move, and no fewer would.
    `beyond` numbers suspects that no drop reaches. `carriers` are other users' carriers that may simply be what is
    heard.
    """

    at_hz: int
    within_hz: int
    suspects: tuple[Suspect, ...]
    more: int
    drops: tuple[Drop, ...]
    beyond: tuple[int, ...]
    carriers: tuple[Other, ...]


def _no_levels(_: Collection[str]) -> None:
    """Know no level."""


def suspicion(
    job: Job,
    carriers_hz: Mapping[str, int],
    *,
    at_hz: int,
    victim: str | None,
    powers_mw: Mapping[str, float | None],
    levels_of: Callable[[Collection[str]], SuspectLevels | None] = _no_levels,
) -> Suspicion:
    """Return which products of placed carriers may be heard at a frequency, and which packs to lower to find out.

    Parameters
    ----------
    carriers_hz
        Carriers of a plan by link, in Hz.
    at_hz
        Where it is heard, in Hz.
    victim
        The link whose receiver hears it; None for a frequency alone.
    powers_mw
        What each link sends now, in mW; None where nobody knows.
    levels_of
        Returns predicted levels at the victim of the products of some members (by id), where they are known. The
        loudest products then come first, else those of low order near by.
    """
    links = {link.id: link for link in job.links if link.id in carriers_hz}
    heard_by = links.get(victim or "")
    senders = _senders(job, links, carriers_hz, heard_by)
    within_hz = _within_hz(links, heard_by)
    found = sorted(
        products_near(senders, at_hz=at_hz, within_hz=within_hz, victim=victim),
        key=lambda one: (one.family.order, abs(one.offset_hz), -one.family.level_db, one.members),
    )
    suspects = tuple(_loudest(found[:_LEVELS_ASKED], levels_of)[:MOST_SUSPECTS])
    lowered = {name: _lower_mw(link, powers_mw.get(name)) for name, link in links.items() if name != victim}
    chosen = _fewest(suspects, links, lowered)
    reached = set().union(*(set(one.members) for one in suspects)) if suspects else set()
    beyond = tuple(i for i, one in enumerate(suspects) if not set(one.members) & set(chosen))
    packs = _Packs(links=links, powers_mw=powers_mw, lowered=lowered, taking_part=frozenset(reached))
    drops = tuple(_drop(links[name], suspects, packs) for name in chosen)
    others = [other for other in job.others if heard_by is None or hears(job, heard_by, other)]
    return Suspicion(
        at_hz=at_hz,
        within_hz=within_hz,
        suspects=suspects,
        more=len(found) - len(suspects),
        drops=drops,
        beyond=beyond,
        carriers=tuple(o for o in others if abs(o.carrier_hz - at_hz) <= within_hz + o.bandwidth_hz // 2),
    )


def _loudest(found: Sequence[Suspect], levels_of: Callable[[Collection[str]], SuspectLevels | None]) -> list[Suspect]:
    """Return suspects with their levels, the loudest first; those without a level after them, as they came."""
    levels = levels_of({name for one in found for name in one.members})
    if levels is None:
        return list(found)
    told = [replace(one, level_dbm=levels.level_dbm(one.family.name, one.members)) for one in found]
    return sorted(told, key=lambda one: -math.inf if one.level_dbm is None else one.level_dbm, reverse=True)


def products_near(
    senders: Mapping[str, int], *, at_hz: int, within_hz: int, victim: str | None = None
) -> Iterator[Suspect]:
    """Yield the products of carriers (id to Hz) that fall within some Hz of a frequency.

    Where the victim itself stands once and with a plus, the relation only restates carrier spacing; those are left out.
    """
    names, f = list(senders), np.array(list(senders.values()), np.int64)
    for family in (FAMILIES[name] for name in SUSPECTED):
        for members in _near(family, f, at_hz, within_hz):
            ids = tuple(names[i] for i in members)
            if victim in ids and family.coefficients[ids.index(victim or "")] == 1:
                continue
            product_hz = family.product_hz(tuple(int(f[i]) for i in members))
            yield Suspect(family=family, members=ids, product_hz=product_hz, offset_hz=product_hz - at_hz)


def _near(family: Family, f: npt.NDArray[np.int64], at_hz: int, within_hz: int) -> Iterator[tuple[int, ...]]:
    """Yield the places of distinct generators whose product is near; letters of equal coefficient once."""
    first, second, *third = family.coefficients
    pairs = first * f[:, None] + second * f[None, :]
    allowed = ~np.eye(len(f), dtype=np.bool_) if first != second else np.triu(np.ones_like(pairs, np.bool_), 1)
    if not third:
        yield from _places(allowed & (np.abs(pairs - at_hz) <= within_hz))
        return
    for c, hz in enumerate(f.tolist()):
        mask = allowed & (np.abs(pairs + third[0] * hz - at_hz) <= within_hz)
        mask[c, :] = mask[:, c] = False
        yield from ((*pair, c) for pair in _places(mask))


def _places(mask: npt.NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    for i, j in np.argwhere(mask):
        yield int(i), int(j)


def _senders(
    job: Job, links: Mapping[str, Link], carriers_hz: Mapping[str, int], heard_by: Link | None
) -> dict[str, int]:
    """Return who may take part: placed links, and other users that make products, that the victim hears."""
    members: list[Link | Other] = [*links.values(), *(o for o in job.others if sends_of(o, True) is not Sends.NOT)]
    return {
        one.id: one.carrier_hz if isinstance(one, Other) else carriers_hz[one.id]
        for one in members
        if heard_by is None or one.id == heard_by.id or hears(job, heard_by, one)
    }


def _within_hz(links: Mapping[str, Link], heard_by: Link | None) -> int:
    """Return how near a product must be: half the receiver's bandwidth, or half the widest one."""
    if heard_by is not None:
        return heard_by.radio.bandwidth_hz // 2
    return max((link.radio.bandwidth_hz for link in links.values()), default=200_000) // 2


# ---------------------------------------------------------------------------------------------------- which packs


def _lower_mw(link: Link, power_mw: float | None) -> float | None:
    """Return the next lower setting of a pack; None where there is none, or the setting is not known."""
    if power_mw is None:
        return None
    return max((one for one in link.radio.power_mw if one < power_mw), default=None)


def _fewest(
    suspects: Sequence[Suspect], links: Mapping[str, Link], lowered: Mapping[str, float | None]
) -> tuple[str, ...]:
    """Return the fewest packs that reach every suspect that can be reached.

    Packs come before in-ear transmitters, which are in somebody's ears: one of these is taken only for a suspect that
    no pack reaches, and last.
    """
    can = [name for name, to_mw in lowered.items() if to_mw is not None]
    packs = {name for name in can if not _in_ear(links[name])}
    rest = [one for one in suspects if not set(one.members) & packs]
    return (*_hitting(suspects, packs), *_hitting(rest, set(can) - packs))


def _hitting(suspects: Sequence[Suspect], names: set[str]) -> tuple[str, ...]:
    """Return the fewest names that meet all suspects that any of them meets, the one with most weight first.

    Each suspect has three generators at most, so trying each of those of one suspect in turn, to a depth that grows by
    one, is exact and quick.
    """
    sets = sorted({found for one in suspects if (found := frozenset(one.members) & names)}, key=lambda s: (len(s), *s))
    weights = {name: sum(one.weight_of(name) for one in suspects) for one in sets for name in one}
    fewest = next(chosen for depth in range(len(sets) + 1) if (chosen := _within(sets, depth, weights)) is not None)
    return tuple(sorted(fewest, key=lambda name: (-weights[name], name)))


def _within(sets: Sequence[frozenset[str]], depth: int, weights: Mapping[str, int]) -> tuple[str, ...] | None:
    """Return at most so many names that meet all sets, or None where there are none."""
    if not sets:
        return ()
    if _disjoint(sets) > depth:
        return None
    for name in sorted(sets[0], key=lambda one: (-weights[one], one)):
        rest = _within([one for one in sets if name not in one], depth - 1, weights)
        if rest is not None:
            return (name, *rest)
    return None


def _disjoint(sets: Sequence[frozenset[str]]) -> int:
    """Return how many sets share nothing with those before them: each needs a name of its own."""
    met: set[str] = set()
    count = 0
    for one in sets:
        if not one & met:
            met |= one
            count += 1
    return count


def _in_ear(link: Link) -> bool:
    return link.radio.direction is Direction.TO_PERSON


# ---------------------------------------------------------------------------------------------------- what it tells


@dataclass(frozen=True, slots=True, kw_only=True)
class _Packs:
    """Our transmitters: what they send now, their next lower settings, and which take part in any suspect."""

    links: Mapping[str, Link]
    powers_mw: Mapping[str, float | None]
    lowered: Mapping[str, float | None]
    taking_part: frozenset[str]


def _drop(link: Link, suspects: Sequence[Suspect], packs: _Packs) -> Drop:
    power_mw, to_mw = packs.powers_mw.get(link.id), packs.lowered[link.id]
    step_db = 10 * math.log10(power_mw / to_mw) if power_mw is not None and to_mw is not None else None
    by_weight: dict[int, list[int]] = {}
    for number, suspect in enumerate(suspects):
        by_weight.setdefault(suspect.weight_of(link.id), []).append(number)
    can = [name for name in sorted(packs.taking_part) if packs.lowered.get(name) is not None and name != link.id]
    outcomes = tuple(
        Outcome(
            db_per_db=weight,
            db=None if step_db is None else -weight * step_db,
            suspects=tuple(numbers),
            then=_splitting([suspects[i] for i in numbers], can, packs.links) if weight else None,
        )
        for weight, numbers in sorted(by_weight.items(), reverse=True)
    )
    return Drop(link=link.id, name=link.name, from_mw=power_mw, to_mw=to_mw, in_ear=_in_ear(link), outcomes=outcomes)


def _splitting(suspects: Sequence[Suspect], names: Sequence[str], links: Mapping[str, Link]) -> str | None:
    """Return the pack that leaves the smallest group of suspects that move alike; in-ears only if no pack does."""
    if len(suspects) < 2:
        return None

    def worst(name: str) -> tuple[bool, int, str]:
        groups = [one.weight_of(name) for one in suspects]
        return _in_ear(links[name]), max(groups.count(weight) for weight in groups), name

    splits = [name for name in names if len({one.weight_of(name) for one in suspects}) > 1]
    return min(splits, key=worst, default=None)

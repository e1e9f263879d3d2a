"""The verifier: whether carriers are free of what their problem forbids, and what comes closest to each of them.

Exact in Hz, and ignorant of how the set was found. It works from the identity
f_a + f_b - f_c - f_v = (f_a - f_c) - (f_v - f_b): the `A+B-C` family asks that differences of carriers stay apart, so a
sorted list of differences decides it in O(N^2 log N) instead of the N^4 of the enumeration.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Problem, Sends
from bandwright.core.products import Relation, family_named, relations
from bandwright.kernels import check

__all__ = ["Hit", "Nearest", "Report", "examine", "nearest"]

_LISTED = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A broken rule between members (indices into the problem).

    `family` is None for spacing (and for a pair that is too far apart: `too_far`). `members` holds the generators in
    the order of the family's letters, or the other carrier of a spacing; `offset_hz` is what there is.
    """

    victim: int
    members: tuple[int, ...]
    family: str | None
    product_hz: int | None
    offset_hz: int
    required_hz: int
    too_far: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """The rule that leaves a member the smallest slack."""

    victim: int
    members: tuple[int, ...]
    family: str | None
    product_hz: int | None
    offset_hz: int
    required_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What the verifier found; `total` counts also the hits beyond the listed ones."""

    hits: tuple[Hit, ...]
    total: int

    @property
    def clean(self) -> bool:
        """Whether nothing is broken."""
        return self.total == 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Air:
    """The placed members of one context, rising in frequency."""

    members: NDArray[np.int64]
    f: NDArray[np.int64]
    sends: NDArray[np.int8]
    own: NDArray[np.bool_]
    least: dict[str, NDArray[np.int64]]


def _members_on_air(problem: Problem, carriers_hz: NDArray[np.int64]) -> NDArray[np.int64]:
    fixed = np.array([item.carrier_hz for item in problem.fixed], np.int64)
    return np.concatenate([np.asarray(carriers_hz, np.int64), fixed])


def _airs(problem: Problem, f: NDArray[np.int64]) -> list[_Air]:
    sends = np.array([Sends.FULLY] * len(problem.wanted) + [item.sends for item in problem.fixed], np.int8)
    own = np.arange(problem.size) < len(problem.wanted)
    least = _least(problem)
    return [
        _Air(
            members=members,
            f=f[members],
            sends=sends[members],
            own=own[members],
            least={family: row[members] for family, row in least.items()},
        )
        for members in _rising_members(problem, f)
    ]


def _least(problem: Problem) -> dict[str, NDArray[np.int64]]:
    """Return, for each family, the clearance that each member asks for."""
    of_choice = np.array([item.choice for item in problem.wanted], np.int64)
    asked_by_choice = [dict(choice.clearance_hz) for choice in problem.choices]
    asked_by_fixed = [dict(item.clearance_hz) for item in problem.fixed]
    return {
        family: np.concatenate(
            [
                np.array([asked.get(family, 0) for asked in asked_by_choice], np.int64)[of_choice],
                np.array([asked.get(family, 0) for asked in asked_by_fixed], np.int64),
            ]
        )
        for family in problem.families()
    }


def _rising_members(problem: Problem, f: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Return the placed members of each context, rising in frequency."""
    in_context: list[list[int]] = [[] for _ in range(problem.contexts)]
    for member, item in enumerate(problem.members):
        for context in item.contexts:
            in_context[context].append(member)
    everyone = [np.array(members, np.int64) for members in in_context]
    placed = [members[f[members] >= 0] for members in everyone]
    return [members[np.argsort(f[members], kind="stable")] for members in placed]


def _vector(relation: Relation) -> NDArray[np.int64]:
    return np.array(relation.coefficients, np.int64)


def _product(relation: Relation, f: NDArray[np.int64], row: Sequence[int]) -> tuple[tuple[int, ...], int]:
    """Return the generators of a row in the family's order and their product."""
    generators = tuple(int(i) for i in row[: len(relation.family.coefficients)])
    return generators, relation.family.product_hz(tuple(int(f[i]) for i in generators))


def _broken(relation: Relation, air: _Air, cap: int) -> tuple[int, NDArray[np.int64]]:
    least = air.least[relation.family.name]
    c = _vector(relation)
    out = np.empty((cap, len(c)), np.int64)
    if len(c) == 2:  # c (f_a - f_b), with both of them making the product
        return check.broken_two(air.f, air.sends, air.own, least, abs(c[0]), relation.victim, out), out
    if len(c) == 3:
        return check.broken_three(air.f, air.sends, air.own, least, c, relation.victim, out), out
    return check.broken_four(air.f, air.sends, air.own, least, c, out), out


def _broken_differences(relation: Relation, air: _Air, cap: int) -> tuple[int, NDArray[np.int64]]:
    """Both relations of `A+B-C` at once."""
    out = np.empty((cap, 4), np.int64)
    keys = check.difference_keys(air.f)
    return check.broken_differences(keys, air.f, air.sends, air.own, air.least[relation.family.name], out), out


def _family_rows(family: str, air: _Air, cap: int) -> list[tuple[Relation, int, NDArray[np.int64]]]:
    """Return (relation, count, rows) of everything a family breaks in one context."""
    every = relations(family_named(family))
    if family == "A+B-C" and _differences_fit_keys(air):
        return [(every[0], *_broken_differences(every[0], air, cap))]
    return [(relation, *_broken(relation, air, cap)) for relation in every]


def _differences_fit_keys(air: _Air) -> bool:
    return len(air.f) <= check.MOST_MEMBERS and int(np.ptp(air.f)) < check.WIDEST_HZ if len(air.f) else True


def examine(problem: Problem, carriers_hz: NDArray[np.int64], *, listed: int = _LISTED) -> Report:
    """Return every rule that the carriers break.

    Parameters
    ----------
    problem
        What must lie between whom.
    carriers_hz : shape (wanted,)
        One carrier for each wanted member, negative for one that is not placed. They need not be candidates.
    listed
        How many hits are listed at most; all are counted, those beyond once for each context they are in.
    """
    f = _members_on_air(problem, carriers_hz)
    hits: dict[tuple[object, ...], Hit] = {}
    total = _spacing_hits(problem, f, hits, listed)
    for air in _airs(problem, f):
        for family in air.least:
            for relation, count, rows in _family_rows(family, air, listed):
                fresh = 0
                for row in rows[: min(count, listed)]:
                    fresh += _note(problem, relation, air, row, hits)
                total += fresh + max(0, count - listed)
    ordered = sorted(hits.values(), key=lambda hit: (hit.offset_hz - hit.required_hz, hit.victim, hit.members))
    return Report(hits=tuple(ordered[:listed]), total=total)


def _note(
    problem: Problem, relation: Relation, air: _Air, row: NDArray[np.int64], hits: dict[tuple[object, ...], Hit]
) -> int:
    generators, product_hz = _product(relation, air.f, row.tolist())
    local = int(row[-1]) if len(row) > len(relation.family.coefficients) else int(row[relation.victim])
    members = tuple(int(air.members[i]) for i in generators)
    victim = int(air.members[local])
    key = (relation.family.name, victim, members)
    if key in hits:
        return 0
    hits[key] = Hit(
        victim=victim,
        members=members,
        family=relation.family.name,
        product_hz=product_hz,
        offset_hz=abs(product_hz - int(air.f[local])),
        required_hz=int(air.least[relation.family.name][local]),
    )
    return 1


def _spacing_hits(problem: Problem, f: NDArray[np.int64], hits: dict[tuple[object, ...], Hit], listed: int) -> int:
    out = np.empty((listed, 2), np.int64)
    placed = np.flatnonzero(f >= 0)
    ours = int(np.searchsorted(placed, len(problem.wanted)))
    count: int = check.broken_pairs(f, placed, ours, problem.near_hz, problem.far_hz, out)
    fresh = 0
    for i, j in out[: min(count, listed)].tolist():
        gap = abs(int(f[i] - f[j]))
        too_far = gap >= problem.near_hz[i, j]
        required = int(problem.far_hz[i, j] if too_far else problem.near_hz[i, j])
        hits["spacing", i, j] = Hit(
            victim=i, members=(j,), family=None, product_hz=None, offset_hz=gap, required_hz=required, too_far=too_far
        )
        fresh += 1
    return fresh + max(0, count - listed)


def nearest(problem: Problem, carriers_hz: NDArray[np.int64]) -> dict[int, Nearest]:
    """Return, for each placed wanted member, the rule that leaves it the smallest slack (offset minus required)."""
    f = _members_on_air(problem, carriers_hz)
    found: dict[int, Nearest] = {}
    _nearest_spacing(problem, f, found)
    for air in _airs(problem, f):
        for family in air.least:
            for relation in relations(family_named(family)):
                if len(relation.coefficients) > 2:
                    _nearest_products(problem, relation, air, found)
    return found


def _nearest_spacing(problem: Problem, f: NDArray[np.int64], found: dict[int, Nearest]) -> None:
    for i in range(len(problem.wanted)):
        if f[i] < 0:
            continue
        asked = (problem.near_hz[i] > 0) & (f >= 0)
        asked[i] = False
        if not asked.any():
            continue
        slack = np.where(asked, np.abs(f - f[i]) - problem.near_hz[i], np.iinfo(np.int64).max)
        j = int(slack.argmin())
        _keep_smaller(
            found,
            Nearest(
                victim=i,
                members=(j,),
                family=None,
                product_hz=None,
                offset_hz=abs(int(f[i] - f[j])),
                required_hz=int(problem.near_hz[i, j]),
            ),
        )


def _nearest_products(problem: Problem, relation: Relation, air: _Air, found: dict[int, Nearest]) -> None:
    least = air.least[relation.family.name]
    best = np.full(len(air.f), check.FAR, np.int64)
    out = np.zeros((len(air.f), len(relation.coefficients)), np.int64)
    if len(relation.coefficients) == 3:
        check.nearest_three(air.f, air.sends, air.own, least, _vector(relation), relation.victim, best, out)
    else:
        check.nearest_four(air.f, air.sends, air.own, least, _vector(relation), best, out)
    for local in np.flatnonzero(best < check.FAR).tolist():
        victim = int(air.members[local])
        if victim >= len(problem.wanted):
            continue
        generators, product_hz = _product(relation, air.f, out[local].tolist())
        _keep_smaller(
            found,
            Nearest(
                victim=victim,
                members=tuple(int(air.members[i]) for i in generators),
                family=relation.family.name,
                product_hz=product_hz,
                offset_hz=abs(product_hz - int(air.f[local])),
                required_hz=int(least[local]),
            ),
        )


def _keep_smaller(found: dict[int, Nearest], candidate: Nearest) -> None:
    before = found.get(candidate.victim)
    if before is None or candidate.offset_hz - candidate.required_hz < before.offset_hz - before.required_hz:
        found[candidate.victim] = candidate

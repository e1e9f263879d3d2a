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
    own = np.array([True] * len(problem.wanted) + [False] * len(problem.fixed), np.bool_)
    least = {family: np.zeros(problem.size, np.int64) for family in problem.families()}
    inside = np.zeros((problem.contexts, problem.size), np.bool_)
    for member in range(problem.size):
        for family, clearance_hz in problem.clearance_of(member):
            least[family][member] = clearance_hz
        inside[list(problem.contexts_of(member)), member] = True
    airs = []
    for context in range(problem.contexts):
        members = np.flatnonzero(inside[context] & (f >= 0))
        members = members[np.argsort(f[members], kind="stable")].astype(np.int64)
        airs.append(
            _Air(
                members=members,
                f=f[members],
                sends=sends[members],
                own=own[members],
                least={family: row[members] for family, row in least.items()},
            )
        )
    return airs


def _vector(relation: Relation) -> NDArray[np.int64]:
    return np.array(relation.coefficients, np.int64)


def _product(relation: Relation, f: NDArray[np.int64], row: Sequence[int]) -> tuple[tuple[int, ...], int]:
    """Return the generators of a row in the family's order and their product."""
    generators = tuple(int(i) for i in row[: len(relation.family.coefficients)])
    return generators, relation.family.product_hz(tuple(int(f[i]) for i in generators))


def _broken(relation: Relation, air: _Air, cap: int) -> tuple[int, NDArray[np.int64]]:
    least = air.least[relation.family.name]
    size = len(relation.coefficients)
    out = np.empty((cap, size), np.int64)
    if size == 2:
        return _broken_two(relation, air, out)
    if size == 3:
        return check.broken_three(air.f, air.sends, air.own, least, _vector(relation), relation.victim, out), out
    return check.broken_four(air.f, air.sends, air.own, least, _vector(relation), out), out


def _broken_two(relation: Relation, air: _Air, out: NDArray[np.int64]) -> tuple[int, NDArray[np.int64]]:
    """Relations over two members: c (f_a - f_b), with both of them making the product."""
    least = air.least[relation.family.name]
    factor = abs(relation.coefficients[0])
    reach = -(-int(least.max(initial=0)) // factor)
    found = 0
    for i in range(len(air.f)):
        for j in range(i + 1, len(air.f)):
            gap = int(air.f[j] - air.f[i])
            if gap >= reach:
                break
            weakest = min(air.sends[i], air.sends[j])
            if weakest == Sends.NOT or (weakest == Sends.WITH_OURS and not (air.own[i] or air.own[j])):
                continue
            for victim, other in ((i, j), (j, i)):
                if factor * gap < least[victim]:
                    if found < len(out):
                        out[found, relation.victim] = victim
                        out[found, 1 - relation.victim] = other
                    found += 1
    return found, out


def _family_rows(family: str, air: _Air, cap: int) -> list[tuple[Relation, int, NDArray[np.int64]]]:
    """Return (relation, count, rows) of everything a family breaks in one context."""
    every = relations(family_named(family))
    if family != "A+B-C":
        return [(relation, *_broken(relation, air, cap)) for relation in every]
    keys = np.sort(check.difference_keys(air.f))
    out = np.empty((cap, 4), np.int64)
    count = check.broken_differences(keys, air.f, air.sends, air.own, air.least[family], out)
    return [(every[0], count, out)]


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
        for family in problem.families():
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
    if min((*members, victim)) >= len(problem.wanted):
        return 0  # among other users only: not ours to mend
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
    placed = np.flatnonzero(f >= 0)
    out = np.empty((listed, 2), np.int64)
    near = problem.near_hz[np.ix_(placed, placed)]
    far = problem.far_hz[np.ix_(placed, placed)]
    count: int = check.broken_pairs(f[placed], near, far, out)
    fresh = 0
    for one, two in out[: min(count, listed)].tolist():
        i, j = int(placed[one]), int(placed[two])
        if i >= len(problem.wanted):
            continue
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
        for family in problem.families():
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

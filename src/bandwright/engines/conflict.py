"""Wishes that cannot hold together: a smallest set of members that is not placed at once, while any one fewer is.

A deletion filter over classes of interchangeable members, after J. Chinneck (ORSA Journal on Computing 3, 1991): leave
out a class if what remains still cannot be placed, else keep as few of it as still cannot. Whether a set can be placed
is asked of the bounds and the exact search (then it is proven), and of the search (whose failure only makes it
suspected). All effort is counted in polls and nodes.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from bandwright.core.planning.bounds import Bound, upper_bound
from bandwright.core.planning.groups import group_members
from bandwright.core.planning.problem import Problem
from bandwright.engines.exact import most_placed, placeable
from bandwright.engines.solve import solve
from bandwright.engines.stop import Stop

__all__ = ["Clash", "Findings", "ceiling", "clashes", "least_change", "only", "until"]

_POLLS = 16
_POLLS_EASED = 12
# What the exact search may spend: nodes times candidates, since a node costs about as much as there are candidates.
_VISITS = 4_000_000
_VISITS_AT_LAST = 20_000_000
_VISITS_EASED = 1_000_000
_LEAST_NODES = 500
_MOST_CLASHES = 3
_SHARE = 0.25  # of the time that the search may take
_AGAIN = 4  # times that a set taken for a clash may turn out to fit


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Members (indices into `Problem.wanted`) that are not placed at once; any one fewer of them are.

    `proven` tells whether no carriers for all of them exist, or whether none were found.
    """

    members: tuple[int, ...]
    proven: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """Clashes, and what came to light on the way.

    `better_hz` are carriers (-1 = not placed) that place more members than were placed before, at some priority, and
    nowhere fewer; None where none such were met.
    """

    clashes: tuple[Clash, ...]
    better_hz: tuple[int, ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Verdict:
    """Whether members can be placed at once: True (on these carriers), False (proven not), None (none were found)."""

    fits: bool | None
    carriers_hz: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Judge:
    """Asks whether all members of a problem can be placed at once, with so many polls of the search."""

    seed: int
    ended: Callable[[], bool]
    polls: int = _POLLS

    def of(self, problem: Problem, *, visits: int = _VISITS) -> _Verdict:
        if self.ended():
            raise Stop("time")
        if upper_bound(problem).upper_bound < len(problem.wanted):
            return _Verdict(fits=False)
        left = iter(range(self.polls))
        outcome = solve(
            problem,
            seed=self.seed,
            polish=False,
            time_limit_s=float("inf"),
            cancelled=lambda: self.ended() or next(left, None) is None,
        )
        if outcome.placed == len(problem.wanted):
            return _Verdict(fits=True, carriers_hz=outcome.carriers_hz)
        answer = placeable(problem, effort=_nodes(problem, visits), cancelled=self.ended)
        return _Verdict(fits=answer.verdict, carriers_hz=answer.carriers_hz)


def until(
    search_limit_s: float, cancelled: Callable[[], bool], *, seconds: Callable[[], float] = time.monotonic
) -> Callable[[], bool]:
    """Return what `clashes` and `least_change` are ended by together: a hand, or a quarter of a search's time limit."""
    ends = seconds() + _SHARE * search_limit_s
    return lambda: cancelled() or seconds() >= ends


def only(problem: Problem, members: Sequence[int]) -> Problem:
    """Return the problem of some wanted members alone, beside the same given carriers."""
    kept = np.array([*members, *range(len(problem.wanted), problem.size)], np.int64)
    return replace(
        problem,
        wanted=tuple(problem.wanted[member] for member in members),
        near_hz=problem.near_hz[np.ix_(kept, kept)],
        far_hz=problem.far_hz[np.ix_(kept, kept)],
    )


def ceiling(
    problem: Problem,
    members: Sequence[int],
    carriers_hz: Sequence[int],
    *,
    known: Bound | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Bound:
    """Return how many of some members can be placed together at most: counted, or by exact search where that is less.

    Parameters
    ----------
    problem
        What was planned.
    members
        Those that count; the others are left out as if they were not there.
    carriers_hz : shape (wanted,)
        What came out, -1 = not placed: the exact search looks for more only.
    known
        What bounds all wanted members, as far as that is known already.
    """
    counted = upper_bound(problem, members)
    if known is not None and known.upper_bound < counted.upper_bound:
        counted = known
    if counted.upper_bound == sum(carriers_hz[member] >= 0 for member in members):
        return counted
    proof = most_placed(
        problem,
        members=members,
        known_hz=carriers_hz,
        effort=_nodes(problem, _VISITS_AT_LAST),
        cancelled=cancelled,
    )
    if proof.upper_bound < counted.upper_bound:
        return Bound(upper_bound=proof.upper_bound, method="exact search")
    return counted


def _nodes(problem: Problem, visits: int) -> int:
    candidates = sum(len(problem.choices[item.choice].carriers_hz) for item in problem.wanted)
    return max(_LEAST_NODES, visits * len(problem.wanted) // max(1, candidates))


def clashes(
    problem: Problem,
    carriers_hz: Sequence[int],
    *,
    seed: int = 1,
    cancelled: Callable[[], bool] = lambda: False,
) -> Findings:
    """Return sets of members that cannot hold together, for what has no carrier: a few at most, the first ones first.

    Parameters
    ----------
    problem
        What was planned.
    carriers_hz : shape (wanted,)
        What came out, -1 = not placed.
    cancelled
        Asked between steps; True ends it with those already found.
    """
    judge = _Judge(seed=seed, ended=cancelled)
    crowd = _Crowded(problem, carriers_hz, judge)
    found: list[Clash] = []
    with suppress(Stop):
        found.extend(_each(crowd))
    return Findings(clashes=tuple(found), better_hz=crowd.better_hz)


class _Crowded:
    """A problem of which something is not placed, in classes of members that may change places: those placed first."""

    def __init__(self, problem: Problem, carriers_hz: Sequence[int], judge: _Judge) -> None:
        self.problem = problem
        self.carriers_hz = carriers_hz
        self.judge = judge
        self.classes = [
            sorted(inside, key=lambda member: (carriers_hz[member] < 0, member))
            for inside in group_members(problem, range(len(problem.wanted))).classes
        ]
        self.better_hz: tuple[int, ...] | None = None
        placed = tuple(sum(carriers_hz[member] >= 0 for member in inside) for inside in self.classes)
        self.asked: dict[tuple[int, ...], bool | None] = {placed: True}

    def members(self, counts: Sequence[int]) -> tuple[int, ...]:
        """Return the first so many of each class."""
        return tuple(sorted(m for inside, n in zip(self.classes, counts, strict=True) for m in inside[:n]))

    def fits(self, counts: Sequence[int], *, visits: int = _VISITS) -> bool | None:
        """Whether so many of each class are placed at once; what follows from answers before is not asked again."""
        key = tuple(counts)
        if any(fit and _within(key, more) for more, fit in self.asked.items()):
            return True
        if key not in self.asked or (self.asked[key] is None and visits > _VISITS):
            members = self.members(key)
            verdict = self.judge.of(only(self.problem, members), visits=visits)
            self.asked[key] = verdict.fits
            if verdict.fits:
                self._offer(members, verdict.carriers_hz)
        return self.asked[key]

    def _offer(self, members: Sequence[int], carriers_hz: Sequence[int]) -> None:
        """Keep carriers that place more than was placed before."""
        offered = np.full(len(self.problem.wanted), -1, np.int64)
        offered[list(members)] = carriers_hz
        before = _placed_at(self.problem, self.carriers_hz if self.better_hz is None else self.better_hz)
        now = _placed_at(self.problem, offered.tolist())
        if now != before and all(one >= two for one, two in zip(now, before, strict=True)):
            self.better_hz = tuple(offered.tolist())


def _within(counts: Sequence[int], more: Sequence[int]) -> bool:
    return all(one <= two for one, two in zip(counts, more, strict=True))


def _placed_at(problem: Problem, carriers_hz: Sequence[int]) -> list[int]:
    """Return how many are placed at each priority."""
    pairs = list(zip(problem.wanted, carriers_hz, strict=True))
    levels = sorted({item.priority for item in problem.wanted})
    return [sum(item.priority == level and hz >= 0 for item, hz in pairs) for level in levels]


def _each(crowd: _Crowded) -> Iterator[Clash]:
    problem, carriers_hz, classes = crowd.problem, crowd.carriers_hz, crowd.classes
    lacking = [c for c, inside in enumerate(classes) if any(carriers_hz[member] < 0 for member in inside)]
    lacking.sort(key=lambda c: -max(problem.wanted[m].priority for m in classes[c] if carriers_hz[m] < 0))
    told: set[int] = set()
    for c in lacking:
        if c in told or len(told) >= _MOST_CLASHES:
            continue
        clash, inside = _smallest(crowd, c)
        told.update(inside)
        if clash is not None:
            yield clash


def _smallest(crowd: _Crowded, last: int) -> tuple[Clash | None, list[int]]:
    """Return a smallest set with members of class `last`, which is thinned out last, and the classes it is of."""
    order = [*_farthest_first(crowd.problem, crowd.classes, last), last]
    for _ in range(_AGAIN):
        counts = _thinned(crowd, order)
        verdict = crowd.fits(counts, visits=_VISITS_AT_LAST)
        if not verdict:
            inside = [c for c, count in enumerate(counts) if count]
            return Clash(members=crowd.members(counts), proven=verdict is False), inside
    return None, [last]


def _thinned(crowd: _Crowded, order: Sequence[int]) -> list[int]:
    """Return how many of each class are left when as few are kept, class after class, as are still not placed."""
    counts = [len(inside) for inside in crowd.classes]
    alone = [count if c == order[-1] else 0 for c, count in enumerate(counts)]
    if not crowd.fits(alone):
        counts = alone
    for c in order:
        counts[c] = _fewest(counts, c, crowd.fits)
    return counts


def _fewest(counts: Sequence[int], c: int, fits: Callable[[Sequence[int]], bool | None]) -> int:
    """Return the fewest of class c that, with what else counts, still are not placed."""
    trial = list(counts)
    fit, unfit = -1, counts[c]
    while unfit - fit > 1:
        trial[c] = (fit + unfit) // 2 if fit >= 0 else 0
        if fits(trial):
            fit = trial[c]
        else:
            unfit = trial[c]
    return unfit


def _farthest_first(problem: Problem, classes: Sequence[Sequence[int]], last: int) -> list[int]:
    """Return the other classes: first those that share no context with the last one, then those of lower priority."""
    own = problem.wanted[classes[last][0]]

    def nearness(c: int) -> tuple[bool, bool, int, int]:
        item = problem.wanted[classes[c][0]]
        shared = bool(set(own.contexts) & set(item.contexts))
        same = problem.choices[own.choice].name == problem.choices[item.choice].name
        return shared, same, item.priority, c

    return sorted((c for c in range(len(classes)) if c != last), key=nearness)


def least_change(
    problems: Sequence[Callable[[], Problem]],
    *,
    seed: int = 1,
    cancelled: Callable[[], bool] = lambda: False,
) -> int | None:
    """Return the index of the first problem all of whose members are placed; None where none was found.

    The problems get easier from one to the next, so that halving finds it; each is built when it is asked about.
    """
    judge = _Judge(seed=seed, ended=cancelled, polls=_POLLS_EASED)
    unfit, fit = -1, len(problems)
    with suppress(Stop):
        while fit - unfit > 1:
            middle = len(problems) - 1 if fit == len(problems) else (unfit + fit) // 2
            if judge.of(problems[middle](), visits=_VISITS_EASED).fits:
                fit = middle
            elif middle == len(problems) - 1:
                return None
            else:
                unfit = middle
    return fit if fit < len(problems) else None

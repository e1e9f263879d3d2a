"""The order in which links change carrier, so that nobody meets on the way what the new plan keeps apart.

A link goes to its new carrier only when that is clean beside everybody as they sit at that moment: those who moved
already on their new carriers, the others still on their old ones. Where the links wait for each other in a circle,
one of them takes a spare carrier for a while, or is switched off first.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Problem
from bandwright.core.planning.verify import examine

__all__ = ["Action", "MoveStep", "order_moves"]

_MOST_TRIED = 10  # with more movers than this the order is made step by step, without looking ahead


class Action(StrEnum):
    """What is done to a link in one step."""

    RETUNE = "retune"
    PARK = "retune for now"
    OFF = "switch off"
    ON = "switch on"


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveStep:
    """One step: what is done to a member of the problem, from where to where (-1 = off). `at_break`: not before."""

    member: int
    action: Action
    from_hz: int
    to_hz: int
    at_break: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Task:
    """A member's way to a carrier, by way of another one (`via`, -1 = off) where that is not None."""

    member: int
    via: int | None = None


@dataclass(slots=True, kw_only=True, eq=False)
class _Air:
    """Who sits where before and after, and which states are clean: each is looked at once."""

    problem: Problem
    before: NDArray[np.int64]
    after: NDArray[np.int64]
    movers: tuple[int, ...]
    later: frozenset[int]
    troubled: frozenset[int]
    seen: dict[bytes, bool]

    def clean(self, carriers: NDArray[np.int64]) -> bool:
        """Whether nothing is broken by somebody who is not on his old carrier."""
        key = carriers.tobytes()
        if key not in self.seen:
            moved = {m for m in self.movers if carriers[m] != self.before[m]}
            hits = examine(self.problem, carriers).hits
            self.seen[key] = not any(moved & {hit.victim, *hit.members} for hit in hits)
        return self.seen[key]


def order_moves(
    problem: Problem,
    *,
    before: Sequence[int],
    after: Sequence[int],
    later: Sequence[int] = (),
    troubled: Sequence[int] = (),
    spare_hz: Mapping[int, Sequence[int]] | None = None,
) -> tuple[MoveStep, ...]:
    """Return the steps from one set of carriers to another, each state on the way as clean as possible.

    Parameters
    ----------
    problem
        The rules between the members.
    before, after : shape (wanted,)
        Carriers, -1 for off. `after` keeps the rules.
    later
        Members that may not be touched before the next break.
    troubled
        Members that are in trouble where they are: they go first where the order is free.
    spare_hz
        For each member the carriers on which it may wait for a while.
    """
    one, two = np.asarray(before, np.int64), np.asarray(after, np.int64)
    air = _Air(
        problem=problem,
        before=one,
        after=two,
        movers=tuple(np.flatnonzero(one != two).tolist()),
        later=frozenset(later),
        troubled=frozenset(troubled),
        seen={},
    )
    if not air.movers:
        return ()
    if len(air.movers) > _MOST_TRIED:
        return _step_by_step(air)
    return _looking_ahead(air, spare_hz or {})


def _looking_ahead(air: _Air, spare_hz: Mapping[int, Sequence[int]]) -> tuple[MoveStep, ...]:
    """Return the best order of all; by way of a spare carrier or of switching off where none is clean."""
    plain = tuple(_Task(member=m) for m in air.movers)
    found = _best_order(air, plain)
    if found is not None:
        return found
    seated = [m for m in air.movers if air.before[m] >= 0]
    ways = [(m, hz) for m in sorted(seated, key=lambda m: _reluctance(air, m)) for hz in spare_hz.get(m, ())]
    for m, hz in ways:
        found = _best_order(air, tuple(_Task(member=t.member, via=hz if t.member == m else None) for t in plain))
        if found is not None:
            return found
    for count in range(1, len(seated) + 1):
        for chosen in sorted(
            itertools.combinations(seated, count),
            key=lambda c: [sum(x) for x in zip(*(_reluctance(air, m) for m in c), strict=True)],
        ):
            found = _best_order(
                air, tuple(_Task(member=t.member, via=-1 if t.member in chosen else None) for t in plain)
            )
            if found is not None:
                return found
    return _step_by_step(air)


def _reluctance(air: _Air, member: int) -> tuple[bool, bool, int]:
    """Return how much one would rather not disturb a member: those that wait for a break, then those in no trouble."""
    return member in air.later, member not in air.troubled, member


def _best_order(air: _Air, tasks: Sequence[_Task]) -> tuple[MoveStep, ...] | None:
    """Return the order with the fewest that wait for a break in vain, those in trouble early; None where none is clean.

    A state is the set of what is done; each task with a `via` has two parts, the second after the first.
    """
    parts = [(task.member, first) for task in tasks for first in ((True, False) if task.via is not None else (False,))]
    via = {task.member: task.via for task in tasks if task.via is not None}
    best: dict[int, tuple[tuple[int, int, tuple[int, ...]], tuple[int, ...]]] = {0: ((0, 0, ()), ())}
    frontier = [0]
    for position in range(len(parts)):
        reached: dict[int, tuple[tuple[int, int, tuple[int, ...]], tuple[int, ...]]] = {}
        for state in frontier:
            cost, order = best[state]
            for part, (member, first) in enumerate(parts):
                if state >> part & 1 or (not first and member in via and not state >> (part - 1) & 1):
                    continue
                fresh = state | 1 << part
                if not air.clean(_carriers(air, parts, via, fresh)):
                    continue
                delayed = member not in air.later and any(parts[p][0] in air.later for p in order)
                price = (cost[0] + delayed, cost[1] + position * (member in air.troubled), (*cost[2], member))
                if fresh not in reached or price < reached[fresh][0]:
                    reached[fresh] = price, (*order, part)
        best |= reached
        frontier = sorted(reached)
    full = (1 << len(parts)) - 1
    return _steps(air, [(parts[p], via) for p in best[full][1]]) if full in best else None


def _carriers(air: _Air, parts: Sequence[tuple[int, bool]], via: Mapping[int, int], state: int) -> NDArray[np.int64]:
    carriers = air.before.copy()
    for part, (member, first) in enumerate(parts):
        if state >> part & 1:
            carriers[member] = via[member] if first else air.after[member]
    return carriers


def _steps(air: _Air, order: Sequence[tuple[tuple[int, bool], Mapping[int, int]]]) -> tuple[MoveStep, ...]:
    now = air.before.copy()
    at_break = False
    steps = []
    for (member, first), via in order:
        at_break = at_break or member in air.later
        to_hz = int(via[member] if first else air.after[member])
        steps.append(_step(now, member, to_hz, at_break=at_break, parking=first))
    return tuple(steps)


def _step(now: NDArray[np.int64], member: int, to_hz: int, *, at_break: bool, parking: bool = False) -> MoveStep:
    """Return the step that takes a member to a carrier, and write down that it is there."""
    from_hz = int(now[member])
    now[member] = to_hz
    action = Action.PARK if parking else Action.RETUNE
    if to_hz < 0:
        action = Action.OFF
    elif from_hz < 0:
        action = Action.ON
    return MoveStep(member=member, action=action, from_hz=from_hz, to_hz=to_hz, at_break=at_break)


def _step_by_step(air: _Air) -> tuple[MoveStep, ...]:
    """Take whoever can go next; where nobody can, switch off everybody in the way of the one with fewest of them."""
    now = air.before.copy()
    left = sorted(air.movers, key=lambda m: _reluctance(air, m))
    steps: list[MoveStep] = []
    while left:
        ready = next((m for m in left if air.clean(_with(now, m, int(air.after[m])))), None)
        at_break = any(step.at_break for step in steps)
        if ready is None:
            ready, blockers = min(((m, _blockers(air, now, m)) for m in left), key=lambda item: (len(item[1]), item[0]))
            for m in blockers:
                at_break = at_break or m in air.later
                steps.append(_step(now, m, -1, at_break=at_break))
        left.remove(ready)
        steps.append(_step(now, ready, int(air.after[ready]), at_break=at_break or ready in air.later))
    return tuple(steps)


def _blockers(air: _Air, now: NDArray[np.int64], member: int) -> list[int]:
    """Return who must be off before a member can go to its new carrier."""
    trial = _with(now, member, int(air.after[member]))
    off = []
    while hits := [h for h in examine(air.problem, trial).hits if member in (h.victim, *h.members)]:
        old = [m for m in (hits[0].victim, *hits[0].members) if m in air.movers and trial[m] == air.before[m] >= 0]
        if not old:
            break
        off.append(old[0])
        trial[old[0]] = -1
    return off


def _with(carriers: NDArray[np.int64], member: int, hz: int) -> NDArray[np.int64]:
    changed = carriers.copy()
    changed[member] = hz
    return changed

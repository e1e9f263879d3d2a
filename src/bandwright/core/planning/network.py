"""Frequency assignment in its compact form: groups of alike calls, slots of a grid, and what must lie between them.

A *call* is one carrier to be found, a *group* a number of calls that nothing tells apart, a *slot* a place on an evenly
spaced grid, the *span* the highest slot in use less the lowest. A `Problem` of separations alone becomes a `Network` by
`grouped`, which finds the groups and the grid.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Choice, Problem, Wanted

__all__ = ["Grouped", "Network", "broken_separations", "expanded", "grouped"]

_MOST_CELLS = 100_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """How many calls each group asks for, and the least distances between them.

    Attributes
    ----------
    demand : shape (groups,)
        Calls of each group, at least 0.
    separation : shape (groups, groups)
        Least distance of two calls in slots: 0 none, 1 not on one slot. Symmetric; the diagonal is between calls of one
        group.
    may_use : shape (groups, slots), optional
        Whether a group may use a slot. Without it the grid has no ends.
    importance : shape (groups,), optional
        Where not everything fits, groups with more of it are served first.
    """

    demand: NDArray[np.int64]
    separation: NDArray[np.int64]
    may_use: NDArray[np.bool_] | None = None
    importance: NDArray[np.int64] | None = None

    def __post_init__(self) -> None:
        groups = len(self.demand)
        if self.demand.ndim != 1 or np.any(self.demand < 0):
            raise ValueError("demand is one list with a number of calls, 0 or more, for each group")
        shape = self.separation.shape
        if shape != (groups, groups) or np.any(self.separation < 0) or np.any(self.separation != self.separation.T):
            raise ValueError(
                f"separation is a symmetric matrix over all {groups} groups, 0 or more; given shape {shape}"
            )
        if self.may_use is not None and (self.may_use.ndim != 2 or len(self.may_use) != groups):
            raise ValueError(f"may_use has one row of slots for each of {groups} groups; given {self.may_use.shape}")
        if self.importance is not None and self.importance.shape != (groups,):
            raise ValueError(f"importance is one number for each of {groups} groups; given {self.importance.shape}")

    @property
    def groups(self) -> int:
        """Number of groups."""
        return len(self.demand)

    @property
    def calls(self) -> int:
        """Number of calls of all groups."""
        return int(self.demand.sum())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grouped:
    """A problem as a network: which group each wanted member is in, and where slot 0 and the next ones lie."""

    network: Network
    group_of: NDArray[np.int64]
    origin_hz: int
    step_hz: int

    def carriers_hz(self, slots: tuple[tuple[int, ...], ...]) -> tuple[int, ...]:
        """Return a carrier for each wanted member from the slots of each group, -1 where they do not suffice."""
        waiting = [iter(row) for row in slots]
        given = [next(waiting[group], None) for group in self.group_of.tolist()]
        return tuple(-1 if slot is None else self.origin_hz + self.step_hz * slot for slot in given)


def broken_separations(network: Network, slots: tuple[tuple[int, ...], ...]) -> int:
    """Return how many pairs of calls are nearer than their separation, by comparing all pairs."""
    rows = [np.array(row, np.int64) for row in slots]
    broken = 0
    for g, h in itertools.combinations_with_replacement(range(network.groups), 2):
        near = int(np.sum(np.abs(rows[g][:, None] - rows[h][None, :]) < network.separation[g, h]))
        own = len(rows[g]) if g == h and network.separation[g, g] > 0 else 0  # each call with itself
        broken += (near - own) // (2 if g == h else 1)
    return broken


def expanded(network: Network, *, slots: int, step_hz: int = 1) -> Problem:
    """Return a problem with one wanted member for each call, group after group, on slots 0 to `slots` - 1."""
    group_of = np.repeat(np.arange(network.groups), network.demand)
    near = network.separation[np.ix_(group_of, group_of)] * step_hz
    np.fill_diagonal(near, 0)
    open_slots = np.ones((network.groups, slots), np.bool_) if network.may_use is None else network.may_use[:, :slots]
    choices = tuple(
        Choice(
            name=str(group),
            carriers_hz=np.flatnonzero(row).astype(np.int64) * step_hz,
            wish=np.zeros(int(row.sum()), np.int64),
            clearance_hz=(),
        )
        for group, row in enumerate(open_slots)
    )
    importance = np.zeros(network.groups, np.int64) if network.importance is None else network.importance
    wanted = tuple(
        Wanted(id=str(i), choice=group, priority=int(importance[group])) for i, group in enumerate(group_of.tolist())
    )
    return Problem(choices=choices, wanted=wanted, near_hz=near)


def grouped(problem: Problem) -> Grouped:
    """Return the network of a problem that holds nothing but separations (`near_hz`), exactly.

    Fixed members close the slots that are too near to them. Members with the same choice, priority and separations are
    one group. A problem with clearances from products or with `far_hz` is refused: that is work for `solve`.
    """
    if problem.families() or np.any(problem.far_hz):
        raise ValueError("only separations are asked for here; problems with products or far_hz are for solve()")
    used = sorted({item.choice for item in problem.wanted})
    every = np.unique(np.concatenate([problem.choices[q].carriers_hz for q in used] or [np.zeros(0, np.int64)]))
    if len(every) == 0:
        every = np.zeros(1, np.int64)
    origin_hz = int(every[0])
    step_hz = int(np.gcd.reduce(np.diff(every))) if len(every) > 1 else 1
    slots = (int(every[-1]) - origin_hz) // step_hz + 1
    group_of, firsts = _groups(problem)
    if slots * len(firsts) > _MOST_CELLS:
        raise ValueError(
            f"{len(firsts)} groups on {slots} slots of {step_hz} Hz are more than {_MOST_CELLS} places; "
            "give carriers on a common, coarser grid"
        )
    may_use = np.zeros((len(firsts), slots), np.bool_)
    for group, member in enumerate(firsts):
        may_use[group, (_beside_fixed(problem, member) - origin_hz) // step_hz] = True
    near = -(-problem.near_hz // step_hz)
    separation = near[np.ix_(firsts, firsts)]
    np.fill_diagonal(separation, _within(near, group_of, len(firsts)))
    network = Network(
        demand=np.bincount(group_of, minlength=len(firsts)).astype(np.int64),
        separation=separation,
        may_use=may_use,
        importance=np.array([problem.wanted[member].priority for member in firsts], np.int64),
    )
    return Grouped(network=network, group_of=group_of, origin_hz=origin_hz, step_hz=step_hz)


def _groups(problem: Problem) -> tuple[NDArray[np.int64], list[int]]:
    """Return the group of each wanted member, and the first member of each group."""
    firsts: list[int] = []
    kind = [(item.choice, item.priority) for item in problem.wanted]
    group_of = np.zeros(len(kind), np.int64)
    for member in range(len(kind)):
        for group, first in enumerate(firsts):
            if kind[first] == kind[member] and problem.bound_alike(first, member):
                group_of[member] = group
                break
        else:
            group_of[member] = len(firsts)
            firsts.append(member)
    return group_of, firsts


def _within(near: NDArray[np.int64], group_of: NDArray[np.int64], groups: int) -> list[int]:
    """Return the separation between two members of each group (1 where there is but one)."""
    within = []
    for group in range(groups):
        members = np.flatnonzero(group_of == group)
        within.append(int(near[members[0], members[1]]) if len(members) > 1 else 1)
    return within


def _beside_fixed(problem: Problem, member: int) -> NDArray[np.int64]:
    """Return the candidates of a wanted member that keep away from every fixed one."""
    carriers = problem.choices[problem.wanted[member].choice].carriers_hz
    for index, item in enumerate(problem.fixed, start=len(problem.wanted)):
        carriers = carriers[np.abs(carriers - item.carrier_hz) >= problem.near_hz[member, index]]
    return carriers

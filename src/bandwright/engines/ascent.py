"""Sets grown upwards in frequency, many at a time: the ones that leave most room above them are kept.

At each step every kept set is followed by the lowest free candidates of each group of interchangeable members. What a
set is worth is how many free candidates are left above it for those still wanted. It finds dense sets where tabu moves
no longer do, and in wide bands.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bandwright.engines.moves import greedy, order_of
from bandwright.engines.raster import Layout, State, new_state
from bandwright.engines.run import Run
from bandwright.kernels import ascend
from bandwright.kernels.search import put_member

__all__ = ["ascend_band"]

_PARENTS_AT_A_TIME = 64
_MANY_GROUPS = 3
_FINISHED = 20  # how many of the last sets are filled up


def _groups_of(run: Run, layout: Layout, members: NDArray[np.int64]) -> list[list[int]]:
    """Return groups of interchangeable members: of one seat, with equal distances to everybody else."""
    near, far = run.problem.near_hz, run.problem.far_hz
    groups: list[list[int]] = []
    known: dict[tuple[object, ...], list[int]] = {}
    for m in members[np.lexsort((members, -run.priority[members]))].tolist():
        alike = np.flatnonzero(layout.seat_of == layout.seat_of[m])
        apart = near[m, alike[alike != m]]
        usual = int(np.bincount(np.unique(apart, return_inverse=True)[1]).argmax()) if len(apart) else 0
        own = near[m].copy()
        own[m] = np.unique(apart)[usual] if len(apart) else 0
        key = (int(layout.seat_of[m]), own.tobytes(), far[m].tobytes())
        if key not in known:
            known[key] = []
            groups.append(known[key])
        known[key].append(m)
    return groups


def ascend_band(run: Run, layout: Layout, members: NDArray[np.int64], *, width: int, tries: int, lot: int = 0) -> None:
    """Grow sets of `members` upwards, keeping the `width` best at each step; offer the best of the last.

    Parameters
    ----------
    run, layout, members
        The search, the cells, and which wanted members to place.
    width
        How many partial sets are kept.
    tries
        How many candidates of each group follow a set.
    lot
        Above 0, scores are shaken a little, so that another lot gives other sets.
    """
    few = layout.candidates_of_seat[layout.seat_of[members]]
    state = new_state(layout, seed=run.seed * 64 + lot)
    greedy(state, order_of(run, layout, members[few == 1]), leftmost=True, only_clean=True)
    groups = _groups_of(run, layout, members[few > 1])
    total = sum(len(group) for group in groups)
    if total == 0:
        run.offer_state(state)
        return
    group_start = np.cumsum([0, *(len(group) for group in groups)]).astype(np.int64)
    group_list = np.array([m for group in groups for m in group], np.int64)
    sets = np.zeros((1, total), np.int64), np.zeros((1, total), np.int64)
    stack = np.zeros((2, total + 1), np.int64)
    if len(groups) > _MANY_GROUPS:  # each set then costs the square of their number
        width = max(8, width * _MANY_GROUPS**2 // len(groups) ** 2)
    jitter = 0.02 * lot / (1 + lot)
    last: tuple[NDArray[np.int64], NDArray[np.int64]] = sets
    depth = 0
    while depth < total:
        rows = []
        for first in range(0, len(sets[0]), _PARENTS_AT_A_TIME):
            many = min(_PARENTS_AT_A_TIME, len(sets[0]) - first)
            child = np.zeros((many * tries * len(groups), 4))
            found = ascend.follow_up(
                first, first + many, depth, *sets, tries, jitter, group_start, group_list, layout.rising_start,
                layout.rising, layout.carrier_hz, layout.rules, state.air, stack, child,
            )  # fmt: skip
            run.moves += found
            rows.append(child[:found])
            if run.over():
                break
        every = np.concatenate(rows)
        if len(every) == 0:
            break
        kept = np.sort(np.argsort(-every[:, 3], kind="stable")[:width])
        parent = every[kept, 0].astype(np.int64)
        sets = sets[0][parent], sets[1][parent]
        sets[0][:, depth] = every[kept, 1]
        sets[1][:, depth] = every[kept, 2]
        best_first = np.argsort(-every[kept, 3], kind="stable")[:_FINISHED]
        last = sets[0][best_first], sets[1][best_first]
        depth += 1
        if run.over():
            break
    _finish(run, layout, last, depth, seed=run.seed * 64 + lot)
    run.pause()


def _finish(
    run: Run, layout: Layout, sets: tuple[NDArray[np.int64], NDArray[np.int64]], depth: int, *, seed: int
) -> None:
    """Fill up each of the last sets with whoever still fits, and offer it."""
    everyone = np.arange(run.wanted, dtype=np.int64)
    for members, entries in zip(*sets, strict=True):
        state: State = new_state(layout, seed=seed)
        for member, entry in zip(members[:depth].tolist(), entries[:depth].tolist(), strict=True):
            put_member(member, entry, layout.rules, state.air)
        greedy(state, order_of(run, layout, everyone), leftmost=False, only_clean=True)
        run.offer_state(state)
        if run.complete:
            return

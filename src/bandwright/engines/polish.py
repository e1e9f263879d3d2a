"""Better carriers for the links that are placed: room for all, a ladder of margins, then the quietest candidates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import AVOID
from bandwright.engines.moves import greedy, load, order_of, tabu
from bandwright.engines.raster import Layout, State, lay_out, new_state
from bandwright.engines.run import Run
from bandwright.kernels import search
from bandwright.kernels.counts import BIG, scan_member

__all__ = ["polish"]

_LADDER = (1.25, 1.5, 2.0)
_MOVES_LADDER = 1_000
_ROUNDS = 3
_SETTLED = 6


def polish(run: Run) -> float:
    """Make room with the same links placed: in a soft sum first, then at the worst; then choose quieter carriers.

    What is to be avoided comes before room: nobody moves to such a candidate for the sake of a margin. Returns the
    margin: by how much every rule could be tightened.
    """
    run.tell("widening margins")
    ceiling = _worst_wish(run)
    pool = tuple(choice.wish <= ceiling for choice in run.problem.choices)
    rungs = _Rungs(run=run, pool=pool)
    margin = 1.0
    _settle(run, rungs.at(margin), avoided_only=True)
    _spread(run, rungs, margin)
    for scale in _LADDER:
        found = _fit(run, rungs.at(scale))
        if found is None or _avoided(run, found) > _avoided(run, run.best):
            break
        run.best, margin = found, scale
    if margin > 1.0:
        _spread(run, rungs, margin)
    run.tell("choosing the quietest carriers")
    _settle(run, rungs.at(margin))
    return 1.0 if _settle(run, rungs.at(1.0), avoided_only=True) else margin


def _settle(run: Run, layout: Layout, *, avoided_only: bool = False) -> bool:
    """Move members (or only those on what is to be avoided) to better candidates one by one; whether anybody moved."""
    members = np.arange(run.wanted, dtype=np.int64)
    if avoided_only:
        members = members[_wishes(run, run.best) >= AVOID]
    if len(members) == 0:
        return False
    state = new_state(layout, seed=run.seed)
    load(state, run.best)
    rounds = 0
    while rounds < _SETTLED and search.settle(members, layout.rules, state.air):
        run.best = state.carriers_hz()
        rounds += 1
        run.pause()
    return rounds > 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rungs:
    """The same candidates laid out under rules tightened by some factors, each once."""

    run: Run
    pool: tuple[NDArray[np.bool_], ...]
    laid_out: dict[float, Layout] = field(default_factory=dict)

    def at(self, scale: float) -> Layout:
        if scale not in self.laid_out:
            self.laid_out[scale] = lay_out(self.run.problem, scale=scale, pool=self.pool, pause=self.run.pause)
        return self.laid_out[scale]


def _spread(run: Run, rungs: _Rungs, margin: float) -> None:
    """Move members one at a time to where fewest relations have little room, all keeping `margin`.

    What is summed over the relations of a member is how many rungs each of them breaks, lower rungs counting double:
    a sum that every relation has a part in falls where the worst alone stays as it is.
    """
    base = rungs.at(margin)
    tighter = [rungs.at(scale) for scale in _LADDER if scale > margin]
    layouts = [base, *(layout for layout in tighter if np.array_equal(layout.carrier_hz, base.carrier_hz))]
    if len(layouts) == 1:
        return
    states = [new_state(layout, seed=run.seed) for layout in layouts]
    everyone, entries = np.arange(run.wanted, dtype=np.int64), base.entries_of(run.best)
    for state in states:  # by entry: a tighter layout may have closed where somebody is
        search.load_members(everyone, entries, state.layout.rules, state.air)
    for _ in range(_ROUNDS):
        moved = sum(_moved(states, member) for member in np.flatnonzero(run.best >= 0).tolist())
        run.best = states[0].carriers_hz()
        run.pause()
        if not moved:
            break


def _moved(states: Sequence[State], member: int) -> bool:
    """Move one member to where it is least crowded, which may be where it is; whether it moved."""
    rules = states[0].layout.rules
    first, last = rules.entry_start[rules.choice[member]], rules.entry_start[rules.choice[member] + 1]
    costs = []
    for state in states:
        own = int(search.take_member(member, state.layout.rules, state.air))
        scan_member(member, 0, state.layout.rules, state.air)
        costs.append(state.air.cost[: last - first].astype(np.int64))
    allowed = (costs[0] == 0) & (rules.wish[first:last] // AVOID <= rules.wish[own] // AVOID)
    crowd = np.zeros(last - first, np.int64)
    for cost in costs[1:]:
        crowd = 2 * crowd + cost // BIG + cost % BIG
    crowd[~allowed] = np.iinfo(np.int64).max
    target = own if crowd[own - first] == crowd.min() else first + int(crowd.argmin())
    for state in states:
        search.put_member(member, target, state.layout.rules, state.air)
    return bool(target != own)


def _wishes(run: Run, carriers_hz: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the wish of each member's candidate, 0 where it has none."""
    wishes = np.zeros(run.wanted, np.int64)
    for m, (item, hz) in enumerate(zip(run.problem.wanted, carriers_hz.tolist(), strict=True)):
        if hz >= 0:
            choice = run.problem.choices[item.choice]
            wishes[m] = choice.wish[np.searchsorted(choice.carriers_hz, hz)]
    return wishes


def _worst_wish(run: Run) -> int:
    return int(_wishes(run, run.best).max(initial=0))


def _avoided(run: Run, carriers_hz: NDArray[np.int64]) -> int:
    """Return how much of what is to be avoided stands in these carriers."""
    return int((_wishes(run, carriers_hz) // AVOID).sum())


def _fit(run: Run, layout: Layout) -> NDArray[np.int64] | None:
    """Place the same links under the layout's tighter rules; None if that fails."""
    placed = np.flatnonzero(run.best >= 0)
    for turn in range(2):
        state = new_state(layout, seed=run.seed * 64 + turn)
        if turn == 0:
            load(state, run.best)
        greedy(state, order_of(run, layout, placed), leftmost=turn == 1, only_clean=False)
        tabu(run, state, _MOVES_LADDER)
        run.pause()
        carriers = state.carriers_hz()
        if state.total == 0 and np.all(carriers[placed] >= 0):
            return carriers
    return None

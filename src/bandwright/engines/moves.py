"""What the search does with a state: load, put down greedily, mend by tabu, thin out. Thin wrappers of the kernels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bandwright.engines.raster import Layout, State, new_state
from bandwright.engines.run import Run
from bandwright.kernels import search

__all__ = ["attempt", "greedy", "load", "order_of", "tabu", "thin_out"]

_EPOCH = 250
_TENURE = np.array([2, 6, 12, 3], np.int64)  # measured: short lists, few rests, nearly always the worst member
_MOVES_PER_CHOICE = 50


def load(state: State, carriers_hz: NDArray[np.int64]) -> None:
    """Put members on their carriers where the layout has these."""
    entries = state.layout.entries_of(carriers_hz)
    order = np.arange(len(entries), dtype=np.int64)
    state.total += int(search.load_members(order, entries, state.layout.rules, state.air))


def greedy(state: State, order: NDArray[np.int64], *, leftmost: bool, only_clean: bool) -> None:
    """Put members one after another where each breaks least."""
    rules, air = state.layout.rules, state.air
    state.total = int(search.place_greedily(order, only_clean, leftmost, state.total, rules, air))


def order_of(run: Run, layout: Layout, members: NDArray[np.int64], *, lot: int = 0) -> NDArray[np.int64]:
    """Return members by priority, then those with few candidates and wide spacing; shuffled for a `lot` above 0.

    Those that are alike in this take turns, one of each seat at a time.
    """
    counts = layout.candidates_of_seat[layout.seat_of[members]]
    if lot > 0:
        drawn = np.random.Generator(np.random.PCG64(run.seed * 1_000 + lot)).random(len(members))
        return members[np.lexsort((drawn, counts > 1, -run.priority[members]))]
    wide = run.problem.near_hz.max(axis=1, initial=0)[members]
    return members[np.lexsort((members, _turn(layout, members), -wide, counts, -run.priority[members]))]


def _turn(layout: Layout, members: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return how many members of the same seat come before each."""
    before: dict[int, int] = {}
    turns = []
    for seat in layout.seat_of[members].tolist():
        turns.append(before.get(seat, 0))
        before[seat] = turns[-1] + 1
    return np.array(turns, np.int64)


def tabu(run: Run, state: State, moves: int) -> None:
    """Make up to `moves` moves in epochs (fewer where there is little to choose) and go back to the best positions."""
    layout = state.layout
    size = layout.problem.size
    moves = min(moves, _MOVES_PER_CHOICE * (int(layout.candidates_of_seat.sum()) + run.wanted))
    best = np.array([state.total], np.int64)
    best_entry = state.air.entry[: run.wanted].copy()
    movable = np.ones(run.wanted, np.bool_)
    left_until = np.zeros(len(layout.carrier_hz), np.int64)
    rest_until = np.zeros(size, np.int64)
    conflict = np.zeros(run.wanted, np.int64)
    done = 0
    while state.total > 0 and done < moves:
        state.total, clock = search.tabu_epoch(
            min(_EPOCH, moves - done), state.total, state.clock, best, best_entry, movable, left_until, rest_until,
            conflict, _TENURE, layout.rules, state.air,
        )  # fmt: skip
        made = clock - state.clock
        state.clock = clock
        done += made
        run.moves += made
        if run.over() or made == 0:
            break
    if state.total > best[0]:
        fresh = new_state(layout, seed=1)
        order = np.arange(run.wanted, dtype=np.int64)
        fresh.total = int(search.load_members(order, best_entry, layout.rules, fresh.air))
        state.air, state.total = fresh.air, fresh.total


def thin_out(run: Run, state: State) -> None:
    """Take out the least important until nothing is broken."""
    if state.total == 0:
        return
    rank = run.priority - run.priority.min()
    search.drop_worst(rank, np.zeros(run.wanted, np.int64), state.layout.rules, state.air)
    state.total = 0


def attempt(
    run: Run,
    layout: Layout,
    members: NDArray[np.int64],
    *,
    lot: int,
    moves: int,
    start: NDArray[np.int64] | None = None,
) -> None:
    """Put members down (beside `start`), mend by tabu moves, thin out, fill up; offer what is clean."""
    state = new_state(layout, seed=run.seed * 64 + lot)
    if start is not None:
        load(state, start)
    greedy(state, order_of(run, layout, members, lot=lot), leftmost=lot == 0, only_clean=False)
    tabu(run, state, moves)
    thin_out(run, state)
    everyone = np.arange(run.wanted, dtype=np.int64)
    greedy(state, order_of(run, layout, everyone), leftmost=False, only_clean=True)
    run.offer_state(state)
    run.pause()

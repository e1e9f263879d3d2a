"""The search for a plan: greedy starts, tabu moves on count arrays in epochs, a ladder of margins, quiet slots.

Deterministic for a seed: epochs have a fixed number of moves and time only truncates, which the outcome then says.
Every answer is held against `core.planning.verify` before it leaves; a contradiction raises `BrokenPromise`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import AVOID, Problem
from bandwright.core.planning.verify import examine
from bandwright.engines.raster import Layout, State, lay_out, new_state
from bandwright.errors import BrokenPromise
from bandwright.kernels import search

__all__ = ["Outcome", "Step", "solve"]

_EPOCH = 250
_ATTEMPTS = 24
_MOVES_FULL = 20_000
_MOVES_MORE = 8_000
_LADDER = (1.25, 1.5, 2.0)
_MOVES_LADDER = 1_000
_MOVES_PER_CHOICE = 50
_TRIED_WITHOUT_GAIN = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Progress: how many of how many are placed, and what is being done."""

    placed: int
    wanted: int
    doing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Carriers in the order of `Problem.wanted` (-1 = not placed).

    `stopped` is proof (nothing more can be placed), settled, effort, time or cancelled. `margin` is the factor by which
    every rule could be tightened with all links still placed.
    """

    carriers_hz: tuple[int, ...]
    stopped: str
    moves: int
    margin: float

    @property
    def placed(self) -> int:
        """How many have a carrier."""
        return sum(hz >= 0 for hz in self.carriers_hz)


class _Stop(Exception):  # noqa: N818 - it ends the search, it is no error
    def __init__(self, reason: str) -> None:
        self.reason = reason


class _Run:
    """One search: the best clean set so far, the clock and the reasons to stop."""

    def __init__(
        self,
        problem: Problem,
        *,
        seed: int,
        time_limit_s: float,
        seconds: Callable[[], float],
        cancelled: Callable[[], bool],
        progress: Callable[[Step], None],
    ) -> None:
        self.problem = problem
        self.seed = seed
        self.seconds = seconds
        self.ends = seconds() + time_limit_s
        self.cancelled = cancelled
        self.progress = progress
        self.moves = 0
        self.wanted = len(problem.wanted)
        self.priority = np.array([item.priority for item in problem.wanted], np.int64)
        self.best = np.full(self.wanted, -1, np.int64)  # candidate entries of the whole layout
        self.levels = sorted({item.priority for item in problem.wanted}, reverse=True)

    def score(self, entries: NDArray[np.int64]) -> tuple[int, ...]:
        """How many are placed at each priority, highest first."""
        return tuple(int(np.sum((entries >= 0) & (self.priority == level))) for level in self.levels)

    def offer(self, entries: NDArray[np.int64]) -> bool:
        """Keep a clean set if it places more."""
        if self.score(entries) <= self.score(self.best):
            return False
        self.best = entries.copy()
        self.tell("searching")
        return True

    def tell(self, doing: str) -> None:
        self.progress(Step(placed=int(np.sum(self.best >= 0)), wanted=self.wanted, doing=doing))

    def pause(self) -> None:
        """Between epochs: stop when somebody or the clock says so."""
        if self.cancelled():
            raise _Stop("cancelled")
        if self.seconds() >= self.ends:
            raise _Stop("time")


def solve(
    problem: Problem,
    *,
    seed: int = 1,
    time_limit_s: float = 10.0,
    polish: bool = True,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Step], None] = lambda _: None,
    seconds: Callable[[], float] = time.monotonic,
) -> Outcome:
    """Find carriers for as many wanted members as can be, by priority, on the best candidates.

    Parameters
    ----------
    problem
        Candidates and rules.
    seed
        Starts the random stream; equal seeds give equal outcomes unless stopped by time or hand.
    time_limit_s
        Seconds after which the best so far is returned.
    polish
        Whether to look for larger margins and better candidates once all are placed.
    """
    run = _Run(problem, seed=seed, time_limit_s=time_limit_s, seconds=seconds, cancelled=cancelled, progress=progress)
    if not problem.wanted:
        return Outcome(carriers_hz=(), stopped="proof", moves=0, margin=1.0)
    layout = lay_out(problem)
    margin = 1.0
    try:
        _search(run, layout)
        stopped = "settled" if np.all(run.best >= 0) else "effort"
        if polish:
            margin = _polish(run, layout)
    except _Stop as stop:
        stopped = stop.reason
    if np.any(run.best < 0):
        _fill_up(run, layout)
    carriers = np.append(layout.candidates_hz, -1)[run.best]
    mended = _take_out_broken(run, carriers)
    if mended or not layout.exact:
        carriers = _complete_exactly(run, carriers)
        stopped = "effort" if stopped == "settled" and np.any(carriers < 0) else stopped
    _refuse_what_breaks_a_rule(problem, carriers)
    if stopped == "effort" and _nothing_more(problem, carriers):
        stopped = "proof"
    return Outcome(carriers_hz=tuple(carriers.tolist()), stopped=stopped, moves=run.moves, margin=margin)


def _refuse_what_breaks_a_rule(problem: Problem, carriers: NDArray[np.int64]) -> None:
    """Raise BrokenPromise unless every carrier is a candidate of its choice and the verifier finds nothing."""
    for item, hz in zip(problem.wanted, carriers.tolist(), strict=True):
        if hz >= 0 and hz not in problem.choices[item.choice].carriers_hz:
            raise BrokenPromise(f"the search returned {hz} Hz for {item.id}, which is none of its candidates")
    report = examine(problem, carriers)
    if not report.clean:
        raise BrokenPromise(f"the search returned carriers that the verifier refuses: {report.hits[0]}")


def _nothing_more(problem: Problem, carriers: NDArray[np.int64]) -> bool:
    """Whether all that lack a carrier have no candidate at all."""
    return all(
        hz >= 0 or len(problem.choices[item.choice].carriers_hz) == 0
        for item, hz in zip(problem.wanted, carriers.tolist(), strict=True)
    )


def _search(run: _Run, layout: Layout) -> None:
    """Try all at once on preferred, coarse and all candidates; then add one by one to the best clean set."""
    pools = list(_pools(layout))
    everyone = np.arange(run.wanted, dtype=np.int64)
    for attempt in range(_ATTEMPTS):
        for keep in pools:
            moves = _MOVES_FULL if attempt >= 2 else _MOVES_FULL >> 2
            if _attempt(run, layout, keep, everyone, attempt=attempt, moves=moves):
                return
        if attempt >= 2 and run.wanted - int(np.sum(run.best >= 0)) > max(2, run.wanted // 8):
            break  # far too many: no use in asking for all of them again
    _add_one_by_one(run, layout, pools[-1])


def _pools(layout: Layout) -> Iterator[NDArray[np.bool_] | None]:
    """Yield the candidates to try: those not to be avoided (coarse raster first), then all (coarse raster first)."""
    coarse = layout.cand % 2 == layout.cand[0] % 2 if len(layout.cand) else np.zeros(0, np.bool_)
    liked = (layout.wish < AVOID) & (layout.static <= 0)
    if not liked.all() and _all_have_some(layout, liked):
        if _all_have_some(layout, liked & coarse):
            yield liked & coarse
        yield liked
    if _all_have_some(layout, coarse):
        yield coarse
    yield None


def _all_have_some(layout: Layout, keep: NDArray[np.bool_]) -> bool:
    """Whether each choice that has candidates keeps at least one in eight of them."""
    for low, high in zip(layout.cand_start[:-1].tolist(), layout.cand_start[1:].tolist(), strict=True):
        if high > low and int(keep[low:high].sum()) * 8 < high - low:
            return False
    return True


def _order(run: _Run, layout: Layout, members: NDArray[np.int64], attempt: int) -> NDArray[np.int64]:
    """Return members by priority, then those with few candidates and wide spacing; shuffled from the third attempt."""
    problem = run.problem
    counts = np.diff(layout.cand_start)
    few = np.array([counts[problem.wanted[m].choice] for m in members.tolist()], np.int64)
    wide = problem.near_hz.max(axis=1, initial=0)[members]
    lot = np.zeros(len(members))
    if attempt >= 2:
        lot = np.random.Generator(np.random.PCG64(run.seed * 1_000 + attempt)).random(len(members))
        return members[np.lexsort((lot, few > 1, -run.priority[members]))]
    return members[np.lexsort((members, -wide, few, -run.priority[members]))]


def _to_whole(layout: Layout, keep: NDArray[np.bool_] | None, entries: NDArray[np.int64]) -> NDArray[np.int64]:
    """Translate entries of a pool to entries of the whole layout."""
    if keep is None:
        return entries
    whole = np.append(np.flatnonzero(keep), -1)  # the last one answers entry -1
    return whole[entries]


def _from_whole(keep: NDArray[np.bool_] | None, entries: NDArray[np.int64]) -> NDArray[np.int64]:
    """Translate entries of the whole layout to a pool; -1 where the pool lacks them."""
    if keep is None:
        return entries.copy()
    place = np.append(np.where(keep, np.cumsum(keep) - 1, -1), -1)
    return place[entries]


def _attempt(
    run: _Run,
    layout: Layout,
    keep: NDArray[np.bool_] | None,
    members: NDArray[np.int64],
    *,
    attempt: int,
    moves: int,
    start: NDArray[np.int64] | None = None,
) -> bool:
    """Put the members down, mend by tabu moves; offer what is clean. Returns whether all wanted are placed."""
    state = new_state(layout, seed=run.seed * 64 + attempt, keep=keep)
    if start is not None:
        state.total = _load(state, start)
    state.total = _greedy(state, _order(run, layout, members, attempt), leftmost=attempt == 0, only_clean=False)
    _tabu(run, state, moves)
    _thin_out(run, state)
    _greedy(state, _order(run, layout, np.arange(run.wanted, dtype=np.int64), 0), leftmost=False, only_clean=True)
    run.offer(_to_whole(layout, keep, state.entry_of[: run.wanted]))
    run.pause()
    return bool(np.all(run.best >= 0))


def _add_one_by_one(run: _Run, layout: Layout, keep: NDArray[np.bool_] | None) -> None:
    """Ask for the best clean set and one more, by priority, until nothing is gained for a while."""
    idle = 0
    attempt = _ATTEMPTS
    while idle < _TRIED_WITHOUT_GAIN and np.any(run.best < 0):
        lacking = _order(run, layout, np.flatnonzero(run.best < 0), 0).tolist()
        missing = [member for member in lacking if _has_candidates(layout, run, member)]
        if not missing:
            return
        gained = False
        for extra in _one_of_each(run, missing):
            attempt += 1
            members = np.append(np.flatnonzero(run.best >= 0), extra)
            before = run.score(run.best)
            fresh = None if attempt % 2 else run.best
            if _attempt(run, layout, keep, members, attempt=attempt, moves=_MOVES_MORE, start=fresh):
                return
            gained = gained or run.score(run.best) > before
        idle = 0 if gained else idle + 1


def _has_candidates(layout: Layout, run: _Run, member: int) -> bool:
    q = run.problem.wanted[member].choice
    return bool(layout.cand_start[q + 1] > layout.cand_start[q])


def _one_of_each(run: _Run, members: list[int]) -> list[int]:
    """Return one member of each choice and priority: the others of its kind stand for the same question."""
    seen: set[tuple[int, int]] = set()
    chosen = []
    for member in members:
        key = (run.problem.wanted[member].choice, int(run.priority[member]))
        if key not in seen:
            seen.add(key)
            chosen.append(member)
    return chosen


def _pick(state: State, *names: str) -> dict[str, NDArray[np.generic]]:
    every = {
        **state.shared,
        **state.work,
        "cand": state.cand,
        "cand_start": state.cand_start,
        "static": state.static,
        "wish": state.wish,
        "random": state.random,
        "choice": np.array([item.choice for item in state.layout.problem.wanted], np.int64),
    }
    return {name: every[name] for name in names}


_ARRAYS = (
    "pos", "sender", "kind", "context_of", "context_start", "context_list", "op", "width", "four", "near", "far", "gen",
    "vic", "dif", "com",
)  # fmt: skip
_WORK = ("cost", "row", "sums")
_CANDIDATES = ("choice", "cand_start", "cand", "static")


def _load(state: State, entries: NDArray[np.int64]) -> int:
    order = np.arange(len(entries), dtype=np.int64)
    return int(
        search.load_members(order=order, start=entries, **_pick(state, "entry_of", *_ARRAYS, "static", *_WORK, "cand"))
    )


def _greedy(state: State, order: NDArray[np.int64], *, leftmost: bool, only_clean: bool) -> int:
    return int(
        search.place_greedily(
            order=order,
            only_clean=only_clean,
            leftmost=leftmost,
            total=state.total,
            **_pick(state, "entry_of", *_ARRAYS, *_CANDIDATES, "wish", "random", *_WORK),
        )
    )


def _tabu(run: _Run, state: State, moves: int) -> None:
    """Make up to `moves` moves in epochs (fewer where there is little to choose) and go back to the best positions."""
    size = state.layout.problem.size
    moves = min(moves, _MOVES_PER_CHOICE * (len(state.cand) + run.wanted))
    best = np.array([state.total], np.int64)
    best_pos = state.entry_of.copy()
    extra = {
        "tabu": np.zeros(len(state.cand), np.int64),
        "rest_until": np.zeros(size, np.int64),
        "conflict": np.zeros(run.wanted, np.int64),
        "movable": np.array([True] * run.wanted + [False] * (size - run.wanted), np.bool_),
    }
    done = 0
    while state.total > 0 and done < moves:
        state.total, clock = search.tabu_epoch(
            moves=min(_EPOCH, moves - done),
            total=state.total,
            clock=state.clock,
            best=best,
            best_entry=best_pos,
            **extra,
            **_pick(state, "entry_of", *_ARRAYS, *_CANDIDATES, "random", *_WORK),
        )
        made = clock - state.clock
        state.clock = clock
        done += made
        run.moves += made
        if run.cancelled() or run.seconds() >= run.ends or made == 0:
            break
    if state.total > best[0]:
        _rewind(state, best_pos)


def _rewind(state: State, entries: NDArray[np.int64]) -> None:
    fresh = new_state(state.layout, seed=1)
    fresh.cand, fresh.cand_start, fresh.static, fresh.wish = state.cand, state.cand_start, state.static, state.wish
    fresh.total = _load(fresh, entries[: len(state.layout.problem.wanted)])
    state.shared, state.total = fresh.shared, fresh.total


def _thin_out(run: _Run, state: State) -> None:
    """Take out the least important until nothing is broken."""
    rank = np.array([*(run.priority - run.priority.min()).tolist(), *[-1] * len(run.problem.fixed)], np.int64)
    conflict = np.zeros(state.layout.problem.size, np.int64)
    search.drop_worst(rank=rank, conflict=conflict, **_pick(state, "entry_of", *_ARRAYS, "static", *_WORK))
    state.total = 0


def _polish(run: _Run, layout: Layout) -> float:
    """Climb the ladder of margins with the same links placed, then move to better candidates; returns the margin."""
    run.tell("widening margins")
    ceiling = _worst_wish(layout, run.best)
    margin, at = 1.0, layout
    for scale in _LADDER:
        tight = lay_out(run.problem, scale=scale)
        found = _fit(run, tight, ceiling)
        if found is None:
            break
        run.best, margin, at = found, scale, tight
    run.tell("choosing quiet slots")
    state = new_state(at, seed=run.seed)
    _load(state, run.best)
    order = np.arange(run.wanted, dtype=np.int64)
    for _ in range(6):
        if not search.settle(order=order, **_pick(state, "entry_of", *_ARRAYS, *_CANDIDATES, "wish", *_WORK)):
            break
        run.pause()
    run.best = state.entry_of[: run.wanted].copy()
    return margin


def _worst_wish(layout: Layout, entries: NDArray[np.int64]) -> int:
    used = layout.wish[entries[entries >= 0]]
    return int(used.max(initial=0))


def _fit(run: _Run, layout: Layout, ceiling: int) -> NDArray[np.int64] | None:
    """Place the same links under the layout's tighter rules, on candidates no worse than now; None if that fails."""
    keep = layout.wish <= ceiling
    placed = np.flatnonzero(run.best >= 0)
    for attempt in range(2):
        state = new_state(layout, seed=run.seed * 64 + attempt, keep=keep)
        if attempt == 0:
            state.total = _load(state, _from_whole(keep, run.best))
        state.total = _greedy(state, _order(run, layout, placed, 1), leftmost=attempt == 1, only_clean=False)
        _tabu(run, state, _MOVES_LADDER)
        run.pause()
        if state.total == 0 and np.all(state.entry_of[placed] >= 0):
            return _to_whole(layout, keep, state.entry_of[: run.wanted])
    return None


def _fill_up(run: _Run, layout: Layout) -> None:
    """Place, by priority, whatever still has a clean candidate beside the best set: time may have cut the search."""
    state = new_state(layout, seed=run.seed)
    state.total = _load(state, run.best)
    _greedy(state, _order(run, layout, np.arange(run.wanted, dtype=np.int64), 0), leftmost=False, only_clean=True)
    run.offer(state.entry_of[: run.wanted])


def _take_out_broken(run: _Run, carriers: NDArray[np.int64]) -> bool:
    """Take out, least important first, what breaks families that the count arrays do not hold; whether any was."""
    taken = False
    while not (report := examine(run.problem, carriers, listed=1)).clean:
        hit = report.hits[0]
        ours = [m for m in (hit.victim, *hit.members) if m < run.wanted]
        carriers[min(ours, key=lambda m: (run.priority[m], -m))] = -1
        taken = True
    return taken


def _complete_exactly(run: _Run, carriers: NDArray[np.int64]) -> NDArray[np.int64]:
    """Place what the rounded filter refused but the rules allow, one by one, deciding in Hz."""
    carriers = carriers.copy()
    for member in np.flatnonzero(carriers < 0).tolist():
        choice = run.problem.choices[run.problem.wanted[member].choice]
        for hz in choice.carriers_hz[np.argsort(choice.wish, kind="stable")].tolist():
            if run.cancelled() or run.seconds() >= run.ends:
                return carriers
            carriers[member] = hz
            if examine(run.problem, carriers, listed=1).clean:
                break
            carriers[member] = -1
    return carriers

"""What is tried, and in which order: algebraic sets, tabu attempts, ascents, exact search, one more at a time.

The order is fixed and each trial has a fixed effort, so an answer depends on the seed alone unless time ends it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.problem import AVOID
from bandwright.engines.ascent import ascend_band
from bandwright.engines.exact import most_placed
from bandwright.engines.moves import attempt
from bandwright.engines.raster import Layout, step_of
from bandwright.engines.run import SEARCHING, Pool, Run
from bandwright.engines.seeds import may_stand, plant, stands

__all__ = ["place_all", "pools_of"]

_MOVES_FIRST = 5_000
_MOVES_MORE = 20_000
_MOVES_EXTRA = 8_000
_TRIED_WITHOUT_GAIN = 6
_IMAGES_FIRST = 20
_IMAGES_LAST = 4_000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    """An ascent (how many sets are kept; a quarter on finer rasters), then nodes of exact search and tabu attempts."""

    width: int
    nodes: int = 0
    attempts: int = 0


_TRIES = 4
_TURNS = (
    _Turn(width=100),
    _Turn(width=300, nodes=50_000),
    _Turn(width=1_000, attempts=2),
    _Turn(width=3_000, nodes=200_000, attempts=2),
    _Turn(width=10_000, attempts=6),
    _Turn(width=30_000, attempts=20),
)


def place_all(run: Run) -> None:
    """Place as many as can be found, by priority, until all are placed or no more can be."""
    pools = list(pools_of(run))
    everyone = np.arange(run.wanted, dtype=np.int64)
    _plant(run, pools, first=0, last=_IMAGES_FIRST)
    if run.complete:
        return
    for pool in pools:
        attempt(run, run.layout(pool), everyone, lot=0, moves=_MOVES_FIRST)
        if run.complete:
            return
    _bound(run)
    for trial in _trials(run, pools):
        if run.finished:
            return
        trial()
    if not run.finished:
        _add_one_by_one(run, pools)


def _trials(run: Run, pools: list[Pool]) -> Iterator[Callable[[], None]]:
    """Yield what is tried with all members at once that matter now: the less important wait for the others."""
    lot = 0
    yield partial(_plant, run, pools, first=_IMAGES_FIRST, last=_IMAGES_LAST)
    for turn in _TURNS:
        for pool in pools:
            width = turn.width if pool.coarse or len(pools) == 1 else turn.width // 4
            yield partial(ascend_band, run, run.layout(pool), run.pressing(), width=width, tries=_TRIES)
        if turn.nodes:
            yield partial(_prove, run, turn.nodes)
        for _ in range(turn.attempts):
            members = run.pressing()
            if int(np.sum(run.best[members] < 0)) > max(2, len(members) // 8):
                break  # far too many: no use in asking for all of them again
            lot += 1
            for pool in pools:
                yield partial(attempt, run, run.layout(pool), members, lot=lot, moves=_MOVES_MORE)


def _plant(run: Run, pools: list[Pool], *, first: int, last: int) -> None:
    """Start from algebraic sets where many members share a context, on each full raster."""
    if not may_stand(run.problem):
        return
    for pool in pools:
        if pool.coarse:
            continue
        layout = run.layout(pool)
        for members in stands(run, layout):
            if not run.finished and np.any(run.best[members] < 0):
                plant(run, layout, members, first=first, last=last)
    run.doing = SEARCHING


def _bound(run: Run) -> None:
    """Ask how many can be placed at most, at each priority together with those above it."""
    bounds = [upper_bound(run.problem, np.flatnonzero(run.priority >= level).tolist()) for level in run.levels]
    run.know_bounds([bound.upper_bound for bound in bounds], bounds[-1].method)


def _prove(run: Run, nodes: int) -> None:
    """Search exactly, as far as so many nodes go."""
    run.tell("searching exactly")
    several = len(run.levels) > 1
    proof = most_placed(run.problem, by_priority=several, known_hz=run.best.tolist(), effort=nodes, cancelled=run.over)
    run.moves += proof.nodes
    run.offer(np.array(proof.carriers_hz, np.int64))
    run.know_proof(proof.upper_bound, finished=proof.finished)
    run.doing = SEARCHING
    run.pause()


def pools_of(run: Run) -> Iterator[Pool]:
    """Yield the candidates to try: those not to be avoided (coarse raster first), then all (coarse raster first)."""
    whole = Pool(name="all", masks=tuple(np.ones(len(c.carriers_hz), np.bool_) for c in run.problem.choices))
    liked = Pool(name="liked", masks=tuple(c.wish < AVOID for c in run.problem.choices))
    if not all(mask.all() for mask in liked.masks) and _keeps_enough(run, liked):
        yield from _with_coarse(run, liked)
    yield from _with_coarse(run, whole)


def _with_coarse(run: Run, pool: Pool) -> Iterator[Pool]:
    coarse = _coarse(run, pool)
    if coarse is not None:
        yield coarse
    yield pool


def _coarse(run: Run, pool: Pool) -> Pool | None:
    """Return every second step of a pool, each choice on the residue that most of it lies on; presets stay."""
    step = 2 * step_of(run.problem, pool.masks)
    masks = []
    for choice, mask in zip(run.problem.choices, pool.masks, strict=True):
        hz = choice.carriers_hz
        residues, counts = np.unique(hz[mask] % step, return_counts=True)
        if len(residues) == 0 or counts.max() * 8 < counts.sum():
            masks.append(mask)
        else:
            masks.append(mask & (hz % step == residues[counts.argmax()]))
    found = Pool(name=f"{pool.name}, coarse", masks=tuple(masks), coarse=True)
    return found if any(m.sum() < p.sum() for m, p in zip(found.masks, pool.masks, strict=True)) else None


def _keeps_enough(run: Run, pool: Pool) -> bool:
    """Whether each choice that has candidates keeps at least one in eight of them."""
    return all(
        int(mask.sum()) * 8 >= len(choice.carriers_hz)
        for choice, mask in zip(run.problem.choices, pool.masks, strict=True)
    )


def _add_one_by_one(run: Run, pools: list[Pool]) -> None:
    """Ask for the best clean set and one more, by priority, until nothing is gained for a while."""
    whole = run.layout(pools[-1])
    idle = 0
    lot = 100
    while idle < _TRIED_WITHOUT_GAIN and not run.finished:
        missing = [m for m in np.flatnonzero(run.best < 0).tolist() if whole.candidates_of_seat[whole.seat_of[m]] > 0]
        if not missing:
            return
        gained = False
        for extra in _one_of_each(run, whole, missing):
            placed = np.flatnonzero(run.best >= 0)
            before = run.score(run.best)
            for members in _company(run, placed, extra):
                for pool in pools[-2:]:
                    lot += 1
                    start = run.best if lot % 2 else None
                    attempt(run, run.layout(pool), members, lot=lot, moves=_MOVES_EXTRA, start=start)
                    if run.finished:
                        return
                if run.score(run.best) > before:
                    break
            gained = gained or run.score(run.best) > before
        idle = 0 if gained else idle + 1


def _company(run: Run, placed: NDArray[np.int64], extra: int) -> Iterator[NDArray[np.int64]]:
    """Yield with whom to ask for one more: all that are placed, then only those that matter as much."""
    yield np.append(placed, extra)
    as_important = placed[run.priority[placed] >= run.priority[extra]]
    if len(as_important) < len(placed):
        yield np.append(as_important, extra)


def _one_of_each(run: Run, layout: Layout, members: list[int]) -> list[int]:
    """Return one member of each seat and priority, most important first: it stands for the others of its kind."""
    seen: dict[tuple[int, int], int] = {}
    for member in members:
        seen.setdefault((-int(run.priority[member]), int(layout.seat_of[member])), member)
    return [seen[key] for key in sorted(seen)]

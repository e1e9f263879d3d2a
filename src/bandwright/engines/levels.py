"""Carriers with the highest worst ratio of carrier to interference among those that keep every rule.

It starts from a plan by the rules and never ends with one that places fewer. Plans are annealed in epochs of a fixed
number of moves, in turn the best so far and fresh ones, so that an answer depends on the seed alone unless time or a
hand ends it. Which of them is best is decided by `core.reach.levels`, which knows nothing of this search.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job
from bandwright.core.planning.build import Compiled
from bandwright.core.planning.plan import CarrierToInterference, Plan
from bandwright.core.planning.problem import AVOID, Problem
from bandwright.core.reach.levels import LevelModel, interference
from bandwright.core.reach.plan_levels import ratios_by_id, with_levels
from bandwright.core.reach.stage import Stage
from bandwright.core.reach.stage_pictures import adverse_model
from bandwright.engines.level_tables import given_hz, standing_of, tables_of
from bandwright.engines.moves import greedy, load, order_of, tabu
from bandwright.engines.portfolio import pools_of
from bandwright.engines.raster import Layout, new_state
from bandwright.engines.run import Run, Step
from bandwright.engines.solve import Outcome, outcome_of
from bandwright.engines.stop import Stop
from bandwright.kernels.levels_change import Levels, settle
from bandwright.kernels.levels_search import anneal

__all__ = ["Leveled", "adverse_levels", "leveled_plan", "raise_worst", "ratios_on", "worst_ratio_db"]

# Choices of ours; `python -m benchmarks levels full` shows what they bring.
_MOVES = 10_000  # of one epoch
_PART = 300_000  # moves made between two looks at the clock, for a plan of one link; a move's effort goes as N^2
_HOT_DB = 1.0  # temperature at which a fresh plan begins
_WARM_DB = 0.25  # at which the best so far begins
_COLD_DB = 0.025  # at which every epoch ends
_IDLE = 16  # epochs without a gain, after which the search ends
_FRESH_MOVES = 5_000  # to mend a fresh plan
_RAISING = "raising the worst carrier to interference"


@dataclass(frozen=True, slots=True, kw_only=True)
class Leveled:
    """An outcome, and its worst carrier to interference before and after, infinite where there is no interference."""

    outcome: Outcome
    before_db: float
    worst_db: float
    epochs: int


def worst_ratio_db(model: LevelModel, carriers_hz: Sequence[int] | NDArray[np.int64]) -> float:
    """Return the lowest carrier to interference of all placed victims in dB, infinite where there is none."""
    return min((item.ratio_db for item in interference(model, carriers_hz)), default=math.inf)


def adverse_levels(compiled: Compiled, stage: Stage) -> LevelModel:
    """Return the levels that a search of this job stands on; the job's seed draws the stage pictures."""
    return adverse_model(stage, np.random.Generator(np.random.PCG64(compiled.job.wishes.seed)))


def leveled_plan(
    compiled: Compiled, plan: Plan, carriers_hz: Sequence[int], stage: Stage, *, pictures: int = 10_000
) -> Plan:
    """Return a plan of these carriers (-1 = not placed) with its levels; the job's seed draws the stage pictures."""
    random = np.random.Generator(np.random.PCG64(compiled.job.wishes.seed))
    on_air = [*carriers_hz, *(item.carrier_hz for item in compiled.problem.fixed)]
    return with_levels(compiled.job, plan, stage, on_air, random, pictures=pictures)


def ratios_on(
    job: Job, stage: Stage, carriers: Mapping[str, int], *, pictures: int = 10_000
) -> dict[str, CarrierToInterference]:
    """Return carrier to interference of a job's links on given carriers (by id, in Hz), as `leveled_plan` does."""
    random = np.random.Generator(np.random.PCG64(job.wishes.seed))
    ours = [carriers.get(link.id, -1) for link in job.links]
    return ratios_by_id(stage, [*ours, *(other.carrier_hz for other in job.others)], random, pictures=pictures)


@dataclass(slots=True, kw_only=True, eq=False)
class _Search:
    """One search: who may move, the best carriers so far and their worst ratio, by the core's own reckoning."""

    run: Run
    model: LevelModel
    layout: Layout
    fixed_hz: NDArray[np.int64]
    movable: NDArray[np.bool_]
    levels: Levels
    best: NDArray[np.int64]
    worst_db: float
    epochs: int = 0

    def offer(self, carriers: NDArray[np.int64]) -> bool:
        """Keep carriers that are better at the worst."""
        worst = worst_ratio_db(self.model, np.concatenate([carriers, self.fixed_hz]))
        if not worst > self.worst_db:
            return False
        self.best, self.worst_db = carriers.copy(), worst
        return True


def raise_worst(
    problem: Problem,
    model: LevelModel,
    start: Outcome,
    *,
    stays: Collection[int] = (),
    seed: int = 1,
    time_limit_s: float = 10.0,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Step], None] = lambda _: None,
    seconds: Callable[[], float] = time.monotonic,
) -> Leveled:
    """Return carriers that place as many as `start` does, with as high a worst carrier to interference as is found.

    Parameters
    ----------
    problem
        Candidates and rules, all of which are kept.
    model
        Levels, for the members of the problem in its order.
    start
        A plan by the rules.
    stays
        Wanted members that keep their carriers.
    seed, time_limit_s, cancelled, progress, seconds
        As for `engines.solve.solve`.
    """
    if model.size != problem.size:
        raise ValueError(f"levels are for the {problem.size} members of the problem; given {model.size}")
    carriers = np.array(start.carriers_hz, np.int64)
    fixed_hz = given_hz(problem)
    before = worst_ratio_db(model, np.concatenate([carriers, fixed_hz]))
    may_move = set(np.flatnonzero(carriers >= 0).tolist()).difference(stays)
    if not math.isfinite(before) or not may_move:
        return Leveled(outcome=start, before_db=before, worst_db=before, epochs=0)
    run = Run(problem, seed=seed, time_limit_s=time_limit_s, seconds=seconds, cancelled=cancelled, progress=progress)
    run.best = carriers.copy()
    stopped, search = "effort", None
    try:
        run.tell(_RAISING)
        search = _searching(run, model, before=before, stays=stays)
        _epochs(search)
        stopped = "effort" if math.isfinite(search.worst_db) else start.stopped
    except Stop as stop:
        stopped = stop.reason
    if search is None or not search.worst_db > before:
        return Leveled(outcome=replace(start, stopped=stopped), before_db=before, worst_db=before, epochs=0)
    run.best = search.best
    run.moves += start.moves
    found = outcome_of(run, stopped=stopped, margin=1.0)
    told = replace(found, upper_bound=start.upper_bound, method=start.method)
    worst = worst_ratio_db(model, np.concatenate([np.array(told.carriers_hz, np.int64), fixed_hz]))
    return Leveled(outcome=told, before_db=before, worst_db=worst, epochs=search.epochs)


def _searching(run: Run, model: LevelModel, *, before: float, stays: Collection[int]) -> _Search:
    carriers = run.best
    *_, whole = pools_of(run)
    layout = run.layout(whole)
    movable = (carriers >= 0) & (layout.entries_of(carriers) >= 0)
    movable[list(stays)] = False
    return _Search(
        run=run,
        model=model,
        layout=layout,
        fixed_hz=given_hz(run.problem),
        movable=movable,
        levels=tables_of(run.problem, model, layout),
        best=carriers.copy(),
        worst_db=before,
    )


def _epochs(search: _Search) -> None:
    """Anneal the best so far and fresh plans in turn, until nothing interferes or nothing was gained for a while."""
    run, idle = search.run, 0
    start: NDArray[np.int64] | None = search.best
    hot = _HOT_DB
    while idle < _IDLE and math.isfinite(search.worst_db):
        run.pause()
        gained = False if start is None else _anneal(search, start, hot)
        search.epochs += 1
        idle = 0 if gained else idle + 1
        fresh = bool(search.movable.all()) and search.epochs % 2 == 1
        start = _fresh(search) if fresh else search.best
        hot = _HOT_DB if fresh or search.epochs % 4 == 0 else _WARM_DB


def _fresh(search: _Search) -> NDArray[np.int64] | None:
    """Return another plan that places as many, put down by lot and mended; None where that fails."""
    run, layout = search.run, search.layout
    state = new_state(layout, seed=run.seed * 1_000 + search.epochs)
    members = np.flatnonzero(search.best >= 0)
    greedy(state, order_of(run, layout, members, lot=search.epochs), leftmost=False, only_clean=False)
    tabu(run, state, _FRESH_MOVES)
    carriers = state.carriers_hz()
    return carriers if state.total == 0 and np.all(carriers[members] >= 0) else None


def _anneal(search: _Search, start: NDArray[np.int64], hot_db: float) -> bool:
    """Anneal in parts, between which it can end; how they are cut changes nothing in what is found."""
    run, layout, levels = search.run, search.layout, search.levels
    state = new_state(layout, seed=run.seed * 1_000_003 + search.epochs)
    load(state, start)
    movable = search.movable & (state.carriers_hz() >= 0)
    now = standing_of(search.model, levels, np.concatenate([start, search.fixed_hz]), run.wanted, layout)
    best, sums = start.copy(), np.zeros(2)
    sums[:] = settle(levels, now)
    part = max(1, _PART // search.model.size**2)
    try:
        for begin in range(0, _MOVES, part):
            end = min(_MOVES, begin + part)
            anneal(
                begin, end, _MOVES, hot_db, _COLD_DB, movable, AVOID, layout.carrier_hz, best, sums, levels, now,
                layout.rules, state.air,
            )  # fmt: skip
            run.moves += end - begin
            run.pause()
    except Stop:
        search.offer(best)
        raise
    return search.offer(best)

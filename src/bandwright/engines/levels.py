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
from bandwright.core.reach.levels import LevelModel, interference, mw, share_table
from bandwright.core.reach.plan_levels import ratios_by_id, with_levels
from bandwright.core.reach.receiver_front import FrontEnd
from bandwright.core.reach.stage import Stage
from bandwright.core.reach.stage_pictures import adverse_model
from bandwright.engines.moves import greedy, load, order_of, tabu
from bandwright.engines.portfolio import pools_of
from bandwright.engines.raster import Layout, new_state
from bandwright.engines.run import Run, Step
from bandwright.engines.solve import Outcome, outcome_of
from bandwright.engines.stop import Stop
from bandwright.kernels import levels_search as kernel

__all__ = ["Leveled", "adverse_levels", "leveled_plan", "raise_worst", "ratios_on", "worst_ratio_db"]

# Choices of ours; `python -m benchmarks levels full` shows what they bring.
_MOVES = 4_000  # of one epoch
_HOT_DB = 2.5  # temperature at which a fresh plan begins
_WARM_DB = 0.5  # at which the best so far begins
_COLD_DB = 0.05  # at which every epoch ends
_IDLE = 60  # epochs without a gain, after which the search ends
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


def ratios_on(job: Job, stage: Stage, carriers: Mapping[str, int]) -> dict[str, CarrierToInterference]:
    """Return carrier to interference of a job's links on given carriers (by id, in Hz), as `leveled_plan` does."""
    random = np.random.Generator(np.random.PCG64(job.wishes.seed))
    ours = [carriers.get(link.id, -1) for link in job.links]
    return ratios_by_id(stage, [*ours, *(other.carrier_hz for other in job.others)], random)


@dataclass(slots=True, kw_only=True, eq=False)
class _Search:
    """One search: who may move, the best carriers so far and their worst ratio, by the core's own reckoning."""

    run: Run
    model: LevelModel
    layout: Layout
    fixed_hz: NDArray[np.int64]
    movable: NDArray[np.bool_]
    levels: kernel.Levels
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
    fixed_hz = _given(problem)
    before = worst_ratio_db(model, np.concatenate([carriers, fixed_hz]))
    placed = np.flatnonzero(carriers >= 0)
    if not math.isfinite(before) or len(placed) == 0:
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
        fixed_hz=_given(run.problem),
        movable=movable,
        levels=_levels(run.problem, model, layout),
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
    run, layout, levels = search.run, search.layout, search.levels
    state = new_state(layout, seed=run.seed * 1_000_003 + search.epochs)
    load(state, start)
    loaded = state.carriers_hz()
    now = _standing(search.model, levels, np.concatenate([start, search.fixed_hz]), run.wanted)
    movable = search.movable & (loaded >= 0)
    count = int(kernel.settle_order(levels, now))
    current = float(kernel.sum_of_squares(math.inf, count, levels, now))
    now.ratio[:] = now.trial
    best, best_sum = start.copy(), np.array([current])
    kernel.anneal(
        _MOVES, hot_db, _COLD_DB, current, movable, AVOID, layout.carrier_hz, best, best_sum, levels, now,
        layout.rules, state.air,
    )  # fmt: skip
    run.moves += _MOVES
    return search.offer(best)


def _standing(model: LevelModel, levels: kernel.Levels, hz: NDArray[np.int64], wanted: int) -> kernel.Standing:
    last = levels.passes.shape[1] - 1
    steps = np.minimum(np.abs(hz[:, None] - hz[None, :]) >> kernel.SELECTIVITY_BITS, last)
    return kernel.Standing(
        hz=hz.copy(),
        front=levels.base * levels.passes[levels.filter_of[:, None], steps],
        order=np.zeros(len(hz), np.int64),
        f=np.zeros(len(hz), np.int64),
        ratio=np.zeros(len(hz)),
        trial=np.zeros(len(hz)),
        worst_first=np.flatnonzero(model.victim[:wanted]).astype(np.int64),
    )


# ---------------------------------------------------------------------------------------------------------- tables


def _levels(problem: Problem, model: LevelModel, layout: Layout) -> kernel.Levels:
    air = mw(model.level_dbm)
    table = share_table(model, np.arange(model.size, dtype=np.int64))
    span = int(np.ptp(np.concatenate([layout.carrier_hz[layout.carrier_hz >= 0], _given(problem)]))) + 1
    filters: dict[int, int] = {}
    passes: list[NDArray[np.float64]] = [np.ones((span >> kernel.SELECTIVITY_BITS) + 2)]
    filter_of, scale = np.zeros(model.size, np.int64), np.zeros(model.size)
    for member, front in enumerate(model.fronts):
        if front is None or front.iip3_dbm is None:
            continue
        scale[member] = 10 ** (-2 / 30 * max(front.iip3_dbm, -300.0))
        if id(front.stages) not in filters:
            filters[id(front.stages)] = len(passes)
            passes.append(_passes(front, len(passes[0])))
        filter_of[member] = filters[id(front.stages)]
    own = np.diagonal(air)
    return kernel.Levels(
        base=air * scale[:, None] * model.makes[None, :],
        air=air,
        made=mw(-model.made_db),
        over_carrier=np.where(model.victim & (own > 0), 1 / np.where(own > 0, own, 1.0), 0.0),
        kind=table.kind,
        one=table.one,
        two=table.two,
        three=table.three,
        share=table.share,
        reach_hz=table.reach_hz,
        filter_of=filter_of,
        passes=np.stack(passes),
        group=_groups(problem, layout),
    )


def _given(problem: Problem) -> NDArray[np.int64]:
    return np.array([item.carrier_hz for item in problem.fixed], np.int64)


def _passes(front: FrontEnd, steps: int) -> NDArray[np.float64]:
    """Return by how much a receiver's filters scale a tone by its offset, on the side where they let more through.

    Filters of the run are taken as they lie around the middle of what is permitted; the core tells the answer with all
    of them.
    """
    offsets = np.arange(steps, dtype=np.float64) * (1 << kernel.SELECTIVITY_BITS)
    found = []
    for side in (offsets, -offsets):
        met = front.iip3_for(front.carrier_hz + side, front.carrier_hz + side, front.carrier_hz + side)
        if met is None or not np.isfinite(met[0]):
            return np.ones(steps)
        found.append(np.asarray(10 ** (-2 / 30 * (met - met[0]))))
    return np.asarray(np.maximum(*found))


def _groups(problem: Problem, layout: Layout) -> NDArray[np.int64]:
    """Return a number for each wanted member that those share who may exchange carriers without breaking a rule."""
    group = np.full(len(problem.wanted), -1, np.int64)
    first: list[int] = []
    for m in range(len(problem.wanted)):
        for number, one in enumerate(first):
            if layout.seat_of[m] == layout.seat_of[one] and problem.bound_alike(m, one):
                group[m] = number
                break
        else:
            group[m] = len(first)
            first.append(m)
    return group

"""What the search for levels stands on: powers as parts of each wanted carrier, filters by offset, who may exchange."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Problem
from bandwright.core.reach.levels import LevelModel, mw
from bandwright.core.reach.levels_fronts import ceilings
from bandwright.core.reach.levels_shares import share_table
from bandwright.core.reach.receiver_front import FrontEnd
from bandwright.engines.raster import Layout
from bandwright.kernels.levels_change import SELECTIVITY_BITS, Levels, Standing

__all__ = ["given_hz", "standing_of", "tables_of"]


def tables_of(problem: Problem, model: LevelModel, layout: Layout) -> Levels:
    """Return what stays while carriers move; carriers and products are parts of the wanted carrier they arrive with."""
    air = mw(model.level_dbm)
    own = np.diagonal(air)
    over = np.where(model.victim & (own > 0), 1 / np.where(own > 0, own, 1.0), 0.0)
    table = share_table(model.rms_hz, model.bandwidth_hz)
    span = int(np.ptp(np.concatenate([layout.carrier_hz[layout.carrier_hz >= 0], given_hz(problem)]))) + 1
    filters: dict[int, int] = {}
    passes: list[NDArray[np.float64]] = [np.ones((span >> SELECTIVITY_BITS) + 2)]
    filter_of, scale = np.zeros(model.size, np.int64), np.zeros(model.size)
    for member, front in enumerate(model.fronts):
        if front is None or front.iip3_dbm is None:
            continue
        scale[member] = 10 ** (-2 / 30 * max(front.iip3_dbm, -300.0))
        if id(front.stages) not in filters:
            filters[id(front.stages)] = len(passes)
            passes.append(_passes(front, len(passes[0])))
        filter_of[member] = filters[id(front.stages)]
    of_three = np.cbrt(over)  # by each of the three that a product consists of
    return Levels(
        base=air * (scale * of_three)[:, None] * model.makes[None, :],
        air=air * over[:, None],
        made=mw(-model.made_db),
        ceiling=ceilings(model.fronts) * of_three**2,
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


def standing_of(model: LevelModel, levels: Levels, hz: NDArray[np.int64], wanted: int, layout: Layout) -> Standing:
    """Return room for what moves, with members on these carriers (-1 = none); `settle` does the rest."""
    last = levels.passes.shape[1] - 1
    steps = np.minimum(np.abs(hz[:, None] - hz[None, :]) >> SELECTIVITY_BITS, last)
    none = np.zeros(len(hz), np.int64)
    return Standing(
        hz=hz.copy(),
        front=levels.base * levels.passes[levels.filter_of[:, None], steps],
        order=none.copy(),
        f=none.copy(),
        ratio=np.zeros(len(hz)),
        rest=np.zeros(len(hz)),
        trial=np.zeros(len(hz)),
        worst_first=np.flatnonzero(model.victim[:wanted]).astype(np.int64),
        free=np.zeros(int(np.diff(layout.rules.entry_start).max(initial=1)), np.int64),
    )


def given_hz(problem: Problem) -> NDArray[np.int64]:
    """Return the carriers of those that are given."""
    return np.array([item.carrier_hz for item in problem.fixed], np.int64)


def _passes(front: FrontEnd, steps: int) -> NDArray[np.float64]:
    """Return by how much a receiver's filters scale a tone by its offset, on the side where they let more through.

    Filters of the run are taken as they lie around the middle of what is permitted; the core tells the answer with all
    of them.
    """
    offsets = np.arange(steps, dtype=np.float64) * (1 << SELECTIVITY_BITS)
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

"""What the search reckons with while carriers move, held against the core, which works everything out anew."""

import math

import numpy as np
import pytest

from bandwright.core.planning.problem import AVOID, Problem
from bandwright.core.reach.levels import LevelModel, interference
from bandwright.core.reach.receiver_front import FrontEnd, FrontStage
from bandwright.engines.level_tables import standing_of, tables_of
from bandwright.engines.moves import load
from bandwright.engines.raster import lay_out, new_state
from bandwright.kernels.levels_change import settle
from bandwright.kernels.levels_search import anneal

_LINKS = 7


def _front(iip3_dbm):
    receiver = FrontStage(name="r", iip3_dbm=iip3_dbm, clips_dbm=None, clips_stated=False, filters=())
    return FrontEnd(
        carrier_hz=607_000_000,
        iip3_dbm=iip3_dbm,
        p1db_dbm=None,
        passband_hz=None,
        selectivity=(),
        clips_first=None,
        stages=(receiver,),
    )


def _stage(random, *, alike):
    """Return a stage where everybody arrives otherwise at each receiver, some of them in overload."""
    rms = np.full(_LINKS, 24e3) if alike else random.choice([20e3, 30e3, 57_735.0], _LINKS)
    return LevelModel(
        level_dbm=random.uniform(-60, 5, (_LINKS, _LINKS)),
        fronts=tuple(_front(dbm) if dbm > -13 else None for dbm in random.uniform(-15, 10, _LINKS)),
        iip5_dbm=np.full(_LINKS, math.nan),
        made_db=np.where(random.random((_LINKS, _LINKS)) < 0.3, math.inf, random.uniform(20, 70, (_LINKS, _LINKS))),
        rms_hz=rms,
        bandwidth_hz=np.full(_LINKS, 200e3) if alike else random.choice([200e3, 100e3], _LINKS),
        victim=random.random(_LINKS) < 0.9,
        makes=random.random(_LINKS) < 0.9,
    )


def _ratios_db(model, carriers):
    """By the core, for all victims; edges of spectra far down are cut off here and there, and are left out."""
    return {item.victim: item.ratio_db for item in interference(model, carriers) if item.ratio_db < 70}


@pytest.mark.parametrize("alike", [True, False])
def test_the_search_reckons_as_the_core_does_from_the_start_and_after_moves(alike, authority):
    random, worst, looked_at = np.random.default_rng(5), 0.0, 0
    problem = Problem.alike(_LINKS, range(606_500_000, 610_000_001, 25_000), spacing_hz=100_000)
    layout = lay_out(problem)
    for case in range(12):
        model = _stage(random, alike=alike)
        carriers = 606_500_000 + 25_000 * np.sort(random.choice(35, _LINKS, replace=False)) * 4
        random.shuffle(carriers)
        levels = tables_of(problem, model, layout)
        now = standing_of(model, levels, carriers, _LINKS, layout)
        state = new_state(layout, seed=case + 1)
        load(state, carriers)
        sums, best = np.full(2, settle(levels, now)), carriers.copy()
        for moves in (0, 40):
            anneal(
                0, moves, 40, 3.0, 1.0, np.ones(_LINKS, bool), AVOID, layout.carrier_hz, best, sums, levels, now,
                layout.rules, state.air,
            )  # fmt: skip
            assert state.carriers_hz().tolist() == now.hz.tolist()
            for victim, ratio_db in _ratios_db(model, now.hz).items():
                worst = max(worst, abs(-10 * math.log10(now.ratio[victim]) - ratio_db))
                looked_at += 1
        assert not np.array_equal(now.hz, carriers)
    assert looked_at > 80
    authority(
        f"Carrier to interference as a search keeps it move by move ({'one kind' if alike else 'mixed kinds'}), in dB",
        source="all products of each receiver anew (itself held against plain enumeration), largest difference",
        ours=worst,
        theirs=0.0,
        tolerance=0.1,
        kind="arithmetic",
    )

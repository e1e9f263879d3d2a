"""Carriers with a higher worst carrier to interference, by rules that stay kept."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from bandwright.core.planning.problem import Choice, Fixed, Problem
from bandwright.core.planning.verify import examine
from bandwright.core.reach.levels import LevelModel
from bandwright.core.reach.receiver_front import FrontEnd, FrontStage
from bandwright.engines.levels import raise_worst, worst_ratio_db
from bandwright.engines.solve import solve

RULES = {"2A-B": 100_000, "A+B-C": 50_000}


def _model(level_dbm, *, selectivity=()):
    size = len(level_dbm)
    receiver = FrontStage(
        name="r", iip3_dbm=0.0, clips_dbm=None, clips_stated=False, filters=(), selectivity=selectivity
    )
    front = FrontEnd(
        carrier_hz=607_000_000,
        iip3_dbm=0.0,
        p1db_dbm=None,
        passband_hz=None,
        selectivity=selectivity,
        clips_first=None,
        stages=(receiver,),
    )
    return LevelModel(
        level_dbm=np.array(level_dbm, float),
        fronts=(front,) * size,
        iip5_dbm=np.full(size, math.nan),
        made_db=np.full((size, size), 60.0),
        rms_hz=np.full(size, 24_000.0),
        bandwidth_hz=np.full(size, 200_000.0),
        victim=np.ones(size, np.bool_),
        makes=np.ones(size, np.bool_),
    )


def _at_one_antenna(own_dbm):
    """Levels where everybody arrives alike at every receiver."""
    return np.broadcast_to(np.array(own_dbm, float), (len(own_dbm),) * 2).copy()


def _problem(count, *, channels=160, rules=None, fixed=()):
    raster = range(606_500_000, 606_500_000 + 25_000 * channels, 25_000)
    return Problem.alike(count, raster, spacing_hz=350_000, clearance_hz=rules, fixed=fixed)


def test_the_worst_link_of_a_small_band_is_as_well_off_as_in_the_best_of_all_plans(authority):
    # Three links on 42 carriers: every plan that keeps the spacing can be written down.
    problem, model = _problem(3, channels=42), _model(_at_one_antenna([-30, -45, -52]))
    carriers = problem.choices[0].carriers_hz.tolist()
    every = [f for f in itertools.permutations(carriers, 3)
             if min(abs(a - b) for a, b in itertools.combinations(f, 2)) >= 350_000]  # fmt: skip
    best = max(worst_ratio_db(model, np.array(f)) for f in every)
    start = solve(problem, polish=False)
    found = raise_worst(problem, model, start, time_limit_s=60.0)
    authority(
        "Worst carrier to interference of three links, against all plans, in dB",
        source=f"all {len(every)} plans that keep the spacing, one by one",
        ours=min(found.worst_db, 200.0),
        theirs=min(best, 200.0),
        tolerance=0.01,
        kind="arithmetic",
    )


def test_equal_seeds_give_equal_carriers_and_every_rule_is_kept():
    problem, model = _problem(8, channels=280, rules=RULES), _model(_at_one_antenna(np.linspace(-20, -55, 8)))
    start = solve(problem, polish=False)
    one, two = (raise_worst(problem, model, start, seed=5, time_limit_s=120.0) for _ in range(2))
    assert one.outcome.carriers_hz == two.outcome.carriers_hz
    assert one.outcome.stopped == "effort"
    assert examine(problem, np.array(one.outcome.carriers_hz)).clean
    assert one.worst_db > one.before_db + 5
    assert one.worst_db == worst_ratio_db(model, one.outcome.carriers_hz)


def test_other_users_take_part_and_stay_where_they_are():
    fixed = (Fixed(id="house", carrier_hz=608_000_000),)
    problem = Problem.alike(6, range(606_500_000, 613_500_001, 25_000), spacing_hz=350_000, fixed=fixed)
    model = _model(_at_one_antenna([-30, -35, -40, -45, -50, -55, -25]))
    start = solve(problem, polish=False)
    found = raise_worst(problem, model, start, time_limit_s=3.0)
    carriers = np.array([*found.outcome.carriers_hz, 608_000_000])
    assert found.worst_db == worst_ratio_db(model, carriers) >= found.before_db
    assert np.abs(carriers[:6] - 608_000_000).min() >= 350_000


def test_those_that_stay_keep_their_carriers():
    problem, model = _problem(6, channels=280), _model(_at_one_antenna([-20, -30, -35, -40, -50, -55]))
    start = solve(problem, polish=False)
    found = raise_worst(problem, model, start, stays=[0, 3], time_limit_s=2.0)
    assert [found.outcome.carriers_hz[m] for m in (0, 3)] == [start.carriers_hz[m] for m in (0, 3)]
    assert found.worst_db >= found.before_db


def test_selectivity_is_told_by_the_core_and_helps_nobody_to_a_worse_plan():
    problem = _problem(6, channels=280)
    model = _model(_at_one_antenna([-20, -30, -35, -40, -50, -55]), selectivity=((1_000_000, 10.0), (5_000_000, 40.0)))
    start = solve(problem, polish=False)
    found = raise_worst(problem, model, start, time_limit_s=2.0)
    assert found.worst_db == worst_ratio_db(model, found.outcome.carriers_hz) >= found.before_db


@pytest.mark.parametrize("count", [0, 1])
def test_where_nothing_interferes_the_plan_stays_as_it_is(count):
    problem = _problem(count)
    start = solve(problem, polish=False)
    found = raise_worst(problem, _model(_at_one_antenna([-30] * count)), start)
    assert found.outcome == start
    assert found.worst_db == math.inf


def test_a_search_that_is_stopped_by_hand_returns_what_it_has():
    problem, model = _problem(8, channels=280), _model(_at_one_antenna(np.linspace(-20, -55, 8)))
    start = solve(problem, polish=False)
    found = raise_worst(problem, model, start, cancelled=lambda: True)
    assert found.outcome.stopped == "cancelled"
    assert found.worst_db >= found.before_db


def test_levels_of_other_members_are_refused():
    problem = Problem.apart({"a": 0, "b": 0}, [Choice.of([100, 200])], apart_hz=50)
    with pytest.raises(ValueError, match="levels are for the 2 members of the problem; given 3"):
        raise_worst(problem, _model(_at_one_antenna([-30] * 3)), solve(problem))


def test_a_search_ends_as_soon_as_nothing_interferes_any_more():
    # Three carriers on a wide band: there are plans whose products all miss.
    problem, model = _problem(3, channels=600), _model(_at_one_antenna([-30, -40, -50]))
    start = replace(solve(problem, polish=False), carriers_hz=(607_000_000, 608_000_000, 609_000_000))
    found = raise_worst(problem, model, start, time_limit_s=600.0)
    assert math.isfinite(found.before_db)
    assert found.worst_db == math.inf
    assert found.epochs < 5
    assert found.outcome.stopped == start.stopped == "settled"

"""The search against rules it cannot bend, exhaustive search on tiny problems, and its own verifier."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from tiny_problems import tiny_problems

from bandwright.core.planning.problem import Choice, Problem, Wanted
from bandwright.core.planning.verify import examine
from bandwright.core.products import FAMILIES
from bandwright.engines import solve as engine
from bandwright.engines.run import Run
from bandwright.engines.solve import solve
from bandwright.errors import BrokenPromise

RULE_A = {"2A-B": 100_000, "A+B-C": 50_000, "3A-2B": 50_000}


def one_type(count, low_hz, high_hz, *, step=25_000, spacing=350_000, clearances=RULE_A):
    carriers = np.arange(low_hz, high_hz + 1, step)
    near = np.full((count, count), spacing, np.int64)
    np.fill_diagonal(near, 0)
    choice = Choice(
        name="one", carriers_hz=carriers, wish=np.zeros(len(carriers), np.int64), clearance_hz=tuple(clearances.items())
    )
    return Problem(choices=(choice,), wanted=tuple(Wanted(id=f"L{i}", choice=0) for i in range(count)), near_hz=near)


@pytest.mark.parametrize(
    ("count", "width_hz"), [(11, 7_000_000), (16, 15_000_000), (22, 31_000_000), (48, 223_000_000)]
)
def test_as_many_links_are_placed_as_are_known_to_fit(count, width_hz):
    outcome = solve(one_type(count, 470_000_000, 470_000_000 + width_hz), polish=False, time_limit_s=60)
    assert outcome.placed == count


def test_one_link_more_than_fits_leaves_one_unplaced_and_the_rest_clean():
    problem = one_type(12, 606_500_000, 613_500_000)
    outcome = solve(problem, time_limit_s=20)
    assert outcome.placed == 11
    assert examine(problem, np.array(outcome.carriers_hz)).clean


def test_equal_seeds_give_equal_plans():
    problem = one_type(14, 606_500_000, 621_500_000)
    assert solve(problem, seed=3, time_limit_s=60) == solve(problem, seed=3, time_limit_s=60)


def test_the_ladder_widens_margins_where_there_is_room():
    problem = one_type(5, 606_500_000, 613_500_000)
    outcome = solve(problem, time_limit_s=60)
    assert outcome.margin >= 1.5
    assert examine(_tightened(problem, 1.5), np.array(outcome.carriers_hz)).clean


def _tightened(problem, factor):
    choices = tuple(
        Choice(
            name=c.name,
            carriers_hz=c.carriers_hz,
            wish=c.wish,
            clearance_hz=tuple((family, int(hz * factor)) for family, hz in c.clearance_hz),
        )
        for c in problem.choices
    )
    return Problem(choices=choices, wanted=problem.wanted, near_hz=(problem.near_hz * factor).astype(np.int64))


def test_a_cancelled_search_returns_what_it_has():
    outcome = solve(one_type(40, 606_500_000, 613_500_000), cancelled=lambda: True)
    assert outcome.stopped == "cancelled"


def score_of(problem, carriers_hz, levels):
    """How many are placed at each priority."""
    placed = [item.priority for item, hz in zip(problem.wanted, carriers_hz, strict=True) if hz >= 0]
    return tuple(placed.count(level) for level in levels)


def best_by_enumeration(problem):
    """The best placed-per-priority by trying everything."""
    options = [[-1, *problem.choices[w.choice].carriers_hz.tolist()] for w in problem.wanted]
    levels = sorted({w.priority for w in problem.wanted}, reverse=True)
    best = (-1,) * len(levels)
    for carriers in itertools.product(*options):
        score = score_of(problem, carriers, levels)
        if score > best and examine(problem, np.array(carriers, np.int64), listed=4).clean:
            best = score
    return best, levels


WITHOUT_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)


@settings(max_examples=80, deadline=None, phases=WITHOUT_SHRINKING)
@given(tiny_problems())
def test_tiny_mixed_problems_are_solved_as_well_as_exhaustive_search_solves_them(problem):
    outcome = solve(problem, time_limit_s=30)
    best, levels = best_by_enumeration(problem)
    assert score_of(problem, outcome.carriers_hz, levels) == best


def test_every_family_that_is_listed_can_be_asked_for():
    for family in FAMILIES:
        problem = one_type(6, 600_000_000, 606_000_000, clearances={family: 50_000})
        outcome = solve(problem, time_limit_s=20)
        assert outcome.placed == 6


def test_a_carrier_that_is_no_candidate_never_leaves_the_search(monkeypatch):
    monkeypatch.setattr(engine, "_take_out_broken", lambda _, carriers: carriers.__setitem__(0, 610_000_001))
    with pytest.raises(BrokenPromise, match="610000001 Hz for L0, which is none of its candidates"):
        solve(one_type(2, 606_500_000, 613_500_000))


def test_carriers_that_break_a_rule_never_leave_the_search(monkeypatch):
    monkeypatch.setattr(engine, "_take_out_broken", lambda _, carriers: carriers.fill(610_000_000))
    with pytest.raises(BrokenPromise, match="carriers that the verifier refuses"):
        solve(one_type(2, 606_500_000, 613_500_000))


def test_a_search_cut_short_at_once_still_fills_every_place_that_is_clean():
    problem = one_type(20, 606_500_000, 621_500_000)
    outcome = solve(problem, cancelled=lambda: True)
    carriers = np.array(outcome.carriers_hz)
    assert outcome.placed > 5
    for member in np.flatnonzero(carriers < 0).tolist():
        for hz in problem.choices[0].carriers_hz.tolist():
            trial = carriers.copy()
            trial[member] = hz
            assert not examine(problem, trial, listed=1).clean


def test_a_problem_without_links_or_without_candidates_has_an_answer():
    assert solve(one_type(0, 606_500_000, 613_500_000)).carriers_hz == ()
    nothing = one_type(2, 606_500_000, 606_000_000)
    assert solve(nothing).carriers_hz == (-1, -1)
    assert solve(nothing).stopped == "proof"


def test_a_search_tells_once_a_second_how_it_stands_with_its_bound_and_time():
    """A clock that moves 0.1 s at each look; between two reports few looks are not those of a pause."""
    clock = itertools.count(0.0, 0.1)
    steps = []
    problem = one_type(12, 606_500_000, 613_500_000)
    solve(problem, time_limit_s=60.0, progress=steps.append, seconds=lambda: next(clock))
    times = [step.seconds for step in steps]
    assert max(later - sooner for sooner, later in itertools.pairwise(times)) <= 2.0
    assert times == sorted(times)
    assert steps[-1].upper_bound >= 11
    assert {step.wanted for step in steps} == {12}


def test_what_can_be_placed_at_most_is_said_with_its_reason():
    problem = one_type(12, 606_500_000, 613_500_000)
    outcome = solve(problem, time_limit_s=60)
    assert (outcome.placed, outcome.upper_bound, outcome.method) == (11, 11, "exact search")
    assert outcome.stopped == "proof"
    placed = solve(one_type(5, 606_500_000, 613_500_000), time_limit_s=60)
    assert (placed.upper_bound, placed.method) == (5, "all are placed")


def _steps_without_a_common_measure():
    """Two types on 25 and 33.333 kHz: 86 offsets between them, too many to lay out in a moment."""
    first = Choice.of(range(606_100_000, 608_900_001, 25_000), name="25", clearance_hz=RULE_A)
    second = Choice.of(range(606_100_000, 608_900_001, 33_333), name="33.333", clearance_hz={"2A-B": 75_000})
    return Problem.apart({"a": 0, "b": 0, "c": 1, "d": 1}, [first, second], apart_hz=350_000)


def test_steps_without_a_common_measure_keep_to_the_time_limit_and_are_searched_exactly():
    clock = itertools.count(0.0, 0.05)
    problem = _steps_without_a_common_measure()
    outcome = solve(problem, time_limit_s=4.0, seconds=lambda: next(clock))
    assert outcome.stopped == "time"
    assert outcome.placed == 4
    assert examine(problem, np.array(outcome.carriers_hz)).clean


def test_a_hand_stops_also_while_candidates_are_laid_out():
    asked = itertools.count()
    clock = itertools.count(0.0, 0.05)
    problem = _steps_without_a_common_measure()
    outcome = solve(problem, time_limit_s=1e6, cancelled=lambda: next(asked) > 20, seconds=lambda: next(clock))
    assert outcome.stopped == "cancelled"
    assert examine(problem, np.array(outcome.carriers_hz)).clean


def test_the_search_asks_for_what_matters_more_until_no_more_of_it_can_be_placed():
    links = [Wanted(id=f"link {i}", choice=0) for i in range(2)]
    spares = [Wanted(id=f"spare {i}", choice=0, priority=-1) for i in range(3)]
    hz = np.array([0, 1_000], np.int64)
    choice = Choice(name="any", carriers_hz=hz, wish=np.zeros(2, np.int64), clearance_hz=())
    problem = Problem(choices=(choice,), wanted=(*links, *spares), near_hz=np.zeros((5, 5), np.int64))
    run = Run(problem, seed=1, time_limit_s=1, seconds=lambda: 0.0, cancelled=lambda: False, progress=lambda _: None)
    assert run.pressing().tolist() == [0, 1]
    run.best[:2] = 0
    assert run.pressing().tolist() == [0, 1, 2, 3, 4]
    run.best[1] = -1
    run.know_bounds([1, 3], "no room for more than one")
    assert run.pressing().tolist() == [0, 1, 2, 3, 4]


def test_crowded_links_get_room_in_sum_first_so_that_every_rule_can_be_tightened_by_half():
    problem = one_type(8, 606_500_000, 613_500_000)
    found = solve(problem, time_limit_s=600)
    assert found.margin >= 1.5  # a ladder of margins alone stays at 1.0 here
    tight = one_type(
        8, 606_500_000, 613_500_000, spacing=525_000, clearances={name: hz * 3 // 2 for name, hz in RULE_A.items()}
    )
    assert examine(tight, np.array(found.carriers_hz)).clean


def test_room_for_all_never_costs_a_link_a_better_candidate():
    hz = np.arange(0, 2_000_001, 50_000)
    wish = np.where(hz < 1_000_000, 0, 7)
    choice = Choice(name="one", carriers_hz=hz, wish=wish, clearance_hz=(("2A-B", 100_000),))
    near = np.full((4, 4), 200_000, np.int64)
    np.fill_diagonal(near, 0)
    problem = Problem(choices=(choice,), wanted=tuple(Wanted(id=f"L{i}", choice=0) for i in range(4)), near_hz=near)
    found = solve(problem, time_limit_s=600)
    assert max(found.carriers_hz) < 1_000_000  # 0 to 950 kHz holds four

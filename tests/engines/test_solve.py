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
    for family in ("2A-B", "A+B-C", "3A-2B", "4A-3B"):
        problem = one_type(6, 600_000_000, 606_000_000, clearances={family: 50_000})
        outcome = solve(problem, time_limit_s=20)
        assert outcome.placed == 6
        assert family in FAMILIES


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

"""Keeping what an earlier plan has: against trying everything on tiny problems, and where links are many."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from tiny_problems import tiny_problems

from bandwright.core.planning.problem import Choice, Problem
from bandwright.core.planning.verify import examine
from bandwright.engines.keeping import solve_keeping
from bandwright.engines.solve import solve

RULE_A = {"2A-B": 100_000, "A+B-C": 50_000, "3A-2B": 50_000}
WITHOUT_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)


def one_channel(count):
    """Links of one type in one TV channel; 11 of them fit."""
    raster = range(606_500_000, 613_500_001, 25_000)
    return Problem.alike(count, raster, spacing_hz=350_000, clearance_hz=RULE_A)


def worth(problem, carriers_hz, keep):
    """How many are placed at each priority, highest first, then how many have their earlier carriers."""
    levels = sorted({item.priority for item in problem.wanted}, reverse=True)
    placed = [item.priority for item, hz in zip(problem.wanted, carriers_hz, strict=True) if hz >= 0]
    return [placed.count(level) for level in levels], sum(carriers_hz[m] == hz for m, hz in keep.items() if hz >= 0)


def most_by_enumeration(problem, keep):
    options = [[-1, *problem.choices[item.choice].carriers_hz.tolist()] for item in problem.wanted]
    every = sorted(itertools.product(*options), key=lambda hz: worth(problem, hz, keep), reverse=True)
    return next(worth(problem, hz, keep) for hz in every if examine(problem, np.array(hz), listed=1).clean)


@settings(max_examples=80, deadline=None, phases=WITHOUT_SHRINKING)
@given(tiny_problems(most_carriers=5), st.data())
def test_no_plan_that_places_as_much_keeps_more_than_exhaustive_search_finds(problem, data):
    earlier = st.sampled_from([-1, 999, *sorted({int(hz) for c in problem.choices for hz in c.carriers_hz})])
    keep = {m: data.draw(earlier) for m in range(len(problem.wanted))}
    found = solve_keeping(problem, keep, time_limit_s=60)
    best = most_by_enumeration(problem, keep)
    ours = worth(problem, found.outcome.carriers_hz, keep)
    assert ours[0] == best[0]
    assert ours == best or not found.most  # fewer only where it does not say that no plan keeps more
    assert ours[1] >= best[1] - 1
    assert list(found.members) == [m for m, hz in keep.items() if 0 <= hz == found.outcome.carriers_hz[m]]


def test_all_keep_their_carriers_where_the_others_find_a_place_beside_them():
    earlier = solve(one_channel(8), seed=5, time_limit_s=20, polish=False).carriers_hz
    keep = dict(enumerate(earlier[:5]))
    found = solve_keeping(one_channel(10), keep, time_limit_s=60)
    assert found.outcome.placed == 10
    assert found.members == (0, 1, 2, 3, 4)
    assert found.most


def test_only_as_many_give_way_as_have_to():
    """Ten of eleven stand as in a plan that places all; the last stood beside where it could have been."""
    problem = one_channel(11)
    tight = solve(problem, time_limit_s=60, polish=False).carriers_hz
    beside = next(hz + 25_000 for hz in sorted(tight) if hz + 25_000 <= 613_500_000)
    keep = dict(enumerate(tight)) | {tight.index(beside - 25_000): beside}
    found = solve_keeping(problem, keep, time_limit_s=60)
    assert found.outcome.placed == 11
    assert (len(found.members), found.most) == (10, True)


def test_of_a_larger_plan_all_stay_but_those_of_which_it_is_known_that_they_can_move():
    """22 links in 31 MHz: two of an earlier plan stand where they break rules, two are new, and 18 are known to fit."""
    raster = range(606_500_000, 637_500_001, 25_000)
    problem = Problem.alike(22, raster, spacing_hz=350_000, clearance_hz=RULE_A)
    full = solve(problem, time_limit_s=60, polish=False).carriers_hz
    assert min(full) > 0
    keep = {m: hz for m, hz in enumerate(full) if m < 20} | {0: full[5] + 25_000, 1: full[6] + 50_000}
    found = solve_keeping(problem, keep, time_limit_s=60)
    assert found.outcome.placed == 22
    assert len(found.members) >= 18


def test_a_carrier_that_is_no_candidate_any_more_is_given_up():
    found = solve_keeping(one_channel(3), {0: 700_000_000}, time_limit_s=20)
    assert (found.outcome.placed, found.members, found.most) == (3, (), True)


def test_an_earlier_carrier_never_costs_a_link_its_place():
    problem = Problem.apart({"a": 0, "b": 0}, [Choice.of(range(0, 101, 10))], apart_hz=60)
    found = solve_keeping(problem, {0: 50}, time_limit_s=20)
    assert (found.outcome.placed, found.members, found.most) == (2, (), True)


@pytest.mark.parametrize("after", [0, 40])
def test_a_hand_stops_it_at_any_moment_and_what_was_found_is_clean(after):
    asked = itertools.count()
    problem = one_channel(12)
    keep = dict(enumerate(solve(one_channel(9), polish=False).carriers_hz))
    found = solve_keeping(problem, keep, cancelled=lambda: next(asked) >= after)
    assert found.outcome.stopped == "cancelled"
    assert examine(problem, np.array(found.outcome.carriers_hz)).clean


def test_time_that_cut_a_way_short_is_told_where_more_might_keep_their_carriers():
    clock = itertools.count(0.0, 0.05)
    problem = one_channel(12)
    keep = dict(enumerate(solve(one_channel(11), polish=False).carriers_hz)) | {11: 610_000_000}
    found = solve_keeping(problem, keep, time_limit_s=1.0, seconds=lambda: next(clock))
    assert found.outcome.stopped == "time"
    assert found.outcome.placed >= 10

"""Wishes that cannot hold together, against exhaustive search over small mixed problems."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from plain_rules import plain_hits
from tiny_problems import tiny_problems

from bandwright.core.planning.bounds import Bound
from bandwright.core.planning.problem import Choice, Fixed, Problem
from bandwright.engines.conflict import Findings, ceiling, clashes, least_change, only, until
from bandwright.engines.solve import solve

RULE_A = {"2A-B": 100_000, "A+B-C": 50_000, "3A-2B": 50_000}
BLOCK = range(606_600_000, 613_400_001, 25_000)


def all_fit(problem, members):
    """Whether some carriers place all of these at once, by trying every one of them with the rules written out."""
    carriers = [-1] * len(problem.wanted)

    def go_on(left):
        if plain_hits(problem, carriers):
            return False
        if not left:
            return True
        for hz in problem.choices[problem.wanted[left[0]].choice].carriers_hz.tolist():
            carriers[left[0]] = hz
            if go_on(left[1:]):
                return True
        carriers[left[0]] = -1
        return False

    return go_on(list(members))


@given(tiny_problems())
@settings(max_examples=50, deadline=None)
def test_a_clash_cannot_be_placed_and_any_one_fewer_can(problem):
    carriers = solve(problem, polish=False).carriers_hz
    found = clashes(problem, carriers).clashes
    assert bool(found) == (-1 in carriers)
    for clash in found:
        assert clash.proven
        assert not all_fit(problem, clash.members)
        for fewer in itertools.combinations(clash.members, len(clash.members) - 1):
            assert all_fit(problem, fewer)


@given(tiny_problems())
@settings(max_examples=40, deadline=None)
def test_a_ceiling_is_never_below_what_fits_and_small_problems_meet_it(problem):
    carriers = solve(problem, polish=False).carriers_hz
    everyone = range(len(problem.wanted))
    most = max(
        n for n in range(len(everyone) + 1) if any(all_fit(problem, s) for s in itertools.combinations(everyone, n))
    )
    assert ceiling(problem, everyone, carriers).upper_bound == most


def test_twelve_of_fourteen_cannot_share_one_tv_channel_and_that_is_proven():
    problem = Problem.alike(14, BLOCK, spacing_hz=350_000, clearance_hz=RULE_A)
    carriers = solve(problem, polish=False, time_limit_s=60).carriers_hz
    (clash,) = clashes(problem, carriers).clashes
    assert (len(clash.members), clash.proven) == (12, True)
    placed = [member for member, hz in enumerate(carriers) if hz >= 0]
    assert len(set(clash.members) - set(placed)) == 1  # what has a carrier is named before what has none
    assert ceiling(problem, range(14), carriers).upper_bound == 11


def test_a_bound_that_is_known_already_is_not_proven_again():
    problem = Problem.alike(30, range(0, 31_000_001, 25_000), spacing_hz=350_000, clearance_hz=RULE_A)
    carriers = [0, *[-1] * 29]
    assert ceiling(problem, range(30), carriers, known=Bound(upper_bound=1, method="told")).method == "told"
    counted = ceiling(problem, range(30), carriers, known=Bound(upper_bound=30, method="told"))
    assert (counted.upper_bound < 30, counted.method != "told") == (True, True)


def test_carriers_that_place_more_than_the_plan_are_handed_on():
    problem = Problem.alike(14, BLOCK, spacing_hz=350_000, clearance_hz=RULE_A)
    found = clashes(problem, [606_600_000, *[-1] * 13])
    better = np.array(found.better_hz)
    assert np.sum(better >= 0) == 11
    assert not plain_hits(problem, better.tolist())


def test_carriers_that_place_more_here_and_fewer_there_are_not():
    choices = [Choice.of([100, 110]), Choice.of([900])]
    problem = Problem.apart({"a": 0, "far": 1, "b": 0}, choices, apart_hz=50)
    assert clashes(problem, [-1, 900, 110]).better_hz is None


def test_what_the_plan_places_is_never_said_to_clash():
    # A hard problem and a good plan for it: the short questions asked here would not find so many again.
    marks = [0, 2, 6, 24, 29, 40, 43, 55, 68, 75, 76, 85]  # a Golomb ruler of 12 marks, OEIS A003022
    problem = Problem.alike(13, range(86), spacing_hz=1, clearance_hz={"2A-B": 1, "A+B-C": 1})
    (clash,) = clashes(problem, [*marks, -1]).clashes
    assert len(clash.members) == 13


def test_only_those_that_bear_on_each_other_are_named():
    # Two links want one of two carriers that are too near to each other; a third lies far away and has nothing to do.
    choices = [Choice.of([100, 110]), Choice.of([900, 950])]
    problem = Problem.apart({"a": 0, "far": 1, "b": 0}, choices, apart_hz=50)
    (clash,) = clashes(problem, [100, 900, -1]).clashes
    assert [problem.ids[member] for member in clash.members] == ["a", "b"]


def test_one_that_fits_nowhere_beside_given_carriers_is_named_alone():
    given_ = [Fixed(id="given", carrier_hz=105)]
    problem = Problem.apart({"a": 0, "b": 1}, [Choice.of([100]), Choice.of([500])], apart_hz=50, fixed=given_)
    (clash,) = clashes(problem, [-1, 500]).clashes
    assert (clash.members, clash.proven) == ((0,), True)


def test_one_that_has_no_candidate_is_named_alone():
    problem = Problem.apart({"a": 0, "b": 1}, [Choice.of([]), Choice.of([500])], apart_hz=50)
    assert [clash.members for clash in clashes(problem, [-1, 500]).clashes] == [(0,)]


@pytest.mark.parametrize("stop", [{"cancelled": lambda: True}, {"cancelled": until(0.0, lambda: False)}])
def test_what_is_ended_early_names_nothing_rather_than_something_unfinished(stop):
    problem = Problem.alike(14, BLOCK, spacing_hz=350_000, clearance_hz=RULE_A)
    assert clashes(problem, [-1] * 14, **stop) == Findings(clashes=(), better_hz=None)
    assert least_change([lambda: problem], **stop) is None


def test_a_quarter_of_the_time_of_a_search_is_spent_or_a_hand_ends_it():
    clock, hand = iter([100.0, 102.4, 102.5]), iter([False, False, True])
    ended = until(10.0, lambda: next(hand), seconds=lambda: next(clock))
    assert [ended(), ended(), ended()] == [False, True, True]


def spaced(hz):
    return lambda: Problem.alike(3, [0, 40, 80, 100], spacing_hz=hz)


@pytest.mark.parametrize(
    ("asked", "first"), [((50, 45, 41, 40, 20, 1), 3), ((40,), 0), ((90, 41), None), ((41, 30, 20, 10), 1), ((), None)]
)
def test_the_least_change_is_the_first_rung_on_which_all_fit(asked, first):
    assert least_change([spaced(hz) for hz in asked]) == first


def test_a_problem_of_some_members_keeps_what_lies_between_them():
    problem = Problem.apart(
        {"a": 0, "b": 0, "c": 0},
        [Choice.of([0, 1])],
        apart_hz={("a", "c"): 7, ("c", "given"): 5},
        fixed=[Fixed(id="given", carrier_hz=9)],
    )
    part = only(problem, [2, 0])
    assert part.ids == ("c", "a", "given")
    assert np.array_equal(part.near_hz, [[0, 7, 5], [7, 0, 0], [5, 0, 0]])

"""Of alike links the last in order go without: held against the verifier, and against what can be told apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from tiny_problems import tiny_problems

from bandwright.core.planning.interchange import first_in_order
from bandwright.core.planning.problem import Choice, Problem
from bandwright.core.planning.verify import examine
from bandwright.engines.solve import solve

WITHOUT_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)


def alike(count):
    return Problem.alike(count, range(0, 1001, 100), spacing_hz=300)


def test_the_last_of_alike_members_go_without_and_as_few_as_can_be_change_carriers():
    assert first_in_order(alike(5), [-1, 300, -1, 0, 600]) == (600, 300, 0, -1, -1)
    assert first_in_order(alike(4), [0, -1, 300, 600]) == (0, 600, 300, -1)
    assert first_in_order(alike(3), [0, 300, 600]) == (0, 300, 600)
    assert first_in_order(alike(3), [-1, -1, -1]) == (-1, -1, -1)


def test_those_who_stay_keep_their_carriers_and_others_still_stand_in_order():
    assert first_in_order(alike(4), [-1, -1, 0, 300], staying={3}) == (0, -1, -1, 300)


def test_members_that_a_rule_tells_apart_never_change_places():
    either = [Choice.of([0, 300]), Choice.of([0, 300], wish={0: 1})]
    by_choice = Problem.apart({"a": 0, "b": 1}, either, apart_hz=400)
    by_pair = Problem.apart({"a": 0, "b": 0, "c": 1}, either, apart_hz={("a", "c"): 100, ("b", "c"): 200})
    more_important = replace(by_choice.wanted[1], choice=0, priority=1)
    by_priority = replace(by_choice, wanted=(by_choice.wanted[0], more_important))
    elsewhere = replace(by_choice.wanted[1], choice=0, contexts=(0, 1))
    by_context = replace(by_choice, wanted=(by_choice.wanted[0], elsewhere), contexts=2)
    for problem in (by_choice, by_priority, by_context):
        assert first_in_order(problem, [-1, 300]) == (-1, 300)
    assert first_in_order(by_pair, [-1, 300, 0]) == (-1, 300, 0)


@settings(max_examples=60, deadline=None, phases=WITHOUT_SHRINKING)
@given(tiny_problems(most_wanted=6, most_carriers=4), st.data())
def test_a_clean_plan_stays_clean_and_places_as_many_of_each_priority(problem, data):
    found = solve(problem, time_limit_s=20, polish=False).carriers_hz
    staying = {m for m in range(len(found)) if found[m] >= 0 and data.draw(st.booleans())}
    given_hz = first_in_order(problem, found, staying=staying)
    assert examine(problem, np.array(given_hz)).clean
    assert sorted(given_hz) == sorted(found)
    assert all(given_hz[m] == found[m] for m in staying)
    for item, hz in zip(problem.wanted, given_hz, strict=True):
        assert hz < 0 or hz in problem.choices[item.choice].carriers_hz
    by_priority = [
        sorted((item.priority, hz < 0) for item, hz in zip(problem.wanted, carriers, strict=True))
        for carriers in (found, given_hz)
    ]
    assert by_priority[0] == by_priority[1]

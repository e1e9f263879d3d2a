"""The plain Python door: problems from plain values, and what it says when they make no sense."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plain_rules import plain_hits

from bandwright import planning
from bandwright.planning import AVOID, Choice, Fixed, Network, Problem, capacity, replan, solve, verify


def test_a_choice_of_plain_values_rises_and_holds_each_carrier_once():
    choice = Choice.of((hz for hz in (30, 10, 20, 10)), wish={20: AVOID, 99: 1}, clearance_hz={"2A-B": 5})
    assert choice.carriers_hz.tolist() == [10, 20, 30]
    assert choice.wish.tolist() == [0, AVOID, 0]
    assert choice.clearance_hz == (("2A-B", 5),)


def test_pairs_count_in_either_order_and_with_given_carriers():
    problem = Problem.apart(
        {"a": 0, "b": 0}, [Choice.of([1])], apart_hz={("b", "a"): 7, ("x", "a"): 3}, fixed=[Fixed(id="x", carrier_hz=9)]
    )
    assert problem.near_hz.tolist() == [[0, 7, 3], [7, 0, 0], [3, 0, 0]]


@pytest.mark.parametrize(("pair", "hz"), [(("a", "z"), 5), (("a", "b"), -1), (("a", "a"), 5)])
def test_a_pair_of_strangers_a_negative_offset_or_a_pair_of_one_is_refused_in_words(pair, hz):
    with pytest.raises(ValueError, match=r"names two of a, b and 0 Hz or more: \('a', '.'\), -?\d"):
        Problem.apart({"a": 0, "b": 0}, [Choice.of([1, 2])], apart_hz={pair: hz})


@pytest.mark.parametrize(
    ("carriers", "words"),
    [({"a": 1, "zed": 2}, "no wanted member is called zed; there are a, b"), ([1], "each of 2 wanted members; 1 are")],
)
def test_carriers_of_strangers_or_too_few_are_refused_in_words(carriers, words):
    problem = Problem.apart({"a": 0, "b": 0}, [Choice.of([1, 2])], apart_hz=1)
    with pytest.raises(ValueError, match=words):
        verify(problem, carriers)


def test_a_carrier_that_is_no_candidate_is_named_though_no_rule_is_broken():
    verdict = verify(Problem.apart({"a": 0, "b": 0}, [Choice.of([1, 2])], apart_hz=1), {"a": 7})
    assert (verdict.ok, verdict.broken, verdict.strays, verdict.placed) == (False, 0, ("a",), 1)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_what_the_search_places_is_what_plain_enumeration_lets_stand_and_no_other_choice_places_more(data):
    names = [str(i) for i in range(data.draw(st.integers(2, 4)))]
    rules = data.draw(st.dictionaries(st.sampled_from(["2A-B", "A+B-C", "3A-2B"]), st.integers(1, 4)))
    choices = [
        Choice.of(data.draw(st.sets(st.integers(0, 25), min_size=1, max_size=5)), clearance_hz=rules) for _ in range(2)
    ]
    problem = Problem.apart(
        {name: data.draw(st.integers(0, 1)) for name in names},
        choices,
        apart_hz={pair: data.draw(st.integers(0, 6)) for pair in itertools.combinations(names, 2)},
    )
    outcome = solve(problem, time_limit_s=60, polish=False)
    assert verify(problem, outcome.carriers_hz).ok
    options = [[-1, *problem.choices[item.choice].carriers_hz.tolist()] for item in problem.wanted]
    most = max(
        sum(hz >= 0 for hz in carriers)
        for carriers in itertools.product(*options)
        if not plain_hits(problem, np.array(carriers))
    )
    assert outcome.placed == most


@settings(max_examples=12, deadline=None)
@given(st.data())
def test_a_capacity_is_that_of_every_set_tried_beside_given_carriers(data):
    raster = data.draw(st.sets(st.integers(0, 24), min_size=1, max_size=9))
    choice = Choice.of(raster, clearance_hz=data.draw(st.sampled_from([{}, {"2A-B": 2}, {"2A-B": 3, "A+B-C": 2}])))
    spacing = data.draw(st.integers(1, 5))
    fixed = data.draw(st.sampled_from([[], [Fixed(id="x", carrier_hz=11)]]))
    aside = data.draw(st.sampled_from([None, 1, 4]))
    room = capacity(choice, spacing_hz=spacing, fixed=fixed, fixed_spacing_hz=aside, time_limit_s=60)
    most = 0
    for count in range(len(raster) + 1):
        for some in itertools.combinations(sorted(raster), count):
            ids = [str(i) for i in range(count)]
            near = dict.fromkeys(itertools.combinations(ids, 2), spacing)
            near |= {(name, "x"): spacing if aside is None else aside for name in ids if fixed}
            problem = Problem.apart(dict.fromkeys(ids, 0), [choice], apart_hz=near, fixed=fixed)
            most = max(most, count if not plain_hits(problem, list(some)) else 0)
    assert room.found <= most <= room.upper_bound
    assert room.found == most
    assert (room.status.value == "proven") == (room.found == room.upper_bound)


@settings(max_examples=15, deadline=None)
@given(st.data())
def test_replanning_moves_as_few_as_any_choice_that_keeps_all_and_leaves_alone_what_stays(data):
    names = ["a", "b", "c"]
    choice = Choice.of(range(0, 40, 5), clearance_hz=data.draw(st.sampled_from([{}, {"2A-B": 4}])))
    near = {pair: data.draw(st.integers(0, 12)) for pair in itertools.combinations(names, 2)}
    problem = Problem.apart(dict.fromkeys(names, 0), [choice], apart_hz=near)
    before = {name: 5 * data.draw(st.integers(0, 7)) for name in names}
    stays = data.draw(st.sets(st.sampled_from(names), max_size=1))
    kept = [
        sum(new != old for new, old in zip(some, before.values(), strict=True))
        for some in itertools.product(range(0, 40, 5), repeat=3)
        if all(some[names.index(name)] == before[name] for name in stays) and not plain_hits(problem, some)
    ]
    assume(kept)
    repaired = replan(problem, before, stays=stays, time_limit_s=60)
    assert verify(problem, repaired.carriers_hz).ok
    assert all(repaired.carriers_hz[names.index(name)] == before[name] for name in stays)
    assert min(repaired.carriers_hz) >= 0
    assert len(repaired.moved) == min(kept)


def test_those_who_stay_or_would_rather_are_named_by_id():
    problem = Problem.apart({"a": 0, "b": 0}, [Choice.of([1, 2])], apart_hz=1)
    with pytest.raises(ValueError, match="no wanted member is called zed"):
        replan(problem, {"a": 1}, stays=["zed"])


@pytest.mark.parametrize("keep", [{"b": 60, "c": 20}, [-1, 60, 20]])
def test_carriers_of_an_earlier_plan_are_kept_by_id_or_in_order(keep):
    problem = Problem.apart({"a": 0, "b": 0, "c": 0}, [Choice.of(range(0, 100, 10), wish={60: 5, 20: 5})], apart_hz=30)
    assert solve(problem, keep=keep).carriers_hz[1:] == (60, 20)
    assert set(solve(problem).carriers_hz).isdisjoint({60, 20})
    assert solve(problem, keep={"a": 60, "b": 60, "c": 55}).placed == 3  # two on one carrier, one on none of theirs
    with pytest.raises(ValueError, match="no wanted member is called zed"):
        solve(problem, keep={"zed": 10})


def test_replanning_makes_the_kernels_of_the_search_ready_too_before_its_clock_starts(monkeypatch):
    """Where the exact search does not get there, the plain search goes on within the same time limit."""
    made_ready = []
    monkeypatch.setattr(planning, "prepare_kernels", lambda: made_ready.append("search"))
    monkeypatch.setattr(planning, "prepare_repair", lambda: made_ready.append("repair"))
    replan(Problem.alike(2, range(0, 100, 10), spacing_hz=20), [0, 10])
    assert made_ready == ["search", "repair"]


@pytest.mark.parametrize("name", ["minimum_span", "assign", "assign_carriers"])
def test_assignment_makes_its_kernels_ready_before_its_clock_starts(name, monkeypatch):
    stations = Network(demand=np.array([2, 1]), separation=np.array([[2, 1], [1, 2]]))
    calls = {
        "minimum_span": lambda **limits: planning.minimum_span(stations, **limits),
        "assign": lambda **limits: planning.assign(stations, slots=3, **limits),
        "assign_carriers": lambda **limits: planning.assign_carriers(
            Problem.alike(2, range(0, 100, 10), spacing_hz=20), **limits
        ),
    }
    happened = []
    monkeypatch.setattr(planning, "prepare_kernels", lambda: happened.append("search"))
    monkeypatch.setattr(planning, "prepare_assignment", lambda: happened.append("assignment"))
    clock = itertools.count()
    calls[name](time_limit_s=1e6, seconds=lambda: happened.append("clock") or next(clock))
    assert happened[:3] == ["search", "assignment", "clock"]

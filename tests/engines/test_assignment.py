"""Frequency assignment against published spans, CP-SAT, exhaustive search, and the verifier."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model
from philadelphia import philadelphia

from bandwright.core.planning.network import Network, expanded
from bandwright.core.planning.problem import Choice, Fixed, Problem, Wanted
from bandwright.core.planning.verify import examine
from bandwright.engines import assignment as engine
from bandwright.engines.assignment import assign, assign_carriers, minimum_span
from bandwright.errors import BrokenPromise

SOURCE = "Philadelphia instances, fap.zib.de"
LONG_S = 1e6


def judged_by_the_verifier(network, found):
    carriers = np.array([slot for row in found.slots for slot in row], np.int64) - min(map(min, found.slots))
    return examine(expanded(network, slots=found.span + 1), carriers).clean


class Until:
    """Ends a search when its span is short enough."""

    def __init__(self, span):
        self.span = span
        self.reached = False

    def progress(self, step):
        self.reached = step.placed == step.wanted and step.span <= self.span

    def cancelled(self):
        return self.reached


@pytest.mark.parametrize("name", ["P3", "P5"])
def test_p3_and_p5_are_found_at_the_published_span_and_proven(name, authority, authority_table):
    table = authority_table("philadelphia")
    network = philadelphia(table, name)
    found = minimum_span(network, seed=3, time_limit_s=LONG_S)
    assert found.status == "proven"
    assert found.stopped == "proof"
    assert judged_by_the_verifier(network, found)
    published = table["instances"][name]["published_optimal_span_fmax_minus_fmin"]
    authority(f"{name}: least span", source=SOURCE, ours=found.span, theirs=published, unit="slots")


@pytest.mark.parametrize(
    ("name", "touching"), [("P1", False), ("P2", True), ("P4", True), ("P6", False), ("P8", False)]
)
def test_the_other_instances_are_found_within_one_per_cent(name, touching, authority, authority_table):
    table = authority_table("philadelphia")
    network = philadelphia(table, name, touching=touching)  # P2 and P4: harder than published
    published = table["instances"][name]["published_optimal_span_fmax_minus_fmin"]
    enough = Until(published * 101 // 100)
    limits = {"cancelled": enough.cancelled, "progress": enough.progress}
    found = minimum_span(network, seed=2, time_limit_s=LONG_S, **limits)
    assert found.placed == network.calls
    assert judged_by_the_verifier(network, found)
    assert found.lower_bound <= published <= found.span
    authority(
        f"{name}: span",
        source=SOURCE,
        ours=found.span,
        theirs=published,
        tolerance=enough.span - published,  # where the test ends the search; the benchmarks tell what a minute reaches
        unit="slots",
    )


def drawn_network(seed, *, slots=None):
    stream = np.random.default_rng(seed)
    groups = int(stream.integers(3, 6))
    separation = np.triu(stream.integers(0, 4, (groups, groups)))
    separation += np.triu(separation, 1).T
    np.fill_diagonal(separation, stream.integers(1, 5, groups))
    may_use = None if slots is None else stream.random((groups, slots)) < 0.6
    return Network(demand=stream.integers(1, 4, groups), separation=separation, may_use=may_use)


def model_of(network, slots):
    """The assignment as a constraint model: one whole number for each call."""
    model = cp_model.CpModel()
    calls = [(g, k) for g, count in enumerate(network.demand.tolist()) for k in range(count)]
    at = {}
    for g, k in calls:
        choices = range(slots) if network.may_use is None else np.flatnonzero(network.may_use[g]).tolist()
        at[g, k] = model.new_int_var_from_domain(cp_model.Domain.from_values(choices), f"{g}.{k}")
        if k:
            model.add(at[g, k] >= at[g, k - 1])  # calls of one group are alike
    for (g, k), (h, m) in itertools.combinations(calls, 2):
        if apart := int(network.separation[g, h]):
            above = model.new_bool_var("")
            model.add(at[g, k] - at[h, m] >= apart).only_enforce_if(above)
            model.add(at[h, m] - at[g, k] >= apart).only_enforce_if(~above)
    low, high = model.new_int_var(0, slots, "low"), model.new_int_var(0, slots, "high")
    model.add_min_equality(low, at.values())
    model.add_max_equality(high, at.values())
    model.minimize(high - low)
    return model


def least_span_of_cp_sat(network, slots):
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = 30
    status = solver.solve(model_of(network, slots))
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    return round(solver.objective_value) if status == cp_model.OPTIMAL else None


@pytest.mark.parametrize("seed", range(12))
def test_small_networks_come_out_as_cp_sat_proves_them(seed, authority):
    network = drawn_network(seed)
    found = minimum_span(network, effort=100_000, time_limit_s=LONG_S)
    theirs = least_span_of_cp_sat(network, found.span + 1)
    assert found.lower_bound <= theirs
    assert found.status in {"proven", "bounded"}
    authority("least span of drawn networks", source="OR-Tools CP-SAT", ours=found.span, theirs=theirs, kind="library")


@pytest.mark.parametrize("seed", range(12))
def test_small_networks_with_closed_slots_come_out_as_cp_sat_proves_them(seed, authority):
    network = drawn_network(seed, slots=40)
    found = minimum_span(network, effort=300_000, time_limit_s=LONG_S)
    theirs = least_span_of_cp_sat(network, 40)
    ours = found.span if found.placed == found.wanted else None
    assert theirs is None or found.lower_bound <= theirs
    authority("least span with closed slots", source="OR-Tools CP-SAT", ours=ours, theirs=theirs, kind="library")


@pytest.mark.parametrize("may_use", [None, np.ones((4, 14), bool)])
def test_where_no_bound_reaches_the_span_exact_search_proves_it(may_use):
    cycle = np.array([[2, 3, 0, 3], [3, 2, 3, 0], [0, 3, 2, 3], [3, 0, 3, 2]])
    network = Network(demand=np.array([2, 1, 1, 2]), separation=cycle, may_use=may_use)
    found = minimum_span(network, time_limit_s=LONG_S)
    assert (found.status, found.method, found.stopped) == ("proven", "exact search", "proof")
    assert found.span == least_span_of_cp_sat(network, 14)


@st.composite
def tiny_separation_problems(draw):
    count = draw(st.integers(1, 4))
    carriers = [sorted(draw(st.sets(st.integers(0, 14), min_size=1, max_size=5))) for _ in range(2)]
    choices = tuple(
        Choice(name=str(q), carriers_hz=10 * np.array(row), wish=np.zeros(len(row), np.int64), clearance_hz=())
        for q, row in enumerate(carriers)
    )
    near = np.zeros((count + 1, count + 1), np.int64)
    for i, j in itertools.combinations(range(count + 1), 2):
        near[i, j] = near[j, i] = draw(st.sampled_from([0, 5, 25, 40]))
    return Problem(
        choices=choices,
        wanted=tuple(
            Wanted(id=str(i), choice=draw(st.integers(0, 1)), priority=draw(st.integers(0, 1))) for i in range(count)
        ),
        fixed=(Fixed(id="given", carrier_hz=draw(st.integers(0, 140))),),
        near_hz=near,
    )


def best_by_enumeration(problem):
    """How many of priority 1 and of priority 0 can be placed, and the least span of a complete assignment."""
    options = [[-1, *problem.choices[w.choice].carriers_hz.tolist()] for w in problem.wanted]
    best, span = (0, 0), None
    for carriers in itertools.product(*options):
        if not examine(problem, np.array(carriers), listed=1).clean:
            continue
        best = max(best, score_of(problem, carriers))
        if min(carriers) >= 0:
            span = min(max(carriers) - min(carriers), 10**9 if span is None else span)
    return best, span


def score_of(problem, carriers):
    placed = [w.priority for w, hz in zip(problem.wanted, carriers, strict=True) if hz >= 0]
    return placed.count(1), placed.count(0)


@settings(max_examples=60, deadline=None)
@given(tiny_separation_problems())
def test_tiny_problems_are_assigned_as_well_as_exhaustive_search_does(problem):
    best, span = best_by_enumeration(problem)
    found = assign_carriers(problem, effort=30_000, time_limit_s=LONG_S)
    assert score_of(problem, found.carriers_hz) == best
    if span is not None:
        narrow = assign_carriers(problem, narrow=True, effort=30_000, time_limit_s=LONG_S)
        assert narrow.span_hz == span
        assert narrow.lower_bound_hz <= span


def test_calls_that_may_share_a_slot_do():
    network = Network(demand=np.array([3, 2]), separation=np.array([[0, 2], [2, 0]]))
    found = minimum_span(network)
    assert found.span == 2
    assert found.status == "proven"
    assert found.placed == 5


def test_what_does_not_fit_leaves_the_least_important_calls_out():
    network = Network(demand=np.array([3, 3]), separation=np.array([[2, 2], [2, 2]]), importance=np.array([0, 1]))
    found = assign(network, slots=9, effort=20_000)
    assert [len(row) for row in found.slots] == [2, 3]
    assert found.status == "found"
    assert found.lower_bound == 10  # 9 slots are known to be too few


def test_slots_outside_those_a_group_may_use_are_never_used():
    may_use = np.array([[True, True, False, False, True], [False, False, True, True, True]])
    network = Network(demand=np.array([2, 2]), separation=np.array([[1, 2], [2, 1]]), may_use=may_use)
    found = assign(network)
    assert found.slots == ((0, 1), (3, 4))
    assert found.stopped == "proof"
    assert assign(network, slots=4).slots in {((0, 1), (3,)), ((0,), (2, 3))}


def test_nothing_to_place_is_placed():
    found = minimum_span(Network(demand=np.zeros(0, np.int64), separation=np.zeros((0, 0), np.int64)))
    assert (found.slots, found.span, found.stopped) == ((), 0, "proof")


def test_equal_seeds_give_equal_assignments(authority_table):
    network = philadelphia(authority_table("philadelphia"), "P5")
    first, second = (minimum_span(network, seed=4, effort=20_000, time_limit_s=LONG_S) for _ in range(2))
    assert first == second


def test_a_cancelled_search_returns_what_it_has(authority_table):
    network = philadelphia(authority_table("philadelphia"), "P1")
    found = minimum_span(network, cancelled=lambda: True)
    assert found.stopped == "cancelled"
    assert found.placed == network.calls
    assert judged_by_the_verifier(network, found)


def test_time_and_effort_end_a_search_and_the_answer_says_so(authority_table):
    network = philadelphia(authority_table("philadelphia"), "P6")
    assert minimum_span(network, effort=1_000).stopped == "effort"
    ticks = itertools.count()
    assert minimum_span(network, time_limit_s=3, seconds=lambda: next(ticks)).stopped == "time"


def test_fixed_slots_must_be_said_one_way_or_the_other():
    network = Network(demand=np.array([1]), separation=np.array([[1]]))
    with pytest.raises(ValueError, match="say how many slots there are"):
        assign(network)
    with pytest.raises(ValueError, match="there is at least one slot; given 0"):
        assign(network, slots=0)


def test_an_assignment_that_breaks_a_rule_never_leaves_the_search(monkeypatch):
    network = Network(demand=np.array([2, 1]), separation=np.array([[2, 1], [1, 1]]), may_use=np.ones((2, 4), bool))
    for slots, text in [
        (((0, 1), (3,)), "1 pairs of calls that are too near"),
        (((0, 2), (1, 3)), "2 calls for group 1, more than it asks for"),
    ]:
        monkeypatch.setattr(engine.Search, "slots_of_all", lambda *_, given=slots: given)
        with pytest.raises(BrokenPromise, match=text):
            assign(network)
    closed = Network(demand=np.array([1]), separation=np.array([[1]]), may_use=np.array([[True, False]]))
    monkeypatch.setattr(engine.Search, "slots_of_all", lambda *_: ((1,),))
    with pytest.raises(BrokenPromise, match="a slot that group 0 may not use"):
        assign(closed)


def test_carriers_that_the_verifier_refuses_never_leave(monkeypatch):
    one = Choice(name="any", carriers_hz=np.array([0, 100]), wish=np.zeros(2, np.int64), clearance_hz=())
    problem = Problem(
        choices=(one,),
        wanted=(Wanted(id="a", choice=0), Wanted(id="b", choice=0)),
        near_hz=np.array([[0, 100], [100, 0]]),
    )
    assert sorted(assign_carriers(problem).carriers_hz) == [0, 100]
    monkeypatch.setattr(
        engine,
        "assign",
        lambda network: minimum_span(Network(demand=network.demand, separation=0 * network.separation)),
    )
    with pytest.raises(BrokenPromise, match="carriers that the verifier refuses"):
        assign_carriers(problem)

"""The order of moves: every step is simulated, and held against all permutations."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st
from thorough import cases
from tiny_problems import tiny_problems

from bandwright.core.planning.move_order import Action, order_moves
from bandwright.core.planning.problem import Choice, Problem, Wanted
from bandwright.core.planning.verify import examine

WITHOUT_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)


def spaced(count, *, spacing=10, top=100):
    """Links that only have to stay apart."""
    near = np.full((count, count), spacing, np.int64)
    np.fill_diagonal(near, 0)
    carriers = np.arange(0, top + 1, 5, dtype=np.int64)
    choice = Choice(name="any", carriers_hz=carriers, wish=np.zeros(len(carriers), np.int64), clearance_hz=())
    return Problem(choices=(choice,), wanted=tuple(Wanted(id=f"w{i}", choice=0) for i in range(count)), near_hz=near)


def newly_broken(problem, carriers, before):
    """Whether somebody who left the old carrier breaks a rule, or has one broken."""
    gone = {m for m, (hz, old) in enumerate(zip(carriers, before, strict=True)) if hz != old}
    return any(gone & {hit.victim, *hit.members} for hit in examine(problem, np.array(carriers)).hits)


def walk(problem, before, steps):
    """Yield the carriers after each step; a step must start where the link is."""
    carriers = list(before)
    for step in steps:
        assert carriers[step.member] == step.from_hz
        carriers[step.member] = step.to_hz
        yield carriers


@st.composite
def two_clean_sets(draw):
    problem = draw(tiny_problems())
    options = [[-1, *problem.choices[w.choice].carriers_hz.tolist()] for w in problem.wanted]
    every = list(itertools.product(*options))
    clean = [c for c in every if examine(problem, np.array(c, np.int64), listed=1).clean]
    assume(len(clean) >= 2)
    before = draw(st.sampled_from([c for c in every if max(c) >= 0]))
    return problem, before, draw(st.sampled_from(clean))


@settings(max_examples=cases(150), deadline=None, phases=WITHOUT_SHRINKING)
@given(two_clean_sets())
def test_no_step_brings_anybody_into_trouble_and_the_last_one_leads_to_the_new_plan(case):
    problem, before, after = case
    steps = order_moves(problem, before=before, after=after)
    carriers = list(before)
    for carriers in walk(problem, before, steps):
        assert not newly_broken(problem, carriers, before)
    assert list(carriers) == list(after)


@settings(max_examples=cases(100), deadline=None, phases=WITHOUT_SHRINKING)
@given(two_clean_sets())
def test_nobody_is_switched_off_on_the_way_where_any_plain_order_is_clean(case):
    problem, before, after = case
    movers = [m for m in range(len(before)) if before[m] != after[m]]
    steps = order_moves(problem, before=before, after=after)
    if any(clean_order(problem, before, after, order) for order in itertools.permutations(movers)):
        assert sorted(step.member for step in steps) == movers
    else:
        assert any(step.to_hz != after[step.member] for step in steps)


def clean_order(problem, before, after, order):
    carriers = list(before)
    for member in order:
        carriers[member] = after[member]
        if newly_broken(problem, carriers, before):
            return False
    return True


def said(steps):
    return [(step.member, step.action, step.to_hz) for step in steps]


def test_a_link_waits_until_whoever_blocks_its_new_carrier_has_gone():
    steps = order_moves(spaced(3), before=[0, 20, 40], after=[20, 40, 60])
    assert said(steps) == [(2, Action.RETUNE, 60), (1, Action.RETUNE, 40), (0, Action.RETUNE, 20)]


def test_two_links_that_change_places_do_so_by_way_of_a_spare_carrier():
    steps = order_moves(spaced(2), before=[0, 20], after=[20, 0], spare_hz={0: [60], 1: [60]})
    assert said(steps) == [(0, Action.PARK, 60), (1, Action.RETUNE, 0), (0, Action.RETUNE, 20)]


def test_two_links_that_change_places_without_a_spare_carrier_are_told_to_switch_one_off_first():
    steps = order_moves(spaced(2), before=[0, 20], after=[20, 0])
    assert said(steps) == [(0, Action.OFF, -1), (1, Action.RETUNE, 0), (0, Action.ON, 20)]


def test_the_one_already_in_trouble_is_switched_off_rather_than_the_other():
    steps = order_moves(spaced(2), before=[0, 20], after=[20, 0], troubled=[1])
    assert steps[0].member == 1


def test_whoever_must_wait_for_a_break_comes_last_and_those_in_trouble_first():
    steps = order_moves(spaced(3), before=[0, 20, 40], after=[60, 80, 100], later=[0], troubled=[2])
    assert [(step.member, step.at_break) for step in steps] == [(2, False), (1, False), (0, True)]


def test_a_link_that_needs_the_place_of_one_that_waits_for_a_break_waits_too():
    steps = order_moves(spaced(2), before=[0, 20], after=[20, 60], later=[1])
    assert [(step.member, step.at_break) for step in steps] == [(1, True), (0, True)]


def test_nothing_to_do_is_no_step():
    assert order_moves(spaced(2), before=[0, 20], after=[0, 20]) == ()


def test_a_long_chain_and_a_long_circle_are_followed_step_by_step():
    count = 14
    before = [20 * i for i in range(count)]
    chain = order_moves(spaced(count, top=400), before=before, after=[hz + 20 for hz in before])
    assert [step.member for step in chain] == list(range(count - 1, -1, -1))
    around = [*before[1:], before[0]]
    problem = spaced(count, top=400)
    steps = order_moves(problem, before=before, after=around)
    for carriers in walk(problem, before, steps):
        assert not newly_broken(problem, carriers, before)
    assert sum(step.action is Action.OFF for step in steps) == 1
    assert list(carriers) == around

"""The exact search against trying everything, known counts, and its own verifier."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small_problems import every_score, random_problem

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.problem import Choice, Problem, Wanted
from bandwright.core.planning.verify import examine
from bandwright.engines.exact import most_placed, placeable
from bandwright.engines.ladder import RulerSearch
from bandwright.errors import BrokenPromise

RULE_A = (("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000))


def alike(count, low_hz, high_hz, *, step_hz=25_000, spacing_hz=350_000, clearances=RULE_A):
    carriers = np.arange(low_hz, high_hz + 1, step_hz, dtype=np.int64)
    near = np.full((count, count), spacing_hz, np.int64)
    np.fill_diagonal(near, 0)
    choice = Choice(
        name="one", carriers_hz=carriers, wish=np.zeros(len(carriers), np.int64), clearance_hz=tuple(clearances)
    )
    return Problem(choices=(choice,), wanted=tuple(Wanted(id=f"L{i}", choice=0) for i in range(count)), near_hz=near)


def score(problem, carriers_hz):
    levels = sorted({w.priority for w in problem.wanted}, reverse=True)
    placed = [w.priority for w, hz in zip(problem.wanted, carriers_hz, strict=True) if hz >= 0]
    return tuple(placed.count(level) for level in levels)


@pytest.mark.parametrize("tens", range(20))
def test_mixed_problems_are_answered_as_trying_everything_answers_them(tens):
    for seed in range(10 * tens, 10 * tens + 10):
        problem = random_problem(seed)
        scores = every_score(problem)
        most = max(sum(s) for s in scores)
        proof = most_placed(problem)
        assert (proof.placed, proof.upper_bound, proof.finished) == (most, most, True), seed
        assert sum(score(problem, proof.carriers_hz)) == most, seed
        ranked = most_placed(problem, by_priority=True)
        assert score(problem, ranked.carriers_hz) == max(scores), seed
        assert ranked.upper_bound >= most, seed
        assert upper_bound(problem).upper_bound >= most, seed
        assert placeable(problem).verdict is (most == len(problem.wanted)), seed


@pytest.mark.parametrize("tens", range(6))
def test_members_in_no_context_are_bound_by_offsets_alone_and_counted_by_every_bound(tens):
    for seed in range(10 * tens, 10 * tens + 10):
        problem = random_problem(seed)
        nowhere = [w if w.choice else replace(w, contexts=()) for w in problem.wanted]
        problem = replace(problem, wanted=tuple(nowhere), contexts=2 + problem.contexts)
        most = max(sum(s) for s in every_score(problem))
        assert upper_bound(problem).upper_bound >= most, seed
        proof = most_placed(problem)
        assert (proof.placed, proof.upper_bound, proof.finished) == (most, most, True), seed
        assert placeable(problem).verdict is (most == len(problem.wanted)), seed


def test_some_members_are_asked_about_as_if_the_others_were_not_there():
    problem = alike(12, 606_500_000, 608_000_000)
    some = [1, 4, 7]
    proof = most_placed(problem, members=some)
    assert [m for m, hz in enumerate(proof.carriers_hz) if hz >= 0] == some
    verdict = placeable(problem, members=some)
    assert verdict.verdict is True
    assert [m for m, hz in enumerate(verdict.carriers_hz) if hz >= 0] == some
    assert placeable(problem, members=range(9)).verdict is False


def test_effort_ends_a_search_with_a_truthful_answer_and_the_same_one_each_time():
    problem = alike(12, 606_500_000, 613_500_000)
    proof = most_placed(problem, effort=2_000)
    assert not proof.finished
    assert proof.placed <= 11 <= proof.upper_bound
    assert proof == most_placed(problem, effort=2_000)
    undecided = placeable(problem, effort=1_000)
    assert undecided.verdict is None
    assert undecided.nodes <= 1_000


def test_a_cancelled_search_returns_what_it_has():
    proof = most_placed(alike(12, 606_500_000, 613_500_000), cancelled=lambda: True)
    assert not proof.finished
    assert proof.placed > 5


def test_progress_tells_what_is_found_and_what_cannot_be_exceeded():
    steps = []
    most_placed(alike(12, 606_500_000, 613_500_000), effort=10_000, progress=steps.append)
    assert len(steps) > 2
    assert all(step.placed <= 11 <= step.upper_bound for step in steps)


def test_a_search_from_known_carriers_never_returns_less():
    problem = alike(11, 606_500_000, 613_500_000)
    known = most_placed(problem, effort=2_000)
    again = most_placed(problem, known_hz=known.carriers_hz, effort=10)
    assert again.placed >= known.placed
    with pytest.raises(ValueError, match="the known carriers break a rule"):
        most_placed(problem, known_hz=[606_500_000] * 11)
    with pytest.raises(ValueError, match="one carrier for each of 11 wanted members; given 1"):
        most_placed(problem, known_hz=[606_500_000])


def test_members_are_named_by_their_index():
    with pytest.raises(ValueError, match="members are indices from 0 to 3"):
        most_placed(alike(4, 606_500_000, 613_500_000), members=[4])


def test_an_answer_that_breaks_a_rule_never_leaves(monkeypatch):
    monkeypatch.setattr(RulerSearch, "carriers_hz", property(lambda self: np.full(self.total, 606_500_000, np.int64)))
    with pytest.raises(BrokenPromise, match="carriers that the verifier refuses"):
        most_placed(alike(3, 606_500_000, 613_500_000))


def test_an_answer_that_is_no_candidate_never_leaves(monkeypatch):
    monkeypatch.setattr(RulerSearch, "carriers_hz", property(lambda self: np.full(self.total, 1, np.int64)))
    with pytest.raises(BrokenPromise, match="1 Hz for L0, which is none of its candidates"):
        most_placed(alike(3, 606_500_000, 613_500_000))


def test_nothing_wanted_and_nothing_open_have_an_answer():
    assert most_placed(alike(0, 606_500_000, 613_500_000)).finished
    nothing = alike(2, 606_500_000, 606_000_000)
    assert most_placed(nothing).upper_bound == 0
    assert placeable(nothing).verdict is False
    assert examine(nothing, np.array([-1, -1])).clean


def ranked(problem, priorities):
    wanted = tuple(
        Wanted(id=w.id, choice=w.choice, priority=p) for w, p in zip(problem.wanted, priorities, strict=True)
    )
    return Problem(choices=problem.choices, wanted=wanted, near_hz=problem.near_hz)


def test_a_problem_too_large_for_the_general_search_is_bounded_and_not_searched():
    problem = ranked(alike(200, 470_000_000, 694_000_000), [i % 20 for i in range(200)])
    proof = most_placed(problem, by_priority=True)
    assert (proof.placed, proof.finished, proof.nodes) == (0, False, 0)
    assert 51 <= proof.upper_bound <= 74


def test_more_priorities_than_numbers_can_hold_are_not_searched():
    problem = ranked(alike(70, 470_000_000, 480_000_000), range(70))
    assert not most_placed(problem, by_priority=True).finished
    assert most_placed(problem, effort=100).placed > 5


def test_parts_that_do_not_meet_share_the_effort():
    block = alike(24, 606_500_000, 613_500_000)
    near = np.zeros((24, 24), np.int64)
    near[:12, :12] = near[12:, 12:] = block.near_hz[:12, :12]
    wanted = tuple(Wanted(id=f"L{i}", choice=0, contexts=(i // 12,)) for i in range(24))
    apart = Problem(choices=block.choices, wanted=wanted, near_hz=near, contexts=2)
    proof = most_placed(apart)
    assert (proof.placed, proof.upper_bound, proof.finished) == (22, 22, True)
    assert most_placed(apart, effort=400).placed >= 16
    assert placeable(apart).verdict is False


def test_five_hundred_links_in_sixteen_earshots_are_placed_at_once():
    block = alike(512, 470_000_000, 608_000_000)
    near = np.zeros((512, 512), np.int64)
    for n in range(0, 512, 32):
        near[n : n + 32, n : n + 32] = block.near_hz[:32, :32]
    wanted = tuple(Wanted(id=f"L{i}", choice=0, contexts=(i // 32,)) for i in range(512))
    verdict = placeable(Problem(choices=block.choices, wanted=wanted, near_hz=near, contexts=16), effort=4_000)
    assert verdict.verdict is True
    assert min(verdict.carriers_hz) >= 470_000_000

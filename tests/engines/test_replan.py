"""Replanning against exhaustive search over everybody and everywhere, on small mixed problems."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from thorough import cases
from tiny_problems import tiny_problems

from bandwright.core.planning.change import Mobility
from bandwright.core.planning.problem import Choice, Problem, Wanted
from bandwright.core.planning.verify import examine
from bandwright.engines import fewest
from bandwright.engines import replan as replan_engine
from bandwright.engines.replan import replan
from bandwright.engines.solve import solve
from bandwright.errors import BrokenPromise

WITHOUT_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)


@st.composite
def disturbed_plans(draw):
    """A small mixed problem, and carriers from before, some of which cannot stay."""
    problem = draw(tiny_problems())
    before = []
    for item in problem.wanted:
        open_hz = problem.choices[item.choice].carriers_hz.tolist()
        before.append(draw(st.sampled_from([*open_hz, *open_hz, -1, 1])))
    words = [Mobility.NEVER, Mobility.NOW, Mobility.NOW, Mobility.LATER]
    return problem, before, [draw(st.sampled_from(words)) for _ in problem.wanted]


def may_be_excused(problem, before, mobility):
    """Links that never move and break rules among themselves, or sit where nothing is open."""
    stays = np.array([hz if m is Mobility.NEVER else -1 for hz, m in zip(before, mobility, strict=True)])
    hit = {m for h in examine(problem, stays).hits for m in (h.victim, *h.members) if m < len(before)}
    closed = {
        i
        for i, (item, hz) in enumerate(zip(problem.wanted, stays.tolist(), strict=True))
        if hz >= 0 and hz not in problem.choices[item.choice].carriers_hz
    }
    return hit | closed


def best_by_enumeration(problem, before, mobility):
    """(how many are placed at each priority, changes, changes later) of the best of all assignments."""
    excused = may_be_excused(problem, before, mobility)
    levels = sorted({w.priority for w in problem.wanted}, reverse=True)
    options = [
        [hz] if m is Mobility.NEVER and hz >= 0 else [-1, *problem.choices[w.choice].carriers_hz.tolist()]
        for w, hz, m in zip(problem.wanted, before, mobility, strict=True)
    ]
    best = None
    for carriers in itertools.product(*options):
        found = rank(problem, before, mobility, carriers, levels)
        if (best is None or found < best) and clean_but_for(problem, carriers, excused):
            best = found
    return best, excused


def rank(problem, before, mobility, carriers, levels):
    placed = [w.priority for w, hz in zip(problem.wanted, carriers, strict=True) if hz >= 0]
    changed = [m for m, one, two in zip(mobility, before, carriers, strict=True) if one >= 0 and one != two]
    return [-placed.count(level) for level in levels], len(changed), changed.count(Mobility.LATER)


def clean_but_for(problem, carriers, excused):
    hits = examine(problem, np.array(carriers, np.int64)).hits
    return all({m for m in (h.victim, *h.members) if m < len(carriers)} <= excused for h in hits)


@settings(max_examples=cases(150), deadline=None, phases=WITHOUT_SHRINKING)
@given(disturbed_plans())
def test_no_answer_places_more_or_moves_fewer_than_replan_does(case):
    problem, before, mobility = case
    ours = replan(problem, before=before, mobility=mobility, time_limit_s=600)
    best, excused = best_by_enumeration(problem, before, mobility)
    levels = sorted({w.priority for w in problem.wanted}, reverse=True)
    assert rank(problem, before, mobility, ours.carriers_hz, levels) == best
    assert ours.proven
    assert set(ours.stuck) == excused
    assert clean_but_for(problem, ours.carriers_hz, excused)


def with_those_in_use_held(problem, before, mobility):
    """The same mobilities with in-ears in use that never move, but for those that nobody else can move for."""
    open_hz = [set(problem.choices[w.choice].carriers_hz.tolist()) for w in problem.wanted]
    closed = {m for m, hz in enumerate(before) if hz not in open_hz[m] and mobility[m] is not Mobility.NEVER}
    stays = np.array([-1 if m in closed else hz for m, hz in enumerate(before)])
    freed = set(closed)
    for hit in examine(problem, stays).hits:
        inside = {m for m in (hit.victim, *hit.members) if m < len(before)}
        if not {mobility[m] for m in inside} & {Mobility.NOW, Mobility.LATER}:
            freed |= inside
    words = [Mobility.LATER if m in freed else Mobility.NEVER for m in range(len(before))]
    return [words[m] if word is Mobility.IN_USE else word for m, word in enumerate(mobility)]


@settings(max_examples=cases(150), deadline=None, phases=WITHOUT_SHRINKING)
@given(disturbed_plans(), st.data())
def test_nobody_moves_for_an_in_ear_in_use_that_has_to_go_anyway(case, data):
    problem, before, mobility = case
    in_use = [data.draw(st.booleans()) and word is not Mobility.NEVER for word in mobility]
    mobility = [Mobility.IN_USE if used else word for used, word in zip(in_use, mobility, strict=True)]
    held = with_those_in_use_held(problem, before, mobility)
    best, _ = best_by_enumeration(problem, before, held)
    if best is not None and -sum(best[0]) == len(before):  # otherwise others in use may be asked too
        ours = replan(problem, before=before, mobility=mobility, time_limit_s=600)
        levels = sorted({w.priority for w in problem.wanted}, reverse=True)
        assert rank(problem, before, held, ours.carriers_hz, levels) == best
        assert ours.proven


@pytest.mark.parametrize("third", [Mobility.NEVER, Mobility.IN_USE])
def test_one_move_is_enough_where_an_in_ear_in_use_is_in_all_that_is_broken(third):
    choice = Choice.of(range(0, 200, 5))
    problem = Problem.apart(
        {"mic": 0, "ear": 0, "other": 0}, [choice], apart_hz={("mic", "ear"): 20, ("ear", "other"): 20}
    )
    found = replan(problem, before=[100, 110, 120], mobility=[Mobility.NOW, Mobility.IN_USE, third], time_limit_s=600)
    assert found.proven
    assert found.moved == (1,)


def one_type(count, low_hz, high_hz, *, shut=()):
    """Links of one type under a spacing of 350 kHz and the clearances 2A-B 100, A+B-C 50, 3A-2B 50 kHz."""
    carriers = np.arange(low_hz, high_hz + 1, 25_000)
    for hz in shut:
        carriers = carriers[np.abs(carriers - hz) > 100_000]
    near = np.full((count, count), 350_000, np.int64)
    np.fill_diagonal(near, 0)
    clearance = (("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000))
    choice = Choice(name="any", carriers_hz=carriers, wish=np.zeros(len(carriers), np.int64), clearance_hz=clearance)
    return Problem(choices=(choice,), wanted=tuple(Wanted(id=f"L{i}", choice=0) for i in range(count)), near_hz=near)


def free_places(problem, carriers, member):
    """Where one link can go when nobody else moves, by asking the verifier for every candidate."""
    found = []
    for hz in problem.choices[0].carriers_hz.tolist():
        trial = np.array(carriers)
        trial[member] = hz
        if hz != carriers[member] and examine(problem, trial, listed=1).clean:
            found.append(hz)
    return found


@pytest.mark.parametrize("seed", range(1, 7))
def test_in_a_crowded_band_one_move_is_enough_exactly_where_the_verifier_finds_a_free_place(seed, authority):
    low, high = 606_500_000, 621_500_000
    before = solve(one_type(15, low, high), seed=seed, polish=False, time_limit_s=60).carriers_hz
    lost = seed % 15
    problem = one_type(15, low, high, shut=[before[lost]])
    ours = replan(problem, before=before, mobility=[Mobility.NOW] * 15, time_limit_s=600)
    free = free_places(problem, before, lost)
    assert ours.proven
    assert examine(problem, np.array(ours.carriers_hz)).clean
    authority(
        "One move mends a plan of 15 links in 15 MHz that lost a carrier",
        source="every candidate of the link, one by one, in the verifier",
        ours=len(ours.moved) == 1,
        theirs=bool(free),
        kind="arithmetic",
    )
    if len(ours.moved) == 1:
        assert ours.carriers_hz[lost] in free
    elif len(ours.moved) > 2:
        assert not two_are_enough(problem, before, lost)


def two_are_enough(problem, before, lost):
    """Whether taking any one other link out leaves places for both, by asking the verifier."""
    for other in range(len(before)):
        if other != lost:
            without = np.array(before)
            without[other] = -1
            for hz in free_places(problem, without, lost):
                with_one = without.copy()
                with_one[lost] = hz
                if free_places(problem, with_one, other):
                    return True
    return False


def test_spare_carriers_are_taken_first_and_placed_again():
    problem = one_type(8, 606_500_000, 621_500_000)
    before = solve(problem, time_limit_s=60).carriers_hz
    spare = [False] * 6 + [True] * 2
    narrowed = one_type(8, 606_500_000, 621_500_000, shut=[before[0], before[1]])
    ours = replan(narrowed, before=before, mobility=[Mobility.NOW] * 8, spare=spare, time_limit_s=600)
    assert {ours.carriers_hz[0], ours.carriers_hz[1]} == {before[6], before[7]}
    assert ours.moved == (0, 1)
    assert min(ours.carriers_hz) > 0
    assert examine(narrowed, np.array(ours.carriers_hz)).clean


def test_in_ears_in_use_stay_even_where_that_costs_a_move_and_go_later_where_nothing_else_helps():
    near = np.array([[0, 30, 30], [30, 0, 30], [30, 30, 0]])
    wide = Choice(name="wide", carriers_hz=np.array([0, 30, 60, 100]), wish=np.zeros(4, np.int64), clearance_hz=())
    two = Choice(name="two", carriers_hz=np.array([30, 35]), wish=np.zeros(2, np.int64), clearance_hz=())
    wanted = (Wanted(id="new", choice=1), Wanted(id="ear", choice=0), Wanted(id="other", choice=0))
    problem = Problem(choices=(wide, two), wanted=wanted, near_hz=near)
    words = [Mobility.NOW, Mobility.IN_USE, Mobility.NOW]
    assert replan(problem, before=[-1, 60, 30], mobility=words).moved == (2,)
    only_the_ear_is_in_the_way = replan(problem, before=[-1, 30, 100], mobility=words)
    assert only_the_ear_is_in_the_way.moved == (1,)
    assert only_the_ear_is_in_the_way.proven


def test_a_search_cut_short_still_answers_cleanly_and_claims_no_proof():
    low, high = 606_500_000, 621_500_000
    before = solve(one_type(15, low, high), seed=3, polish=False, time_limit_s=60).carriers_hz
    problem = one_type(15, low, high, shut=before[:4])
    ours = replan(problem, before=before, mobility=[Mobility.NOW] * 15, effort=50, time_limit_s=600)
    assert not ours.proven
    assert ours.stopped == "effort"
    assert examine(problem, np.array(ours.carriers_hz)).clean
    assert sum(hz >= 0 for hz in ours.carriers_hz) >= 14


def test_a_cancelled_search_leaves_everybody_who_can_stay_where_he_is():
    before = solve(one_type(8, 606_500_000, 613_500_000), polish=False, time_limit_s=60).carriers_hz
    problem = one_type(8, 606_500_000, 613_500_000, shut=[before[2]])
    ours = replan(problem, before=before, mobility=[Mobility.NOW] * 8, cancelled=lambda: True)
    assert ours.stopped == "cancelled"
    assert ours.moved == (2,)
    assert ours.carriers_hz[2] == -1


def test_a_cancelled_search_takes_out_the_less_important_of_two_that_clash():
    problem = one_type(3, 606_500_000, 613_500_000)
    before = [607_000_000, 607_100_000, 610_000_000]
    ours = replan(problem, before=before, mobility=[Mobility.NOW] * 3, cancelled=lambda: True)
    assert ours.carriers_hz == (607_000_000, -1, 610_000_000)


def test_equal_questions_have_equal_answers():
    before = solve(one_type(15, 606_500_000, 621_500_000), polish=False, time_limit_s=60).carriers_hz
    problem = one_type(15, 606_500_000, 621_500_000, shut=[before[2], before[9]])
    one, two = (replan(problem, before=before, mobility=[Mobility.NOW] * 15, time_limit_s=600) for _ in range(2))
    assert one == two


def test_carriers_that_break_a_rule_never_leave(monkeypatch):
    monkeypatch.setattr(fewest, "best_of", lambda _, rows: np.full_like(rows[0], 606_500_000))
    problem = one_type(2, 606_500_000, 613_500_000)
    with pytest.raises(BrokenPromise, match="carriers that the verifier refuses"):
        replan(problem, before=[-1, -1], mobility=[Mobility.NOW] * 2)


def test_a_carrier_that_is_no_candidate_never_leaves(monkeypatch):
    monkeypatch.setattr(fewest, "best_of", lambda _, rows: rows[0] + 1)
    with pytest.raises(BrokenPromise, match="606500001 Hz, which is none of its candidates"):
        replan(one_type(1, 606_500_000, 613_500_000), before=[-1], mobility=[Mobility.NOW])


def test_a_link_that_only_spacing_ties_to_those_in_trouble_moves_too_where_that_keeps_all_on_the_air():
    choice = Choice(name="one", carriers_hz=np.array([25, 260, 300]), wish=np.zeros(3, np.int64), clearance_hz=())
    problem = Problem(
        choices=(choice,),
        wanted=(
            Wanted(id="a", choice=0),
            Wanted(id="b", choice=0),
            Wanted(id="across", choice=0, contexts=(1,)),
        ),
        near_hz=np.array([[0, 100, 5], [100, 0, 5], [5, 5, 0]]),
        contexts=2,
    )
    # a and b are too near to each other; the only other place is where a link that shares no context with them sits.
    now = [Mobility.NOW] * 3
    found = replan(problem, before=[260, 300, 25], mobility=now, time_limit_s=600)
    assert min(found.carriers_hz) >= 0
    assert len(found.moved) == 2
    assert found.proven


@pytest.mark.parametrize("polls", range(1, 16))
def test_a_search_cut_short_at_any_moment_is_never_worse_than_leaving_everybody_who_can_stay(polls):
    before = list(solve(one_type(21, 606_500_000, 637_500_000), time_limit_s=600.0).carriers_hz)
    lost = sorted(before)[:3]
    problem = one_type(21, 606_500_000, 637_500_000, shut=lost)
    clock = itertools.count()  # one more at each look: time is over after so many looks
    found = replan(
        problem, before=before, mobility=[Mobility.NOW] * 21, time_limit_s=polls, seconds=lambda: next(clock)
    )
    placed = sum(hz >= 0 for hz in found.carriers_hz)
    kept = sum(one == two for one, two in zip(before, found.carriers_hz, strict=True))
    able = sum(hz in problem.choices[0].carriers_hz for hz in before)
    assert (placed, kept) >= (able, able)


def test_of_many_alike_that_wait_for_room_one_is_asked_and_nobody_once_time_is_over(monkeypatch):
    crowded = one_type(60, 606_500_000, 613_500_000)
    before = [*solve(one_type(11, 606_500_000, 613_500_000), time_limit_s=600.0).carriers_hz, *[-1] * 49]
    asked = []
    beside = replan_engine._beside
    monkeypatch.setattr(replan_engine, "_beside", lambda *args: asked.append(args) or beside(*args))
    wanted = {"before": before, "mobility": [Mobility.NOW] * 60, "spare": [hz < 0 for hz in before]}
    found = replan(crowded, **wanted, time_limit_s=600.0)
    assert (list(found.carriers_hz), found.proven, len(asked)) == (before, True, 1)
    asked.clear()
    assert list(replan(crowded, **wanted, cancelled=lambda: True).carriers_hz) == before
    assert not asked

"""The search for who must leave gives equal answers compiled and as plain Python, and can be stopped and resumed."""

from __future__ import annotations

import numpy as np
import pytest
from own_process import answers

from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.engines import leavers
from bandwright.engines.leavers import Question, Seats, ask, rules_of

CASE = """
import json
import numpy as np
from bandwright.core.planning.change import Mobility
from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.engines.replan import replan
from bandwright.kernels import jit

every = (("2A-B", 2), ("A+B-C", 1), ("3A-2B", 1), ("2A+B-2C", 1), ("3A-B-C", 1), ("4A-3B", 1))
choices = [
    Choice(name=str(q), carriers_hz=np.arange(q, 40, 2 + q), wish=np.zeros(len(range(q, 40, 2 + q)), np.int64),
           clearance_hz=every[: 6 - 3 * q])
    for q in range(2)
]
near = np.full((8, 8), 3, np.int64)
np.fill_diagonal(near, 0)
problem = Problem(
    choices=tuple(choices), near_hz=near, contexts=2,
    wanted=tuple(Wanted(id=str(i), choice=i % 2, priority=i % 3, contexts=(0, 1) if i else (0,)) for i in range(6)),
    fixed=(Fixed(id="given", carrier_hz=17), Fixed(id="weak", carrier_hz=29, sends=Sends.WITH_OURS)),
)
words = [Mobility.NOW, Mobility.LATER, Mobility.NOW, Mobility.NEVER, Mobility.NOW, Mobility.NOW]
answers = [
    str(replan(problem, before=before, mobility=words, time_limit_s=600, effort=3_000))
    for before in ([0, 4, 10, 25, -1, 34], [-1] * 6, [0, 1, 2, 4, 5, 7])
]
print(json.dumps([jit.uncompiled(), *answers]))
"""


def test_plain_python_searches_as_compiled_code_does():
    compiled, plain = answers(CASE, BANDWRIGHT_UNCOMPILED="0"), answers(CASE, BANDWRIGHT_UNCOMPILED="1")
    assert [compiled[0], plain[0]] == [False, True]
    assert compiled[1:] == plain[1:]


def crowded():
    """Six links of which one waits, beside a given carrier, under every kind of relation."""
    carriers = np.arange(0, 60, dtype=np.int64)
    clearance = (("2A-B", 2), ("A+B-C", 1), ("3A-B-C", 1))
    near = np.full((7, 7), 2, np.int64)
    np.fill_diagonal(near, 0)
    problem = Problem(
        choices=(Choice(name="a", carriers_hz=carriers, wish=np.zeros(60, np.int64), clearance_hz=clearance),),
        wanted=tuple(Wanted(id=str(i), choice=0) for i in range(6)),
        fixed=(Fixed(id="given", carrier_hz=50, sends=Sends.FULLY),),
        near_hz=near,
    )
    waiting = np.array([True, False, False, False, False, False])
    seats = Seats(
        carriers_hz=np.array([-1, 2, 9, 25, 36, 57]),
        loose=np.where(waiting, 0, 1),
        waiting=waiting,
        absent=np.zeros(6, np.bool_),
    )
    return problem, seats


def question(**changed):
    given = {"leavers": 1, "later": 0, "levels": (0,), "unplaced": (0,), "broken": (), "liked_hz": {}}
    return Question(**(given | {"most_answers": 5_000} | changed))


def test_a_search_in_small_steps_meets_the_same_answers_as_one_in_a_single_step(monkeypatch):
    problem, seats = crowded()
    whole = ask(problem, rules_of(problem), seats, question(), effort=10**9)
    monkeypatch.setattr(leavers, "_STEP", 3)
    parts = ask(problem, rules_of(problem), seats, question(), effort=10**9)
    assert whole.all_met
    assert len(whole.solutions) > 1
    assert np.array_equal(whole.solutions, parts.solutions)
    assert whole.nodes == parts.nodes


def test_no_answer_is_met_twice_and_each_has_as_many_leavers_as_allowed_at_most():
    problem, seats = crowded()
    rows = ask(problem, rules_of(problem), seats, question(leavers=2), effort=10**9).solutions.tolist()
    assert len({tuple(row) for row in rows}) == len(rows)
    assert all(sum(a != b for a, b in zip(row[1:], seats.carriers_hz[1:], strict=True)) <= 2 for row in rows)


def test_a_stopped_search_claims_nothing():
    problem, seats = crowded()
    answer = ask(problem, rules_of(problem), seats, question(), effort=10**9, stop=lambda: True)
    assert answer.stopped
    assert not answer.all_met
    assert len(answer.solutions) == 0


def test_a_search_that_cannot_follow_all_that_a_placement_asks_claims_nothing(monkeypatch):
    problem, seats = crowded()
    monkeypatch.setattr(leavers, "_MOST_NEEDS", 1)
    assert not ask(problem, rules_of(problem), seats, question(leavers=2), effort=10**9).all_met


@pytest.mark.parametrize("leavers_allowed", [0, 1, 2])
def test_members_that_may_not_leave_stay(leavers_allowed):
    problem, seats = crowded()
    loose = seats.loose.copy()
    loose[[1, 2]] = 0
    held = Seats(carriers_hz=seats.carriers_hz, loose=loose, waiting=seats.waiting, absent=seats.absent)
    rows = ask(problem, rules_of(problem), held, question(leavers=leavers_allowed), effort=10**9).solutions
    assert np.all(rows[:, [1, 2]] == [2, 9])

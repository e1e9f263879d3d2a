"""Separation problems as such: who may change places. Authority: the matrices after the exchange, written out."""

from __future__ import annotations

import itertools

import numpy as np
from small_problems import random_problem


def test_two_members_are_bound_alike_exactly_where_exchanging_them_leaves_both_matrices_as_they_are():
    answers = []
    for seed in range(150):
        problem = random_problem(seed)
        for one, two in itertools.combinations(range(problem.size), 2):
            turned = list(range(problem.size))
            turned[one], turned[two] = two, one
            unchanged = all(
                np.array_equal(table[np.ix_(turned, turned)], table) for table in (problem.near_hz, problem.far_hz)
            )
            assert problem.bound_alike(one, two) is unchanged, (seed, one, two)
            answers.append(unchanged)
    assert set(answers) == {True, False}


def test_of_others_only_those_listed_count():
    problem = random_problem(0)
    for one, two in itertools.combinations(range(problem.size), 2):
        assert problem.bound_alike(one, two, np.array([one, two]))

"""The kernels of frequency assignment: counts that say what counting afresh says, compiled and as plain Python."""

from __future__ import annotations

import numpy as np
import pytest
from own_process import answers

from bandwright.engines.slots import Row

SEPARATION = np.array([[4, 2, 1, 0], [2, 3, 0, 1], [1, 0, 1, 2], [0, 1, 2, 5]])

CASE = """
import json
import numpy as np
from bandwright.core.planning.network import Network
from bandwright.engines.assignment import assign, minimum_span
from bandwright.kernels import jit

separation = np.array([[4, 2, 1, 0], [2, 3, 0, 1], [1, 0, 1, 2], [0, 1, 2, 5]])
network = Network(demand=np.array([4, 4, 2, 6]), separation=separation)
found = minimum_span(network, effort=3_000, time_limit_s=600)
some = assign(network, slots=18, effort=2_000, time_limit_s=600)
print(json.dumps([jit.uncompiled(), found.slots, found.moves, some.slots, some.moves]))
"""


def test_plain_python_gives_the_answers_of_compiled_code():
    compiled, plain = answers(CASE, BANDWRIGHT_UNCOMPILED=""), answers(CASE, BANDWRIGHT_UNCOMPILED="1")
    assert compiled[0] is False
    assert plain[0] is True
    assert compiled[1:] == plain[1:]


def counted_afresh(row):
    """Broken pairs of the row's calls, and the counts of every place, by comparing all calls with one another."""
    every = [(g, s) for g, slots in enumerate(row.as_calls()) for s in slots]

    def apart(a, b):
        return min(abs(a - b), row.slots - abs(a - b)) if row.cyclic else abs(a - b)

    cost = np.zeros((len(row.separation), row.slots), np.int64)
    for group, slot in np.ndindex(cost.shape):
        others = [call for call in every if call != (group, slot)]
        cost[group, slot] = sum(apart(slot, s) < row.separation[group, g] for g, s in others)
    return sum(cost[call] for call in every) // 2, cost


@pytest.mark.parametrize("cyclic", [False, True])
def test_counts_stay_what_counting_afresh_gives(cyclic):
    stream = np.random.default_rng(7)
    row = Row(SEPARATION, slots=16, most=5, cyclic=cyclic)
    row.place(stream.permutation(np.repeat(np.arange(4), [3, 3, 5, 3])))
    for seed in range(40):
        broken, cost = counted_afresh(row)
        assert row.broken == broken
        assert np.array_equal(row.cost, cost)
        row.mend(moves=1 + seed % 4, random=np.array([seed * 977 + 1], np.uint64), tenure=(1, 3))
    row.thin_out(np.array([1, 0, 0, 0]))
    broken, cost = counted_afresh(row)
    assert broken == row.broken == 0
    assert np.array_equal(row.cost, cost)


def test_the_least_important_group_loses_its_calls_first():
    row = Row(np.array([[1, 1], [1, 1]]), slots=2, most=2)
    row.load(((0,), (0,)))
    row.thin_out(np.array([0, 1]))
    assert row.as_calls() == ((), (0,))


def test_a_slot_nobody_misses_is_the_easiest_to_take_out():
    row = Row(np.array([[3]]), slots=10, most=3)
    row.load(((0, 3, 9),))
    assert row.easiest_slot() in range(4, 9)

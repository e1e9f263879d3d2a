"""The fewest that must move, against every set of members."""

from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.core.planning.opening import fewest_to_move

GROUPS = st.lists(st.sets(st.integers(0, 6), max_size=4), max_size=9)


@settings(max_examples=200, deadline=None)
@given(GROUPS, st.lists(st.integers(0, 2), min_size=7, max_size=7))
def test_no_set_of_fewer_members_meets_every_group(groups, rank):
    found = fewest_to_move(groups, rank)
    sizes = [n for n in range(8) for some in itertools.combinations(range(7), n) if all(set(some) & g for g in groups)]
    assert (found is None) == (not sizes)
    if found is not None:
        assert found.proven
        assert len(found.members) == min(sizes)
        assert all(set(found.members) & group for group in groups)


def test_of_equally_few_those_of_low_rank_go():
    assert fewest_to_move([{0, 1, 2}], rank=[5, 1, 3]).members == (1,)


def test_beyond_its_effort_it_says_that_nothing_is_proven():
    odd_ring = [{i, (i + 1) % 9} for i in range(9)]  # four pairs share nothing, but five members are needed
    found = fewest_to_move(odd_ring, rank=[0] * 9, nodes=1)
    assert len(found.members) >= 5
    assert not found.proven
    assert fewest_to_move(odd_ring, rank=[0] * 9).proven

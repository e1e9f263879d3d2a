"""The count arrays of the search against the verifier, cell by cell."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from tiny_problems import tiny_problems

from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.planning.verify import examine
from bandwright.engines.raster import lay_out, new_state
from bandwright.kernels import search
from bandwright.kernels.counts import BIG

CLEAR_OF_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)


def tightened(problem, scale):
    """The problem with every clearance and spacing that much larger, as `lay_out` does it."""

    def more(clearances):
        return tuple((family, math.ceil(hz * scale)) for family, hz in clearances)

    return dataclasses.replace(
        problem,
        choices=tuple(dataclasses.replace(c, clearance_hz=more(c.clearance_hz)) for c in problem.choices),
        fixed=tuple(dataclasses.replace(f, clearance_hz=more(f.clearance_hz)) for f in problem.fixed),
        near_hz=np.ceil(problem.near_hz * scale).astype(np.int64),
    )


def involves(hit, member):
    return hit.victim == member or member in hit.members


def entries_of(layout, member):
    seat = layout.seat_of[member]
    return layout.rising[layout.rising_start[seat] : layout.rising_start[seat + 1]].tolist()


def cost_of(state, member, entry):
    return int(state.air.cost[entry - state.layout.rules.entry_start[state.layout.seat_of[member]]])


@settings(max_examples=400, deadline=None, phases=CLEAR_OF_SHRINKING)
@given(tiny_problems(most_wanted=5, most_fixed=3), st.sampled_from([1.0, 1.5]), st.randoms(use_true_random=False))
def test_a_cell_costs_nothing_exactly_where_the_verifier_finds_nothing_broken(problem, scale, lot):
    layout = lay_out(problem, scale=scale)
    asked = tightened(problem, scale)
    state = new_state(layout, seed=1)
    carriers = np.full(len(problem.wanted), -1, np.int64)
    *others, last = lot.sample(range(len(problem.wanted)), len(problem.wanted))
    for member in others:
        if entries_of(layout, member):
            entry = lot.choice(entries_of(layout, member))
            search.put_member(member, entry, layout.rules, state.air)
            carriers[member] = layout.carrier_hz[entry]
    search.scan_member(last, 0, layout.rules, state.air)
    open_hz = set()
    for entry in entries_of(layout, last):
        carriers[last] = layout.carrier_hz[entry]
        open_hz.add(int(carriers[last]))
        hits = [hit for hit in examine(asked, carriers).hits if involves(hit, last)]
        broken = cost_of(state, last, entry)
        assert broken >= 0
        assert (broken == 0) == (not hits), (carriers, broken, hits)
    alone = np.full(len(problem.wanted), -1, np.int64)
    for hz in problem.choices[problem.wanted[last].choice].carriers_hz.tolist():
        alone[last] = hz
        assert (hz in open_hz) == examine(asked, alone).clean, hz


@settings(max_examples=150, deadline=None, phases=CLEAR_OF_SHRINKING)
@given(tiny_problems(most_wanted=6), st.randoms(use_true_random=False))
def test_what_is_broken_in_all_is_the_same_in_whatever_order_it_is_counted(problem, lot):
    layout = lay_out(problem)
    start = np.array([lot.choice(entries_of(layout, m) or [-1]) for m in range(len(problem.wanted))], np.int64)
    totals = set()
    for _ in range(4):
        order = np.array(lot.sample(range(len(start)), len(start)), np.int64)
        state = new_state(layout, seed=1)
        totals.add(int(search.load_members(order, start, layout.rules, state.air)))
        for member in order.tolist():
            if start[member] >= 0:
                search.take_member(member, layout.rules, state.air)
        assert np.array_equal(state.air.counts, new_state(layout, seed=1).air.counts)
    assert len(totals) == 1 or max(totals) >= BIG  # spacing is broken: then counts may be uneven
    assert (max(totals) == 0) == examine(problem, np.append(layout.carrier_hz, -1)[start]).clean


def clean_rest(problem, carriers):
    """What is left of these carriers once whoever breaks something is taken out, the least important first."""
    state = new_state(lay_out(problem), seed=1)
    start = state.layout.entries_of(np.array(carriers, np.int64))
    search.load_members(np.arange(len(start)), start, state.layout.rules, state.air)
    rank = np.array([item.priority for item in problem.wanted], np.int64)
    search.drop_worst(rank, np.zeros(len(start), np.int64), state.layout.rules, state.air)
    return state.carriers_hz()


@settings(max_examples=150, deadline=None, phases=CLEAR_OF_SHRINKING)
@given(tiny_problems(most_wanted=6, most_fixed=3), st.randoms(use_true_random=False))
def test_nothing_is_broken_once_whoever_breaks_something_is_taken_out(problem, lot):
    given_alone = np.full(len(problem.wanted), -1, np.int64)
    carriers = [lot.choice(problem.choices[item.choice].carriers_hz.tolist()) for item in problem.wanted]
    if examine(problem, given_alone).clean:
        assert examine(problem, clean_rest(problem, carriers)).clean


def test_a_product_at_a_protected_user_is_not_missed_where_clearances_exceed_spacing():
    """20 + 50 - 10 falls 5 from the user at 55, who asks for 15; the two links ask for no spacing at all."""
    choice = Choice.of(range(0, 56, 5), clearance_hz={"A+B-C": 20})
    asks = (("A+B-C", 15),)
    problem = Problem(
        choices=(choice,),
        wanted=(Wanted(id="one", choice=0, priority=0), Wanted(id="two", choice=0, priority=10)),
        fixed=(
            Fixed(id="sends", carrier_hz=50, sends=Sends.WITH_OURS, clearance_hz=asks),
            Fixed(id="hears", carrier_hz=55, sends=Sends.NOT, clearance_hz=asks),
        ),
        near_hz=np.zeros((4, 4), np.int64),
    )
    assert not examine(problem, np.array([10, 20])).clean
    assert clean_rest(problem, [10, 20]).tolist() == [-1, 20]

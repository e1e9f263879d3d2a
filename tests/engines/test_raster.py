"""The count arrays of the search against the verifier, cell by cell."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from tiny_problems import tiny_problems

from bandwright.core.planning.verify import examine
from bandwright.engines.raster import lay_out, new_state
from bandwright.kernels import search

PLACED = ("sender", "kind", "context_of", "context_start", "context_list")
COUNTS = ("gen", "vic", "dif", "com")
CLEAR_OF_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)


def put(state, member, entry):
    state.pos[member] = state.cand[entry]
    state.entry_of[member] = entry
    names = ("pos", *PLACED, "op", "width", "four", *COUNTS)
    search.add_member(member, 1, **{name: state.shared[name] for name in names})


def scan(state, member):
    names = ("pos", *PLACED, "four", "near", "far", *COUNTS)
    search.scan_member(
        member, low=0, high=state.layout.cells - 1, **{name: state.shared[name] for name in names}, **state.work
    )
    return state.work["cost"]


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


def entries_of(layout, problem, member):
    choice = problem.wanted[member].choice
    return range(layout.cand_start[choice], layout.cand_start[choice + 1])


@settings(max_examples=250, deadline=None, phases=CLEAR_OF_SHRINKING)
@given(tiny_problems(), st.sampled_from([1.0, 1.5]), st.randoms(use_true_random=False))
def test_a_cell_costs_nothing_exactly_where_the_verifier_finds_nothing_broken(problem, scale, lot):
    layout = lay_out(problem, scale=scale)
    asked = tightened(problem, scale)
    assert layout.exact
    state = new_state(layout, seed=1)
    carriers = np.full(len(problem.wanted), -1, np.int64)
    *others, last = lot.sample(range(len(problem.wanted)), len(problem.wanted))
    for member in others:
        entry = lot.choice(entries_of(layout, problem, member))
        put(state, member, entry)
        carriers[member] = layout.candidates_hz[entry]
    cost = scan(state, last)
    for entry in entries_of(layout, problem, last):
        carriers[last] = layout.candidates_hz[entry]
        hits = [hit for hit in examine(asked, carriers).hits if involves(hit, last)]
        broken = cost[layout.cand[entry]] + layout.static[entry]
        assert broken >= 0
        assert (broken == 0) == (not hits), (carriers, broken, hits)

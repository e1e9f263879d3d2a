"""The search on small mixed problems against OR-Tools CP-SAT, which proves how many can be placed."""

from __future__ import annotations

import pytest
from benchmarks.mixed_cases import mixed_problem, most_by_cp_sat

from bandwright.engines.solve import solve


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_small_mixed_kit_is_placed_as_far_as_cp_sat_proves_it_can_be(seed, authority):
    problem = mixed_problem(seed)
    outcome = solve(problem, time_limit_s=60, polish=False)
    proved = most_by_cp_sat(problem)
    assert proved.finished
    authority(
        f"Links placed of 5 of three types, case {seed}",
        source="OR-Tools CP-SAT, optimum over the definitions of spacing and products",
        ours=outcome.placed,
        theirs=proved.placed,
        kind="library",
    )

"""The least span of alike carriers as a CP-SAT model: the same question by a general-purpose library."""

from __future__ import annotations

import itertools

from ortools.sat.python import cp_model

__all__ = ["least_span_by_cp_sat"]


def least_span_by_cp_sat(count, *, spacing, two_a_b, a_b_c, three_a_two_b, longest):
    """The least span in steps, proven by CP-SAT: all differences `a_b_c` apart; at each carrier the left and the right
    distances `two_a_b` apart; the left ones and twice the right ones `three_a_two_b` apart, and mirrored.
    """
    model = cp_model.CpModel()
    p = [model.new_int_var(0, longest, f"p{i}") for i in range(count)]
    model.add(p[0] == 0)
    for left, right in itertools.pairwise(p):
        model.add(right - left >= spacing)
    apart(model, [p[j] - p[i] for j in range(count) for i in range(j)], a_b_c, longest)
    for j in range(count):
        lefts = [p[j] - p[i] for i in range(j)]
        rights = [p[k] - p[j] for k in range(j + 1, count)]
        apart(model, lefts + rights, two_a_b, longest)
        apart(model, lefts + [2 * d for d in rights], three_a_two_b, 2 * longest)
        apart(model, [2 * d for d in lefts] + rights, three_a_two_b, 2 * longest)
    model.add(p[1] - p[0] <= p[-1] - p[-2])
    model.minimize(p[-1])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return int(solver.objective_value)


def apart(model, values, width, largest):
    """Keep values `width` apart, as intervals of that length without overlap (two on one side are so by spacing)."""
    intervals = []
    for n, value in enumerate(values):
        start = model.new_int_var(0, largest, f"s{n}")
        model.add(start == value)
        intervals.append(model.new_fixed_size_interval_var(start, width, f"i{n}"))
    model.add_no_overlap(intervals)

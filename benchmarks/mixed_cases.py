"""Small mixed problems, and OR-Tools CP-SAT on them: the same question by a general-purpose library."""

from __future__ import annotations

import itertools
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from bandwright.core.planning.problem import Choice, Problem, Wanted
from bandwright.core.products import FAMILIES

__all__ = ["Proved", "mixed_problem", "most_by_cp_sat"]


def mixed_problem(seed: int, *, kinds: Sequence[int] = (0, 0, 0, 1, 2), width: int = 800) -> Problem:
    """Return links of three invented types with different steps, offsets, presets, clearances and spacings.

    `kinds` says of which type each link is; `width` is how much spectrum there is, in the unit of the steps 25 and 40.
    """
    lot = np.random.default_rng(seed)
    kit = (
        (np.arange(0, width, 25), {"2A-B": 100, "A+B-C": 50, "3A-2B": 50}),
        (np.arange(int(lot.integers(1, 12)), width, 40), {"2A-B": 60, "2A+B-2C": 20}),
        (np.sort(lot.choice(width, 9, replace=False)), {"A+B-C": 40, "3A-B-C": 20}),
    )
    near = np.array([[0 if i == j else 100 + 25 * max(a, b) for j, b in enumerate(kinds)] for i, a in enumerate(kinds)])
    return Problem(
        choices=tuple(Choice.of(hz.tolist(), clearance_hz=asked) for hz, asked in kit),
        wanted=tuple(Wanted(id=str(i), choice=kind) for i, kind in enumerate(kinds)),
        near_hz=near.astype(np.int64),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """How many CP-SAT places, whether it proves that no more can be, and the processor time it took."""

    placed: int
    finished: bool
    seconds: float


def most_by_cp_sat(problem: Problem, *, limit_s: float = 1e6) -> Proved:
    """Return how many can be placed, by definition: no product closer to a victim than it asks, spacing kept."""
    began = time.process_time()
    model = cp_model.CpModel()
    count = len(problem.wanted)
    on = [model.new_bool_var(f"on{i}") for i in range(count)]
    f = [
        model.new_int_var_from_domain(
            cp_model.Domain.from_values(problem.choices[item.choice].carriers_hz.tolist()), f"f{i}"
        )
        for i, item in enumerate(problem.wanted)
    ]

    def keep_apart(distance: cp_model.LinearExpr, least: int, members: Sequence[int]) -> None:
        above, below = model.new_bool_var("above"), model.new_bool_var("below")
        model.add(distance >= least).only_enforce_if(above)
        model.add(distance <= -least).only_enforce_if(below)
        model.add_bool_or([above, below, *(on[m].negated() for m in members)])

    for i, j in itertools.combinations(range(count), 2):
        keep_apart(f[i] - f[j], int(problem.near_hz[i, j]), (i, j))
    for victim, item in enumerate(problem.wanted):
        for name, least in problem.choices[item.choice].clearance_hz:
            c = FAMILIES[name].coefficients
            for makers in itertools.permutations(range(count), len(c)):
                alike = [m for m, k in zip(makers, c, strict=True) if k == c[-1]]
                ones = [m for m, k in zip(makers, c, strict=True) if k == 1]
                if alike != sorted(alike) or ones != sorted(ones):
                    continue  # the same product with its letters exchanged
                if victim in makers and c[makers.index(victim)] == 1:
                    continue  # carrier spacing under another name
                product = sum(k * f[m] for k, m in zip(c, makers, strict=True))
                keep_apart(product - f[victim], least, sorted({victim, *makers}))
    model.maximize(sum(on))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = limit_s
    status = solver.solve(model)
    placed = int(solver.objective_value) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else 0
    return Proved(placed=placed, finished=status == cp_model.OPTIMAL, seconds=time.process_time() - began)

"""Make the compiled kernels ready before any clock runs."""

from __future__ import annotations

import numpy as np

from bandwright.core.planning.problem import Choice, Fixed, Problem, Wanted
from bandwright.core.planning.verify import nearest
from bandwright.engines.solve import solve

__all__ = ["prepare_kernels"]


def prepare_kernels() -> None:
    """Load every kernel of search and verifier, or compile it where this machine has not done so before."""
    carriers = np.arange(0, 400_000, 25_000, dtype=np.int64)
    choice = Choice(
        name="any",
        carriers_hz=carriers,
        wish=np.zeros(len(carriers), np.int64),
        clearance_hz=(("2A-B", 25_000), ("A+B-C", 25_000), ("2A+B-2C", 1)),
    )
    near = np.full((5, 5), 25_000, np.int64)
    np.fill_diagonal(near, 0)
    near[4, :] = near[:, 4] = 0
    problem = Problem(
        choices=(choice,),
        wanted=tuple(Wanted(id=str(i), choice=0) for i in range(4)),
        fixed=(Fixed(id="given", carrier_hz=900_000),),
        near_hz=near,
    )
    outcome = solve(problem, time_limit_s=600.0)
    nearest(problem, np.array(outcome.carriers_hz, np.int64))

"""Small mixed kit against OR-Tools CP-SAT: how often the search places as many, and how much less time it takes.

Six cases of five and six links, from "all but one fit" to "half of them do"; `python -m benchmarks mixed full` takes
30.
"""

from __future__ import annotations

import functools
import importlib.util
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bandwright.engines.prepare import prepare_kernels
from bandwright.engines.solve import solve
from benchmarks.measure import Figure

__all__ = ["benchmarks"]

_SHAPES = (((0, 0, 0, 1, 2), 800), ((0, 0, 0, 1, 1, 2), 500), ((0, 0, 0, 1, 1, 2), 1200))
_CP_SAT_S = 20.0  # as long as CP-SAT may take for a case
_WITHOUT = "OR-Tools is not here (pip install .[dev])"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """One case: how many each placed, whether CP-SAT proved its number, and the processor time each took."""

    ours: int
    theirs: int
    proved: bool
    ours_s: float
    theirs_s: float


@functools.cache
def _cases() -> tuple[_Case, ...] | None:
    """Return what came out of all cases; None where CP-SAT is not here."""
    if importlib.util.find_spec("ortools") is None:
        return None
    from benchmarks.mixed_cases import mixed_problem, most_by_cp_sat

    prepare_kernels()
    solve(mixed_problem(0), polish=False)  # what is loaded once counts for neither
    found = []
    for seed in range(1, (10 if "full" in sys.argv else 2) + 1):
        for kinds, width in _SHAPES:
            problem = mixed_problem(seed, kinds=kinds, width=width)
            began = time.process_time()
            ours = solve(problem, time_limit_s=_CP_SAT_S, polish=False)
            ours_s = time.process_time() - began
            theirs = most_by_cp_sat(problem, limit_s=_CP_SAT_S)
            found.append(
                _Case(
                    ours=ours.placed,
                    theirs=theirs.placed,
                    proved=theirs.finished,
                    ours_s=ours_s,
                    theirs_s=theirs.seconds,
                )
            )
    return tuple(found)


def _of_cases(measure: Callable[[Sequence[_Case]], float]) -> Callable[[], float | None]:
    def measured() -> float | None:
        cases = _cases()
        return None if cases is None else measure(cases)

    return measured


def _as_many(cases: Sequence[_Case]) -> float:
    """Return in how many of the cases that CP-SAT finishes as many are placed, in percent."""
    finished = [case for case in cases if case.proved]
    if any(case.ours > case.theirs for case in finished):
        raise RuntimeError("the search placed more than CP-SAT proves possible: one of the two is wrong")
    return 100 * sum(case.ours == case.theirs for case in finished) / max(1, len(finished))


def _no_fewer(cases: Sequence[_Case]) -> float:
    return 100 * sum(case.ours >= case.theirs for case in cases) / len(cases)


def _finished(cases: Sequence[_Case]) -> float:
    return 100 * sum(case.proved for case in cases) / len(cases)


def _times(cases: Sequence[_Case]) -> float:
    """Return the median of CP-SAT's processor time over ours; a case it does not finish counts with what it took."""
    return statistics.median(case.theirs_s / case.ours_s for case in cases)


def benchmarks() -> Sequence[Figure]:
    """Return what is measured."""
    rows: tuple[tuple[str, Callable[[Sequence[_Case]], float], str, float | None], ...] = (
        (f"cases that CP-SAT finishes in {_CP_SAT_S:g} s", _finished, "% of cases", None),
        ("as many placed as CP-SAT proves to be the most", _as_many, "% of these", 100),
        ("no fewer placed than CP-SAT finds, finished or not", _no_fewer, "% of cases", 100),
        ("CP-SAT against ours, processor time, median", _times, "times", 1),
    )
    return tuple(
        Figure(
            name=f"mixed kit: {name}",
            measure=_of_cases(measure),
            unit=unit,
            limit=limit,
            at_least=True,
            without=_WITHOUT,
        )
        for name, measure, unit, limit in rows
    )

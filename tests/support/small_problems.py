"""Separation problems small enough to try everything, with whatever a problem may hold."""

from __future__ import annotations

import itertools

import numpy as np

from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.planning.verify import examine
from bandwright.core.products import FAMILIES

_MOST_CANDIDATES = {2: 12, 3: 9, 4: 6, 5: 5}

__all__ = ["every_score", "random_problem"]


def random_problem(seed: int) -> Problem:
    """A random problem of 2 to 5 wanted members: all families, contexts, given carriers, near and far limits."""
    lot = np.random.Generator(np.random.PCG64(seed))
    wanted, fixed = int(lot.integers(2, 6)), int(lot.integers(0, 4))
    contexts = int(lot.integers(1, 4))
    span, kinds = int(lot.integers(20, 90)), int(lot.integers(1, 4))
    choices = []
    for q in range(kinds):
        count = int(lot.integers(1, _MOST_CANDIDATES[wanted]))
        carriers = np.sort(lot.choice(np.arange(span), size=min(count, span), replace=False)).astype(np.int64)
        choices.append(
            Choice(
                name=f"q{q}",
                carriers_hz=carriers,
                wish=np.zeros(len(carriers), np.int64),
                clearance_hz=_clearances(lot, most=5),
            )
        )
    kind = lot.integers(0, kinds, wanted)
    by_kind = [_contexts(lot, contexts) for _ in range(kinds)]
    return Problem(
        choices=tuple(choices),
        wanted=tuple(
            Wanted(
                id=f"w{i}",
                choice=int(kind[i]),
                priority=int(lot.integers(0, 3)),
                contexts=by_kind[kind[i]] if lot.random() < 0.7 else _contexts(lot, contexts),
            )
            for i in range(wanted)
        ),
        fixed=tuple(
            Fixed(
                id=f"f{i}",
                carrier_hz=int(lot.integers(0, span)),
                sends=list(Sends)[int(lot.integers(0, 3))],
                clearance_hz=_clearances(lot, most=4) if lot.random() < 0.5 else (),
                contexts=_contexts(lot, contexts),
            )
            for i in range(fixed)
        ),
        near_hz=_limits(lot, kind, wanted + fixed, kinds, most=10),
        far_hz=_limits(lot, kind, wanted + fixed, kinds, most=0)
        if lot.random() < 0.7
        else _far(lot, wanted + fixed, span),
        contexts=contexts,
    )


def _clearances(lot, *, most):
    names = [name for name in FAMILIES if lot.random() < 0.5]
    return tuple((name, int(lot.integers(1, most + 1))) for name in names)


def _contexts(lot, contexts):
    some = [c for c in range(contexts) if lot.random() < 0.6]
    return tuple(some or [int(lot.integers(0, contexts))])


def _limits(lot, kind, size, kinds, *, most):
    """Limits by kind of member, with a pair that is an exception now and then."""
    table = lot.integers(0, most + 1, (kinds + 1, kinds + 1))
    row = [*kind.tolist(), *[kinds] * (size - len(kind))]
    limits = np.zeros((size, size), np.int64)
    for i, j in itertools.combinations(range(size), 2):
        value = int(table[min(row[i], row[j]), max(row[i], row[j])])
        limits[i, j] = limits[j, i] = int(lot.integers(0, most + 1)) if lot.random() < 0.1 else value
    return limits


def _far(lot, size, span):
    limits = np.zeros((size, size), np.int64)
    for i, j in itertools.combinations(range(size), 2):
        if lot.random() < 0.3:
            limits[i, j] = limits[j, i] = int(lot.integers(span // 3, span))
    return limits


def every_score(problem: Problem) -> set[tuple[int, ...]]:
    """How many are placed at each priority, highest first, in every clean set: by trying everything.

    A part of a clean set is clean, so nothing is added to a set that is not.
    """
    levels = sorted({w.priority for w in problem.wanted}, reverse=True)
    carriers = np.full(len(problem.wanted), -1, np.int64)
    found = set()

    def extend(member: int) -> None:
        if member == len(carriers):
            placed = [w.priority for w, hz in zip(problem.wanted, carriers, strict=True) if hz >= 0]
            found.add(tuple(placed.count(level) for level in levels))
            return
        for hz in problem.choices[problem.wanted[member].choice].carriers_hz.tolist():
            carriers[member] = hz
            if examine(problem, carriers).clean:
                extend(member + 1)
        carriers[member] = -1
        extend(member + 1)

    extend(0)
    return found

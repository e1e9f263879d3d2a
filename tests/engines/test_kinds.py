"""Exact answers for a few classes that all meet, beside given carriers: the general search and trying everything."""

from __future__ import annotations

import numpy as np
import pytest
from small_problems import every_score

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.groups import group_members
from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.products import FAMILIES
from bandwright.engines.branching import MixedSearch, parts_of
from bandwright.engines.exact import most_placed, placeable
from bandwright.engines.kinds import KindSearch


def kinds_of_kit(seed, *, most, longest):
    """Two to four classes with their own steps, offsets, holes and clearances, beside given carriers of each kind."""
    lot = np.random.Generator(np.random.PCG64(seed))
    count, span = int(lot.integers(2, 5)), int(lot.integers(12, longest))
    choices, wanted = [], []
    for q in range(count):
        carriers = np.arange(int(lot.integers(0, 4)), span, int(lot.integers(1, 4)))
        if lot.random() < 0.4:
            carriers = carriers[lot.random(len(carriers)) < 0.6]
        names = [name for name in FAMILIES if lot.random() < 0.5]
        clearances = tuple((name, int(lot.integers(1, 6))) for name in names)
        choices.append(
            Choice(name=f"q{q}", carriers_hz=carriers, wish=np.zeros_like(carriers), clearance_hz=clearances)
        )
    for _ in range(int(lot.integers(2, most + 1))):
        wanted.append(Wanted(id=f"w{len(wanted)}", choice=int(lot.integers(0, count))))
    fixed = tuple(
        Fixed(
            id=f"f{i}",
            carrier_hz=int(lot.integers(0, span)),
            sends=list(Sends)[int(lot.integers(0, 3))],
            clearance_hz=(("A+B-C", 2), ("2A+B-2C", 1)) if lot.random() < 0.4 else (),
        )
        for i in range(int(lot.integers(0, 3)))
    )
    table = lot.integers(1, 8, (count + 1, count + 1))
    kind = np.array([*(w.choice for w in wanted), *[count] * len(fixed)])
    near = np.maximum(table, table.T)[np.ix_(kind, kind)].astype(np.int64)
    np.fill_diagonal(near, 0)
    return Problem(choices=tuple(choices), wanted=tuple(wanted), near_hz=near, fixed=fixed)


@pytest.mark.parametrize("ten", range(4))
def test_mixed_kit_is_answered_as_trying_everything_answers_it(ten):
    for seed in range(10 * ten, 10 * ten + 10):
        problem = kinds_of_kit(seed, most=4, longest=22)
        most = max(sum(score) for score in every_score(problem))
        proof = most_placed(problem)
        assert (proof.placed, proof.upper_bound, proof.finished) == (most, most, True), seed
        assert placeable(problem).verdict is (most == len(problem.wanted)), seed
        assert upper_bound(problem).upper_bound >= most, seed


@pytest.mark.parametrize("twenty", range(5))
def test_kinds_and_the_general_search_agree(twenty):
    met = 0
    for seed in range(1_000 + 20 * twenty, 1_020 + 20 * twenty):
        problem = kinds_of_kit(seed, most=9, longest=60)
        for part in parts_of(group_members(problem, range(len(problem.wanted)))):
            if not KindSearch.fits(part):
                continue
            met += 1
            nobody = np.full(len(part.members), -1, np.int64)
            general = MixedSearch(part, nobody, limit=len(nobody))
            general.go_on(60_000)
            special = KindSearch(part, nobody, limit=len(nobody))
            while special.go_on(2_000):
                assert special.nodes < 200_000, seed
            placed = int(np.sum(general.carriers_hz >= 0))
            assert placed == special.least or (not general.finished and placed < special.least), seed
            assert general.upper_bound >= special.upper_bound, seed
    assert met > 5


def test_priorities_are_left_to_the_general_search():
    problem = kinds_of_kit(3, most=5, longest=30)
    wanted = tuple(Wanted(id=w.id, choice=w.choice, priority=i) for i, w in enumerate(problem.wanted))
    ranked = Problem(choices=problem.choices, wanted=wanted, near_hz=problem.near_hz, fixed=problem.fixed)
    parts = parts_of(group_members(ranked, range(len(wanted)), by_priority=True))
    assert not any(KindSearch.fits(part) for part in parts if len(part.members) > 1)

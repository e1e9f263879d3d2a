"""Upper bounds: never below what is known to fit."""

from __future__ import annotations

import numpy as np
import pytest

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.problem import Choice, Fixed, Problem, Wanted
from bandwright.core.products import FAMILIES
from bandwright.engines.exact import most_placed

# Carriers that were found in one block of 8 k - 1 MHz (25 kHz steps, 350 kHz spacing), measured earlier by an
# independent prototype. A: 2A-B 100, A+B-C 50, 3A-2B 50 kHz; F: 25 kHz each; B: A without A+B-C.
FOUND = {
    "A": {1: 11, 2: 17, 4: 23, 5: 25, 8: 30, 28: 51},
    "F": {1: 14, 2: 21, 4: 29, 5: 32, 8: 39, 28: 63},
    "B": {1: 15, 2: 25, 4: 40, 5: 44, 8: 60, 28: 120},
}
RULES = {
    "A": (("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000)),
    "F": (("2A-B", 25_000), ("A+B-C", 25_000), ("3A-2B", 25_000)),
    "B": (("2A-B", 100_000), ("3A-2B", 50_000)),
}


def alike(count, width_hz, rules, *, spacing_hz=350_000, step_hz=25_000):
    carriers = np.arange(470_000_000, 470_000_001 + width_hz, step_hz, dtype=np.int64)
    near = np.full((count, count), spacing_hz, np.int64)
    np.fill_diagonal(near, 0)
    choice = Choice(name="one", carriers_hz=carriers, wish=np.zeros(len(carriers), np.int64), clearance_hz=rules)
    return Problem(choices=(choice,), wanted=tuple(Wanted(id=f"L{i}", choice=0) for i in range(count)), near_hz=near)


@pytest.mark.parametrize("rule", FOUND)
@pytest.mark.parametrize("tv_channels", [1, 2, 4, 5, 8, 28])
def test_no_bound_is_below_what_was_found(rule, tv_channels):
    bound = upper_bound(alike(200, (8 * tv_channels - 1) * 1_000_000, RULES[rule]))
    assert bound.upper_bound >= FOUND[rule][tv_channels]


# The counting bound as measured earlier by an independent prototype; ours is to be no worse.
COUNTED = {"A": {2: 19, 4: 28, 5: 31, 8: 40, 28: 74}, "F": {2: 24, 4: 38, 5: 43, 8: 55, 28: 102}}


@pytest.mark.parametrize(("rule", "tv_channels"), [(rule, k) for rule, counted in COUNTED.items() for k in counted])
def test_counting_is_as_good_as_was_counted_before(rule, tv_channels):
    bound = upper_bound(alike(200, (8 * tv_channels - 1) * 1_000_000, RULES[rule]))
    assert bound.upper_bound <= COUNTED[rule][tv_channels]
    assert bound.method == "counting differences"


def test_rules_without_three_signal_products_are_bounded_by_least_spans():
    # 15 were found in one TV channel, so that no more than 15 is exact.
    bound = upper_bound(alike(40, 7_000_000, RULES["B"]))
    assert (bound.upper_bound, bound.method) == (FOUND["B"][1], "least spans")
    # Two gaps that meet need 14 + 18 steps (350 kHz, and 100 kHz more): by that alone 600 steps hold 38 carriers.
    assert upper_bound(alike(90, 15_000_000, RULES["B"])).upper_bound < 38


def crowded(seed):
    """More members of two or three types than fit, in one or two contexts, in blocks with a gap, beside a carrier."""
    lot = np.random.Generator(np.random.PCG64(seed))
    contexts, kinds = int(lot.integers(1, 3)), int(lot.integers(2, 4))
    choices, wanted = [], []
    for q in range(kinds):
        low, step = int(lot.integers(0, 10)), int(lot.integers(1, 4))
        carriers = np.arange(low, low + int(lot.integers(20, 60)), step)
        carriers = carriers[(carriers < 25) | (carriers >= 25 + int(lot.integers(0, 12)))]
        clearances = tuple((name, int(lot.integers(1, 6))) for name in FAMILIES if lot.random() < 0.6)
        choices.append(
            Choice(name=f"q{q}", carriers_hz=carriers, wish=np.zeros_like(carriers), clearance_hz=clearances)
        )
        some = tuple(c for c in range(contexts) if lot.random() < 0.7) or (0,)
        wanted += [Wanted(id=f"{q}-{i}", choice=q, contexts=some) for i in range(int(lot.integers(1, 5)))]
    fixed = (Fixed(id="f", carrier_hz=int(lot.integers(0, 60))),) if lot.random() < 0.4 else ()
    table = lot.integers(1, 7, (kinds + 1, kinds + 1))
    kind = np.array([*(w.choice for w in wanted), *[kinds] * len(fixed)])
    near = np.maximum(table, table.T)[np.ix_(kind, kind)].astype(np.int64)
    np.fill_diagonal(near, 0)
    return Problem(choices=tuple(choices), wanted=tuple(wanted), near_hz=near, fixed=fixed, contexts=contexts)


@pytest.mark.parametrize("twenty", range(6))
def test_no_bound_is_below_what_the_exact_search_places_of_crowded_mixed_kit(twenty):
    for seed in range(20 * twenty, 20 * twenty + 20):
        problem = crowded(seed)
        proof = most_placed(problem, effort=60_000)
        bound = upper_bound(problem)
        assert bound.upper_bound >= proof.placed, (seed, bound, proof)
        for choice in range(len(problem.choices)):
            members = [m for m, item in enumerate(problem.wanted) if item.choice == choice]
            placed = most_placed(problem, members=members, effort=60_000).placed
            assert upper_bound(problem, members).upper_bound >= placed, (seed, choice)


def test_every_argument_is_used_by_some_crowded_problem():
    methods = {upper_bound(crowded(seed)).method for seed in range(120)}
    assert {"open candidates", "spacing", "counting differences"} <= methods


def test_earshots_that_do_not_hear_each_other_are_bounded_apart():
    strict, loose = alike(20, 7_000_000, RULES["A"]), alike(30, 7_000_000, ())
    near = np.zeros((50, 50), np.int64)
    near[:20, :20], near[20:, 20:] = strict.near_hz, loose.near_hz
    both = Problem(
        choices=strict.choices + loose.choices,
        wanted=(
            *(Wanted(id=f"a{i}", choice=0, contexts=(0,)) for i in range(20)),
            *(Wanted(id=f"b{i}", choice=1, contexts=(1,)) for i in range(30)),
        ),
        near_hz=near,
        contexts=2,
    )
    # 21 carriers 350 kHz apart fill 7 MHz: 20 * 350 kHz.
    assert upper_bound(both).upper_bound == upper_bound(strict).upper_bound + 21
    assert upper_bound(both).method == "counting differences and spacing"


def test_given_carriers_close_candidates_before_anything_is_counted():
    problem = alike(3, 100_000, (("2A-B", 100_000),))
    blocked = Problem(
        choices=problem.choices,
        wanted=problem.wanted,
        near_hz=np.zeros((4, 4), np.int64) + 350_000 * (1 - np.eye(4, dtype=np.int64)),
        fixed=(Fixed(id="given", carrier_hz=470_050_000),),
    )
    assert upper_bound(blocked).upper_bound == 0
    assert upper_bound(blocked).method == "open candidates"
    assert upper_bound(problem, [0]).upper_bound == 1
    assert upper_bound(problem, []).upper_bound == 0

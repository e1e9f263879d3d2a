"""The verifier against plain enumeration, published rulers and published counts."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.planning.verify import examine, nearest
from bandwright.core.products import FAMILIES

AUTHORITIES = Path(__file__).parents[1] / "authorities"


def plain_hits(problem, carriers):
    """Every broken rule by plain enumeration over ordered tuples: the definition, written out."""
    f = [*carriers, *(item.carrier_hz for item in problem.fixed)]
    sends = [Sends.FULLY] * len(problem.wanted) + [item.sends for item in problem.fixed]
    placed = [i for i in range(problem.size) if f[i] >= 0]
    ours = set(range(len(problem.wanted)))
    found = set()
    for i, j in itertools.combinations(placed, 2):
        gap = abs(f[i] - f[j])
        near, far = problem.near_hz[i, j], problem.far_hz[i, j]
        if (gap < near or (far and gap > far)) and ours & {i, j}:
            found.add(("spacing", i, (j,)))
    for victim in placed:
        for family, clearance in problem.clearance_of(victim):
            c = FAMILIES[family].coefficients
            for generators in itertools.permutations(placed, len(c)):
                if in_standing_order(family, generators) != generators:
                    continue
                shared = set(problem.contexts_of(victim)).intersection(*(problem.contexts_of(g) for g in generators))
                weakest = min(sends[g] for g in generators)
                makes = weakest == Sends.FULLY or (weakest == Sends.WITH_OURS and ours.intersection(generators))
                if not shared or not makes or not ours & {victim, *generators}:
                    continue
                if victim in generators and c[generators.index(victim)] == 1:
                    continue
                if abs(sum(k * f[g] for k, g in zip(c, generators, strict=True)) - f[victim]) < clearance:
                    found.add((family, victim, generators))
    return found


def in_standing_order(family, members):
    """Generators whose coefficients are equal are interchangeable: sort them."""
    if family == "A+B-C":
        return (*sorted(members[:2]), members[2])
    if family == "3A-B-C":
        return (members[0], *sorted(members[1:]))
    return members


def as_set(report):
    return {(hit.family or "spacing", hit.victim, in_standing_order(hit.family, hit.members)) for hit in report.hits}


@st.composite
def problems(draw):
    wanted = draw(st.integers(2, 6))
    fixed = draw(st.integers(0, 2))
    contexts = draw(st.integers(1, 2))
    family = st.sampled_from(sorted(FAMILIES))
    clearances = st.dictionaries(family, st.integers(1, 30), max_size=4).map(lambda d: tuple(sorted(d.items())))
    some = st.lists(st.integers(0, contexts - 1), min_size=1, unique=True).map(tuple)
    zero = np.array([0])
    choices = tuple(Choice(name=str(i), carriers_hz=zero, wish=zero, clearance_hz=draw(clearances)) for i in range(2))
    size = wanted + fixed
    near = np.zeros((size, size), np.int64)
    far = np.zeros((size, size), np.int64)
    for i, j in itertools.combinations(range(size), 2):
        near[i, j] = near[j, i] = draw(st.integers(0, 12))
        far[i, j] = far[j, i] = draw(st.sampled_from([0, 0, 0, 150]))
    problem = Problem(
        choices=choices,
        wanted=tuple(Wanted(id=f"w{i}", choice=draw(st.integers(0, 1)), contexts=draw(some)) for i in range(wanted)),
        fixed=tuple(
            Fixed(
                id=f"f{i}",
                carrier_hz=draw(st.integers(0, 200)),
                sends=draw(st.sampled_from(list(Sends))),
                clearance_hz=draw(clearances),
                contexts=draw(some),
            )
            for i in range(fixed)
        ),
        near_hz=near,
        far_hz=far,
        contexts=contexts,
    )
    carriers = np.array(draw(st.lists(st.integers(-20, 200), min_size=wanted, max_size=wanted)), np.int64)
    return problem, np.where(carriers < 0, -1, carriers)


@settings(max_examples=400, deadline=None)
@given(problems())
def test_the_verifier_finds_exactly_what_plain_enumeration_finds(case):
    problem, carriers = case
    report = examine(problem, carriers, listed=20_000)
    expected = plain_hits(problem, carriers.tolist())
    assert as_set(report) == expected
    assert report.total == len(expected)


@settings(max_examples=150, deadline=None)
@given(problems())
def test_the_smallest_slack_is_never_larger_than_that_of_any_broken_rule(case):
    problem, carriers = case
    closest = nearest(problem, carriers)
    for hit in examine(problem, carriers).hits:
        if hit.family is None or hit.victim >= len(problem.wanted) or len(set(hit.members) | {hit.victim}) == 2:
            continue
        found = closest[hit.victim]
        assert found.offset_hz - found.required_hz <= hit.offset_hz - hit.required_hz


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(0, 60), min_size=4, max_size=8), st.integers(1, 4))
def test_carriers_too_far_apart_for_sorted_differences_are_checked_as_exactly(marks, clearance):
    far = 1 << 40
    problem = one_type([*marks, far, far + 3], {"A+B-C": clearance})
    carriers = [*marks, far, far + 3]
    assert as_set(examine(problem, np.array(carriers), listed=20_000)) == plain_hits(problem, carriers)


def one_type(marks, clearances, *, spacing=1):
    n = len(marks)
    near = np.full((n, n), spacing, np.int64)
    np.fill_diagonal(near, 0)
    choice = Choice(name="x", carriers_hz=np.array([0]), wish=np.array([0]), clearance_hz=tuple(clearances.items()))
    return Problem(choices=(choice,), wanted=tuple(Wanted(id=str(i), choice=0) for i in range(n)), near_hz=near)


def published_rulers():
    data = json.loads((AUTHORITIES / "golomb_rulers.json").read_text())
    return [pytest.param(marks, id=f"order {n}") for n, marks in data["rulers"].items() if int(n) >= 4]


@pytest.mark.parametrize("marks", published_rulers())
def test_every_published_golomb_ruler_is_accepted_and_refused_with_a_mark_moved_onto_a_hit(marks, authority):
    problem = one_type(marks, {"2A-B": 1, "A+B-C": 1})
    assert examine(problem, np.array(marks)).clean
    moved = list(marks)
    moved[-1] = moved[-2] + (moved[1] - moved[0])
    if moved[-1] != marks[-1] and len(set(moved)) == len(moved):
        assert not examine(problem, np.array(moved)).clean
    authority(
        f"Golomb ruler of {len(marks)} marks has no third-order product on a mark",
        source="OEIS A003022 and published rulers, orders 1-28 (tests/authorities/golomb_rulers.json)",
        ours=examine(problem, np.array(marks)).total,
        theirs=0,
        kind="published",
    )


def test_babcock_sets_are_third_order_free_and_have_the_counted_fifth_order_hits(authority):
    data = json.loads((AUTHORITIES / "babcock_1953.json").read_text())
    for n, marks in data["sets_channel_numbers"].items():
        third = examine(one_type(marks, {"2A-B": 1, "A+B-C": 1}), np.array(marks)).total
        authority(
            f"Babcock's set for {n} channels: third-order hits",
            source="W. C. Babcock, BSTJ 32(1), 1953 (rows from memory, each verified)",
            ours=third,
            theirs=0,
            kind="memory",
        )


EQUAL = {
    3: ([1, 0, 1], [0, 1, 0]),
    4: ([1, 1, 1, 1], [1, 2, 2, 1]),
    5: ([2, 1, 2, 1, 2], [2, 4, 4, 4, 2]),
    6: ([2] * 6, [4, 6, 7, 7, 6, 4]),
    8: ([3] * 8, [9, 12, 14, 15, 15, 14, 12, 9]),
    10: ([4] * 10, [16, 20, 23, 25, 26, 26, 25, 23, 20, 16]),
}


@pytest.mark.parametrize("n", EQUAL)
def test_equally_spaced_carriers_have_the_published_number_of_products_on_each_carrier(n, authority):
    for family, expected in zip(("2A-B", "A+B-C"), EQUAL[n], strict=True):
        hits = examine(one_type(range(n), {family: 1}), np.arange(n)).hits
        counts = [sum(hit.victim == v for hit in hits) for v in range(n)]
        authority(
            f"{family} products of {n} equally spaced carriers, on each carrier",
            source="counts for equal spacing, computed independently by enumeration (project references 1.2)",
            ours=counts,
            theirs=expected,
            kind="published",
        )

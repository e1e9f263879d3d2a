"""The verifier against plain enumeration, published rulers and counts by brute force."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_rules import in_standing_order, plain_hits

from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.planning.verify import examine, nearest
from bandwright.core.products import FAMILIES

AUTHORITIES = Path(__file__).parents[1] / "authorities"


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


def test_a_nearer_product_of_other_users_alone_does_not_hide_the_one_that_is_ours():
    choice = Choice(
        name="any", carriers_hz=np.zeros(0, np.int64), wish=np.zeros(0, np.int64), clearance_hz=(("4A-3B", 29),)
    )
    problem = Problem(
        choices=(choice,),
        wanted=(Wanted(id="w0", choice=0), Wanted(id="w1", choice=0)),
        fixed=(
            Fixed(id="f0", carrier_hz=54, sends=Sends.WITH_OURS),
            Fixed(id="f1", carrier_hz=34, sends=Sends.FULLY),
        ),
        near_hz=np.zeros((4, 4), np.int64),
    )
    # 4 x 54 - 3 x 34 = 114 is 2 Hz from w1, but f0 takes part only together with ours; 4 x 54 - 3 x 24 = 144 counts.
    closest = nearest(problem, np.array([24, 116]))[1]
    assert (closest.members, closest.product_hz, closest.offset_hz) == ((2, 0), 144, 28)


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
    remembered = len(marks) > 26
    authority(
        f"Golomb rulers of {'27 and 28' if remembered else '4 to 26'} marks: third-order products on a mark",
        source=f"OEIS A003022 (lengths); marks {'from memory' if remembered else 'as in three public tables'}",
        ours=examine(problem, np.array(marks)).total,
        theirs=0,
        kind="memory" if remembered else "published",
    )


def test_no_babcock_set_has_a_third_order_product_on_a_carrier(authority):
    data = json.loads((AUTHORITIES / "babcock_1953.json").read_text())
    for marks in data["sets_channel_numbers"].values():
        third = examine(one_type(marks, {"2A-B": 1, "A+B-C": 1}), np.array(marks)).total
        authority(
            "Babcock's sets for 3 to 10 carriers: third-order products on a carrier",
            source="W. C. Babcock, Bell System Technical Journal 32(1), 1953, pp. 63-73; sets from memory",
            ours=third,
            theirs=0,
            kind="memory",
        )


EQUAL = json.loads((AUTHORITIES / "intermodulation_counts.json").read_text())["hits_on_n_equally_spaced_carriers"]


@pytest.mark.parametrize("n", [int(n) for n in EQUAL])
def test_equally_spaced_carriers_have_the_counted_number_of_products_on_each_carrier(n, authority):
    for family, expected in EQUAL[str(n)].items():
        hits = examine(one_type(range(n), {family: 1}), np.arange(n)).hits
        counts = [sum(hit.victim == v for hit in hits) for v in range(n)]
        authority(
            f"{family} products of {n} equally spaced carriers, on each carrier",
            source="counted by brute force (tests/authorities/intermodulation_counts.json)",
            ours=counts,
            theirs=expected,
            kind="arithmetic",
        )


def test_what_given_carriers_do_to_each_other_does_not_count_however_few_are_listed():
    asks = (("2A-B", 100), ("A+B-C", 100), ("3A-2B", 100), ("3A-B-C", 100))
    given_ = [Fixed(id=f"given {n}", carrier_hz=1_000 + 10 * n, clearance_hz=asks) for n in range(4)]
    problem = Problem.alike(1, [50_000], spacing_hz=350, clearance_hz=dict(asks), fixed=given_)
    for carriers in ([-1], [50_000]):
        for listed in (1, 2_000):
            assert examine(problem, np.array(carriers), listed=listed).clean
    assert not examine(problem, np.array([990]), listed=1).clean  # a carrier of ours among them
    assert as_set(examine(problem, np.array([990]))) == plain_hits(problem, [990])

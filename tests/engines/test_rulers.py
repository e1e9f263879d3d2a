"""Exact answers for alike members: published rulers, another library, trying everything, the general search."""

from __future__ import annotations

import numpy as np
import pytest
from cp_model import least_span_by_cp_sat

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.groups import group_members
from bandwright.core.planning.problem import Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.planning.verify import examine
from bandwright.core.products import FAMILIES
from bandwright.engines.branching import MixedSearch, parts_of
from bandwright.engines.exact import most_placed, placeable
from bandwright.engines.kinds import KindSearch
from bandwright.engines.ladder import RulerSearch
from bandwright.engines.rulers import least_span

GOLOMB = (("2A-B", 1), ("A+B-C", 1))
RULE_A = (("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000))


def alike(count, carriers, clearances, *, spacing=1, fixed=()):
    carriers = np.asarray(carriers, np.int64)
    size = count + len(fixed)
    near = np.full((size, size), spacing, np.int64)
    np.fill_diagonal(near, 0)
    choice = Choice(name="one", carriers_hz=carriers, wish=np.zeros_like(carriers), clearance_hz=tuple(clearances))
    wanted = tuple(Wanted(id=f"L{i}", choice=0) for i in range(count))
    return Problem(choices=(choice,), wanted=wanted, near_hz=near, fixed=tuple(fixed))


@pytest.mark.parametrize("marks", range(2, 13))
def test_golomb_rulers_are_proven_as_short_as_published(marks, authority, authority_table):
    found = least_span(marks, spacing_hz=1, clearance_hz=GOLOMB, step_hz=1, longest_hz=100)
    assert found.finished
    assert examine(alike(marks, [0], GOLOMB), np.array(found.carriers_hz)).clean
    authority(
        "Least span of carriers under 2A-B and A+B-C that do not coincide (shortest Golomb rulers of 2 to 12 marks)",
        source="OEIS A003022",
        ours=found.span_hz,
        theirs=authority_table("golomb_rulers")["lengths_A003022_offset2"][marks - 2],
    )


def test_no_golomb_ruler_of_twelve_marks_is_shorter_than_the_published_one(authority_table):
    length = authority_table("golomb_rulers")["lengths_A003022_offset2"][10]
    assert placeable(alike(12, range(length + 1), GOLOMB), effort=1_000_000).verdict is True
    assert placeable(alike(12, range(length), GOLOMB), effort=1_000_000).verdict is False


# Steps of 25 kHz, 2 to 11 carriers; measured earlier by an independent prototype.
LEAST_SPANS_A = [14, 32, 50, 68, 90, 114, 142, 168, 202, 234]


def test_least_spans_under_the_usual_rules_are_those_measured_before():
    spans = [
        least_span(n, spacing_hz=350_000, clearance_hz=RULE_A, step_hz=25_000, longest_hz=7_000_000)
        for n in range(2, 12)
    ]
    assert all(span.finished for span in spans)
    assert [span.span_hz // 25_000 for span in spans] == LEAST_SPANS_A


@pytest.mark.parametrize("count", [4, 5, 6, 7, 8])
def test_another_library_proves_the_same_least_spans(count, authority):
    ours = least_span(count, spacing_hz=350_000, clearance_hz=RULE_A, step_hz=25_000, longest_hz=7_000_000)
    authority(
        "Least span of 4 to 8 carriers: 350 kHz spacing, 2A-B 100, A+B-C 50, 3A-2B 50 kHz, in steps of 25 kHz",
        source="OR-Tools CP-SAT, proven",
        ours=ours.span_hz // 25_000,
        theirs=least_span_by_cp_sat(count, spacing=14, two_a_b=4, a_b_c=2, three_a_two_b=2, longest=170),
        kind="library",
    )


@pytest.mark.parametrize("count", [4, 5, 6])
def test_another_library_proves_the_same_least_spans_under_narrower_rules(count, authority):
    rules = (("2A-B", 25_000), ("A+B-C", 25_000), ("3A-2B", 25_000))
    ours = least_span(count, spacing_hz=125_000, clearance_hz=rules, step_hz=25_000, longest_hz=7_000_000)
    authority(
        "Least span of 4 to 6 carriers: 125 kHz spacing, all clearances 25 kHz, in steps of 25 kHz",
        source="OR-Tools CP-SAT, proven",
        ours=ours.span_hz // 25_000,
        theirs=least_span_by_cp_sat(count, spacing=5, two_a_b=1, a_b_c=1, three_a_two_b=1, longest=120),
        kind="library",
    )


def test_eleven_links_fit_one_tv_channel_and_twelve_are_proven_impossible():
    carriers = range(606_500_000, 613_500_001, 25_000)
    proof = most_placed(alike(12, carriers, RULE_A, spacing=350_000))
    assert (proof.placed, proof.upper_bound, proof.finished) == (11, 11, True)
    assert placeable(alike(12, carriers, RULE_A, spacing=350_000)).verdict is False
    assert placeable(alike(11, carriers, RULE_A, spacing=350_000)).verdict is True


def test_a_span_that_is_too_short_is_said_so():
    assert least_span(4, spacing_hz=1, clearance_hz=GOLOMB, step_hz=1, longest_hz=5) is None
    cut_short = least_span(12, spacing_hz=1, clearance_hz=GOLOMB, step_hz=1, longest_hz=200, effort=1)
    assert cut_short is None or not cut_short.finished


def random_alike(seed, *, most, longest):
    """Alike members on a block, maybe with holes, all families, beside given carriers of each kind."""
    lot = np.random.Generator(np.random.PCG64(seed))
    span, step = int(lot.integers(10, longest)), int(lot.integers(1, 4))
    carriers = np.arange(span) * step + int(lot.integers(0, 9))
    if lot.random() < 0.5:
        kept = max(3, int(span * lot.uniform(0.3, 1)))
        carriers = carriers[np.sort(lot.choice(span, size=kept, replace=False))]
    clearances = [(name, int(lot.integers(1, 5 * step))) for name in FAMILIES if lot.random() < 0.5]
    fixed = [
        Fixed(
            id=f"f{i}",
            carrier_hz=int(lot.integers(0, span * step)),
            sends=list(Sends)[int(lot.integers(0, 3))],
            clearance_hz=(("2A-B", 2), ("3A-B-C", 1)) if lot.random() < 0.4 else (),
        )
        for i in range(int(lot.integers(0, 4)))
    ]
    spacing = int(lot.integers(1, 8)) * step
    return alike(int(lot.integers(3, most + 1)), carriers, clearances, spacing=spacing, fixed=fixed)


def most_by_trying_all(problem):
    """The most members, by adding carriers from the left in every way."""
    count, carriers = len(problem.wanted), problem.choices[0].carriers_hz.tolist()
    trial = np.full(count, -1, np.int64)

    def extend(placed, start):
        best = placed
        for at in range(start, len(carriers)):
            if best == count or best >= placed + len(carriers) - at:
                break
            trial[placed] = carriers[at]
            if examine(problem, trial).clean:
                best = max(best, extend(placed + 1, at + 1))
            trial[placed:] = -1
        return best

    return extend(0, 0)


@pytest.mark.parametrize("ten", range(4))
def test_alike_members_are_answered_as_trying_everything_answers_them(ten):
    for seed in range(10 * ten, 10 * ten + 10):
        problem = random_alike(seed, most=5, longest=28)
        most = most_by_trying_all(problem)
        proof = most_placed(problem)
        assert (proof.placed, proof.upper_bound, proof.finished) == (most, most, True), seed
        assert upper_bound(problem).upper_bound >= most, seed
        assert placeable(problem).verdict is (most == len(problem.wanted)), seed


@pytest.mark.parametrize("twenty", range(5))
def test_rulers_and_the_general_search_agree(twenty):
    for seed in range(20 * twenty, 20 * twenty + 20):
        problem = random_alike(1_000 + seed, most=9, longest=70)
        (part,) = parts_of(group_members(problem, range(len(problem.wanted))))
        assert RulerSearch.fits(part) or KindSearch.fits(part) or len(part.open_hz[0]) == 0
        general = MixedSearch(part, np.full(len(part.members), -1, np.int64), limit=len(part.members))
        general.go_on(150_000)
        proof = most_placed(problem)
        assert proof.finished
        assert upper_bound(problem).upper_bound >= proof.placed
        assert int(np.sum(general.carriers_hz >= 0)) == proof.placed or not general.finished, seed
        assert general.upper_bound >= proof.placed


def test_carriers_that_come_closer_than_their_differences_are_found():
    carriers = [10, 28, 76, 82, 112]
    problem = alike(5, range(7, 130, 3), (("A+B-C", 11), ("3A-B-C", 5)), spacing=6)
    assert examine(problem, np.array(carriers)).clean
    assert most_placed(problem).placed == 5
    assert upper_bound(problem).upper_bound == 5

"""How many alike links fit, against exhaustive enumeration and published tables."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_rules import plain_hits

from bandwright.core.planning.crowd import Crowd
from bandwright.core.planning.plan import BoundStatus
from bandwright.core.planning.problem import Choice, Fixed, Sends
from bandwright.engines import capacity as engine
from bandwright.engines.capacity import capacities, capacity
from bandwright.errors import BrokenPromise
from bandwright.units import hz_from_mhz

THIRD_ORDER = {"2A-B": 1, "A+B-C": 1}
RULE_A = {"2A-B": 100_000, "A+B-C": 50_000, "3A-2B": 50_000}


def crowd(carriers, clearance_hz, *, spacing_hz=1, fixed=(), fixed_spacing_hz=None):
    return Crowd(
        choice=Choice.of(carriers, clearance_hz=clearance_hz),
        spacing_hz=spacing_hz,
        fixed=tuple(fixed),
        fixed_spacing_hz=tuple(0 for _ in fixed) if fixed_spacing_hz is None else fixed_spacing_hz,
    )


def truly_most(one, taken=()):
    """The size of the largest clean set that goes on from `taken`, with the rules written out.

    A set that breaks a rule is not gone on from: no carrier more mends it.
    """
    if plain_hits(one.problem(len(taken)), taken):
        return 0
    higher = [hz for hz in one.choice.carriers_hz.tolist() if not taken or hz > taken[-1]]
    return max([len(taken), *(truly_most(one, (*taken, hz)) for hz in higher)])


@st.composite
def small_crowds(draw):
    carriers = sorted(draw(st.sets(st.integers(0, 60), min_size=1, max_size=8)))
    names = ["2A-B", "A+B-C", "3A-2B", "3A-B-C"]
    given_ = [
        Fixed(
            id=f"f{index}",
            carrier_hz=draw(st.integers(0, 60)),
            sends=draw(st.sampled_from(list(Sends))),
            clearance_hz=draw(st.sampled_from([(), (("2A-B", 3), ("A+B-C", 2))])),
        )
        for index in range(draw(st.integers(0, 2)))
    ]
    return crowd(
        carriers,
        draw(st.dictionaries(st.sampled_from(names), st.integers(1, 6), max_size=3)),
        spacing_hz=draw(st.integers(1, 8)),
        fixed=given_,
        fixed_spacing_hz=tuple(draw(st.integers(0, 4)) for _ in given_),
    )


@given(small_crowds())
@settings(max_examples=50, deadline=None)
def test_the_count_is_what_trying_every_set_finds_and_it_is_proven(one):
    found = capacity(one, time_limit_s=600)
    assert found.found == truly_most(one)
    assert (found.upper_bound, found.status, found.stopped) == (found.found, BoundStatus.PROVEN, "proof")
    assert not plain_hits(one.problem(found.found), found.carriers_hz)


@pytest.mark.parametrize("order", range(3, 9))
def test_a_golomb_ruler_of_each_order_fits_in_its_published_length_and_one_mark_more_does_not(
    order, authority, authority_table
):
    length = authority_table("golomb_rulers")["lengths_A003022_offset2"][order - 2]
    found = capacity(crowd(range(length + 1), THIRD_ORDER), time_limit_s=600)
    authority(
        "Capacity of a span under third-order rules: marks of a Golomb ruler",
        source="OEIS A003022",
        ours=(found.found, found.upper_bound),
        theirs=(order, order),
    )
    assert capacity(crowd(range(length), THIRD_ORDER), time_limit_s=600).upper_bound == order - 1


@pytest.mark.parametrize("count", range(3, 8))
def test_as_many_carriers_fit_in_babcocks_channels_and_in_one_channel_less_there_is_one_less(
    count, authority, authority_table
):
    needed = authority_table("babcock_1953")["channels_required"][str(count)]
    sizes = itertools.count(count)
    least = next(n for n in sizes if capacity(crowd(range(1, n + 1), THIRD_ORDER), time_limit_s=600).found == count)
    authority(
        "Fewest equally spaced channels that hold 3 to 7 carriers free of third-order products",
        source="W. C. Babcock, Bell System Technical Journal 32(1), 1953, pp. 63-73; figures from memory",
        ours=least,
        theirs=needed,
        kind="memory",
    )


def test_the_licence_exempt_four_fit_beside_each_other_and_are_proven_to_be_all(authority):
    carriers = [hz_from_mhz(text) for text in ("863.1", "863.7", "864.1", "864.9")]
    rules = {"2A-B": 100_000, "A+B-C": 50_000}
    found = capacity(crowd(carriers, rules, spacing_hz=350_000))
    authority(
        "How many of 863.1, 863.7, 864.1, 864.9 MHz fit together",
        source="Ofcom, licence-exempt 863-865 MHz, as quoted by a hire company: typically 4 together",
        ours=found.found,
        theirs=4,
    )
    held = [Fixed(id=str(hz), carrier_hz=hz, clearance_hz=tuple(rules.items())) for hz in carriers[:3]]
    last = crowd(carriers, rules, spacing_hz=350_000, fixed=held, fixed_spacing_hz=(350_000,) * 3)
    assert capacity(last).carriers_hz == (carriers[3],)


def test_eleven_links_fit_one_tv_channel_and_twelve_are_proven_impossible():
    # The bound comes from another road than the set: counting, or an exact search that ran to its end.
    found = capacity(crowd(range(0, 6_800_001, 25_000), RULE_A, spacing_hz=350_000), time_limit_s=600)
    assert (found.found, found.upper_bound, found.stopped) == (11, 11, "proof")


def test_nothing_fits_where_nothing_is_open():
    found = capacity(crowd([], RULE_A))
    assert (found.found, found.upper_bound, found.stopped) == (0, 0, "proof")


def test_a_cancelled_count_keeps_the_best_and_a_bound_that_holds():
    asked = iter(range(30))
    one = crowd(range(0, 31_000_001, 25_000), RULE_A, spacing_hz=350_000)
    found = capacity(one, time_limit_s=600, cancelled=lambda: next(asked, None) is None)
    assert found.stopped == "cancelled"
    assert 0 < found.found < found.upper_bound
    assert not plain_hits(one.problem(found.found), found.carriers_hz)


def test_a_count_out_of_time_says_so():
    one = crowd(range(0, 31_000_001, 25_000), RULE_A, spacing_hz=350_000)
    assert capacity(one, time_limit_s=0.0).stopped == "time"


def test_easier_rules_never_hold_less_and_equal_input_gives_equal_answers():
    hard = crowd(range(0, 4_000_001, 25_000), RULE_A, spacing_hz=350_000)
    easier = [
        replace(hard, choice=Choice.of(range(0, 4_000_001, 25_000), clearance_hz={"2A-B": 100_000})),
        replace(hard, spacing_hz=325_000),
    ]
    first, *others = capacities(hard, easier, time_limit_s=600)
    assert all(other.found >= first.found and other.upper_bound >= first.upper_bound for other in others)
    assert capacities(hard, easier, time_limit_s=600) == (first, *others)


def test_a_hand_that_ends_the_count_leaves_out_the_last_relaxations():
    hard = crowd(range(0, 4_000_001, 25_000), RULE_A, spacing_hz=350_000)
    assert len(capacities(hard, [hard, hard], cancelled=lambda: True)) == 1


def test_a_start_that_breaks_a_rule_is_refused():
    one = crowd(range(0, 1_000_001, 25_000), RULE_A, spacing_hz=350_000)
    with pytest.raises(BrokenPromise, match="the verifier refuses"):
        capacity(one, start=range(0, 500_000, 25_000), cancelled=lambda: True)


def test_a_bound_below_what_was_placed_is_our_bug(monkeypatch):
    monkeypatch.setattr(engine, "upper_bound", lambda problem: type("B", (), {"upper_bound": 1, "method": "wrong"})())
    with pytest.raises(BrokenPromise, match="a bound says at most 1"):
        capacity(crowd([0, 500_000], RULE_A, spacing_hz=350_000), start=[0, 500_000])


def test_spacing_alone_is_counted_from_the_left():
    assert crowd([0, 3, 4, 7, 8, 20], {}, spacing_hz=4).most_by_spacing() == 4
    assert np.array_equal(crowd([0, 3], {}, spacing_hz=4).problem(2).near_hz, [[0, 4], [4, 0]])

"""Which packs to lower to find what is heard. Authorities: plain enumeration, a cubic in time."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from brief_examples import changed, job_of
from hypothesis import given, settings
from hypothesis import strategies as st
from reach_examples import REACH
from thorough import cases

from bandwright.core.kit import Direction
from bandwright.core.products import FAMILIES
from bandwright.core.reach.suspect_levels import suspect_levels
from bandwright.core.reach.switch_off import SUSPECTED, products_near, suspicion
from bandwright.reference import reach_tables

MHZ = 1_000_000


def stage_of(carriers, in_ears=(), single=()):
    """Return a job of links L1, L2, ... on these carriers in MHz with settings of 10 and 50 mW."""
    job = job_of(REACH)
    heron = job.radios[0]
    ear = replace(heron, direction=Direction.TO_PERSON)
    one = replace(heron, power_mw=(50.0,))
    links = []
    for number in range(1, len(carriers) + 1):
        radio = ear if number in in_ears else one if number in single else heron
        links.append(replace(job.links[0], id=f"L{number}", name=f"L{number}", radio=radio, unit=None, hold_hz=None))
    hz = {f"L{n}": round(mhz * MHZ) for n, mhz in enumerate(carriers, start=1)}
    return replace(job, links=tuple(links)), hz, dict.fromkeys(hz, 50.0)


def found_at(mhz, carriers, victim=None, **kinds):
    job, hz, powers = stage_of(carriers, **kinds)
    return suspicion(job, hz, at_hz=round(mhz * MHZ), victim=victim, powers_mw=powers)


# ------------------------------------------------------------------------------------------------------- suspects


@settings(max_examples=cases(40), deadline=None)
@given(st.lists(st.integers(0, 200), min_size=2, max_size=7, unique=True), st.integers(-50, 250))
def test_suspects_are_those_of_plain_enumeration(steps, at):
    senders = {f"S{i}": 600 * MHZ + 25_000 * step for i, step in enumerate(steps)}
    at_hz = 600 * MHZ + 25_000 * at
    ours = {
        (one.family.name, one.members, one.offset_hz) for one in products_near(senders, at_hz=at_hz, within_hz=99_999)
    }
    theirs = set()
    for name in SUSPECTED:
        coefficients = FAMILIES[name].coefficients
        for members in itertools.permutations(senders, len(coefficients)):
            if name == "A+B-C" and list(senders).index(members[0]) > list(senders).index(members[1]):
                continue
            offset = sum(c * senders[m] for c, m in zip(coefficients, members, strict=True)) - at_hz
            if abs(offset) <= 99_999:
                theirs.add((name, members, offset))
    assert ours == theirs


def test_a_relation_that_only_restates_spacing_is_no_suspect():
    found = found_at(606.0, [606.0, 607.0, 607.05], victim="L1")
    assert not [one for one in found.suspects if one.family.name == "A+B-C" and "L1" in one.members]


# ------------------------------------------------------------------------------------------------- needle and packs


@pytest.mark.parametrize(("lowered", "weight"), [("one", 2), ("two", 1)])
def test_the_doubled_transmitter_moves_a_product_two_decibels_for_each(authority, lowered, weight):
    def product_db(one_db, two_db, pad_db=0.0):
        n, a, b = np.arange(4096), 200, 230
        signal = 10 ** ((one_db - pad_db) / 20) * np.cos(2 * np.pi * a * n / 4096)
        signal += 10 ** ((two_db - pad_db) / 20) * np.cos(2 * np.pi * b * n / 4096)
        return 20 * math.log10(np.abs(np.fft.rfft(signal - 0.01 * signal**3))[2 * a - b])

    fell = product_db(0, 0) - (product_db(-7, 0) if lowered == "one" else product_db(0, -7))
    found = found_at(606.0, [607.0, 608.0])
    assert found.suspects[0].members == ("L1", "L2")
    authority(
        "What a product 2A-B does when one of its transmitters is lowered by 7 dB",
        source="a cubic stage in time and a Fourier transform, computed in the test",
        kind="arithmetic",
        ours=7 * found.suspects[0].weight_of("L1" if lowered == "one" else "L2"),
        theirs=fell,
        tolerance=1e-6,
        unit="dB",
    )
    assert found.suspects[0].weight_of("L1" if lowered == "one" else "L2") == weight
    assert product_db(0, 0) - product_db(0, 0, 6) == pytest.approx(18)


def test_one_pack_with_two_settings_tells_one_product_from_a_carrier():
    found = found_at(606.0, [607.0, 608.0])
    (drop,) = found.drops
    assert (drop.link, drop.from_mw, drop.to_mw) == ("L1", 50.0, 10.0)
    assert drop.step_db == pytest.approx(10 * math.log10(5))
    (outcome,) = drop.outcomes
    assert (outcome.db_per_db, outcome.suspects, outcome.then) == (2, (0,), None)
    assert outcome.db == pytest.approx(-20 * math.log10(5))


@settings(max_examples=cases(40), deadline=None)
@given(
    st.lists(st.integers(0, 60), min_size=3, max_size=8, unique=True), st.integers(0, 60), st.sets(st.integers(1, 8))
)
def test_the_packs_reach_every_suspect_and_no_fewer_would(steps, at, ears):
    found = found_at(606 + at * 0.1, [606 + step * 0.1 for step in steps], in_ears=ears)
    names = [f"L{n}" for n in range(1, len(steps) + 1)]
    packs = {name for name in names if int(name[1:]) not in ears}
    chosen = [drop.link for drop in found.drops]
    assert all(set(one.members) & set(chosen) for one in found.suspects)
    by_packs = [set(one.members) & packs for one in found.suspects if set(one.members) & packs]
    by_ears = [set(one.members) for one in found.suspects if not set(one.members) & packs]
    assert [drop.in_ear for drop in found.drops] == sorted(drop.in_ear for drop in found.drops)
    for sets, whose in ((by_packs, packs), (by_ears, set(names) - packs)):
        ours = sum(name in whose for name in chosen)
        fewer = itertools.combinations(sorted(whose), ours - 1) if ours else ()
        assert not any(all(one & set(tried) for one in sets) for tried in fewer)


def test_an_in_ear_is_taken_only_where_no_pack_reaches_and_last():
    both = found_at(606.0, [607.0, 608.0], in_ears=(1,))
    assert [drop.link for drop in both.drops] == ["L2"]
    only = found_at(606.0, [607.0, 608.0], in_ears=(1, 2))
    assert [(drop.link, drop.in_ear) for drop in only.drops] == [("L1", True)]


def test_a_pack_of_one_setting_cannot_be_lowered():
    found = found_at(606.0, [607.0, 608.0], single=(1, 2))
    assert found.drops == ()
    assert found.beyond == (0,)


def test_suspects_that_move_alike_are_told_apart_by_another_pack():
    found = found_at(606.0, [607.0, 608.0, 607.02, 608.03])
    alike = [outcome for drop in found.drops for outcome in drop.outcomes if outcome.db_per_db and outcome.then]
    assert alike
    for outcome in alike:
        weights = {found.suspects[i].weight_of(outcome.then) for i in outcome.suspects}
        assert len(weights) > 1


def test_the_own_pack_of_the_link_that_hears_it_is_not_lowered():
    found = found_at(606.0, [606.0, 607.0, 608.0], victim="L1")
    assert "L1" not in [drop.link for drop in found.drops]
    assert [drop.link for drop in found.drops] == ["L2"]


def test_other_users_take_part_and_may_be_what_is_heard():
    other = '\n[[other]]\nid = "mast"\nname = "The mast"\ncarrier_mhz = 608\nbandwidth_khz = 12.5\n'
    users = job_of(REACH + other).others
    job, hz, powers = stage_of([607.0])
    found = suspicion(replace(job, others=users), hz, at_hz=606 * MHZ, victim=None, powers_mw=powers)
    assert found.suspects[0].members == ("L1", "mast")
    near = suspicion(replace(job, others=users), hz, at_hz=608_050_000, victim=None, powers_mw=powers)
    assert [one.id for one in near.carriers] == ["mast"]
    silent = job_of(REACH + changed("bandwidth_khz", "makes_products = false\nbandwidth_khz", text=other)).others
    assert not suspicion(replace(job, others=silent), hz, at_hz=606 * MHZ, victim=None, powers_mw=powers).suspects


def test_the_loudest_product_comes_first_with_its_level():
    """Two packs of 50 mW and two of a microwatt: 2A-B of the strong two, 50 kHz off, is louder than one right on it."""
    job, hz, powers = stage_of([606.0, 607.0, 608.05, 607.5, 609.0])
    weak = [replace(link, radio=replace(link.radio, power_mw=(0.001,))) for link in job.links[3:]]
    job = replace(job, permits=(), links=(*job.links[:3], *weak))
    levels_of = partial(suspect_levels, job, hz, "L1", tables=reach_tables())
    found = suspicion(job, hz, at_hz=hz["L1"], victim="L1", powers_mw=powers, levels_of=levels_of)
    first = found.suspects[0]
    assert (first.family.name, first.members) == ("2A-B", ("L2", "L3"))
    told = [one.level_dbm for one in found.suspects if one.level_dbm is not None]
    assert told == sorted(told, reverse=True)
    by_kind = [one.members for one in found.suspects if one.family.name == "2A-B"]
    assert ("L4", "L5") in by_kind
    unknown = replace(job, links=tuple(replace(x, radio=replace(x.radio, iip3_dbm=None)) for x in job.links))
    assert suspect_levels(unknown, hz, "L1", ["L2"], tables=reach_tables()) is None
    assert suspect_levels(job, hz, None, ["L2"], tables=reach_tables()) is None

"""Alike links, any number of them, beside carriers that are given: the same rules as for named links."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from brief_examples import SAMPLE, job_of
from plain_rules import plain_hits

from bandwright.core.planning.build import compile_job
from bandwright.core.planning.crowd import alike, crowd_of
from bandwright.core.planning.problem import Sends
from bandwright.core.planning.verify import examine

PLAN = {"L01": 606_700_000, "heron-spare-1": 607_800_000, "heron-spare-2": 609_800_000}
TWO_PLACES = SAMPLE.replace("[[permit]]", '[[place]]\nid = "hall"\n\n[[permit]]', 1)


def crowd_from(text=SAMPLE, *, beside=None, place=0, sweeps=()):
    job = job_of(text)
    return crowd_of(job, job.radio("heron"), sweeps, place=job.places[place], beside=beside)[0]


def test_alone_a_crowd_is_the_problem_of_as_many_links_of_the_brief():
    crowd = crowd_from()
    many = SAMPLE.replace('id = "L01"', 'id = "L"\ncount = 5').replace("spares = { heron = 2 }", "")
    problem = compile_job(job_of(many)).problem
    ours = crowd.problem(5)
    # What is too near to another user is no candidate, so how far they keep apart is said there and nowhere else.
    assert np.array_equal(ours.near_hz, problem.near_hz)
    assert np.array_equal(ours.choices[0].carriers_hz, problem.choices[0].carriers_hz)
    assert (ours.fixed, ours.families()) == (problem.fixed, problem.families())


def test_the_carriers_of_a_plan_are_given_send_and_are_victims():
    crowd = crowd_from(beside=PLAN)
    held = crowd.fixed[:3]
    assert {item.id: item.carrier_hz for item in held} == PLAN
    assert {item.sends for item in held} == {Sends.FULLY}
    assert {item.clearance_hz for item in held} == {(("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000))}
    assert crowd.fixed_spacing_hz[:3] == (350_000,) * 3
    assert crowd.fixed[3].id == "house-talkback"


def test_one_more_link_breaks_the_same_rules_beside_given_carriers_as_beside_placed_ones():
    crowd = crowd_from(beside=PLAN)
    named = SAMPLE.replace("[[other]]", '[[link]]\nid = "L02"\nradio = "heron"\n[[other]]')
    problem = compile_job(job_of(named)).problem
    place = {item.id: index for index, item in enumerate(problem.wanted)}
    for hz in range(606_600_000, 613_400_001, 100_000):
        carriers = np.full(len(problem.wanted), -1)
        for name, held_hz in PLAN.items():
            carriers[place[name]] = held_hz
        carriers[place["L02"]] = hz
        with_names = plain_hits(problem, carriers.tolist())
        assert examine(crowd.problem(1), np.array([hz])).clean == (not with_names)


def test_links_of_another_place_do_not_bind():
    here, there = (crowd_from(TWO_PLACES, beside={"L01": 606_700_000}, place=place) for place in (0, 1))
    heard = [[bool(set(item.contexts) & set(one.members_in)) for item in one.fixed] for one in (here, there)]
    assert heard == [[True, True], [False, False]]
    assert (here.fixed_spacing_hz, there.fixed_spacing_hz) == ((350_000, 0), (0, 0))
    assert there.choice.carriers_hz.size > here.choice.carriers_hz.size  # the house talkback is at the other place


def test_a_carrier_of_the_plan_makes_a_weak_other_count_and_closes_what_they_hit_together():
    weak = SAMPLE.replace("bandwidth_khz = 12.5", "bandwidth_khz = 12.5\nlevel_dbm = -50")
    alone, beside = crowd_from(weak), crowd_from(weak, beside={"L01": 609_800_000})
    assert alone.fixed[0].sends is Sends.WITH_OURS
    one, two = 609_800_000, 611_300_000
    clearances = {
        2 * one - two: 100_000,
        2 * two - one: 100_000,
        3 * one - 2 * two: 50_000,
        3 * two - 2 * one: 50_000,
    }
    closed = set(alone.choice.carriers_hz.tolist()) - set(beside.choice.carriers_hz.tolist())
    assert closed == {
        hz
        for hz in alone.choice.carriers_hz.tolist()
        for product, least in clearances.items()
        if abs(hz - product) < least
    }
    assert closed


def test_crowds_are_alike_where_the_same_rules_bind_them():
    crowd = crowd_from()
    assert alike(crowd, crowd_from())
    assert not alike(crowd, crowd_from(beside=PLAN))
    assert not alike(crowd, replace(crowd, spacing_hz=325_000))

"""Bounds permit by permit: never below what trying everything places, and said in words where they limit."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from brief_examples import job_of

from bandwright.core.planning.bounds import upper_bound
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.by_permit import bound_by_parts, parts_of
from bandwright.core.planning.verify import examine

JOB = """
bandwright = 1
[job]
title = "Two licences"
[[radio]]
id = "heron"
tuning = [{{ low_mhz = 600.1, high_mhz = 693.9, step_khz = 100 }}]
emission = "fm"
bandwidth_khz = 200
power_mw = 10
spacing_khz = {spacing}
clearance_khz = {{ "2A-B" = {clearance} }}
[[link]]
id = "L"
count = {count}
radio = "heron"
"""
PERMIT = '[[permit]]\nid = "{0}"\nreference = "{0} licence"\nstate = "granted"\nwindows_mhz = {1}\n'


def compiled(*permits, spacing=300, clearance=100, count=6):
    text = JOB.format(spacing=spacing, clearance=clearance, count=count)
    return compile_job(job_of(text + "".join(PERMIT.format(name, windows) for name, windows in permits)))


def bound_of(problem):
    parts = parts_of(problem)
    return bound_by_parts(parts, [upper_bound(part.problem, part.links) for part in parts])


def most_by_trying(problem):
    """The most of these alike links that go on the candidates, by trying every set of them."""
    candidates = problem.problem.choices[0].carriers_hz.tolist()
    for size in range(len(problem.seats), 0, -1):
        for some in itertools.combinations(candidates, size):
            carriers = np.array([*some, *[-1] * (len(problem.seats) - size)])
            if examine(problem.problem, carriers, listed=1).clean:
                return size
    return 0


@pytest.mark.parametrize("spacing", [200, 300, 500])
@pytest.mark.parametrize("clearance", [50, 100, 250])
def test_the_sum_over_permits_is_never_below_what_trying_everything_places(spacing, clearance):
    problem = compiled(
        ("shared", [[606.0, 607.0]]), ("site", [[630.0, 630.6]]), spacing=spacing, clearance=clearance, count=7
    )
    assert bound_of(problem).upper_bound >= most_by_trying(problem)


def test_each_permit_says_how_many_it_holds_at_most_and_by_which_argument():
    """300 kHz apart, 606.1 to 606.5 holds two and 630.1 to 630.2 one: by hand."""
    problem = compiled(("shared", [[606.0, 606.6]]), ("site", [[630.0, 630.3]]), count=6)
    bound = bound_of(problem)
    assert bound.upper_bound == most_by_trying(problem) == 3
    assert bound.method == (
        "at most 2 of these 6 under shared licence (spacing) and at most 1 of these 6 under site licence (spacing)"
    )


def test_windows_of_the_only_permit_split_too_and_one_window_splits_nothing():
    problem = compiled(("shared", [[606.0, 606.3], [630.0, 630.3]]), count=3)
    assert bound_of(problem).method == (
        "at most 1 of these 3 in 606.000-606.300 MHz (spacing) and "
        "at most 1 of these 3 in 630.000-630.300 MHz (spacing)"
    )
    assert parts_of(compiled(("shared", [[606.0, 606.6]]))) == ()
    assert parts_of(compiled(("shared", [[606.0, 606.6]]), ("far", [[500.0, 500.6]]))) == ()


def test_where_a_permit_has_room_for_all_who_may_use_it_that_is_said():
    problem = compiled(("shared", [[606.0, 606.3]]), ("site", [[630.0, 634.0]]), count=2)
    assert bound_of(problem).method == (
        "at most 1 of these 2 under shared licence (spacing) and all 2 that may be under site licence"
    )


def test_carriers_are_told_by_the_permit_that_they_are_under():
    problem = compiled(("shared", [[606.0, 606.6]]), ("site", [[630.0, 630.3]]), count=3)
    shared, site = parts_of(problem)
    assert shared.inside([606_100_000, 630_100_000, -1]) == [606_100_000, -1, -1]
    assert site.inside([606_100_000, 630_100_000, -1]) == [-1, 630_100_000, -1]

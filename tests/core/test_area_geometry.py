"""Points, polygons and walls on a plan. Authority: plain geometry in exact fractions, one pair at a time."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest

from bandwright.core.reach.area_geometry import (
    along,
    crosses_itself,
    encloses,
    inside,
    lie_in_line,
    walls_crossed,
)

HOUSE = ((0.0, 0.0), (8.0, 0.0), (8.0, 5.0), (4.0, 8.0), (0.0, 5.0))
HOOK = ((0.0, 0.0), (6.0, 0.0), (6.0, 6.0), (4.0, 6.0), (4.0, 2.0), (2.0, 2.0), (2.0, 6.0), (0.0, 6.0))


def turn(one, two, three):
    """Return on which side of a line a point lies, in fractions."""
    (ax, ay), (bx, by), (cx, cy) = ([Fraction(v) for v in p] for p in (one, two, three))
    value = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    return (value > 0) - (value < 0)


def winds_around(corners, point):
    """Return whether a polygon winds around a point: the winding number, counted in fractions."""
    turns = 0
    for one, two in zip(corners, [*corners[1:], corners[0]], strict=True):
        if one[1] <= point[1] < two[1] and turn(one, two, point) > 0:
            turns += 1
        if two[1] <= point[1] < one[1] and turn(one, two, point) < 0:
            turns -= 1
    return turns != 0


def goes_through(start, end, one, two):
    """Return whether a way goes through a wall, its ends included, in fractions."""
    sides = turn(one, two, start) * turn(one, two, end)
    return sides < 0 and turn(start, end, one) * turn(start, end, two) <= 0


@pytest.mark.parametrize("corners", [HOUSE, HOOK, HOOK[::-1]])
def test_points_are_inside_as_the_winding_number_says(corners, authority):
    points = np.random.default_rng(4).uniform(-1, 9, (3000, 2))
    ours = inside(points, corners)
    theirs = [winds_around(corners, tuple(point)) for point in points.tolist()]
    authority(
        "Points inside a polygon",
        source="winding number in fractions, point by point",
        kind="arithmetic",
        ours=int(np.sum(ours == np.array(theirs))),
        theirs=len(points),
        tolerance=0,
    )


def test_edges_and_corners_are_enclosed():
    assert all(encloses(HOUSE, point) for point in [*HOUSE, (4.0, 0.0), (8.0, 2.5), (6.0, 6.5)])
    assert not encloses(HOUSE, (6.0, 6.51))
    assert not encloses(HOOK, (3.0, 4.0))


def test_points_in_a_line_have_no_area():
    assert lie_in_line(((0.0, 0.0), (4.0, 2.0), (2.0, 1.0), (-2.0, -1.0)))
    assert not lie_in_line(((0.0, 0.0), (4.0, 2.0), (2.0, 1.1)))


@pytest.mark.parametrize(
    ("corners", "crosses"),
    [
        (HOUSE, False),
        (HOOK, False),
        (((0, 0), (4, 4), (4, 0), (0, 4)), True),
        (((0, 0), (4, 0), (4, 4), (2, 0), (0, 4)), True),  # touches its own edge
        (((0, 0), (4, 0), (2, 0), (2, 3)), True),  # runs back on itself
        (((0, 0), (4, 0), (0, 3)), False),
    ],
)
def test_a_polygon_that_meets_itself_is_seen(corners, crosses):
    assert crosses_itself(corners) is crosses


def test_walls_are_crossed_as_in_exact_fractions(authority):
    rng = np.random.default_rng(5)
    walls = [tuple(map(tuple, pair)) for pair in rng.uniform(0, 20, (12, 2, 2)).round(2).tolist()]
    points = rng.uniform(0, 20, (800, 2))
    start = (3.25, 11.5)
    ours = walls_crossed(start, points, walls)
    theirs = [[goes_through(start, tuple(point), *wall) for point in points.tolist()] for wall in walls]
    authority(
        "Walls between an antenna and points",
        source="segment crossings in fractions, pair by pair",
        kind="arithmetic",
        ours=int(np.sum(ours == np.array(theirs))),
        theirs=ours.size,
        tolerance=0,
    )


def crossed(start, end, *walls):
    return walls_crossed(start, np.array([end], dtype=float), walls)[:, 0].tolist()


def test_a_wall_hit_at_its_end_counts_once():
    assert crossed((0, 0), (4, 0), ((2, 0), (2, 3))) == [True]
    assert crossed((0, 0), (4, 0), ((2, -3), (2, 0))) == [True]


def test_a_corner_that_two_walls_share_counts_as_the_first_of_them():
    straight = ((2, -3), (2, 0)), ((2, 0), (2, 3))
    assert crossed((0, 0), (4, 0), *straight) == [True, False]
    assert crossed((0, 0), (4, 0.5), *straight) == [False, True]
    assert crossed((0, 0), (4, -0.5), *straight) == [True, False]
    assert crossed((0, 0), (4, 0), ((2, 0), (5, 3)), ((2, 0), (2, -3))) == [True, False]


def test_a_way_that_ends_at_a_wall_or_runs_along_it_does_not_go_through_it():
    assert crossed((0, 0), (2, 0), ((2, -3), (2, 3))) == [False]
    assert crossed((2, 0), (4, 0), ((2, -3), (2, 3))) == [False]
    assert crossed((0, 0), (4, 0), ((1, 0), (3, 0))) == [False]
    assert crossed((1, 1), (1, 1), ((0, 0), (3, 3))) == [False]


def test_points_along_a_line_hold_its_corners_and_keep_the_step():
    line = ((0.0, 0.0), (1.0, 0.0), (1.0, 2.5))
    points = along(line, step_m=0.4)
    assert all(list(corner) in points.tolist() for corner in line)
    assert max(math.dist(one, two) for one, two in itertools.pairwise(points)) <= 0.4 + 1e-12

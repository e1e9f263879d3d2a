"""Lines of equal value. Authority: curves that are known, and the values of the grid itself."""

from __future__ import annotations

import numpy as np
import pytest

from bandwright.core.contours import contour_lines


def grid(formula, size=81):
    y, x = np.mgrid[-1 : 1 : size * 1j, -1 : 1 : size * 1j]
    return formula(x, y)


def test_the_line_of_a_cone_is_one_closed_circle(authority):
    (line,) = contour_lines(grid(np.hypot), 0.6)
    assert line[0] == line[-1]
    points = np.array(line) / 40 - 1
    authority(
        "Contour of a cone",
        source="a circle",
        kind="arithmetic",
        ours=np.hypot(points[:, 0], points[:, 1]),
        theirs=[0.6] * len(points),
        tolerance=5e-4,  # straight lines between points of the grid
    )


def test_a_line_that_leaves_the_grid_is_open():
    (line,) = contour_lines(grid(lambda x, y: x + 0 * y), 0.31)
    assert line[0] != line[-1]
    assert {round(x, 9) for x, _ in line} == {round(1.31 * 40, 9)}
    assert sorted(y for _, y in line) == [float(k) for k in range(81)]


def test_every_point_of_a_line_lies_between_two_values_around_the_level():
    values = np.random.default_rng(7).normal(size=(30, 40))
    found = contour_lines(values, 0.2)
    above = values > 0.2
    changes = np.sum(above[:, 1:] != above[:, :-1]) + np.sum(above[1:] != above[:-1])
    points = {point for line in found for point in line}
    assert len(points) == changes
    for x, y in points:
        ends = [values[int(np.floor(y)), int(np.floor(x))], values[int(np.ceil(y)), int(np.ceil(x))]]
        assert min(ends) <= 0.2 <= max(ends)


def test_a_saddle_keeps_its_two_lines_apart():
    high_middle = np.array([[1.0, 0.0], [0.0, 1.0]])
    for level, joined in ((0.4, True), (0.6, False)):
        lines = contour_lines(high_middle, level)
        assert len(lines) == 2
        # With the middle above, lines cut off the low corners; with it below, the high ones.
        cut = {tuple(np.round(np.mean(line, axis=0))) for line in lines}
        assert cut == ({(1.0, 0.0), (0.0, 1.0)} if joined else {(0.0, 0.0), (1.0, 1.0)})


@pytest.mark.parametrize("level", [-2.0, 2.0])
def test_a_level_that_no_point_has_has_no_line(level):
    assert contour_lines(grid(lambda x, y: x * y), level) == ()


def test_cells_that_nobody_knows_have_no_line():
    values = grid(lambda x, y: x + 0 * y)
    values[40] = np.nan
    lines = contour_lines(values, 0.31)
    assert len(lines) == 2
    assert all(not 39 < y < 41 for line in lines for _, y in line)

"""Fewer points of a curve: held against straight lines between what is left, by numpy."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from bandwright.core.thin_curve import thinned


@given(st.lists(st.floats(-60, 20), min_size=1, max_size=60), st.floats(0, 5))
def test_what_is_left_departs_from_the_curve_no_more_than_was_asked(values, within):
    points = [(float(x), y) for x, y in enumerate(values)]
    kept = thinned(points, within=within)
    x, y = np.array(kept).T
    assert np.all(np.abs(np.interp(np.arange(len(values)), x, y) - values) <= within + 1e-9)
    assert {points[0], points[-1]} <= set(kept) <= set(points)


def test_a_straight_line_keeps_its_ends_only():
    assert thinned([(float(x), 2.0 * x) for x in range(50)], within=1e-9) == ((0.0, 0.0), (49.0, 98.0))

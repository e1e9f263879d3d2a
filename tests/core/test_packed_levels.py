import math
import struct
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bandwright.core.fold import SweepAccumulator
from bandwright.core.packed_levels import MISSING, SERIES, packed_levels
from bandwright.core.sweep import SweepBlock


def sweep_of(*blocks):
    accumulator = SweepAccumulator(bandwidths_hz=(200_000,))
    for block in blocks:
        accumulator.take(block)
    return accumulator.finish(name="a.csv")


def block(first_hz, levels, bin_hz=25_000.0):
    return SweepBlock(first_hz=first_hz, bin_hz=bin_hz, levels_db=np.array(levels, dtype=np.float64))


@given(st.lists(st.floats(-200, 200) | st.just(float("nan")), min_size=3, max_size=40).filter(lambda v: v[0] == v[0]))
def test_an_independent_reader_finds_the_levels_to_a_hundredth_of_a_db(levels):
    sweep = sweep_of(block(600e6, levels))
    packed = packed_levels(sweep)
    read = struct.unpack(f"<{3 * packed.count}h", packed.data)
    for series, values in enumerate((sweep.highest_db, sweep.typical_db, sweep.floor_db)):
        for found, level in zip(read[series * packed.count :], values.tolist(), strict=False):
            assert (found == MISSING) is math.isnan(level)
            assert found == MISSING or abs(found / 100 - level) <= 0.005 + 1e-9


def test_what_was_not_measured_stays_missing_and_is_no_quiet_level():
    packed = packed_levels(sweep_of(block(600e6, [-90, float("nan"), -91])))
    assert struct.unpack("<9h", packed.data)[1] == MISSING
    assert packed.series == SERIES == ("highest", "typical", "floor")


def test_bins_of_one_width_side_by_side_are_one_segment_and_a_gap_begins_another():
    packed = packed_levels(sweep_of(block(600e6, [-90] * 4), block(700e6, [-91] * 3, bin_hz=50_000.0)))
    assert [(s.low_hz, s.step_hz, s.count) for s in packed.segments] == [
        pytest.approx((600e6 - 12_500, 25_000.0, 4)),
        pytest.approx((700e6 - 25_000, 50_000.0, 3)),
    ]
    assert packed.count == 7


def test_every_bin_stands_where_the_sweep_has_it():
    steps = np.cumsum([25_000, 25_000.3, 24_999.8, 25_000.1, 40_000, 40_000])
    sweep = sweep_of(SweepBlock(first_hz=600e6, bin_hz=25_000.0, levels_db=np.full(6, -90.0), centres_hz=600e6 + steps))
    edges = [s.low_hz + i * s.step_hz for s in packed_levels(sweep).segments for i in range(s.count)]
    assert np.allclose(edges, sweep.grid.low_edges_hz, atol=300)


def test_immense_levels_are_drawn_at_the_edge_and_never_as_missing():
    sweep = sweep_of(block(600e6, [-90, -90, -90]))
    packed = packed_levels(replace(sweep, highest_db=np.array([-400.0, -90.0, 400.0])))
    assert struct.unpack("<9h", packed.data)[:3] == (-32767, -9000, 32767)

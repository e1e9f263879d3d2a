"""Folding logs: many rows at once like one by one, the compiled ways like the plain ones, time kept."""

from __future__ import annotations

import itertools
from dataclasses import fields
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.core import fold, fold_statistics, waterfall
from bandwright.core.sweep import RbwOrigin, SweepBlock, SweepFacts, SweepRows, channel_levels
from bandwright.core.waterfall import MOST_ROWS

START = datetime.fromisoformat("2027-05-14T09:00:00")
BIN_HZ = 10_000.0


def hop(number, levels, second=0):
    return SweepBlock(
        first_hz=606e6 + number * 20 * BIN_HZ,
        bin_hz=BIN_HZ,
        levels_db=np.asarray(levels, dtype=float),
        time=START + timedelta(seconds=second),
    )


def rows_of(blocks):
    """Return the same blocks as rows, each hop of the same frequencies once."""
    kinds = sorted({block.first_hz for block in blocks})
    kind = np.array([kinds.index(block.first_hz) for block in blocks])
    patterns = [next(block for block in blocks if block.first_hz == hz) for hz in kinds]
    sizes = [block.levels_db.size for block in blocks]
    return SweepRows(
        hops=tuple(patterns),
        hop=kind,
        first=np.concatenate(([0], np.cumsum(sizes)[:-1])),
        levels_db=np.concatenate([block.levels_db for block in blocks]),
        times=tuple(block.time for block in blocks),
        time=np.arange(len(blocks)),
    )


def log(hops, seed=1):
    """Return a block for each hop number, with a hole here and there."""
    rng = np.random.default_rng(seed)
    blocks = []
    for second, number in enumerate(hops):
        levels = rng.normal(-90, 5, 20)
        if second % 5 == 0:
            levels[second % 20] = np.nan
        blocks.append(hop(number, levels, second))
    return blocks


def assert_same(one, two):
    for name in ("highest_db", "typical_db", "floor_db"):
        np.testing.assert_allclose(getattr(one, name), getattr(two, name), rtol=1e-12)
    for field in fields(one.spread):
        np.testing.assert_allclose(getattr(one.spread, field.name), getattr(two.spread, field.name), rtol=1e-12)
    for here, there in zip(one.channels, two.channels, strict=True):
        np.testing.assert_allclose(here.highest, there.highest, rtol=1e-9)
        np.testing.assert_allclose(here.typical, there.typical, rtol=1e-9)
    np.testing.assert_array_equal(one.waterfall.highest_db, two.waterfall.highest_db)
    assert one.waterfall.moments == two.waterfall.moments
    assert (one.sweeps, one.started, one.ended, one.unit) == (two.sweeps, two.started, two.ended, two.unit)


@given(hops=st.lists(st.integers(0, 4), min_size=1, max_size=60), cuts=st.sets(st.integers(0, 60), max_size=5))
@settings(max_examples=80, deadline=None)
def test_rows_taken_many_at_once_are_the_rows_taken_one_by_one(hops, cuts):
    blocks = log(hops)
    edges = sorted({0, len(blocks)} | {cut for cut in cuts if cut < len(blocks)})
    parts = [blocks[first:end] for first, end in itertools.pairwise(edges)]
    one = fold.fold(blocks, name="log")
    two = fold.fold([rows_of(part) for part in parts], name="log")
    assert_same(one, two)


def test_the_compiled_way_gives_what_the_plain_way_gives(monkeypatch):
    blocks = log([0, 1, 2, 3] * 100)
    plain = fold.fold(blocks, name="log")
    monkeypatch.setattr(fold_statistics, "COMPILED_FROM_VALUES", -1)
    assert_same(plain, fold.fold(blocks, name="log"))


def test_hops_that_come_late_move_what_was_folded_to_the_larger_grid():
    early, late = log([0, 1] * 20), log([1, 2, 0] * 20, seed=2)
    sweep = fold.fold([*early, *late], name="log")
    middle = np.concatenate([block.levels_db for block in (*early, *late) if block.first_hz == 606.2e6])
    assert sweep.spread.lowest_db[20:40].min() == np.nanmin(middle)
    assert sweep.sweeps == 40
    assert np.isnan(sweep.waterfall.highest_db[0, 40:]).all()
    assert np.isfinite(sweep.waterfall.highest_db[-1, 40:]).any()


def test_a_long_log_has_a_bounded_waterfall_that_keeps_time_and_every_highest_level():
    sweeps = MOST_ROWS * 2 + 37
    blocks = [hop(0, np.full(20, -90.0), second) for second in range(sweeps)]
    blocks[700] = hop(0, [*[-90.0] * 19, -20.0], 700)
    found = fold.fold(blocks, name="log").waterfall
    assert MOST_ROWS // 2 < len(found.sweeps) <= MOST_ROWS
    assert sum(found.sweeps) == sweeps
    assert found.highest_db.shape == (len(found.sweeps), 20)
    assert found.moments[0][0] == START
    assert found.moments[-1][1] == START + timedelta(seconds=sweeps - 1)
    row = next(index for index, (begin, end) in enumerate(found.moments) if begin <= blocks[700].time <= end)
    assert np.argwhere(found.highest_db == -20).tolist() == [[row, 19]]


def test_a_wide_sweep_has_a_bounded_number_of_columns_and_none_across_a_gap():
    blocks = [hop(0, np.full(3000, -90.0)), hop(500, np.full(3000, -80.0))]
    found = fold.fold(blocks, name="log").waterfall
    assert found.low_hz.size <= waterfall.MOST_COLUMNS + 1
    inside = (found.high_hz > 636.1e6) & (found.low_hz < 705.9e6)
    assert not inside.any()
    np.testing.assert_array_equal(np.unique(found.highest_db), [-90, -80])


def test_the_resolution_bandwidth_says_where_it_comes_from():
    trace = SweepBlock(first_hz=606e6, bin_hz=25e3, levels_db=np.full(400, -90.0), whole=False)
    assert fold.fold([trace], name="x").rbw_origin is None
    stated = fold.SweepAccumulator(stated_rbw_hz=30e3)
    stated.take(trace)
    sweep = stated.finish(name="x")
    assert (sweep.rbw_hz, sweep.rbw_origin) == (30e3, RbwOrigin.STATED)
    assert channel_levels(sweep, carriers_hz=[608_000_000], bandwidth_hz=12_500).measured.all()
    of_fft = fold.fold([hop(0, np.full(20, -90.0))], name="x")
    assert (of_fft.rbw_hz, of_fft.rbw_origin) == (BIN_HZ, RbwOrigin.INFERRED)


def test_a_sweep_knows_its_traces_and_how_long_it_took():
    blocks = log([0, 1, 0, 1])
    sweep = fold.fold([SweepFacts(traces=("held", "mean"), trace="held"), *blocks], name="x")
    assert (sweep.traces, sweep.trace) == (("held", "mean"), "held")
    assert sweep.duration == timedelta(seconds=3)
    assert fold.fold([SweepBlock(first_hz=1e6, bin_hz=1e3, levels_db=np.zeros(20))], name="x").duration is None


def test_what_somebody_states_of_a_sweep_stays_unless_it_is_stated_anew():
    sweep = fold.fold(log([0, 1]), name="x").described(
        own_transmitters="off", place="quay", antenna="mast", gain_ahead_db=-3.0, started=START.replace(year=2020)
    )
    again = sweep.described(gain_ahead_db=0.0)
    assert (again.own_transmitters, again.place, again.antenna, again.gain_ahead_db) == ("off", "quay", "mast", 0.0)
    assert again.started == START


def test_counts_are_missing_in_words_where_there_are_too_many_bins(monkeypatch):
    monkeypatch.setattr("bandwright.core.level_counts.MOST_BINS", 10)
    sweep = fold.fold(log([0, 1] * 5), name="x")
    assert sweep.spread is None
    assert any("40 bins are too many to count levels in" in fault.text for fault in sweep.problems)


@pytest.mark.parametrize("unit", ["dBuV", "dBuV/m"])
def test_levels_in_another_unit_are_not_mixed_in(unit):
    other = SweepBlock(first_hz=606e6, bin_hz=BIN_HZ, levels_db=np.zeros(20), unit=unit)
    sweep = fold.fold([*log([0]), rows_of([other])], name="x")
    assert sweep.sweeps == 1
    assert any(fault.code == "unit" for fault in sweep.problems)

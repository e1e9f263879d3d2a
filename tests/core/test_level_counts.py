"""How levels were spread over the sweeps, against numpy on all of them."""

from __future__ import annotations

import numpy as np
import pytest

from bandwright.core import level_counts
from bandwright.core.level_counts import CELL_DB, LevelCounts


def levels(sweeps=400, bins=30, seed=1):
    rng = np.random.default_rng(seed)
    rows = 10 * np.log10(rng.exponential(size=(sweeps, bins))) - 90
    rows[:, 3] += 50
    rows[::7, 5] += 30
    return rows


def counted(rows, *, compiled=False, step=17):
    counts = LevelCounts(rows.shape[1])
    counts.add(rows[:1])
    for start in range(1, len(rows), step):
        counts.add(rows[start : start + step], compiled=compiled)
    return counts


@pytest.mark.parametrize("compiled", [False, True])
def test_median_and_95th_percentile_are_right_to_one_cell(authority, compiled):
    rows = levels()
    spread = counted(rows, compiled=compiled).spread(np.full(30, -90.0))
    for name, ours, part in (("median", spread.median_db, 50), ("95th percentile", spread.high95_db, 95)):
        authority(
            f"{name} of levels from counts in cells of 0.5 dB",
            source="numpy.percentile on all levels",
            ours=ours.tolist(),
            theirs=np.percentile(rows, part, axis=0).tolist(),
            tolerance=CELL_DB,
            kind="library",
        )
    np.testing.assert_array_equal(spread.lowest_db, rows.min(axis=0))


def test_the_share_of_time_above_the_floor_is_right_to_what_lies_in_one_cell():
    rows = levels()
    spread = counted(rows).spread(np.full(30, -90.0))
    least = (rows > -84 + CELL_DB).mean(axis=0)
    most = (rows > -84 - CELL_DB).mean(axis=0)
    assert ((spread.share_above >= least - 1e-9) & (spread.share_above <= most + 1e-9)).all()
    assert spread.share_above[3] == 1.0
    assert spread.share_above[5] > 0.1


def test_missing_levels_count_nowhere():
    rows = levels()
    rows[:, 4] = np.nan
    rows[:200, 6] = np.nan
    for compiled in (False, True):
        spread = counted(rows, compiled=compiled).spread(np.full(30, -90.0))
        assert np.isnan([spread.lowest_db[4], spread.median_db[4], spread.high95_db[4], spread.share_above[4]]).all()
        assert spread.median_db[6] == pytest.approx(np.median(rows[200:, 6]), abs=CELL_DB)


def test_without_a_floor_nobody_knows_a_share_of_time():
    assert np.isnan(counted(levels()).spread(np.full(30, np.nan)).share_above).all()
    assert np.isnan(counted(levels(sweeps=1)).spread(np.full(30, np.nan)).share_above).all()


def test_a_single_sweep_is_its_own_median():
    rows = levels(sweeps=1)
    spread = counted(rows).spread(np.full(30, -90.0))
    for values in (spread.lowest_db, spread.median_db, spread.high95_db):
        np.testing.assert_array_equal(values, rows[0])
    assert set(spread.share_above.tolist()) <= {0.0, 1.0}


def test_levels_outside_the_cells_stay_between_lowest_and_highest():
    rows = np.full((50, 2), -90.0)
    rows[10:, 0] = -200
    rows[10:, 1] = 90
    spread = counted(rows).spread(np.full(2, -90.0))
    assert -200 <= spread.median_db[0] <= -130
    assert -2 <= spread.median_db[1] <= 90
    assert spread.high95_db[1] > 60


def test_more_sweeps_than_a_small_count_holds_are_still_counted(monkeypatch):
    monkeypatch.setattr(level_counts.np, "iinfo", lambda _: type("small", (), {"max": 20}))
    counts = counted(levels())
    assert counts._counts.dtype == np.uint32
    assert counts._counts.sum() == 400 * 30


def test_too_many_bins_have_no_spread_beyond_one_sweep(monkeypatch):
    monkeypatch.setattr(level_counts, "MOST_BINS", 20)
    counts = LevelCounts(30)
    rows = levels()
    counts.add(rows[:1])
    assert counts.spread(np.full(30, -90.0)) is not None
    counts.add(rows[1:2])
    assert counts.spread(np.full(30, -90.0)) is None
    assert LevelCounts(10).moved_to(30, np.arange(10)).kept


def test_counts_move_to_another_grid_with_their_bins():
    rows = levels()
    index = np.arange(30) * 2
    for sweeps in (1, 400):
        moved = counted(rows[:sweeps]).moved_to(60, index).spread(np.full(60, -90.0))
        stayed = counted(rows[:sweeps]).spread(np.full(30, -90.0))
        np.testing.assert_array_equal(moved.median_db[index], stayed.median_db)
        assert np.isnan(moved.median_db[1::2]).all()

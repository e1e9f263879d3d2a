"""The picture of a waterfall. Authority: where a carrier of known MHz must stand, by plain arithmetic."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright.core.bands import Span, TvChannel, TvRaster
from bandwright.core.drawing import Ink, Pattern, Raster, Rect, moved_down, stacked, texts, walk
from bandwright.core.picture_waterfall import waterfall_picture
from bandwright.core.waterfall import Waterfall

LEFT, RIGHT, TOP = 78, 1180, 70
BEGAN = datetime.fromisoformat("2027-05-14T23:30:00")
RASTER = TvRaster(
    id="two",
    name="two",
    source="test",
    channels=tuple(
        TvChannel(label=str(38 + k), span=Span((606 + 8 * k) * 1_000_000, (614 + 8 * k) * 1_000_000)) for k in range(2)
    ),
)


def waterfall(levels, *, low_hz=606_000_000, step_hz=10_000, every_s=600):
    rows, columns = levels.shape
    edges = low_hz + step_hz * np.arange(columns + 1, dtype=np.float64)
    times = [BEGAN + timedelta(seconds=every_s * k) for k in range(rows)]
    return Waterfall(
        highest_db=levels.astype(np.float32),
        low_hz=edges[:-1],
        high_hz=edges[1:],
        moments=tuple((time, time) for time in times),
        sweeps=(1,) * rows,
    )


def drawn(levels, **more):
    given = {name: more.pop(name) for name in ("low_hz", "step_hz", "every_s") if name in more}
    return waterfall_picture(title="t", subtitle="s", waterfall=waterfall(levels, **given), unit="dBm", **more)


def cells_of(drawing):
    """Return the raster of the plot and its steps as rows and columns."""
    raster = next(item for item in walk(drawing.items) if isinstance(item, Raster))
    return raster, np.frombuffer(raster.steps, np.uint8).reshape(raster.rows, raster.columns)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 1599), st.integers(0, 19))
def test_a_carrier_of_known_mhz_stands_on_its_pixel_and_in_its_row(column, row):
    levels = np.full((20, 1600), -110.0)
    levels[row, column] = -40
    raster, steps = cells_of(drawn(levels))
    loud = np.argwhere(steps == 255)
    # 1600 bins of 10 kHz over 1102 units: the middle of the bin by the rule of three.
    x = LEFT + (column + 0.5) / 1600 * (RIGHT - LEFT)
    cell = raster.width / raster.columns
    assert (raster.x, raster.y, raster.width) == (LEFT, TOP, RIGHT - LEFT)
    assert set(loud[:, 0].tolist()) == {row}
    assert int((x - LEFT) / cell) in loud[:, 1].tolist()
    assert len(loud) <= 2  # a bin across the border of two pixels shows in both


def test_known_levels_are_known_steps_of_the_scale(authority):
    levels = np.linspace(-110, -50, 7).reshape(7, 1)
    drawing = drawn(levels, step_hz=8_000_000)
    _, steps = cells_of(drawing)
    authority(
        "Waterfall: steps of the scale for levels from -110 to -50 dBm",
        source="1 + 254 (level - lowest) / (highest - lowest), by hand",
        kind="arithmetic",
        ours=steps[:, 0].tolist(),
        theirs=[1 + round(254 * k / 6) for k in range(7)],
    )
    assert {"−110", "−50"} <= {text.text for text in texts(drawing)}


def test_what_nobody_measured_is_dotted_and_never_a_step():
    levels = np.full((10, 400), -100.0)
    levels[3:5] = np.nan
    levels[:, 100:200] = np.nan
    drawing = drawn(levels)
    raster, steps = cells_of(drawing)
    silent = np.zeros((10, raster.columns), bool)
    silent[3:5] = True
    edges = np.array([100, 200]) / 400 * raster.columns
    silent[:, int(np.ceil(edges[0])) : int(edges[1])] = True
    assert np.all(steps[silent] == 0)
    assert np.all(np.delete(steps, [3, 4], axis=0)[:, [0, -1]] > 0)
    under = [item for item in walk(drawing.items) if isinstance(item, Rect) and item.fill is Ink.UNMEASURED]
    assert {item.pattern for item in under} == {Pattern.DOTS}
    assert (under[0].x, under[0].width) == (raster.x, raster.width)
    assert "not measured" in {text.text for text in texts(drawing)}


def test_a_gap_between_columns_is_not_filled_from_its_neighbours():
    fall = waterfall(np.full((4, 100), -100.0), step_hz=80_000)
    apart = Waterfall(
        highest_db=fall.highest_db,
        low_hz=np.where(np.arange(100) < 50, fall.low_hz, fall.low_hz + 8e6),
        high_hz=np.where(np.arange(100) < 50, fall.high_hz, fall.high_hz + 8e6),
        moments=fall.moments,
        sweeps=fall.sweeps,
    )
    _, steps = cells_of(waterfall_picture(title="t", subtitle="s", waterfall=apart, unit="dB"))
    assert np.mean(steps == 0) == pytest.approx(0.5, abs=0.005)


def test_times_stand_at_the_height_of_their_row_and_a_new_day_is_told():
    drawing = drawn(np.full((12, 50), -100.0), zone="Europe/Lisbon")
    raster, _ = cells_of(drawing)
    found = {text.text: text.at[1] for text in texts(drawing)}
    for number in (0, 3, 6, 9):
        clock = f"{BEGAN + timedelta(seconds=600 * number):%H:%M}"
        assert found[clock] - 4 == pytest.approx(raster.y + number * raster.height / 12)
    assert {"05-14", "05-15"} <= set(found)
    assert any("times of Europe/Lisbon" in text for text in found)


def test_mhz_stand_where_they_belong_and_tv_channels_under_them():
    drawing = drawn(np.full((2, 1600), -100.0), raster=RASTER)
    found = {text.text: text.at[0] for text in texts(drawing)}
    assert found["614"] == pytest.approx(LEFT + (614 - 606) / 16 * (RIGHT - LEFT))
    assert found["38"] == pytest.approx(LEFT + 4 / 16 * (RIGHT - LEFT))
    assert {"MHz", "TV", "39", "dBm"} <= set(found)
    assert "TV" not in {text.text for text in texts(drawn(np.full((2, 9), -100.0), low_hz=88_000_000, raster=RASTER))}


def test_a_waterfall_of_silence_and_one_row_draw_too_and_an_empty_one_is_refused():
    _, steps = cells_of(drawn(np.full((1, 30), np.nan)))
    assert not steps.any()
    empty = Waterfall(
        highest_db=np.zeros((0, 0), np.float32), low_hz=np.zeros(0), high_hz=np.zeros(0), moments=(), sweeps=()
    )
    with pytest.raises(ValueError, match="without rows or columns cannot be drawn"):
        waterfall_picture(title="t", subtitle="s", waterfall=empty, unit="dB")


def test_a_raster_with_the_wrong_number_of_cells_is_refused():
    with pytest.raises(ValueError, match="2 columns and 3 rows came with 5 cells"):
        Raster(x=0, y=0, width=1, height=1, columns=2, rows=3, steps=bytes(5))


def test_stacked_drawings_keep_their_marks_and_stand_below_each_other():
    one = drawn(np.full((2, 30), -100.0))
    both = stacked(one, one)
    assert both.height == 2 * one.height
    there = [text.at[1] for text in texts(both)]
    assert there[len(there) // 2 :] == [y + one.height for y in there[: len(there) // 2]]
    raster, _ = cells_of(one)
    assert moved_down(raster, 5).y == raster.y + 5

"""The picture of what is in the air. Authority: one frequency has one place across, by the rule of three."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest

from bandwright.core.air import describe_air
from bandwright.core.drawing import Group, texts, walk
from bandwright.core.fold import fold
from bandwright.core.picture_air import air_picture
from bandwright.core.sweep import SweepBlock

LOW_MHZ, HIGH_MHZ, LEFT, RIGHT = 606, 614, 78, 1180
BEGAN = datetime.fromisoformat("2027-05-14T13:40:00")


def picture(*, carrier_mhz, sweeps=6, bins=320):
    """Draw some sweeps of noise with one strong carrier."""
    bin_hz = (HIGH_MHZ - LOW_MHZ) * 1e6 / bins
    centres = LOW_MHZ * 1e6 + (np.arange(bins) + 0.5) * bin_hz
    rng = np.random.default_rng(3)
    blocks = []
    for number in range(sweeps):
        levels = -100 + rng.normal(0, 0.7, bins)
        levels[np.abs(centres - carrier_mhz * 1e6) < 60_000] = -40
        blocks.append(
            SweepBlock(
                first_hz=centres[0],
                bin_hz=bin_hz,
                levels_db=levels,
                unit="dBm",
                time=BEGAN + timedelta(minutes=number),
            )
        )
    sweep = fold(blocks, name="base.csv")
    assert sweep is not None
    return air_picture(describe_air(sweep))


def plots(drawing):
    """Return left and right edges of the plots, from the top."""
    boxes = [item.clip for item in walk(drawing.items) if isinstance(item, Group) and item.clip is not None]
    return [(box.x, box.x + box.width) for box in sorted(boxes, key=lambda box: box.y)]


@pytest.mark.parametrize("bins", [320, 777], ids=["whole Hz", "bins of broken Hz"])
@pytest.mark.parametrize("carrier_mhz", [608, 613.7], ids=["label inside", "label beside"])
def test_sweep_and_waterfall_stand_on_one_axis(carrier_mhz, bins):
    drawing = picture(carrier_mhz=carrier_mhz, bins=bins)
    upper, lower = plots(drawing)
    assert upper == pytest.approx(lower)
    left, right = upper
    assert left == LEFT
    assert (right == RIGHT) is (carrier_mhz == 608)  # a label at the right end takes room beside the plot
    for mhz in range(LOW_MHZ + 1, HIGH_MHZ):
        places = [text.at[0] for text in texts(drawing) if text.text in (str(mhz), f"{mhz}.0")]
        expected = left + (mhz - LOW_MHZ) / (HIGH_MHZ - LOW_MHZ) * (right - left)
        assert places == pytest.approx([expected] * 2, abs=0.001), mhz


def test_a_single_sweep_is_one_plot():
    assert len(plots(picture(carrier_mhz=613.7, sweeps=1))) == 1

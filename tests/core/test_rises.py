"""What a device brings into the air, from sweeps whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from bandwright.core.fold import SweepAccumulator
from bandwright.core.rises import OVER_HZ, rises_of
from bandwright.core.sweep import SweepBlock

LOW_HZ, BIN_HZ, BINS = 606_000_000, 25_000, 320


def sweep(*, seed, noise_db=-100.0, tone_db=None, bursts=1.0, low_hz=LOW_HZ, bins=BINS):
    """Return 40 sweeps of noise; a tone of one bin in the middle of the band, in so large a share of them."""
    rng = np.random.default_rng(seed)
    folded = SweepAccumulator(bandwidths_hz=(OVER_HZ,))
    for number in range(40):
        power = 10 ** (noise_db / 10) * rng.gamma(8, 1 / 8, size=bins)
        if tone_db is not None and number < 40 * bursts:
            power[BINS // 2] += 10 ** (tone_db / 10)
        folded.add(SweepBlock(first_hz=low_hz + BIN_HZ / 2, bin_hz=BIN_HZ, levels_db=10 * np.log10(power), unit="dBm"))
    found = folded.finish(name="x")
    assert found is not None
    return found


BASE, AGAIN = sweep(seed=1), sweep(seed=2)


def rise_of(on):
    rises = rises_of(base=BASE, again=AGAIN, devices=[("screen", on)])
    return rises, rises.devices[0]


def test_noise_that_rises_by_six_db_everywhere_is_read_as_six_db(authority):
    rises, rise = rise_of(sweep(seed=3, noise_db=-94.0))
    authority(
        "rise that a device brings, whose noise adds up to four times the power",
        source="the generated sweeps themselves: -94 dBm over -100 dBm",
        kind="arithmetic",
        ours=rise.median_db,
        theirs=6.0,
        tolerance=0.15,
        unit="dB",
    )
    assert rises.seen(rise)


def test_a_carrier_rises_by_what_it_adds_to_the_noise_of_200_khz_where_it_stands(authority):
    rises, rise = rise_of(sweep(seed=3, tone_db=-70.0))
    noise_mw = 8 * 10**-10.0  # eight bins of -100 dBm
    authority(
        "greatest rise of a carrier of -70 dBm over 200 kHz of noise at -100 dBm in 25 kHz",
        source="10 log10((carrier + noise) / noise)",
        kind="arithmetic",
        ours=rise.mean.rise_db,
        theirs=10 * np.log10((10**-7.0 + noise_mw) / noise_mw),
        tolerance=0.4,  # 40 sweeps of 64 numbers each: 0.1 dB of deviation; the greatest of the places that hold it
        unit="dB",
    )
    assert abs(rise.mean.at_hz - (LOW_HZ + BINS // 2 * BIN_HZ)) <= OVER_HZ / 2
    assert rise.median_db == pytest.approx(0, abs=0.15)
    assert rises.seen(rise)


def test_what_sends_in_bursts_shows_in_the_highest_level():
    rises, rise = rise_of(sweep(seed=3, tone_db=-80.0, bursts=1 / 40))
    assert rise.highest.rise_db > 5
    assert rise.mean.rise_db < rises.chance.mean.rise_db + 3
    assert rises.seen(rise)


@pytest.mark.parametrize("seed", range(3, 23))
def test_nothing_switched_on_is_not_seen(seed):
    rises, rise = rise_of(sweep(seed=seed))
    assert not rises.seen(rise)
    assert rise.median_db == pytest.approx(0, abs=0.15)


def test_where_nothing_was_measured_both_times_the_rise_is_unknown():
    rises, rise = rise_of(sweep(seed=3, low_hz=700_000_000))
    assert (rise.median_db, rise.mean, rise.highest) == (None, None, None)
    assert not rises.seen(rise)

"""Folding blocks into sweeps, channel power, and what they say about carriers."""

from __future__ import annotations

import tracemalloc
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from bandwright.core.fold import SweepAccumulator, TooManyPointsError, fold
from bandwright.core.planning.plan import NoiseState
from bandwright.core.sweep import SweepBlock, SweepFault, channel_levels, noise_states

BIN_HZ = 10_000.0
HOP = 200


def block(levels, *, first_hz=600_005_000.0, bin_hz=BIN_HZ, **more):
    return SweepBlock(first_hz=first_hz, bin_hz=bin_hz, levels_db=np.asarray(levels, dtype=np.float64), **more)


def noise(rng, *, hops=5, sweeps=1, averages=1, level_db=-110.0):
    """Yield hops of noise, sweep after sweep."""
    for _ in range(sweeps):
        for hop in range(hops):
            power = 10 ** (level_db / 10) * rng.gamma(averages, 1 / averages, size=HOP)
            yield block(10 * np.log10(power), first_hz=600_005_000.0 + hop * HOP * BIN_HZ, unit="dBm")


def swept(blocks, *, bandwidths_hz=(200_000, 12_500)):
    sweep = fold(blocks, name="test", bandwidths_hz=bandwidths_hz)
    assert sweep is not None
    return sweep


def test_flat_power_over_a_bandwidth_is_the_level_of_a_bin_plus_the_number_of_bins(authority):
    sweep = swept([block(np.full(1000, -100.0), unit="dBm")])
    levels = channel_levels(sweep, carriers_hz=[605_000_000, 604_996_300], bandwidth_hz=200_000)
    for found in levels.typical_db:
        authority(
            "power over 200 kHz of -100 dBm in each 10 kHz",
            source="definition: -100 + 10 log10(20)",
            ours=float(found),
            theirs=-100 + 10 * np.log10(20),
            tolerance=1e-9,
            kind="arithmetic",
            unit="dBm",
        )


def test_held_channel_power_of_noise_is_the_highest_of_integrated_sweeps(authority):
    # Integrated per sweep over 20 bins, noise is gamma of shape 20; then the highest of 100 sweeps is taken.
    sweep = swept(noise(np.random.default_rng(1), hops=10, sweeps=100))
    carriers = np.arange(600_200_000, 619_800_000, 200_000)
    levels = channel_levels(sweep, carriers_hz=carriers, bandwidth_hz=200_000)
    mean = integrate.quad(lambda q: stats.gamma.ppf(q ** (1 / 100), 20, scale=1 / 20), 0, 1)[0]
    authority(
        "highest of 100 sweeps of single-shot noise over 200 kHz in 10 kHz bins, above its mean",
        source="scipy.stats.gamma of shape 20, mean of the highest of 100",
        ours=float(np.mean(levels.highest_db - levels.typical_floor_db)),
        theirs=10 * np.log10(mean),
        tolerance=0.3,
        kind="library",
        unit="dB",
    )


def test_holding_single_bins_first_would_read_noise_about_seven_db_too_high(authority):
    sweep = swept(noise(np.random.default_rng(2), hops=5, sweeps=100))
    harmonic = sum(1 / k for k in range(1, 101))
    authority(
        "single bins of noise held over 100 sweeps, above their mean",
        source="mean of the highest of n exponential values: 1 + 1/2 + ... + 1/n",
        ours=float(np.mean(10 ** (sweep.highest_db / 10)) / 1e-11),
        theirs=harmonic,
        tolerance=0.15,
        kind="arithmetic",
        unit="ratio",
    )
    assert np.nanmedian(sweep.held_floor_db - sweep.floor_db) == pytest.approx(10 * np.log10(harmonic), abs=0.3)


def test_noise_alone_stands_at_its_own_floor_for_folded_and_for_other_bandwidths():
    sweep = swept(noise(np.random.default_rng(3), hops=10, sweeps=50))
    for bandwidth in (200_000, 12_500, 96_000, 350_000):
        carriers = np.arange(600_400_000, 619_600_000, 50_000)
        levels = channel_levels(sweep, carriers_hz=carriers, bandwidth_hz=bandwidth)
        assert levels.bounded is (bandwidth not in (200_000, 12_500))
        assert np.median(levels.above_floor_db) == pytest.approx(0, abs=0.5)
        assert (levels.highest_db >= levels.typical_db).all()


def test_a_bandwidth_that_was_not_folded_reads_exactly_the_same_typical_and_never_a_lower_highest():
    rng = np.random.default_rng(4)
    blocks = list(noise(rng, hops=3, sweeps=12))
    carriers = np.arange(600_300_000, 605_700_000, 37_000)
    told = channel_levels(swept(blocks, bandwidths_hz=(150_000,)), carriers_hz=carriers, bandwidth_hz=150_000)
    guessed = channel_levels(swept(blocks, bandwidths_hz=(200_000,)), carriers_hz=carriers, bandwidth_hz=150_000)
    np.testing.assert_allclose(guessed.typical_db, told.typical_db, rtol=1e-9)
    assert (guessed.highest_db >= told.highest_db - 1e-9).all()


@given(
    rows=st.integers(1, 4),
    carrier=st.integers(600_000_000, 602_000_000),
    bandwidth=st.integers(1_000, 900_000),
    seed=st.integers(0, 1000),
)
@settings(max_examples=150, deadline=None)
def test_channel_power_agrees_with_a_plain_sum_over_the_parts_of_bins(rows, carrier, bandwidth, seed):
    levels = np.random.default_rng(seed).uniform(-120, -20, size=(rows, HOP))
    sweep = swept([block(row) for row in levels], bandwidths_hz=(bandwidth,))
    found = channel_levels(sweep, carriers_hz=[carrier], bandwidth_hz=bandwidth)
    width = max(bandwidth, BIN_HZ)
    low, high = carrier - width / 2, carrier + width / 2
    edges = 600_000_000 + BIN_HZ * np.arange(HOP + 1)
    if low < edges[0] or high > edges[-1]:
        slack = min(BIN_HZ / 2, bandwidth / 8)
        assert not found.measured[0] or (low >= edges[0] - slack - 1 and high <= edges[-1] + slack + 1)
        return
    part = np.clip(np.minimum(edges[1:], high) - np.maximum(edges[:-1], low), 0, None) / BIN_HZ
    sums = (10 ** (levels / 10) * part).sum(axis=1)
    assert found.measured[0]
    assert found.typical_db[0] == pytest.approx(10 * np.log10(sums.mean()), abs=1e-3)
    assert found.highest_db[0] >= 10 * np.log10(sums.max()) - 1e-3


def test_rows_out_of_order_give_the_same_sweep_as_rows_in_order():
    rng = np.random.default_rng(5)
    blocks = list(noise(rng, hops=4, sweeps=3))
    shuffled = [blocks[4 * sweep + hop] for sweep in range(3) for hop in (0, 2, 1, 3)]
    one, two = swept(blocks), swept(shuffled)
    assert one.sweeps == two.sweeps == 3
    np.testing.assert_array_equal(one.centres_hz, two.centres_hz)
    np.testing.assert_allclose(one.highest_db, two.highest_db)


@pytest.mark.parametrize("stamps", ["one for a whole sweep", "one for each hop"])
def test_a_sweep_is_told_by_its_hops_and_not_by_timestamps(stamps):
    start = datetime.fromisoformat("2027-05-14 09:00")
    blocks = []
    for sweep in range(3):
        for hop in range(12):
            seconds = sweep * 60 + (hop if stamps == "one for each hop" else 0)
            time = start + timedelta(seconds=seconds)
            blocks.append(block(np.full(HOP, -90.0), first_hz=6e8 + hop * HOP * BIN_HZ, time=time))
    sweep = swept(blocks)
    assert sweep.sweeps == 3
    assert sweep.started == start


def test_a_gap_stays_a_gap_and_no_carrier_over_it_is_measured():
    low, high = block(np.full(HOP, -100.0)), block(np.full(HOP, -100.0), first_hz=603_005_000.0)
    sweep = swept([low, high])
    assert [(gap.low_hz, gap.high_hz) for gap in sweep.gaps] == [(602_000_000, 603_000_000)]
    levels = channel_levels(
        sweep, carriers_hz=[601_900_000, 602_000_000, 602_500_000, 603_100_000], bandwidth_hz=200_000
    )
    assert levels.measured.tolist() == [True, False, False, True]
    assert np.isnan(levels.highest_db[1])


def test_a_missing_level_is_a_gap_until_another_sweep_measures_it():
    row = np.full(HOP, -100.0)
    holed = row.copy()
    holed[100] = np.nan
    assert len(swept([block(holed)]).gaps) == 1
    levels = channel_levels(swept([block(holed)]), carriers_hz=[601_005_000], bandwidth_hz=200_000)
    assert not levels.measured[0]
    both = swept([block(holed), block(row)])
    assert both.gaps == ()
    assert channel_levels(both, carriers_hz=[601_005_000], bandwidth_hz=200_000).measured[0]


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e9, -1e9])
def test_a_level_that_is_no_level_never_reads_as_quiet(bad):
    row = np.full(HOP, -100.0)
    row[100] = bad
    levels = channel_levels(swept([block(row)]), carriers_hz=[601_005_000], bandwidth_hz=200_000)
    assert noise_states(levels, above_floor_db=10) == (NoiseState.UNMEASURED,)


def test_of_two_values_for_one_bin_the_higher_stays():
    one, two = np.full(HOP, -100.0), np.full(HOP, -100.0)
    two[:20] = -60.0
    sweep = swept([block(one), block(two, first_hz=600_005_000.0 + 190 * BIN_HZ)])
    assert sweep.sweeps == 1
    assert sweep.points == 390
    assert sweep.highest_db[195] == pytest.approx(-60)


def test_hops_with_truncated_steps_do_meet():
    bin_hz = 9_999.0
    blocks = [block(np.full(HOP, -100.0), first_hz=600e6 + hop * 2e6, bin_hz=bin_hz) for hop in range(3)]
    assert swept(blocks).gaps == ()


def test_a_short_last_hop_counts_for_what_it_holds():
    sweep = swept([block(np.full(HOP, -100.0)), block(np.full(50, -100.0), first_hz=602_005_000.0)])
    assert sweep.high_hz == pytest.approx(602_500_000)


def test_a_hop_that_first_appears_in_a_later_sweep_keeps_what_was_measured_before():
    rng = np.random.default_rng(6)
    blocks = list(noise(rng, hops=4, sweeps=3))
    late = swept([*blocks[:2], *blocks[4:]])
    whole = swept(blocks)
    assert late.sweeps == 3
    inside = channel_levels(late, carriers_hz=[601_000_000], bandwidth_hz=200_000)
    truth = channel_levels(whole, carriers_hz=[601_000_000], bandwidth_hz=200_000)
    assert inside.typical_db[0] == pytest.approx(truth.typical_db[0])
    assert inside.highest_db[0] == pytest.approx(truth.highest_db[0])


def test_a_resolution_bandwidth_far_below_the_bin_spacing_measured_next_to_nothing():
    sweep = swept([block(np.full(461, -90.0), first_hz=1e6, bin_hz=2.17e6, rbw_hz=1_000.0)])
    levels = channel_levels(sweep, carriers_hz=np.arange(2_000_000, 990_000_000, 1_000_000), bandwidth_hz=200_000)
    assert not levels.measured.any()
    assert len(sweep.gaps) == 460


def test_a_resolution_bandwidth_wider_than_the_steps_is_not_counted_twice():
    # 100 kHz of resolution every 25 kHz: flat -100 dBm in 100 kHz is -97 dBm in 200 kHz.
    sweep = swept([block(np.full(400, -100.0), bin_hz=25_000.0, rbw_hz=100_000.0)])
    levels = channel_levels(sweep, carriers_hz=[605_000_000], bandwidth_hz=200_000)
    assert levels.typical_db[0] == pytest.approx(-100 + 10 * np.log10(2), abs=0.01)


def test_a_carrier_narrower_than_a_bin_is_read_over_the_whole_bin():
    sweep = swept([block(np.full(400, -100.0), bin_hz=100_000.0)])
    levels = channel_levels(sweep, carriers_hz=[605_000_000], bandwidth_hz=12_500)
    assert levels.typical_db[0] == pytest.approx(-100)
    assert levels.over_hz[0] == 100_000


def test_an_uncalibrated_sweep_works_relative_to_its_own_floor():
    rng = np.random.default_rng(7)
    blocks = list(noise(rng, hops=6, averages=30, level_db=-33.0))
    blocks[2].levels_db[80:100] += 30
    levels = channel_levels(swept(blocks), carriers_hz=[600_500_000, 604_900_000], bandwidth_hz=200_000)
    assert noise_states(levels, above_floor_db=10) == (NoiseState.QUIET, NoiseState.NOISY)


def test_a_floor_above_what_the_link_needs_is_not_deep_enough():
    sweep = swept(noise(np.random.default_rng(8), hops=6, averages=30, level_db=-110.0))
    levels = channel_levels(sweep, carriers_hz=[603_000_000], bandwidth_hz=200_000)
    assert noise_states(levels, above_floor_db=10, needed_db=-90.0) == (NoiseState.QUIET,)
    assert noise_states(levels, above_floor_db=10, needed_db=-99.0) == (NoiseState.SHALLOW,)


def test_a_level_between_the_floor_and_the_limit_of_the_link_is_noisy():
    blocks = list(noise(np.random.default_rng(8), hops=6, averages=30, level_db=-110.0))
    blocks[1].levels_db[90:110] += 8
    levels = channel_levels(swept(blocks), carriers_hz=[603_005_000], bandwidth_hz=200_000)
    assert noise_states(levels, above_floor_db=10) == (NoiseState.QUIET,)
    assert noise_states(levels, above_floor_db=10, needed_db=-92.0) == (NoiseState.NOISY,)


def test_a_sweep_that_may_lie_inside_one_signal_is_never_quiet():
    sweep = swept([block(np.random.default_rng(9).normal(-28, 1, size=128), first_hz=88.05e6, bin_hz=781.25)])
    levels = channel_levels(sweep, carriers_hz=[88_100_000], bandwidth_hz=12_500)
    assert noise_states(levels, above_floor_db=10) == (NoiseState.SHALLOW,)
    assert [fault.code for fault in sweep.problems] == ["no-floor"]


def test_levels_in_another_unit_than_before_are_refused_as_a_fault():
    sweep = swept([block(np.full(HOP, -100.0), unit="dBm"), block(np.full(HOP, 20.0), first_hz=7e8, unit="dBuV")])
    assert sweep.problems[0].text == "Levels in dBuV after levels in dBm: not used."
    assert sweep.points == HOP


def test_more_bins_than_are_kept_are_refused_in_words():
    accumulator = SweepAccumulator(most_points=1000)
    for hop in range(5):
        accumulator.add(block(np.zeros(HOP), first_hz=1e6 + hop * 1e7))
    with pytest.raises(TooManyPointsError, match="more than 1000 bins"):
        accumulator.add(block(np.zeros(HOP), first_hz=9e8))


def test_faults_are_listed_up_to_a_limit_and_counted_beyond():
    faults = [SweepFault(code="row", text="bad", line=line) for line in range(80)]
    sweep = swept([block(np.full(HOP, -100.0)), *faults])
    listed = [fault for fault in sweep.problems if fault.code == "row"]
    assert len(listed) + sweep.problems_not_listed == 80


def test_no_block_gives_no_sweep():
    assert fold([], name="nothing") is None


@pytest.mark.parametrize("bad", [{"bin_hz": 0.0}, {"bin_hz": -1.0}, {"first_hz": np.nan}, {"unit": "dBx"}])
def test_a_block_that_makes_no_sense_is_refused(bad):
    with pytest.raises(ValueError, match=r"given|not known"):
        block(np.zeros(4), **bad)


def test_memory_does_not_grow_with_the_number_of_sweeps():
    def peak(sweeps):
        tracemalloc.start()
        fold(noise(np.random.default_rng(0), hops=4, sweeps=sweeps), name="x")
        used = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return used

    peak(1200)  # compiled code is loaded, the waterfall is full
    assert peak(2400) - peak(1200) < 200_000

"""Shapes met in recordings of the field: each works, or is refused in words. All levels here are invented."""

from __future__ import annotations

import numpy as np
import pytest

from bandwright import readers
from bandwright.core.planning.plan import NoiseState
from bandwright.core.sweep import channel_levels, noise_states
from bandwright.errors import InputError

SPELLINGS = ("nan", "-nan", "inf", "-inf", "-1.#J", "1.#QNAN", "1.#INF")


@pytest.fixture
def read(tmp_path):
    def reading(text, name="sweep.csv", **more):
        file = tmp_path / name
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return readers.read(file, **more)

    return reading


def hop(low, *, stamp="09:00:01", bins=5, step=1_000_000, levels=None, day="2027-05-14"):
    """Return a row of hops as hackrf_sweep and rtl_power write them."""
    words = ", ".join(f"{level:.2f}" for level in (levels or [-60.0 - index for index in range(bins)]))
    return f"{day}, {stamp}, {low}, {low + bins * step}, {step}.00, 20, {words}\n"


def rows(low=606.0, step=0.025, count=100, level=-100.0, delimiter=",", *, places=3):
    return "".join(f"{low + step * index:.{places}f}{delimiter}{level - index % 3:.2f}\n" for index in range(count))


def problems(sweep):
    return " ".join(fault.text for fault in sweep.problems)


# One timestamp for a whole sweep, or dozens inside one; rows out of order; a sweep that starts at 0 Hz.


@pytest.mark.parametrize("stamps", [["09:00:01.250000"] * 4, [f"09:00:01.{second}" for second in range(4)]])
def test_timestamps_do_not_tell_where_a_sweep_ends(read, stamps):
    sweep = read(
        "".join(hop(low * 1_000_000, stamp=stamp) for low, stamp in zip((0, 10, 5, 15), stamps, strict=True)) * 3
    )
    assert (sweep.sweeps, sweep.points, sweep.gaps) == (3, 20, ())


def test_rows_out_of_order_and_a_start_at_zero_hertz_give_a_rising_sweep_from_zero(read):
    sweep = read("".join(hop(low * 1_000_000, stamp="09:00:01.5") for low in (0, 10, 5, 15)) * 2)
    assert sweep.low_hz == 0
    assert sweep.high_hz == 20e6
    assert (np.diff(sweep.centres_hz) > 0).all()
    assert read("0,-90\n5,-90\n10,-90\n15,-80\n", name="zero.csv").high_hz == 17.5e6


# Two values for one bin, or one value repeated at each hop's end; the last hop shorter; steps truncated.


def test_of_two_values_for_one_bin_the_higher_stays(read):
    sweep = read("MHz,dBm\n" + rows() + "606.250,-40\n")
    assert sweep.highest_db[10] == pytest.approx(-40)
    assert sweep.points == 100


def test_a_value_repeated_at_the_end_of_each_hop_is_dropped(read):
    log = "".join(
        hop(low, bins=5, step=10_000, levels=[-60, -61, -62, -63, -64, -64]) for low in (606_000_000, 606_050_000)
    )
    sweep = read(log)
    assert (sweep.points, sweep.gaps) == (10, ())
    assert sweep.highest_db.tolist() == pytest.approx([-60, -61, -62, -63, -64] * 2)


def test_a_last_hop_shorter_than_the_others_is_only_shorter(read):
    sweep = read((hop(606_000_000, bins=100, step=10_000) + hop(607_000_000, bins=37, step=10_000)) * 2)
    assert (sweep.sweeps, sweep.points, sweep.gaps) == (2, 137, ())


def test_hops_that_do_not_quite_meet_because_steps_were_truncated_do_meet(read):
    # Bins of 9765.625 Hz written as 9765: each hop ends 160 Hz below the next one.
    log = "".join(
        f"2027-05-14, 09:00:01, {low}, {low + 256 * 9765}, 9765, 1, " + ", ".join(["-60.0"] * 256) + "\n"
        for low in (606_000_000, 608_500_000, 611_000_000)
    )
    assert read(log).gaps == ()


# Rows with far fewer values than the header fields promise; every spelling of no level.


def test_a_row_with_far_fewer_values_than_promised_leaves_the_rest_unmeasured(read):
    short = hop(607_000_000, bins=100, step=10_000).rsplit(", ", 90)[0] + "\n"
    sweep = read(hop(606_000_000, bins=100, step=10_000) + short)
    assert sweep.points == 100 + 9
    assert sweep.gaps[-1].high_hz == 608e6
    assert "10 levels where the frequencies promise 100: the rest of the hop is not measured" in problems(sweep)


@pytest.mark.parametrize("word", SPELLINGS)
def test_every_spelling_of_no_level_is_not_measured(read, word):
    in_columns = read("MHz,dBm\n" + rows() + f"608.500,{word}\n608.525,-99\n", name="columns.csv")
    assert in_columns.points == 101
    assert "1 levels are nan, inf or empty" in problems(in_columns)
    in_hops = read(hop(606_000_000).replace("-61.00", word), name="hops.csv")
    assert np.isnan(in_hops.highest_db).tolist() == [False, True, False, False, False]


# Frequencies that are the upper edges of bins; frequencies rounded so that steps alternate.


@pytest.mark.parametrize(
    ("heading", "first_mhz"),
    [
        ("Upper edge MHz,Level dBm", 605.9875),
        ("Stop frequency (MHz),Level (dBm)", 605.9875),
        ("Lower edge MHz,Level dBm", 606.0125),
        ("Frequency MHz,Level dBm", 606.0),
    ],
)
def test_frequencies_that_are_edges_of_bins_are_read_as_such(read, heading, first_mhz):
    sweep = read(f"{heading}\n{rows()}")
    assert sweep.centres_hz[0] == pytest.approx(first_mhz * 1e6, abs=1)
    assert sweep.gaps == ()


def test_lower_and_upper_edges_beside_each_other_give_the_middle(read):
    text = "Low MHz,High MHz,Level dBm\n" + "".join(
        f"{606 + index / 40:.3f},{606.025 + index / 40:.3f},-9{index % 9}\n" for index in range(50)
    )
    sweep = read(text)
    assert sweep.centres_hz[0] == pytest.approx(606.0125e6, abs=1)
    assert sweep.points == 50
    assert sweep.highest_db[4] == -94


def test_edges_that_nobody_names_move_a_carrier_by_no_more_than_half_a_bin(read):
    # Where the file does not say it, the frequency is taken as the middle; half a bin at the edge is tolerated.
    sweep = read("MHz,dBm\n" + rows(step=0.01, count=400))
    levels = channel_levels(sweep, carriers_hz=[606_100_000], bandwidth_hz=200_000)
    assert levels.measured.all()


def test_steps_that_alternate_between_two_and_three_kilohertz_leave_no_gap(read):
    text = "kHz,dBm\n" + "".join(f"{round(606e3 + 2.5 * index)},-100\n" for index in range(400))
    assert read(text).gaps == ()


# Locales: decimal commas, delimiters, a `sep=` line, byte order marks, Latin-1 signs, a second table beside.


@pytest.mark.parametrize("delimiter", [";", "\t", "^", "|"])
@pytest.mark.parametrize("encoding", ["utf-8-sig", "latin-1", "utf-16"])
def test_any_locale_gives_the_same_sweep(read, delimiter, encoding):
    text = "Frequency (MHz);Level (dBµV)\n".replace(";", delimiter) + rows(delimiter=delimiter).replace(".", ",")
    sweep = read(text.replace("\n", "\r\n").encode(encoding))
    assert (sweep.points, sweep.unit) == (100, "dBuV")
    assert sweep.centres_hz[1] == pytest.approx(606.025e6)
    assert sweep.highest_db[0] == -100


@pytest.mark.parametrize(
    "row",
    [
        '"{mhz}","{level}"',
        "{mhz};{level}",
        "sep=;\n{mhz};{level}",
        "{mhz}\t{level}",
        '{mhz};"{level}"',
        "{mhz}^{level}",
    ],
)
def test_quoted_decimal_commas_and_every_delimiter_are_read(read, row):
    lines = [
        row.split("\n")[-1].format(mhz=f"{606 + index / 40:.3f}".replace(".", ","), level="-64,72")
        for index in range(20)
    ]
    sweep = read("\n".join([*row.split("\n")[:-1], *lines]) + "\n")
    assert sweep.highest_db.tolist() == pytest.approx([-64.72] * 20)
    assert sweep.centres_hz[1] == pytest.approx(606.025e6)


@pytest.mark.parametrize(
    ("first", "decimal"),
    [
        ("606.000.000", "."),
        ("606'000'000", "."),
        ("606’000’000", ","),
        ("606\u00a0000\u00a0000", ","),
        ("606\u202f000\u202f000", ","),
        ("606,000,000", "."),
        ("606.000.000,0", ","),
    ],
)
def test_marks_between_thousands_are_no_decimal_signs(read, first, decimal):
    lines = [
        f"{first.replace('000', f'{25 * index:03d}', 1)};-64{decimal}72\n".replace("606", str(606 + index // 40))
        for index in range(30)
    ]
    sweep = read("Frequency Hz;Level dBm\n" + "".join(lines))
    assert sweep.centres_hz[1] == pytest.approx(606_025_000)
    assert sweep.highest_db[0] == pytest.approx(-64.72)


def test_typographic_minus_signs_are_minus_signs(read):
    assert read("MHz;dBm\n" + rows(delimiter=";").replace("-", "−")).highest_db[0] == -100


def test_latin_1_signs_in_the_settings_spoil_nothing(read):
    text = "Impedance;50 Ω\nUnit;dBµV\nNote;Réglage à l'entrée\nMHz;dBµV\n".replace("Ω", "ohm") + rows(delimiter=";")
    assert read(text.encode("latin-1")).unit == "dBuV"


def test_a_second_unrelated_table_in_further_columns_is_left_alone(read):
    lines = [f"{606 + 0.025 * index:.3f};-100;;{2027 + index};{index * 7}\n" for index in range(60)]
    sweep = read("MHz;dBm;;Year;Visitors\n" + "".join(lines))
    assert (sweep.sweeps, sweep.points) == (1, 60)
    assert sweep.highest_db.tolist() == [-100] * 60


# Several tables stacked, each band with its own step; gaps nobody measured; band edges listed twice.


def test_bands_stacked_with_blank_lines_keep_their_steps_and_gaps(read):
    bands = [rows(470, 0.025), rows(606, 0.010), rows(606.99, 0.05), rows(863, 0.025)]
    sweep = read("MHz,dBm\n" + "\n\n".join(bands))
    assert [round(gap.high_hz / 1e6) for gap in sweep.gaps] == [606, 863]
    assert (sweep.sweeps, sweep.points) == (1, 399)  # 606.990 stands twice


def test_stacked_tables_with_their_own_headings_units_and_columns_are_each_read_in_their_way(read):
    text = (
        "Band 1\nRBW: 30 kHz\nFrequency (MHz);Level (dBm)\n"
        + rows(470, 0.025, delimiter=";")
        + "\nBand 2\nRBW: 10 kHz\nLevel (dBm);x\nFrequency (kHz);Level (dBm)\n"
        + rows(606_000, 10, delimiter=";", places=0)
    )
    sweep = read(text)
    assert (sweep.sweeps, sweep.points) == (1, 200)
    assert len(sweep.gaps) == 1
    assert sweep.centres_hz[-1] == pytest.approx(606.99e6)
    assert {round(width) for width in sweep.grid.noise_hz} == {10_000, 30_000}


def test_a_heading_repeated_before_each_sweep_begins_a_sweep(read):
    sweep = read(("Frequency MHz,Level dBm\n" + rows(count=10)) * 5)
    assert (sweep.sweeps, sweep.points) == (5, 10)


def test_edges_of_bands_listed_twice_with_other_levels_close_by_the_higher(read):
    sweep = read("MHz,dBm\n" + rows(606, 0.025, 100) + "\n" + rows(608.475, 0.025, 100, level=-70))
    at_edge = sweep.highest_db[np.argmin(np.abs(sweep.centres_hz - 608.475e6))]
    assert at_edge == -70
    assert sweep.gaps == ()


# Traces side by side or in blocks; units; whole levels.

SIDE_BY_SIDE = "Frequency MHz;Min dBm;Clear write dBm;Average dBm;Max hold dBm\n" + "".join(
    f"{606 + 0.025 * index:.3f};-120;-105;-100;-80\n" for index in range(60)
)


@pytest.mark.parametrize(
    ("trace", "level"), [(None, -80), ("Average dBm", -100), ("average", -100), ("clear", -105), ("MIN", -120)]
)
def test_of_traces_side_by_side_the_held_one_is_read_or_the_one_asked_for(read, trace, level):
    sweep = read(SIDE_BY_SIDE, trace=trace)
    assert (sweep.sweeps, sweep.highest_db.tolist()) == (1, pytest.approx([level] * 60))
    assert sweep.traces == ("Min dBm", "Clear write dBm", "Average dBm", "Max hold dBm")
    assert sweep.trace == sweep.traces[[-120, -105, -100, -80].index(level)]


@pytest.mark.parametrize("trace", ["d", "peak", "", "dBm"])
def test_a_trace_that_is_not_there_or_not_the_only_one_names_those_there_are(read, trace):
    with pytest.raises(InputError, match=r"no single trace .* its traces: 'Min dBm', 'Clear write dBm'"):
        read(SIDE_BY_SIDE, trace=trace)


def test_files_without_traces_say_so_when_one_is_asked_for(read):
    with pytest.raises(InputError, match="its traces: none that has a name"):
        read("MHz,dBm\n" + rows(), trace="max")
    with pytest.raises(InputError, match=r"A file of this kind \(rtl_power\) holds no traces"):
        read(hop(606_000_000), trace="max")


BLOCKS = (
    "Type;Portable analyser (invented);\nDate;14.05.2027;\nTime;09:30:00;\nStart;606;MHz\nStop;608,475;MHz\n"
    "RBW;30;kHz\nTrace 1;;\nTrace Mode;MAX HOLD;\nx-Unit;Hz;\ny-Unit;dBm;\nValues;100;\n"
    + "".join(f"{606_000_000 + 25_000 * index};{-80 - index % 3},5;\n" for index in range(100))
    + "Trace 2;;\nTrace Mode;AVERAGE;\nx-Unit;Hz;\ny-Unit;dBm;\nValues;100;\n"
    + "".join(f"{606_000_000 + 25_000 * index};{-100 - index % 3},5;\n" for index in range(100))
)


@pytest.mark.parametrize(("trace", "level", "name"), [(None, -80.5, "Trace 1"), ("2", -100.5, "Trace 2")])
def test_traces_in_blocks_below_keys_and_values_are_chosen_from(read, trace, level, name):
    sweep = read(BLOCKS, trace=trace)
    assert (sweep.sweeps, sweep.points, sweep.unit, sweep.rbw_hz) == (1, 100, "dBm", 30_000)
    assert sweep.highest_db[0] == level
    assert (sweep.traces, sweep.trace) == (("Trace 1", "Trace 2"), name)
    assert sweep.started.isoformat() == "2027-05-14T09:30:00"


def test_blocks_of_levels_alone_take_their_frequencies_from_start_and_stop(read):
    text = (
        "Start Frequency: 606 MHz\nStop Frequency: 607 MHz\nY Unit: dBm\n[Trace A]\n"
        + "-90.5\n" * 101
        + "[Trace B]\n"
        + "-80.5\n" * 101
    )
    sweep = read(text, trace="Trace B")
    assert sweep.points == 101
    assert sweep.centres_hz[[0, 1, -1]].tolist() == [606e6, 606.01e6, 607e6]
    assert set(sweep.highest_db.tolist()) == {-80.5}


def test_rows_that_are_only_counted_take_their_frequencies_from_start_and_stop(read):
    text = "Start,606000000\nStop,607000000\nPoints,101\nPoint,Level dBm\n" + "".join(
        f"{index},-90.5\n" for index in range(101)
    )
    sweep = read(text)
    assert sweep.centres_hz[[0, -1]].tolist() == [606e6, 607e6]


@pytest.mark.parametrize(
    ("word", "unit"),
    [
        ("dBm", "dBm"),
        ("dBuV", "dBuV"),
        ("dBµV", "dBuV"),
        ("dBμV", "dBuV"),
        ("dB(µV)", "dBuV"),
        ("dBuV/m", "dBuV/m"),
        ("dBµV/m", "dBuV/m"),
        ("dB(µV/m)", "dBuV/m"),
        ("dB", "dB"),
        ("dBm/Hz", "dB"),
        ("power", "dB"),
    ],
)
def test_units_are_kept_as_they_are(read, word, unit):
    sweep = read(f"Frequency MHz;Level [{word}]\n" + rows(delimiter=";"))
    assert sweep.unit == unit
    assert ("relative to their own floor" in problems(sweep)) == (unit == "dB")


def test_whole_levels_still_have_a_floor(read):
    rng = np.random.default_rng(2)
    levels = np.round(10 * np.log10(rng.gamma(20, 1 / 20, size=800)) - 100).astype(int)
    text = "MHz,dBm\n" + "".join(f"{606 + 0.025 * index:.3f},{level}\n" for index, level in enumerate(levels))
    sweep = read(text)
    assert np.nanmedian(sweep.floor_db) == pytest.approx(-100, abs=0.7)


# Overload, a single transform without averaging, a floor that steps: levels are kept as they are.


def test_flat_tops_at_a_positive_level_are_kept_and_read_noisy(read):
    levels = [-60.0] * 300 + [12.5] * 60 + [-60.0] * 300
    text = "MHz,dB\n" + "".join(
        f"{606 + 0.01 * index:.3f},{level + 0.3 * (index % 5):.1f}\n"
        if level < 0
        else f"{606 + 0.01 * index:.3f},12.5\n"
        for index, level in enumerate(levels)
    )
    sweep = read(text)
    assert sweep.highest_db.max() == 12.5
    found = channel_levels(sweep, carriers_hz=[609_300_000, 607_000_000], bandwidth_hz=200_000)
    assert noise_states(found, above_floor_db=10)[0] is NoiseState.NOISY


def test_dips_of_a_single_transform_and_steps_between_hops_are_kept(read):
    rng = np.random.default_rng(3)
    hops = []
    for number in range(6):
        levels = 10 * np.log10(rng.exponential(size=200)) - 60 + 4 * (number % 2)
        hops.append(hop(600_000_000 + number * 2_000_000, bins=200, step=10_000, levels=levels.tolist()))
    sweep = read("".join(hops))
    assert sweep.highest_db.min() < -75
    power = (10 ** (sweep.highest_db / 10)).reshape(6, 200).mean(axis=1)
    assert 10 * np.log10(power[1::2].mean() / power[::2].mean()) == pytest.approx(4, abs=1)

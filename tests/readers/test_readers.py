"""Every format of sweep file, well-formed, broken, and made of noise."""

from __future__ import annotations

import codecs
import os
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bandwright import readers
from bandwright.core.planning.plan import NoiseState
from bandwright.core.sweep import SweepBlock, SweepFault, SweepRows, channel_levels, noise_states
from bandwright.errors import Cancelled, InputError, MachineError
from bandwright.kernels.parse import plain_decimals
from bandwright.readers import columns, hackrf_sweep, hop_rows, rtl_power


def split(text, size=None):
    data = text if isinstance(text, bytes) else text.encode()
    return [data] if size is None else [data[start : start + size] for start in range(0, len(data), size)]


def parsed(reader, text, size=None):
    items = list(reader.parse(split(text, size)))
    return blocks_of(items), [item for item in items if isinstance(item, SweepFault)]


def blocks_of(items):
    found = []
    for item in items:
        if isinstance(item, SweepRows):
            found.extend(item.block(index) for index in range(item.hop.size))
        elif isinstance(item, SweepBlock):
            found.append(item)
    return found


def read(tmp_path, text, **more):
    file = tmp_path / "sweep.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return readers.read(file, **more)


def refusal(tmp_path, text):
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    return caught.value.faults[0]


RTL = "2027-05-14, 09:00:01, 606000000, 606050000, 10000.00, 12544, -60.10, -61.20, -62.30, -63.40, -64.50, -64.50\n"


def test_rtl_power_repeats_the_last_level_and_it_is_dropped():
    blocks, faults = parsed(rtl_power, RTL)
    assert not faults
    assert blocks[0].levels_db.tolist() == [-60.10, -61.20, -62.30, -63.40, -64.50]
    assert (blocks[0].first_hz, blocks[0].bin_hz, blocks[0].unit) == (606e6, 10e3, "dB")
    assert blocks[0].time == datetime.fromisoformat("2027-05-14 09:00:01")


def test_a_row_with_exactly_as_many_levels_as_bins_is_read_from_edge_to_edge():
    blocks, _ = parsed(rtl_power, RTL.replace(", -64.50, -64.50", ", -64.50"))
    assert blocks[0].first_hz == 606_005_000


def test_hackrf_sweep_puts_the_first_level_above_the_low_frequency():
    row = "2027-05-14, 09:00:01.250000, 606000000, 611000000, 1000000.00, 20, -60.1, -61.2, -62.3, -63.4, -64.5\n"
    assert hackrf_sweep.sniff(row.encode())
    assert not hackrf_sweep.sniff(RTL.encode())
    blocks, faults = parsed(hackrf_sweep, row)
    assert not faults
    assert (blocks[0].first_hz, blocks[0].bin_hz) == (606_500_000, 1e6)
    assert blocks[0].levels_db.size == 5


def test_steps_truncated_to_whole_hertz_still_give_hops_that_meet(tmp_path):
    # 128 bins over 100 kHz are 781.25 Hz each; a log that writes 781 promises 128.04.
    levels = ", ".join(["-60.0"] * 129)
    rows = [f"2027-05-14, 09:00:01, {low}, {low + 100_000}, 781, 1, {levels}\n" for low in (606_000_000, 606_100_000)]
    sweep = read(tmp_path, "".join(rows))
    assert sweep.points == 256
    assert sweep.gaps == ()


@pytest.mark.parametrize("size", [1, 7, 64, None])
def test_the_size_of_the_blocks_changes_nothing(size):
    blocks, faults = parsed(rtl_power, RTL * 3, size)
    assert len(blocks) == 3
    assert not faults


def test_a_truncated_row_gives_up_its_last_level_and_invents_none():
    blocks, faults = parsed(rtl_power, RTL + RTL[: RTL.index("-63.40") + 3])
    assert [fault.code for fault in faults] == ["short-row"]
    assert faults[0].line == 2
    assert np.isnan(blocks[1].levels_db).tolist() == [False, False, False, True, True]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (("606000000", "616000000"), "bad-row"),
        (("10000.00", "0"), "bad-row"),
        (("10000.00", "-5"), "bad-row"),
        (("606000000", "6o6"), "bad-row"),
        (("606000000", "nan"), "bad-row"),
        (("-61.20", "-61.2.0"), "bad-level"),
        (("-61.20", "1_0"), "bad-level"),
        (("-61.20", "-61.20, -1, -2, -3"), "long-row"),
        ((", 12544, -60.10, -61.20, -62.30, -63.40, -64.50, -64.50", ""), "short-row"),
    ],
)
def test_a_bad_row_is_a_fault_with_its_line_and_the_others_are_used(change, code):
    blocks, faults = parsed(rtl_power, RTL + RTL.replace(*change) + RTL)
    assert len([fault for fault in faults if fault.code == code and fault.line == 2]) == 1
    assert len(blocks) in (2, 3)
    for block in blocks:
        known = block.levels_db[np.isfinite(block.levels_db)]
        assert set(known.tolist()) <= {-60.10, -61.20, -62.30, -63.40, -64.50}


@pytest.mark.parametrize("word", ["nan", "-nan", "NaN", "inf", "-inf", "-1.#J", "1.#QNAN", "-1.#IND", ""])
def test_every_spelling_of_no_level_is_a_missing_level(word):
    blocks, faults = parsed(rtl_power, RTL.replace("-61.20", word))
    assert np.isnan(blocks[0].levels_db).tolist() == [False, True, False, False, False]
    assert [fault.code for fault in faults] == ["no-level"]


ODD_LINES = (
    "",
    "# a remark\n",
    "no row\n",
    RTL.replace("-61.20", "nan"),
    RTL.replace("-61.20", "-6.12e1"),
    RTL.replace("-61.20", "-61.2.0"),
    RTL.replace(", -64.50, -64.50", ", -64.50"),
    RTL.replace("\n", ",\r\n"),
    RTL.replace("606000000, 606050000", "606050000, 606100000"),
    RTL.replace("09:00:01", "09:00:02"),
    RTL[:40] + "\n",
)


@given(lines=st.lists(st.sampled_from((RTL, *ODD_LINES)), max_size=30), size=st.sampled_from([17, 300, None]))
@settings(max_examples=150, deadline=None)
def test_lines_read_many_at_once_are_the_lines_read_one_by_one(lines, size):
    text = "".join((RTL, *lines, RTL.rstrip()))
    by_hand = parsed(rtl_power, text, size)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(hop_rows, "FAST_FROM_BYTES", -1)
        at_once = parsed(rtl_power, text, size)
    assert at_once[1] == by_hand[1]
    for one, two in zip(at_once[0], by_hand[0], strict=True):
        np.testing.assert_array_equal(one.levels_db, two.levels_db)
        assert (one.first_hz, one.bin_hz, one.time, one.unit) == (two.first_hz, two.bin_hz, two.time, two.unit)


def test_long_logs_are_read_many_lines_at_once(monkeypatch):
    monkeypatch.setattr(hop_rows, "FAST_FROM_BYTES", -1)
    items = list(rtl_power.parse(split(RTL * 100)))
    assert [type(item) for item in items] == [SweepBlock, SweepRows]
    assert items[1].hop.size == 99


@given(
    st.lists(
        st.decimals(-9999, 9999, places=2).map(str) | st.sampled_from(["-0", "+7", ".5", "12.", " 3 "]), max_size=9
    )
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_plain_decimals_reads_what_python_reads(authority, words):
    out = np.empty(16)
    text = np.frombuffer(("x," + ",".join(words)).encode(), dtype=np.uint8)
    count = plain_decimals(text, 2, text.size, ord(","), out, 0)
    if not words:
        assert count == -1
        return
    authority(
        "decimal numbers out of text",
        source="Python's float()",
        ours=out[:count].tolist(),
        theirs=[float(word) for word in words],
        kind="library",
    )


@pytest.mark.parametrize("text", ["1e3", "nan", "1,,2", "--1", "1 2", "0x1", "1234567890123456", "1.2.3", "1,"])
def test_plain_decimals_leaves_everything_else_alone(text):
    data = np.frombuffer(text.encode(), dtype=np.uint8)
    assert plain_decimals(data, 0, data.size, ord(","), np.empty(8), 0) == -1


def table(delimiter=",", decimal=".", header="", rows=400, low=606.0, step=0.025, scale=1.0, places=3):
    rng = np.random.default_rng(1)
    lines = [
        f"{(low + index * step) * scale:.{places}f}{delimiter}{level:.2f}".replace(".", decimal)
        for index, level in enumerate(rng.normal(-100, 1, rows))
    ]
    return header + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        (table(), "dB"),
        (table(";", ","), "dB"),
        (table("\t"), "dB"),
        (table("^"), "dB"),
        (table("  "), "dB"),
        (table(scale=1e6, places=0), "dB"),
        (table(scale=1e3, places=0), "dB"),
        (table(scale=1e-3, places=6), "dB"),
        (table(header="Frequency (MHz),Level (dBm)\n"), "dBm"),
        (table(";", ",", header="sep=;\nFrequency [MHz];Level [dBuV]\n"), "dBuV"),
        (table(scale=1e3, places=0, header="kHz,dBm\n"), "dBm"),
        (table(header="some instrument\nRBW: 30 kHz\n\nfreq MHz,amplitude dBm\n"), "dBm"),
        ("﻿" + table(header="Frequency (MHz),Level (dBm)\n").replace("\n", "\r\n"), "dBm"),
        (table(header="Frequency (MHz),Level (dBµV)\n").encode("latin-1"), "dBuV"),
        (codecs.BOM_UTF16_LE + table(header="MHz,dBm\n").encode("utf-16-le"), "dBm"),
    ],
)
def test_columns_are_read_whatever_their_delimiter_decimal_sign_and_units(tmp_path, text, unit):
    sweep = read(tmp_path, text, bandwidths_hz=(200_000,))
    assert sweep.unit == unit
    assert sweep.points == 400
    assert sweep.centres_hz[0] == pytest.approx(606e6, abs=1)
    assert sweep.centres_hz[-1] == pytest.approx(606e6 + 399 * 25e3, abs=1)
    assert sweep.typical_db[0] == pytest.approx(-99.65, abs=0.01)  # numpy's first normal value with seed 1 is 0.3456
    assert sweep.gaps == ()


def test_quoted_decimal_commas_are_numbers():
    rows = "\n".join(f'"{606 + index / 40:.3f}","{-64.72:.2f}"'.replace(".", ",") for index in range(10))
    blocks, _ = parsed(columns, rows)
    assert blocks[0].levels_db.tolist() == [-64.72] * 10
    assert blocks[0].centres_hz[1] == pytest.approx(606_025_000)


def test_a_line_of_quotes_without_end_is_no_row_and_takes_no_time():
    blocks, faults = parsed(columns, "MHz,dBm\n606,-1\n607,-2\n608,-3\n" + '"' * 2_000_000 + "\n")
    assert [fault.code for fault in faults if fault.line] == ["bad-row"]
    assert blocks[0].levels_db.tolist() == [-1, -2, -3]


def test_unquoted_decimal_commas_between_commas_are_put_together():
    rows = "\n".join(f"606,{index:03d},-64,72" for index in range(0, 1000, 25))
    blocks, _ = parsed(columns, rows)
    assert blocks[0].levels_db.tolist() == [-64.72] * 40
    assert blocks[0].centres_hz[1] == pytest.approx(606_025_000)


def test_what_the_file_does_not_say_is_assumed_in_words(tmp_path):
    sweep = read(tmp_path, table())
    texts = [fault.text for fault in sweep.problems if fault.code == "assumed"]
    assert texts == [
        "The file does not name the unit of its frequencies: read as MHz.",
        "The file does not name a calibrated unit of its levels: read as dB relative to their own floor.",
        "The file states no resolution bandwidth: carriers narrower than a step are not measured.",
    ]


def test_sweeps_beside_each_other_are_sweeps(tmp_path):
    rows = "".join(f"{606_000_000 + 25_000 * index},-100,-90,-95\n" for index in range(100))
    sweep = read(tmp_path, rows)
    assert sweep.sweeps == 3
    assert sweep.highest_db[5] == pytest.approx(-90)


def test_traces_of_other_kinds_are_not_mixed_with_the_held_one(tmp_path):
    rows = "".join(f"{606 + 0.025 * index:.3f};-80;-100;-120\n" for index in range(100))
    sweep = read(tmp_path, "Frequency MHz;Max dBm;Average dBm;Min dBm\n" + rows)
    assert sweep.sweeps == 1
    assert sweep.typical_db[0] == pytest.approx(-80)
    assert any("only 'Max dBm' is used" in fault.text for fault in sweep.problems)


def test_a_second_table_in_further_columns_is_left_alone(tmp_path):
    rows = "".join(f"{606 + 0.025 * index:.3f},-100,{100 + index},-5\n" for index in range(100))
    sweep = read(tmp_path, "MHz,dBm,other MHz,gain dB\n" + rows)
    assert sweep.sweeps == 1
    assert sweep.high_hz < 609e6


def test_bands_stacked_with_gaps_between_keep_their_gaps(tmp_path):
    bands = [
        "".join(f"{low + step * index:.3f},-100\n" for index in range(100))
        for low, step in ((470.0, 0.025), (606.0, 0.010), (863.0, 0.025))
    ]
    sweep = read(tmp_path, "MHz,dBm\n" + "\n".join(bands))
    assert len(sweep.gaps) == 2
    assert sweep.points == 300


def test_a_missing_row_is_a_gap_of_one_step(tmp_path):
    lines = table().splitlines(keepends=True)
    sweep = read(tmp_path, "".join(lines[:100] + lines[101:]))
    assert len(sweep.gaps) == 1
    gap = sweep.gaps[0]
    assert gap.high_hz - gap.low_hz == pytest.approx(25_000, abs=10)


def test_frequencies_rounded_to_a_kilohertz_leave_no_gaps(tmp_path):
    rows = "".join(f"{round(606e3 + 2.5 * index)},-100\n" for index in range(400))
    assert read(tmp_path, "kHz,dBm\n" + rows).gaps == ()


def test_shuffled_rows_are_sorted(tmp_path):
    lines = table().splitlines(keepends=True)
    order = np.random.default_rng(3).permutation(len(lines) - 1) + 1
    shuffled = lines[0] + "".join(lines[index] for index in order)
    one, two = read(tmp_path, "".join(lines)), read(tmp_path, shuffled)
    np.testing.assert_allclose(np.nan_to_num(two.highest_db), np.nan_to_num(one.highest_db))


def test_runs_through_the_band_one_after_the_other_are_sweeps(tmp_path):
    assert read(tmp_path, table() * 4).sweeps == 4


@given(
    st.lists(
        st.tuples(st.integers(600, 640), st.sampled_from(["-90.5", "nan", "-inf", "-1e2", "x", "", "-80"])), max_size=60
    )
)
@settings(max_examples=60, deadline=None)
def test_rows_read_at_once_are_the_rows_read_one_by_one(rows):
    text = "MHz,dBm\n606,-1\n607,-2\n608,-3\n" + "".join(f"{hz},{level}\n" for hz, level in rows)
    at_once = parsed(columns, text)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(columns, "_plain_table", lambda _layout, _lines: None)
        one_by_one = parsed(columns, text)
    assert at_once[1] == one_by_one[1]
    for one, two in zip(at_once[0], one_by_one[0], strict=True):
        np.testing.assert_array_equal(one.levels_db, two.levels_db)
        np.testing.assert_array_equal(one.centres_hz, two.centres_hz)


def test_an_upright_index_column_is_no_frequency():
    rows = "".join(f"{index},{606 + 0.025 * index:.3f},-100.5\n" for index in range(100))
    blocks, _ = parsed(columns, rows)
    assert blocks[0].centres_hz[0] == pytest.approx(606e6)


def test_a_header_that_promises_more_points_than_follow_is_a_fault(tmp_path):
    sweep = read(tmp_path, "Number of Points,461\nRBW,+3.0e+04\n" + table())
    assert any(fault.text == "The header promises 461 points; 400 follow." for fault in sweep.problems)
    assert sweep.rbw_hz == 30_000


def test_points_far_apart_without_a_resolution_bandwidth_measure_no_narrow_carrier(tmp_path):
    sweep = read(tmp_path, table(step=2.0, low=100.0, rows=300))
    levels = channel_levels(sweep, carriers_hz=[300_000_000, 301_000_000], bandwidth_hz=200_000)
    assert noise_states(levels, above_floor_db=10) == (NoiseState.UNMEASURED,) * 2


HELD = "2027-05-14-090000,Start,606000000,Stop,610000000,fStep,10000,Points,401,RBW,10,Each_Column=One_sweep\n"


def test_sweeps_as_columns_take_their_frequencies_from_the_first_line(tmp_path):
    sweep = read(tmp_path, HELD + "-100.5,-90.5,-95.5\n" * 401)
    assert (sweep.sweeps, sweep.points, sweep.rbw_hz) == (3, 401, 10_000)
    assert sweep.centres_hz[0] == 606e6
    assert sweep.centres_hz[-1] == 610e6
    assert sweep.highest_db[0] == pytest.approx(-90.5)


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_sweeps_as_columns_are_read_in_any_locale(tmp_path, delimiter):
    text = (HELD + "-100.5,-90.5,-95.5\n" * 401).replace(",", delimiter).replace(".", ",")
    sweep = read(tmp_path, text)
    assert (sweep.sweeps, sweep.points) == (3, 401)
    assert sweep.highest_db[0] == pytest.approx(-90.5)


def test_a_header_that_promises_more_than_fits_is_told_and_takes_no_memory(tmp_path):
    fault = refusal(tmp_path, HELD.replace(",401,", ",2000000,") + "-100.5" + ",-90.5" * 20 + "\n")
    assert "2000000 points in 21 columns are more than 20000000 levels" in fault.text


def test_sweeps_as_columns_with_fewer_rows_than_promised_leave_the_rest_unmeasured(tmp_path):
    sweep = read(tmp_path, HELD + "-100.5,-90.5,-95.5\n" * 300 + "-100.5,x\n")
    assert sweep.points == 301
    assert {fault.code for fault in sweep.problems} >= {"fewer-points", "short-row", "bad-level"}
    assert sweep.gaps[-1].high_hz == pytest.approx(610_005_000)


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        (b"", "empty-file", "empty"),
        (b"\n  \n", "empty-file", "empty"),
        (bytes(range(256)) * 20, "binary-file", "binary"),
        (b"\x7fELF" + bytes(600), "binary-file", "binary"),
        (b"Dear crew,\nthe call is at nine.\n", "unknown-format", "begins with 'Dear crew,'"),
        (b"! a cable\n# MHz S DB R 50\n1 -10 0 -3 10 -3 10 -10 0\n", "no-sweep", "Touchstone"),
        (b"606.0,nan\n606.1,nan\n606.2,nan\n606.3,nan\n", "no-levels", "nothing was measured"),
        (RTL.replace("606050000", "1").encode(), "no-rows", "Line 1: A hop runs upwards"),
        (RTL[:60].encode() + b"nan, nan, nan, nan, nan, nan\n", "no-levels", "nothing was measured"),
    ],
)
def test_what_is_no_sweep_is_refused_in_words(tmp_path, text, code, words):
    fault = refusal(tmp_path, text)
    assert fault.code == code
    assert words in fault.text
    assert fault.file.endswith("sweep.csv")


def test_a_file_that_does_not_exist_is_refused_in_words(tmp_path):
    with pytest.raises(InputError, match="There is no such file"):
        readers.read(tmp_path / "nothing.csv")


def test_reading_can_be_stopped_and_tells_how_far_it_is(tmp_path):
    with pytest.raises(Cancelled):
        read(tmp_path, RTL, cancelled=lambda: True)
    parts = []
    read(tmp_path, RTL * 100, progress=parts.append)
    assert parts[-1] == 1.0


def test_faults_are_capped_and_counted(tmp_path):
    sweep = read(tmp_path, RTL + RTL.replace("606000000", "x") * 500)
    assert len(sweep.problems) <= 60
    assert sweep.problems_not_listed > 400


def recording(name):
    folder = Path(os.environ.get("BANDWRIGHT_RECORDINGS", Path(__file__).parents[3] / "shared" / "sweeps"))
    if not (folder / name).exists():
        pytest.skip(f"the recording {name} is not here")
    return folder / name


def test_the_recording_of_one_station_holds_299_sweeps_of_128_bins():
    sweep = readers.read(recording("fm_station_5min_rtl_power.csv"))
    assert (sweep.sweeps, sweep.points, sweep.unit) == (299, 128, "dB")
    levels = channel_levels(sweep, carriers_hz=[88_100_000], bandwidth_hz=12_500)
    assert noise_states(levels, above_floor_db=10) == (NoiseState.SHALLOW,)


@pytest.mark.parametrize("name", ["rfi_survey_1-1000MHz.CSV", "rfi_survey_325-329MHz.CSV", "rfi_survey_1-1000MHz.TXT"])
def test_the_survey_that_listened_to_next_to_nothing_is_not_measured(name):
    sweep = readers.read(recording(name))
    assert sweep.points == 461
    carriers = np.linspace(sweep.low_hz, sweep.high_hz, 500).astype(np.int64)
    levels = channel_levels(sweep, carriers_hz=carriers, bandwidth_hz=200_000)
    measured = np.count_nonzero(levels.measured)
    assert measured == 0


def test_the_recording_with_fifty_sweeps_as_columns_is_read():
    sweep = readers.read(recording("fm_band_50_sweeps_as_columns.csv"))
    assert (sweep.sweeps, sweep.points, sweep.gaps) == (50, 615, ())


def test_the_recording_without_a_single_level_is_refused():
    with pytest.raises(InputError, match="None of the 600 frequencies has a level"):
        readers.read(recording("all_nan.csv"))


@pytest.mark.parametrize(
    "name",
    [
        "amplifier_with_noise_block.s2p",
        "bandpass_450-550_simulated.s2p",
        "double_option_line.s2p",
        "splitter_raw.s2p",
    ],
)
def test_touchstone_recordings_are_refused_in_words(name):
    with pytest.raises(InputError, match="Touchstone"):
        readers.read(recording(name))


def test_a_folder_in_place_of_a_sweep_is_refused_in_words(tmp_path):
    with pytest.raises(InputError, match="this is a folder; name the sweep file in it"):
        readers.read(tmp_path)


def test_a_file_that_the_disk_does_not_give_is_the_machines_failure(tmp_path, monkeypatch):
    path = tmp_path / "sweep.csv"
    path.write_text("470.0,-90\n")

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(MachineError, match="cannot be read"):
        readers.read(path)

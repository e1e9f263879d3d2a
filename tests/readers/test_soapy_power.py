"""soapy_power's formats, written as its own source writes them."""

from __future__ import annotations

import struct
from datetime import datetime

import numpy as np
import pytest

from bandwright import readers
from bandwright.core.sweep import SweepBlock, SweepFault
from bandwright.errors import InputError
from bandwright.readers import rtl_power, soapy_power

LEVELS = np.array([-60.25, -61.5, -62.75, -63.0], dtype=np.float32)


def row(low=606e6, stamp="2027-05-14, 09:00:01"):
    """Return a row as the program's RtlPowerWriter does: numbers by `str`, the end one step above the last bin."""
    frequencies = low + 10e3 * np.arange(4)
    step = frequencies[1] - frequencies[0]
    fields = [frequencies[0], frequencies[-1] + step, step, 1024, *LEVELS.astype(float)]
    return f"{stamp}, " + ", ".join(str(float(field)) if field != 1024 else "1024" for field in fields) + "\n"


def record(low=606e6, levels=LEVELS, version=2):
    """Return a record as the program's SoapyPowerBinFormat does."""
    low_hz, high_hz, step_hz = low, low + 10e3 * len(levels), 10e3
    began = datetime.fromisoformat("2027-05-14T09:00:00+00:00").timestamp()
    head = struct.pack("<BdddddQQ2x", version, began, began + 1, low_hz, high_hz, step_hz, 1024, levels.nbytes)
    return b"SDRFF" + head + levels.tobytes()


def taken(items):
    found = list(items)
    blocks = [item for item in found if isinstance(item, SweepBlock)]
    return blocks, [item for item in found if isinstance(item, SweepFault)]


def test_rows_begin_with_the_bin_at_the_low_frequency():
    text = row().encode()
    assert soapy_power.sniff(text)
    assert rtl_power.sniff(text)  # a wider description, looked at later
    blocks, faults = taken(soapy_power.parse([text]))
    assert not faults
    assert (blocks[0].first_hz, blocks[0].bin_hz) == (606e6, 10e3)
    assert blocks[0].levels_db.tolist() == LEVELS.tolist()


def test_rows_of_rtl_power_are_none_of_soapy_power():
    assert not soapy_power.sniff(b"2027-05-14, 09:00:01, 606000000, 606050000, 10000.00, 1, -60.1, -61, -62, -63\n")


@pytest.mark.parametrize("size", [1, 13, 4096])
def test_records_of_the_binary_format_give_the_same_levels(size):
    data = record() + record(low=606.04e6)
    blocks, faults = taken(soapy_power.parse_binary(data[start : start + size] for start in range(0, len(data), size)))
    assert not faults
    assert [block.first_hz for block in blocks] == [606e6, 606.04e6]
    assert blocks[0].levels_db.tolist() == LEVELS.tolist()
    assert blocks[0].time == datetime.fromisoformat("2027-05-14T09:00:00")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (record(version=3), "Record 1: version 3 of the format is not known; known is 2."),
        (record(low=-1e6), "is no range that runs upwards from 0 Hz"),
        (record(levels=LEVELS[:1]), "Record 1: 1 levels where the frequencies promise 1."),
        (record()[:-5], "Record 1 is cut off: not used."),
        (record() + b"rest" * 20, "Record 2 does not begin with SDRFF"),
    ],
)
def test_broken_records_are_told(data, words):
    _, faults = taken(soapy_power.parse_binary([data]))
    assert words in faults[0].text


def test_levels_that_are_no_numbers_are_not_measured():
    levels = LEVELS.copy()
    levels[1:3] = np.nan, -np.inf
    blocks, _ = taken(soapy_power.parse_binary([record(levels=levels)]))
    assert np.isnan(blocks[0].levels_db).tolist() == [False, True, True, False]


@pytest.mark.parametrize(("name", "data"), [("a.csv", row().encode() * 3), ("a.bin", record() * 3)])
def test_files_are_told_by_their_heads(tmp_path, name, data):
    (tmp_path / name).write_bytes(data)
    sweep = readers.read(tmp_path / name)
    assert (sweep.sweeps, sweep.points) == (3, 4)
    np.testing.assert_allclose(sweep.typical_db, LEVELS)


def test_a_binary_file_without_a_single_record_is_refused_in_words(tmp_path):
    (tmp_path / "a.bin").write_bytes(b"SDRFF" + bytes(200))
    with pytest.raises(InputError, match=r"read as soapy_power binary.*version 0"):
        readers.read(tmp_path / "a.bin")

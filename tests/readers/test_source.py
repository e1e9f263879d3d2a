"""Packed files and pipes."""

from __future__ import annotations

import gzip
import os
import threading
import zlib

import numpy as np
import pytest

from bandwright import readers
from bandwright.errors import InputError
from bandwright.readers import source
from bandwright.readers.source import BadGzipError, unpacked

ROW = "2027-05-14, 09:00:01, 606000000, 606050000, 10000.00, 12544, -60.10, -61.20, -62.30, -63.40, -64.50, -64.50\n"


def unpack(data, size=1000):
    told = []
    pieces = [data[start : start + size] for start in range(0, len(data), size)]
    return b"".join(unpacked(pieces, tell=told.append)), [fault.code for fault in told]


@pytest.mark.parametrize("size", [1, 7, 1000, 10**7])
@pytest.mark.parametrize("content", [b"", b"x", os.urandom(3000) * 3, b"level\n" * 500_000])
def test_what_gzip_packed_comes_out_whole(monkeypatch, content, size):
    if size == 1 and len(content) > 10_000:
        size = 11
    assert unpack(gzip.compress(content), size) == (content, [])


def test_members_one_after_the_other_are_one_file():
    assert unpack(gzip.compress(b"one\n") + gzip.compress(b"two\n"), 5) == (b"one\ntwo\n", [])


def test_zeros_behind_the_end_are_nothing_and_anything_else_is_told():
    assert unpack(gzip.compress(b"one\n") + bytes(600)) == (b"one\n", [])
    assert unpack(gzip.compress(b"one\n") + b"rest") == (b"one\n", ["behind-the-end"])


def test_a_file_cut_off_gives_what_it_holds_and_says_so(tmp_path):
    packed = gzip.compress((ROW * 3000).encode(), compresslevel=1)
    assert unpack(packed[: len(packed) // 2])[1] == ["cut-off"]
    (tmp_path / "log.csv.gz").write_bytes(packed[: len(packed) // 2])
    sweep = readers.read(tmp_path / "log.csv.gz")
    assert 100 < sweep.sweeps < 3000
    assert "The gzip file is cut off; what it holds up to there is used." in [p.text for p in sweep.problems]


def test_a_damaged_file_is_refused_in_words(tmp_path):
    packed = bytearray(gzip.compress((ROW * 3).encode()))
    packed[-6] ^= 1  # the check sum
    (tmp_path / "log.csv.gz").write_bytes(packed)
    with pytest.raises(InputError, match="damaged: its check sum or structure is wrong"):
        readers.read(tmp_path / "log.csv.gz")


def test_a_file_that_unpacks_without_end_is_refused_in_words(tmp_path):
    (tmp_path / "bomb.csv.gz").write_bytes(gzip.compress(ROW.encode() + (b"#" + b" " * 9998 + b"\n") * 8000))
    with pytest.raises(InputError, match="more than 400 times its size: not read"):
        readers.read(tmp_path / "bomb.csv.gz")


def test_an_absolute_limit_holds_too(monkeypatch):
    monkeypatch.setattr(source, "MOST_UNPACKED", 2**30)
    packer = zlib.compressobj(wbits=31, level=0)
    block = bytes(2**20)

    def endless():
        while True:
            yield packer.compress(block)

    with pytest.raises(BadGzipError, match="more than 1 GiB: not read"):
        for _ in unpacked(endless(), tell=lambda _: None):
            pass


def test_a_packed_log_is_the_log(tmp_path):
    text = (ROW * 50).encode()
    (tmp_path / "log.csv").write_bytes(text)
    (tmp_path / "log.csv.gz").write_bytes(gzip.compress(text))
    plain, packed = (readers.read(tmp_path / name) for name in ("log.csv", "log.csv.gz"))
    np.testing.assert_array_equal(plain.typical_db, packed.typical_db)
    assert plain.sweeps == packed.sweeps == 50


def test_a_file_packed_twice_is_refused_in_words(tmp_path):
    (tmp_path / "log.csv.gz").write_bytes(gzip.compress(gzip.compress(ROW.encode())))
    with pytest.raises(InputError, match="binary"):
        readers.read(tmp_path / "log.csv.gz")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
@pytest.mark.parametrize("packed", [False, True])
def test_a_pipe_is_read_once_and_whole(tmp_path, packed):
    text = (ROW * 20_000).encode()
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    writer = threading.Thread(target=lambda: pipe.write_bytes(gzip.compress(text, 1) if packed else text))
    writer.start()
    sweep = readers.read(pipe)
    writer.join()
    assert sweep.sweeps == 20_000

"""WAV files of every kind that is read, and what is refused, in words."""

from __future__ import annotations

import io
import struct
import wave

import numpy as np
import pytest
from scipy.io import wavfile

from bandwright.errors import InputError
from bandwright.readers.wav import parse
from bandwright.sheets.wav import wav

RATE_HZ = 48_000
SOUND = 0.7 * np.sin(np.arange(960) / 5)


def read(data, *, most_s=60.0, size=None):
    return parse(data, size=len(data) if size is None else size, name="take.wav", most_s=most_s)


def by_scipy(samples, rate_hz=RATE_HZ):
    file = io.BytesIO()
    wavfile.write(file, rate_hz, samples)
    return file.getvalue()


def riff(*, form=1, channels=1, rate_hz=RATE_HZ, bits=16, data=b"\0\1\0\2", frame=None, extra=b"", claimed=None):
    frame = channels * bits // 8 if frame is None else frame
    head = struct.pack("<HHIIHH", form, channels, rate_hz, rate_hz * frame, frame, bits) + extra
    chunks = struct.pack("<4sI", b"fmt ", len(head)) + head
    chunks += struct.pack("<4sI", b"LIST", 3) + b"abc\0"  # of odd length, and padded
    chunks += struct.pack("<4sI", b"data", len(data) if claimed is None else claimed) + data
    return b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks


@pytest.mark.parametrize(
    ("samples", "step"),
    [
        ((SOUND * 2**15).astype(np.int16), 2**-15),
        ((SOUND * 2**31).astype(np.int32), 2**-31),
        ((SOUND * 127 + 128).astype(np.uint8), 2**-6),
        (SOUND.astype(np.float32), 1e-7),
        (SOUND, 1e-15),
    ],
    ids=["16 bits", "32 bits", "8 bits", "float", "double"],
)
def test_what_scipy_writes_is_read_as_it_was(authority, samples, step):
    found = read(by_scipy(samples))
    authority(
        f"Reading a WAV file, {samples.dtype}",
        source="scipy.io.wavfile.write",
        ours=found.samples[:, 0],
        theirs=SOUND,
        tolerance=2 * step,
        kind="library",
    )
    assert (found.rate_hz, found.cut, found.of_seconds) == (RATE_HZ, False, 0.02)


def test_what_we_write_is_24_bits_that_pythons_own_reader_reads(authority):
    data = wav(np.append(SOUND, [1.5, -1.5, 0]), rate_hz=RATE_HZ)
    with wave.open(io.BytesIO(data)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 3, RATE_HZ)
        raw = np.frombuffer(file.readframes(10_000), np.uint8).reshape(-1, 3)
    theirs = [int.from_bytes(bytes(row), "little", signed=True) / 2**23 for row in raw]
    authority(
        "Writing and reading a WAV file of 24 bits",
        source="the module wave of Python",
        ours=read(data).samples[:, 0],
        theirs=theirs,
        kind="library",
    )
    assert theirs[:-3] == pytest.approx(SOUND, abs=2**-23)
    assert theirs[-3:] == [1 - 2**-23, -1, 0]


def test_channels_stay_apart_and_an_extensible_format_is_read():
    stereo = np.stack([SOUND, -SOUND], axis=1).astype(np.float32)
    assert read(by_scipy(stereo)).samples == pytest.approx(stereo)
    guid = struct.pack("<H", 1) + bytes.fromhex("000000001000800000aa00389b71")
    data = riff(form=0xFFFE, bits=24, data=b"\0\0\x40", extra=struct.pack("<HHI", 22, 24, 4) + guid)
    assert read(data).samples.tolist() == [[0.5]]


def test_a_file_that_ends_before_it_says_and_one_of_unknown_length_are_taken_as_far_as_they_go():
    for claimed in (400, 0xFFFFFFFF):
        found = read(riff(data=b"\0\x40" * 3 + b"\1", claimed=claimed))
        assert found.samples.tolist() == [[0.5]] * 3
        assert found.cut


def test_no_more_than_asked_is_taken_from_the_start():
    data = by_scipy((SOUND * 2**15).astype(np.int16))
    found = read(data, most_s=0.005)
    assert (len(found.samples), found.of_seconds) == (240, 0.02)
    found = read(data[:500], size=len(data))
    assert (found.of_seconds, found.cut) == (0.02, False)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no WAV file"),
        (b"ID3" + bytes(100), "no WAV file"),
        (b"RIFF\0\0\0\0WAVE", "does not say how its samples are stored"),
        (b"RIFF\0\0\0\0WAVEdata\2\0\0\0\0\0", "samples come before"),
        (b"RIFF\0\0\0\0WAVEfmt \2\0\0\0\0\0", "does not say how its samples are stored"),
        (riff(form=85), "not read (format 85, 16 bits)"),
        (riff(bits=12), "not read (format 1, 12 bits)"),
        (riff(rate_hz=0), "0 samples per second; what is read: 4000 to 768000"),
        (riff(rate_hz=2_000_000_000), "2000000000 samples per second"),
        (riff(channels=0, frame=0), "0 channels and 0 bytes a frame do not go together"),
        (riff(frame=3), "3 bytes a frame"),
        (riff(data=b""), "holds no samples"),
        (riff()[:44], "holds no samples"),
        (by_scipy(np.array([0.0, np.nan], np.float32)), "no number"),
        (by_scipy(np.array([0.0, np.inf])), "no number"),
        (by_scipy(np.array([0.0, 1e30])), "far above full scale"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(data, said):
    with pytest.raises(InputError) as error:
        read(data)
    assert said in str(error.value)
    assert "take.wav" in str(error.value)


def test_no_hostile_file_does_more_than_be_refused():
    random = np.random.default_rng(7)
    whole = np.frombuffer(by_scipy(np.stack([SOUND, SOUND], axis=1).astype(np.float32)), np.uint8)
    for _ in range(400):
        bad = whole[: random.integers(1, len(whole))].copy()
        bad[random.integers(0, min(len(bad), 60), 3)] = random.integers(0, 256, 3)
        try:
            found = read(bad.tobytes())
        except InputError:
            continue
        assert np.isfinite(found.samples).all()

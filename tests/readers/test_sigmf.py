"""SigMF recordings: made by the format's own library, broken by hand, and compared with scipy."""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import tarfile

import numpy as np
import pytest
import sigmf
from scipy import signal
from sigmf.validate import validate

from bandwright import readers
from bandwright.core.sweep import RbwOrigin, channel_levels
from bandwright.errors import InputError
from bandwright.readers import iq
from bandwright.readers import sigmf as reader
from bandwright.readers.source import Source

RATE_HZ = 1_600_000
CENTRE_HZ = 606_000_000
SIZE = 256
CODES = {"f4": 1.0, "f8": 1.0, "i1": 127.0, "i2": 32767.0, "i4": 2147483647.0, "u1": 127.0, "u2": 32767.0, "u4": 2e9}
DATATYPES = {
    f"c{code[0]}{8 * int(code[1])}{order}": np.dtype(("<" if order in ("", "_le") else ">") + code)
    for code in CODES
    for order in (("",) if code.endswith("1") else ("_le", "_be"))
}


def samples(size=200_000, seed=1):
    rng = np.random.default_rng(seed)
    noise = rng.normal(size=size) + 1j * rng.normal(size=size)
    return 0.02 * noise + 0.5 * np.exp(2j * np.pi * 300e3 / RATE_HZ * np.arange(size))


def written(values, datatype):
    """Return the samples as bytes of a datatype."""
    dtype = DATATYPES[datatype]
    parts = np.stack((values.real, values.imag), axis=1).reshape(-1)
    scale = CODES[dtype.str[1:]]
    middle = 2 ** (8 * dtype.itemsize - 1) if dtype.kind == "u" else 0
    return (parts if dtype.kind == "f" else np.round(parts * scale) + middle).astype(dtype).tobytes()


def metadata(data=b"", datatype="cf32_le", captures=None, **stated):
    found = {
        "global": {"core:datatype": datatype, "core:sample_rate": RATE_HZ, "core:version": "1.2.0"},
        "captures": captures
        or [{"core:sample_start": 0, "core:frequency": CENTRE_HZ, "core:datetime": "2027-05-14T09:00:00Z"}],
        "annotations": [],
    }
    found["global"] |= {f"core:{key}": value for key, value in stated.items()}
    if data:
        found["global"]["core:sha512"] = hashlib.sha512(data).hexdigest()
    return found


def pair(folder, data, meta, name="quay"):
    (folder / f"{name}.sigmf-data").write_bytes(data)
    (folder / f"{name}.sigmf-meta").write_text(json.dumps(meta))
    return folder / f"{name}.sigmf-meta"


def archive(data, meta, *, meta_first):
    packed = io.BytesIO()
    members = [("quay/quay.sigmf-data", data), ("quay/quay.sigmf-meta", json.dumps(meta).encode())]
    with tarfile.open(fileobj=packed, mode="w", format=tarfile.PAX_FORMAT) as tar:
        for name, content in reversed(members) if meta_first else members:
            info = tarfile.TarInfo(name)
            info.size = len(content)
            tar.addfile(info, io.BytesIO(content))
    return packed.getvalue()


@pytest.mark.parametrize("datatype", DATATYPES)
def test_every_kind_of_complex_sample_gives_the_power_that_scipy_gives(authority, tmp_path, datatype):
    data = written(samples(), datatype)
    meta = metadata(data, datatype)
    validate(meta)
    path = pair(tmp_path, data, meta)
    theirs_in = sigmf.sigmffile.fromfile(str(path)).read_samples()
    if DATATYPES[datatype].kind == "f" and DATATYPES[datatype].itemsize == 8:
        theirs_in = np.frombuffer(data, DATATYPES[datatype]).astype(np.float64).view(np.complex128)
    _, theirs = signal.welch(
        theirs_in, fs=RATE_HZ, window="hann", nperseg=SIZE, noverlap=SIZE // 2, detrend=False, scaling="spectrum",
        return_onesided=False,
    )  # fmt: skip
    sweep = readers.read(path)
    assert sweep.problems == ()
    authority(
        "power over frequency of a SigMF recording",
        source="the sigmf library reads the samples, scipy.signal.welch turns them into power",
        ours=sweep.typical_db.tolist(),
        theirs=(10 * np.log10(np.fft.fftshift(theirs))).tolist(),
        tolerance=0.15,  # blocks of a tenth of a second count alike here, segments there
        kind="library",
        unit="dB of full scale",
    )
    assert sweep.centres_hz[np.argmax(sweep.typical_db)] == CENTRE_HZ + 300_000
    assert (sweep.rbw_hz, sweep.rbw_origin) == (1.5 * RATE_HZ / SIZE, RbwOrigin.FILE)


def test_a_steady_carrier_reads_its_own_power_over_its_bandwidth(authority, tmp_path):
    sweep = readers.read(pair(tmp_path, written(samples(), "cf32_le"), metadata()))
    found = channel_levels(sweep, carriers_hz=[CENTRE_HZ + 300_000], bandwidth_hz=200_000)
    authority(
        "power over 200 kHz of a carrier of amplitude 0.5 of full scale, with noise of 8e-4 in 1.6 MHz",
        source="definition: 10 log10(0.25 + 8e-4 / 8)",
        ours=float(found.typical_db[0]),
        theirs=10 * np.log10(0.25 + 8e-4 / 8),
        tolerance=0.02,
        kind="arithmetic",
        unit="dB of full scale",
    )


def test_either_file_of_the_pair_or_the_archive_may_be_given(tmp_path):
    data = written(samples(), "ci16_le")
    meta = metadata(data, "ci16_le")
    path = pair(tmp_path, data, meta)
    expected = readers.read(path)
    others = [tmp_path / "quay.sigmf-data"]
    for meta_first in (True, False):
        packed = archive(data, meta, meta_first=meta_first)
        for name, content in ((f"{meta_first}.sigmf", packed), (f"{meta_first}.sigmf.gz", gzip.compress(packed))):
            (tmp_path / name).write_bytes(content)
            others.append(tmp_path / name)
    recording = sigmf.sigmffile.fromfile(str(path))
    recording.archive(str(tmp_path / "own.sigmf"))
    for other in (*others, tmp_path / "own.sigmf"):
        sweep = readers.read(other)
        np.testing.assert_allclose(sweep.typical_db, expected.typical_db, rtol=1e-12)
        assert (sweep.sweeps, sweep.started) == (expected.sweeps, expected.started)


def test_time_is_kept_and_no_sample_is_left_out(tmp_path):
    # 0.73 s: seven blocks of 0.1 s, and 0.03 s that join the last.
    path = pair(tmp_path, written(samples(1_168_000), "cf32_le"), metadata())
    sweep = readers.read(path)
    assert sweep.sweeps == 7
    assert sweep.started.isoformat() == "2027-05-14T09:00:00"
    assert sweep.duration.total_seconds() == pytest.approx(0.6, abs=0.001)


@pytest.mark.parametrize("size", [1, 7, 1000, 2**20])
def test_the_size_of_the_blocks_changes_nothing(size):
    packed = archive(written(samples(8000), "ci16_be"), metadata(datatype="ci16_be"), meta_first=True)
    one = [item.levels_db for item in reader.parse(Source.of_bytes(packed))]
    two = [item.levels_db for item in reader.parse(Source.of_bytes(packed, size=size))]
    np.testing.assert_allclose(one, two)


def test_captures_at_other_frequencies_are_hops(tmp_path):
    captures = [
        {"core:sample_start": 0, "core:frequency": CENTRE_HZ},
        {"core:sample_start": 100_000, "core:frequency": CENTRE_HZ + RATE_HZ},
    ]
    sweep = readers.read(pair(tmp_path, written(samples(), "cf32_le"), metadata(captures=captures)))
    assert (sweep.sweeps, sweep.points, sweep.gaps) == (1, 2 * SIZE, ())
    peaks = sweep.centres_hz[sweep.typical_db > -20]
    assert {CENTRE_HZ + 300_000.0, CENTRE_HZ + RATE_HZ + 300_000.0} <= set(peaks.tolist())


def test_headers_and_trailers_inside_the_data_are_no_samples(tmp_path):
    values = samples()
    data = b"H" * 24 + written(values[:100_000], "ci8") + b"h" * 10 + written(values[100_000:], "ci8") + b"T" * 30
    captures = [
        {"core:sample_start": 0, "core:frequency": CENTRE_HZ, "core:header_bytes": 24},
        {"core:sample_start": 100_000, "core:frequency": CENTRE_HZ, "core:header_bytes": 10},
    ]
    meta = metadata(datatype="ci8", captures=captures, dataset="odd.bin", trailing_bytes=30)
    (tmp_path / "odd.bin").write_bytes(data)
    (tmp_path / "quay.sigmf-meta").write_text(json.dumps(meta))
    found = readers.read(tmp_path / "quay.sigmf-meta")
    plain = readers.read(pair(tmp_path, written(values, "ci8"), metadata(datatype="ci8", captures=[
        {"core:sample_start": 0, "core:frequency": CENTRE_HZ},
        {"core:sample_start": 100_000, "core:frequency": CENTRE_HZ},
    ]), name="plain"))  # fmt: skip
    assert found.problems == plain.problems == ()
    np.testing.assert_allclose(found.typical_db, plain.typical_db)


def test_of_several_channels_the_first_is_read_in_words(tmp_path):
    one, two = samples(), samples(seed=2)
    both = np.stack((one, two), axis=1).reshape(-1)
    sweep = readers.read(pair(tmp_path, written(both, "cf32_le"), metadata(num_channels=2)))
    alone = readers.read(pair(tmp_path, written(one, "cf32_le"), metadata(), name="alone"))
    np.testing.assert_allclose(sweep.typical_db, alone.typical_db, rtol=1e-12)
    assert [fault.code for fault in sweep.problems] == ["more-channels"]


def test_data_that_are_not_those_of_the_metadata_are_told(tmp_path):
    data = written(samples(), "cf32_le")
    sweep = readers.read(pair(tmp_path, data[:-8], metadata(data)))
    assert [fault.text for fault in sweep.problems] == [
        "The SHA-512 of the data is not the one in the metadata: samples were changed, lost or added."
    ]


def test_samples_at_full_scale_are_an_overload_in_words(tmp_path):
    values = np.clip(30 * samples().real, -1, 1) + 1j * np.clip(30 * samples().imag, -1, 1)
    sweep = readers.read(pair(tmp_path, written(values, "cu8"), metadata(datatype="cu8")))
    assert any(fault.code == "overload" and "at full scale" in fault.text for fault in sweep.problems)


def test_samples_that_are_no_numbers_and_a_cut_one_are_told_and_not_used(tmp_path):
    values = samples()
    values[5000] = np.nan
    values[9000] = np.inf
    sweep = readers.read(pair(tmp_path, written(values, "cf32_le")[:-3], metadata()))
    assert {fault.code for fault in sweep.problems} == {"bad-sample", "cut-off"}
    assert np.isfinite(sweep.typical_db).all()


def test_what_the_formats_own_validator_refuses_is_told(tmp_path):
    meta = metadata()
    del meta["global"]["core:version"]
    with pytest.raises(Exception, match="version"):
        validate(meta)
    sweep = readers.read(pair(tmp_path, written(samples(), "cf32_le"), meta))
    assert [fault.code for fault in sweep.problems] == ["invalid-metadata"]
    assert "'core:version' is a required property" in sweep.problems[0].text


@pytest.mark.parametrize(
    ("meta", "words"),
    [
        (metadata(datatype="ri16_le"), r"The samples are real \(ri16_le\), as in an audio recording, and no IQ"),
        (metadata(datatype="cf16_le"), "found 'cf16_le': not read"),
        (metadata(datatype="ci16"), "does not say the order of its bytes; write ci16_le or ci16_be"),
        (metadata(datatype=7), "core:datatype is one such as"),
        (metadata(sample_rate=0), "core:sample_rate is a number of Hz from 1 to 1e.11; found 0"),
        (metadata(sample_rate="fast"), "found 'fast'"),
        (metadata(metadata_only=True), "it holds no samples"),
        (metadata(captures=[{"core:sample_start": 0}]), r"No capture .* names its frequency"),
        (
            metadata(captures=[{"core:sample_start": 9, "core:frequency": 1e9}, {"core:sample_start": 0}]),
            "stand in the order of their samples",
        ),
        ([], 'hold no "global" object'),
    ],
)
def test_recordings_that_cannot_be_used_are_refused_in_words(tmp_path, meta, words):
    with pytest.raises(InputError, match=words):
        readers.read(pair(tmp_path, written(samples(2000), "cf32_le"), meta))


def test_a_pair_with_one_file_missing_or_empty_is_refused_in_words(tmp_path):
    path = pair(tmp_path, b"", metadata())
    with pytest.raises(InputError, match="The data of the SigMF recording are empty"):
        readers.read(path)
    (tmp_path / "quay.sigmf-data").unlink()
    with pytest.raises(InputError, match=r"has two files; quay.sigmf-data is not beside quay.sigmf-meta"):
        readers.read(path)
    path.rename(tmp_path / "other.sigmf-data")
    with pytest.raises(InputError, match=r"other.sigmf-meta is not beside"):
        readers.read(tmp_path / "other.sigmf-data")
    path.write_text('{"core: no JSON')
    with pytest.raises(InputError, match="The SigMF metadata are no JSON"):
        readers.read(path)


def test_a_dataset_outside_the_folder_is_not_fetched(tmp_path):
    inside = tmp_path / "inside"
    inside.mkdir()
    (tmp_path / "data.bin").write_bytes(written(samples(), "cf32_le"))
    with pytest.raises(InputError, match=r"data.bin is not beside"):
        readers.read(pair(inside, b"", metadata(dataset="../data.bin")))


def archive_without_meta():
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w") as tar:
        tar.addfile(tarfile.TarInfo("quay.sigmf-data"))
    return packed.getvalue()


def test_damaged_archives_are_refused_in_words(tmp_path):
    packed = archive(written(samples(2000), "cf32_le"), metadata(), meta_first=True)
    file = tmp_path / "a.sigmf"
    file.write_bytes(archive_without_meta())
    with pytest.raises(InputError, match=r"holds no \.sigmf-meta file"):
        readers.read(file)
    file.write_bytes(packed[:3000])
    with pytest.raises(InputError, match=r"damaged|empty|used"):
        readers.read(file)


def test_a_recording_shorter_than_one_transform_is_refused_in_words(tmp_path):
    with pytest.raises(InputError, match="1 captures are shorter than 256 samples"):
        readers.read(pair(tmp_path, written(samples(100), "cf32_le"), metadata()))


def test_bins_below_zero_hertz_are_left_out(tmp_path):
    captures = [{"core:sample_start": 0, "core:frequency": RATE_HZ / 4}]
    sweep = readers.read(pair(tmp_path, written(samples(), "cf32_le"), metadata(captures=captures)))
    assert sweep.low_hz >= 0
    assert sweep.centres_hz[np.argmax(sweep.typical_db)] == RATE_HZ / 4 + 300_000


def test_bins_are_fine_enough_for_a_narrow_carrier_at_any_rate(authority):
    for rate_hz in (1.0, 48e3, 2.4e6, 20e6, 61.44e6, 1e9):
        size = iq._size(rate_hz)
        assert size in {2**power for power in range(8, 19)}
        if rate_hz <= 1e9:
            assert rate_hz / size <= 6250

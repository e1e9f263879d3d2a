"""What every reader in the registry must withstand; a new one needs an example file and no new line here.

`examples/NAME.*` holds a small file of the format NAME, made by hand with invented levels.
"""

from __future__ import annotations

import contextlib
import gzip
import re
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandwright import readers
from bandwright.core.sweep import SweepBlock, SweepFacts, SweepFault, SweepRows
from bandwright.errors import InputError
from bandwright.readers import FORMATS, hop_rows
from bandwright.readers.source import Source
from bandwright.readers.traces import UnknownTraceError

EXAMPLES = Path(__file__).parent / "examples"
FORMS = pytest.mark.parametrize("form", FORMATS, ids=lambda form: form.name)
FULL_SCALE_DB = 3.0104  # both parts of a sample at full scale; a spectrum never exceeds it
ROOM = 64 * 2**20
PUT = [
    b"\n",
    b",",
    b"nan",
    b"-",
    b"1e400",
    b";",
    b'"',
    b"9" * 30,
    b"\0",
    b"\xff",
    b" ",
    b"-1.#J",
    b"0x1p3",
    b"1_0",
    b".",
]


def example(form):
    found = sorted(EXAMPLES.glob(f"{form.name}.*"))
    assert len(found) == 1, f"put a small file of the format into tests/readers/examples, named '{form.name}.*'"
    return found[0]


def blocks_of(items):
    for item in items:
        if isinstance(item, SweepRows):
            yield from (item.block(index) for index in range(item.hop.size))
        elif isinstance(item, SweepBlock):
            yield item
        else:
            assert isinstance(item, SweepFault | SweepFacts)


def numbers_in(data):
    """Return every number that stands between delimiters, decimal commas and points alike."""
    found = set()
    text = data.decode("latin-1")
    for words in (re.split(r"[\s,;^|\"]+", text), re.split(r"[\s;^|\"]+", text.replace(",", "."))):
        for word in words:
            with contextlib.suppress(ValueError):
                found.add(float(word))
    for start in range(len(data) - 3):
        found.add(float(np.frombuffer(data[start : start + 4], "<f4")[0]))
    return found


@FORMS
def test_every_format_is_told_by_its_head_and_read(form, tmp_path):
    path = example(form)
    assert next(item for item in FORMATS if item.sniff(path.read_bytes())) is form
    sweep = readers.read(path)
    assert sweep.points > 3
    packed = tmp_path / f"{path.name}.gz"
    packed.write_bytes(gzip.compress(path.read_bytes()))
    np.testing.assert_array_equal(readers.read(packed).typical_db, sweep.typical_db)


@FORMS
@pytest.mark.parametrize("size", [1, 7, 64])
def test_the_size_of_the_blocks_changes_nothing_in_any_format(form, size):
    data = example(form).read_bytes()
    one = list(blocks_of(form.parse(Source.of_bytes(data))))
    two = list(blocks_of(form.parse(Source.of_bytes(data, size=size))))
    assert len(one) == len(two)
    for here, there in zip(one, two, strict=True):
        np.testing.assert_allclose(here.levels_db, there.levels_db, rtol=1e-12)


@FORMS
@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_no_reader_falls_over_or_invents_a_number(form, data):
    content = example(form).read_bytes()
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(content)))
        cut = data.draw(st.integers(0, 12) | st.just(len(content)))
        put = data.draw(st.binary(max_size=6) | st.sampled_from(PUT))
        content = content[:at] + put + content[at + cut :]
    with pytest.MonkeyPatch.context() as patch, contextlib.suppress(UnknownTraceError):
        if data.draw(st.booleans()):
            patch.setattr(hop_rows, "FAST_FROM_BYTES", -1)
        trace = data.draw(st.sampled_from([None, "max", "x"])) if form.traces else None
        read = list(blocks_of(form.parse(Source.of_bytes(content, size=data.draw(st.integers(1, 200)), trace=trace))))
        written = numbers_in(content) if form.exact else set()
        for block in read:
            known = block.levels_db[np.isfinite(block.levels_db)]
            assert np.isfinite(block.frequencies_hz()).all()
            if form.exact:
                assert set(known.tolist()) <= written
            else:
                assert (known <= FULL_SCALE_DB).all()


@FORMS
@given(data=st.binary(max_size=400))
@settings(max_examples=100, deadline=None)
def test_any_bytes_behind_any_head_are_read_or_refused_in_words(form, tmp_path_factory, data):
    path = example(form)
    file = tmp_path_factory.mktemp("any") / path.name
    for content in (data, path.read_bytes()[: len(data)] + data):
        file.write_bytes(content)
        with contextlib.suppress(InputError):
            readers.read(file)


@FORMS
def test_no_reader_takes_memory_beyond_its_file_when_numbers_are_immense(form):
    content = example(form).read_bytes()
    numbers = [match.span() for match in re.finditer(rb"\d+", content[:2000])]
    tracemalloc.start()
    for first, end in numbers[:40]:
        for put in (b"9" * 15, b"2000000", b"0", b"-1"):
            changed = content[:first] + put + content[end:]
            with contextlib.suppress(UnknownTraceError):
                for _ in form.parse(Source.of_bytes(changed)):
                    pass
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < ROOM


@given(st.binary(max_size=300))
@settings(max_examples=200, deadline=None)
def test_any_bytes_are_read_or_refused_in_words(tmp_path_factory, data):
    file = tmp_path_factory.mktemp("any") / "any.csv"
    file.write_bytes(data)
    with contextlib.suppress(InputError):
        readers.read(file)

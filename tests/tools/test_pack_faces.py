"""The archive of the faces: the same from the same files, and the one that is shipped is packed so."""

from __future__ import annotations

import lzma
import tarfile
from io import BytesIO

from tools.pack_faces import ARCHIVE, packed


def test_packing_again_what_is_shipped_gives_the_same_files_in_the_same_archive():
    with tarfile.open(ARCHIVE) as archive:
        files = {entry.name: archive.extractfile(entry).read() for entry in archive}
    assert sorted(files) == ["Roboto-Bold.ttf", "RobotoCondensed-Bold.ttf", "RobotoCondensed-Regular.ttf"]
    again = packed(files)
    assert again == packed(files)
    assert lzma.decompress(again) == lzma.decompress(ARCHIVE.read_bytes())


def test_what_is_packed_comes_out_as_it_was():
    with tarfile.open(fileobj=BytesIO(packed({"A.ttf": b"\0\1" * 700, "B.ttf": b""}))) as archive:
        assert {entry.name: archive.extractfile(entry).read() for entry in archive} == {
            "A.ttf": b"\0\1" * 700,
            "B.ttf": b"",
        }

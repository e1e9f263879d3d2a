"""Pack the faces of the sheets into the one archive that is shipped: `python -m tools.pack_faces FOLDER`.

FOLDER holds them as TrueType, each trimmed as `src/bandwright/sheets/fonts/README.md` says. Together they take 114 kB
in the wheel. Only a developer needs it, and only to renew a face.
"""

from __future__ import annotations

import io
import lzma
import sys
import tarfile
from pathlib import Path

from tools.generated import ROOT

__all__ = ["ARCHIVE", "main", "packed"]

ARCHIVE = ROOT / "src" / "bandwright" / "sheets" / "fonts" / "faces.tar.xz"


def main() -> None:
    """Write the archive."""
    if len(sys.argv) != 2 or not (faces := sorted(Path(sys.argv[1]).glob("*.ttf"))):
        sys.exit("name the folder that holds the trimmed faces (*.ttf): python -m tools.pack_faces FOLDER")
    ARCHIVE.write_bytes(packed({face.name: face.read_bytes() for face in faces}))


def packed(files: dict[str, bytes]) -> bytes:
    """Return files as a tar archive compressed by xz: the same files always give the same bytes."""
    whole = io.BytesIO()
    with tarfile.open(fileobj=whole, mode="w", format=tarfile.USTAR_FORMAT) as archive:
        for name, data in files.items():
            entry = tarfile.TarInfo(name)
            entry.size = len(data)
            archive.addfile(entry, io.BytesIO(data))
    return lzma.compress(whole.getvalue(), preset=9 | lzma.PRESET_EXTREME)


if __name__ == "__main__":
    main()

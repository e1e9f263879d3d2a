"""Build the wheel and check that it holds everything the program needs: `python -m tools.check_wheel`."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

from tools.generated import ROOT

SOURCE = ROOT / "src"
# 1.76 MB: 1.08 are code, since reach and sound came in, 0.26 pages, 0.20 faces for paper and screen, 0.05 schemas.
# What is left is for a few weeks of growth; a recording or a build folder shipped by mistake does not fit.
MOST_BYTES = 1_800_000
MADE_BY_PYTHON = {".pyc", ".nbi", ".nbc"}


def main() -> None:
    """End with exit code 1 and the list of what is missing."""
    with tempfile.TemporaryDirectory() as folder:
        wheel = build(Path(folder))
        held = set(zipfile.ZipFile(wheel).namelist())
        size = wheel.stat().st_size
    lost = sorted(needed() - held)
    if not any(name.endswith("licenses/LICENSE") for name in held):
        lost.append("LICENSE")
    if lost:
        sys.exit("missing in the wheel:\n  " + "\n  ".join(lost))
    if size > MOST_BYTES:
        sys.exit(f"{wheel.name} has {size:,} bytes; at most {MOST_BYTES:,} are wanted")
    print(f"{wheel.name} holds all {len(needed())} files of the program in {size:,} bytes")


def build(folder: Path) -> Path:
    """Return the wheel, built as an installer would."""
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run(command, check=True)
    (wheel,) = folder.glob("bandwright-*.whl")
    return wheel


def needed() -> set[str]:
    """Return every file below src/bandwright that is not made by Python itself: code, tables, fonts, schemas, pages."""
    files = (path for path in (SOURCE / "bandwright").rglob("*") if path.is_file())
    return {path.relative_to(SOURCE).as_posix() for path in files if path.suffix not in MADE_BY_PYTHON}


if __name__ == "__main__":
    main()

"""Files that are made: write them, or check that they are what would be written."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

__all__ = ["ROOT", "write_or_check"]

ROOT = Path(__file__).resolve().parent.parent


def write_or_check(files: Mapping[Path, str], *, check: bool) -> None:
    """Write every file; with `check` write none, and end with exit code 1 where one differs."""
    stale = [path for path, text in files.items() if not path.exists() or path.read_text(encoding="utf-8") != text]
    if check and stale:
        names = ", ".join(str(path.relative_to(ROOT)) for path in stale)
        sys.exit(f"out of date: {names}; run `make docs` and commit what it changes")
    for path in stale:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(files[path], encoding="utf-8")
        print(f"written: {path.relative_to(ROOT)}")

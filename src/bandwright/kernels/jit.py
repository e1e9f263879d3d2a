"""The one place that meets numba: a decorator, and the folder where compiled code is kept.

numba's own cache is keyed on each file's time and does not notice an edited callee in another file, so the folder is
named by a hash of all kernel sources together with the numba and Python versions. Where no folder can be written the
kernels are compiled afresh and nothing else changes. With `BANDWRIGHT_UNCOMPILED=1` they run as plain Python.
"""

from __future__ import annotations

import functools
import hashlib
import os
import platform
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar, cast

__all__ = [
    "CacheState",
    "cache_folder",
    "cache_state",
    "compiled",
    "kernels_are_prepared",
    "source_stamp",
    "uncompiled",
]

_F = TypeVar("_F", bound=Callable[..., object])
_HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True, kw_only=True)
class CacheState:
    """Where compiled kernels are kept; `folder` is None when nothing could be written anywhere."""

    folder: Path | None
    compiled_files: int


def uncompiled() -> bool:
    """Whether kernels run as plain Python."""
    return os.environ.get("BANDWRIGHT_UNCOMPILED", "") not in ("", "0")


def _base_folder() -> Path:
    if stated := os.environ.get("BANDWRIGHT_CACHE"):
        return Path(stated)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local")) / "bandwright" / "cache"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "bandwright"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "bandwright"


def source_stamp(sources: Path = _HERE) -> str:
    """Return what names compiled code: a hash of all kernel sources, the versions of numba and Python, the machine."""
    digest = hashlib.sha256()
    for source in sorted(sources.glob("*.py")):
        digest.update(source.name.encode())
        digest.update(source.read_bytes())
    for part in (version("numba"), version("numpy"), platform.python_version(), platform.machine()):
        digest.update(part.encode())
    return digest.hexdigest()[:16]


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


@functools.cache
def cache_folder() -> Path | None:
    """Return the writable folder of compiled kernels for exactly these sources, or None."""
    try:
        folder = _base_folder() / f"kernels-{source_stamp()}"
    except (OSError, RuntimeError):  # no home at all
        return None
    return folder if _writable(folder) else None


def cache_state() -> CacheState:
    """Return where compiled kernels are kept and how many compiled files lie there."""
    folder = cache_folder()
    return CacheState(folder=folder, compiled_files=0 if folder is None else len(list(folder.rglob("*.nbc"))))


def kernels_are_prepared() -> bool:
    """Whether compiled code for these sources is already there, so that the first plan starts at once."""
    return uncompiled() or cache_state().compiled_files > 0


def compiled(function: _F) -> _F:
    """Compile a loop on arrays at its first call, without fast maths and without threads."""
    if uncompiled():
        return function
    import numba

    folder = cache_folder()
    config: Any = numba.config
    before = config.CACHE_DIR
    config.CACHE_DIR = str(folder) if folder is not None else before
    try:
        return cast(_F, numba.njit(cache=folder is not None, nogil=True, error_model="numpy")(function))
    finally:
        config.CACHE_DIR = before

"""The one place that meets numba: a decorator, and the folder where compiled code is kept.

numba's own cache is keyed on each file's path and time and does not notice an edited callee in another file. Here the
folder is named by a hash of all kernel sources together with the numba and Python versions, and nothing else counts:
every installation of the same kernels shares what is compiled. Where no folder can be written the kernels are compiled
afresh and nothing else changes. With `BANDWRIGHT_UNCOMPILED=1` they run as plain Python.
"""

from __future__ import annotations

import contextlib
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
    "KernelLocator",
    "cache_folder",
    "cache_state",
    "compiled",
    "kernels_are_prepared",
    "note_prepared",
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


def kernels_are_prepared(part: str) -> bool:
    """Whether all kernels that a part of the program uses were compiled before: then they load as they are used."""
    folder = cache_folder()
    return uncompiled() or (folder is not None and _mark(folder, part).is_file())


def note_prepared(part: str) -> None:
    """Note that all kernels a part of the program uses are compiled now; without a cache folder nothing is noted."""
    folder = cache_folder()
    if folder is None or uncompiled():
        return
    with contextlib.suppress(OSError):
        _mark(folder, part).touch()


def _mark(folder: Path, part: str) -> Path:
    return folder / f"{part}.prepared"


class KernelLocator:
    """What numba asks where a kernel is kept: in the one folder, from whichever path it was loaded and however old.

    The methods are those that numba asks of a class named in `CACHE_LOCATOR_CLASSES` of its configuration.
    """

    def __init__(self, folder: Path, line: int) -> None:
        self._folder = folder
        self._line = line

    @classmethod
    def from_function(cls, py_func: Any, py_file: str) -> KernelLocator | None:
        """Return a locator for a kernel, or None where nothing can be kept."""
        folder = cache_folder()
        return None if folder is None else cls(folder, py_func.__code__.co_firstlineno)

    def ensure_cache_path(self) -> None:
        """Make the folder if somebody removed it."""
        self._folder.mkdir(parents=True, exist_ok=True)

    def get_cache_path(self) -> str:
        """Return the folder."""
        return str(self._folder)

    def get_source_stamp(self) -> str:
        """Return what changes with the source: the name of the folder does already."""
        return self._folder.name

    def get_disambiguator(self) -> str:
        """Return what tells kernels of one name in one file apart."""
        return str(self._line)


def compiled(function: _F) -> _F:
    """Compile a loop on arrays at its first call, without fast maths and without threads."""
    if uncompiled():
        return function
    import numba

    config: Any = numba.config
    before = config.CACHE_LOCATOR_CLASSES
    config.CACHE_LOCATOR_CLASSES = f"{__name__}.{KernelLocator.__name__}"
    try:
        return cast(_F, numba.njit(cache=cache_folder() is not None, nogil=True, error_model="numpy")(function))
    finally:
        config.CACHE_LOCATOR_CLASSES = before

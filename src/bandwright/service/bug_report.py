"""A report about a mistake of ours: traceback, versions and the command line; nothing else of the user's."""

from __future__ import annotations

import platform
import shlex
import sys
import tempfile
import traceback
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path

from bandwright import __version__
from bandwright.service.folders import state_folder

__all__ = ["PACKAGES", "bug_reports", "versions", "write_bug_report"]

PACKAGES = (
    "click",
    "fastapi",
    "jinja2",
    "llvmlite",
    "numba",
    "numpy",
    "pydantic",
    "reportlab",
    "starlette",
    "tzdata",
    "uvicorn",
    "websockets",
)


def write_bug_report(error: BaseException, *, arguments: Sequence[str]) -> Path | None:
    """Write the report into the user's state folder (or the temporary folder) and return where it is, or None."""
    text = _report(error, arguments)
    stamp = datetime.now(tz=UTC).strftime("%Y%m%dT%H%M%SZ")
    for folder in (state_folder(), Path(tempfile.gettempdir())):
        if folder is None:
            continue
        try:
            folder.mkdir(parents=True, exist_ok=True)
            return _write_new(folder, f"bandwright-report-{stamp}", text)
        except OSError:
            continue
    return None


def bug_reports() -> tuple[Path, ...]:
    """Return the reports in the user's state folder, newest first."""
    folder = state_folder()
    found = folder.glob("bandwright-report-*.txt") if folder is not None else ()
    return tuple(sorted(found, key=lambda path: path.name, reverse=True))


def _write_new(folder: Path, stem: str, text: str) -> Path:
    with tempfile.NamedTemporaryFile(
        "w",
        dir=folder,
        prefix=f"{stem}-",
        suffix=".txt",
        delete=False,
        encoding="utf-8",
        errors="backslashreplace",
    ) as file:
        file.write(text)
    return Path(file.name)


def _report(error: BaseException, arguments: Sequence[str]) -> str:
    lines = [
        *versions(),
        f"arguments: {shlex.join(arguments)}",
        "",
        *traceback.format_exception(error),
    ]
    return _without_home("\n".join(lines))


def versions() -> Iterator[str]:
    """Yield the versions of the program, of Python with its system, and of the packages that it leans on."""
    yield f"bandwright {__version__}"
    system = f"{sys.platform} {platform.machine()}"
    yield f"Python {platform.python_version()} ({platform.python_implementation()}), {system}"
    for package in PACKAGES:
        try:
            yield f"{package} {metadata.version(package)}"
        except metadata.PackageNotFoundError:
            yield f"{package} missing"


def _without_home(text: str) -> str:
    try:
        return text.replace(str(Path.home()), "~")
    except RuntimeError:
        return text

"""The program's own log: what went wrong and when, in the user's own folder, a few files that take turns."""

from __future__ import annotations

import logging
from logging.handlers import RotatingFileHandler
from pathlib import Path

from bandwright.service.folders import state_folder

__all__ = ["LOG_NAME", "log_files", "start_log"]

LOG_NAME = "bandwright.log"

_MOST_BYTES = 256 * 1024
_OLDER = 3


def start_log() -> Path | None:
    """Write what the program notes about itself into the user's folder from now on; None where that cannot be."""
    folder = state_folder()
    if folder is None:
        return None
    path = folder / LOG_NAME
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(path, maxBytes=_MOST_BYTES, backupCount=_OLDER, encoding="utf-8")
    except OSError:
        return None
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s %(message)s"))
    ours = logging.getLogger("bandwright")
    ours.addHandler(handler)
    ours.setLevel(logging.INFO)
    return path


def log_files() -> tuple[Path, ...]:
    """Return the files of the log, newest first."""
    folder = state_folder()
    if folder is None:
        return ()
    paths = [folder / LOG_NAME, *(folder / f"{LOG_NAME}.{number}" for number in range(1, _OLDER + 1))]
    return tuple(path for path in paths if path.is_file())

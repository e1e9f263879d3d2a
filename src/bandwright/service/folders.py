"""The user's own folders, by the custom of the system; None where there is no home to put them in."""

from __future__ import annotations

import os
import sys
from pathlib import Path

__all__ = ["kit_folder", "state_folder"]

NAME = "bandwright"

# system -> (variable that moves the folder, where it is in the home folder)
_SETTINGS = {
    "win32": ("APPDATA", "AppData/Roaming"),
    "darwin": (None, "Library/Application Support"),
    "other": ("XDG_CONFIG_HOME", ".config"),
}
_STATE = {
    "win32": ("LOCALAPPDATA", "AppData/Local"),
    "darwin": (None, "Library/Logs"),
    "other": ("XDG_STATE_HOME", ".local/state"),
}


def kit_folder() -> Path | None:
    """Return the folder of the user's own kit files."""
    base = _base(_SETTINGS)
    return base / NAME / "kit" if base else None


def state_folder() -> Path | None:
    """Return the folder for reports about the program itself."""
    base = _base(_STATE)
    return base / NAME if base else None


def _base(table: dict[str, tuple[str | None, str]]) -> Path | None:
    variable, below_home = table.get(sys.platform, table["other"])
    moved = os.environ.get(variable) if variable else None
    if moved and Path(moved).is_absolute():
        return Path(moved)
    try:
        return Path.home() / below_home
    except RuntimeError:
        return None

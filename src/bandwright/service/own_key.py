"""The laptop's own key to its pages: it stays from run to run, so that an open page survives a restart."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
from pathlib import Path

from bandwright.service.folders import state_folder

__all__ = ["own_key"]

_NAME = "serve-key"
_FORM = re.compile(r"[A-Za-z0-9_-]{43}")


def own_key() -> str:
    """Return the key that this user's folder holds, made where there is none.

    Only the user may read the file. Where there is no folder to keep it in, the key is a new one each time.
    """
    folder = state_folder()
    new = secrets.token_urlsafe(32)
    if folder is None:
        return new
    path = folder / _NAME
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return _kept(path) or _keep(path, new)
    except OSError:
        return new


def _kept(path: Path) -> str | None:
    with contextlib.suppress(FileNotFoundError, UnicodeDecodeError):
        text = path.read_text(encoding="ascii").strip()
        return text if _FORM.fullmatch(text) and _private(path) else None
    return None


def _private(path: Path) -> bool:
    """Whether nobody else may read the file, where the system says so."""
    return os.name != "posix" or path.stat().st_mode & 0o077 == 0


def _keep(path: Path, key: str) -> str:
    """Put the key there in one step, readable by the user alone; another run that was faster wins."""
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(key)
    aside.replace(path)
    return _kept(path) or key

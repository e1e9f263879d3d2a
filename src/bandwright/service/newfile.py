"""One new file to start from: written whole, and never over one that is there."""

from __future__ import annotations

from pathlib import Path

from bandwright.errors import InputError
from bandwright.service.output import check_folder, write_folder

__all__ = ["check_new_file", "write_new_file"]


def check_new_file(path: Path, *, what: str, otherwise: str, elsewhere: str) -> None:
    """Raise InputError where a file is there already, or its name starts with a dot.

    `what` names the file in errors ("brief"); `otherwise` and `elsewhere` show how another file, and one in another
    folder, is named.
    """
    check_folder(path.parent, elsewhere=f"name a file in another folder: {elsewhere}")
    if path.exists() or path.is_symlink():
        text, hint = "This is there already and is not overwritten.", f"Name another file: {otherwise}"
        raise InputError.single("exists", text, file=str(path), given=str(path), allowed="a new file", hint=hint)
    if path.name.startswith("."):
        text, hint = f"A {what} is no hidden file.", "Name one without a dot in front."
        raise InputError.single("hidden", text, file=str(path), given=path.name, allowed="a plain name", hint=hint)


def write_new_file(path: Path, content: str | bytes, *, what: str, otherwise: str, elsewhere: str) -> None:
    """Write a new file whole, with the folders on the way to it.

    Raises
    ------
    InputError
        As `check_new_file` does.
    MachineError
        When it cannot be written.
    """
    check_new_file(path, what=what, otherwise=otherwise, elsewhere=elsewhere)
    advice = f"name a file in another folder: {elsewhere}"
    data = content.encode(errors="replace") if isinstance(content, str) else content
    write_folder(path.parent, {path.name: data}, last=path.name, elsewhere=advice)

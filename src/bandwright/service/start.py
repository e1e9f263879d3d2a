"""A first brief to start from."""

from __future__ import annotations

from pathlib import Path

from bandwright.documents.brief import init_text
from bandwright.errors import InputError
from bandwright.service.output import write_folder

__all__ = ["start_brief"]


def start_brief(path: Path) -> None:
    """Write a commented brief; an existing file is never touched.

    Raises
    ------
    InputError
        When the file is there already, or its name starts with a dot.
    MachineError
        When it cannot be written.
    """
    if path.exists() or path.is_symlink():
        text, hint = "this is there already and is not overwritten.", "Name another file: bandwright init other.toml"
        raise InputError.single("exists", text, file=str(path), given=str(path), allowed="a new file", hint=hint)
    if path.name.startswith("."):
        text, hint = "a brief is no hidden file.", "Name one such as brief.toml."
        raise InputError.single("hidden", text, file=str(path), given=path.name, allowed="a plain name", hint=hint)
    write_folder(path.parent, {path.name: init_text().encode()}, last=path.name)

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
        When the file is there already.
    MachineError
        When it cannot be written.
    """
    if path.exists():
        text = "this is there already and is not overwritten; name another file."
        raise InputError.single("exists", text, file=str(path))
    write_folder(path.parent, {path.name: init_text().encode()}, last=path.name)

"""A first brief to start from."""

from __future__ import annotations

from pathlib import Path

from bandwright.documents.brief import init_text
from bandwright.service.newfile import write_new_file

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
    otherwise, elsewhere = "bandwright init other.toml", "bandwright init FOLDER/brief.toml"
    write_new_file(path, init_text(), what="brief", otherwise=otherwise, elsewhere=elsewhere)

"""The log of a running sweep: it grows by whole lines only, and is there from the first level on."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from io import FileIO
from pathlib import Path
from types import TracebackType
from typing import Any

from bandwright.documents.sweep_note import sweep_note_toml
from bandwright.errors import MachineError
from bandwright.service.newfile import check_new_file, write_new_file

__all__ = ["LiveLog"]

_NAMES = {
    "what": "log",
    "otherwise": "--log another.csv",
    "elsewhere": "--log FOLDER/base.csv",
}


class LiveLog:
    """A new file and the note beside it with what is `stated`; neither is made before there is something to write.

    What is added is handed to the system in one piece and taken back where only part of it found room, so that the
    file holds whole lines whenever the program, or the disk, stops.

    Raises
    ------
    InputError
        When either file is there already.
    """

    def __init__(self, path: Path, *, stated: Mapping[str, Any]) -> None:
        self.path = path
        self._note = path.parent / f"{path.name}.toml"
        self._stated = sweep_note_toml(stated)
        self._file: FileIO | None = None
        check_new_file(path, **_NAMES)
        check_new_file(self._note, **_NAMES)

    def __enter__(self) -> LiveLog:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self._file is not None:
            self._file.close()

    @property
    def begun(self) -> bool:
        """Whether anything was written."""
        return self._file is not None

    def add(self, text: bytes) -> None:
        """Add whole lines. Raises MachineError where the disk does not take them."""
        try:
            file = self._file if self._file is not None else self._begin()
            before = file.tell()
            if file.write(text) != len(text):
                file.truncate(before)
                raise MachineError(f"{self.path}: the disk is full; free some room and start anew.")
            os.fsync(file.fileno())
        except OSError as error:
            raise MachineError(f"{self.path} cannot be written: {error.strerror or error}.") from error

    def _begin(self) -> FileIO:
        if self._stated:
            write_new_file(self._note, self._stated, **_NAMES)
        with suppress(FileExistsError):
            self.path.parent.mkdir(parents=True)
        self._file = FileIO(self.path, "xb")
        return self._file

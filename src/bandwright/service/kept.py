"""What a job file keeps beside its brief: sweeps as they were given, with what is stated of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bandwright.documents.outputs import Input
from bandwright.store import JobFile
from bandwright.store import Sweep as Row
from bandwright.store.layout import APPLICATION_ID

__all__ = ["STATED", "KeptSweep", "in_use", "is_job_file", "kept_sweep", "kept_sweeps"]

STATED = ("place", "antenna", "gain_ahead_db", "rbw_khz", "own_transmitters", "started", "trace")
"""What may be stated of a sweep; the keys of a note beside a sweep file."""

_MAGIC = b"SQLite format 3\0"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptSweep:
    """A sweep in a job file: the name it came with, what is stated of it, and its bytes when they are wanted."""

    uid: str
    name: str
    sha256: str
    stated: Mapping[str, Any]
    data: Callable[[], bytes]

    @property
    def input(self) -> Input:
        """The sweep as an input of an answer."""
        return Input(name=self.name, sha256=self.sha256)


def kept_sweep(file: JobFile, row: Row, *, at_once: bool = False) -> KeptSweep:
    """Return a sweep of a job file; with `at_once` its bytes are read now, for when the file is closed."""
    data = file.blob(row.sha256) if at_once else None
    stated = {key: row.facts.get(key) for key in STATED if row.facts.get(key) is not None}
    return KeptSweep(
        uid=row.uid,
        name=row.name,
        sha256=row.sha256,
        stated=stated,
        data=lambda: file.blob(row.sha256) if data is None else data,
    )


def kept_sweeps(file: JobFile) -> Iterator[KeptSweep]:
    """Yield the sweeps of a job file that plans count, with their bytes."""
    for row in file.sweeps():
        if in_use(row):
            yield kept_sweep(file, row, at_once=True)


def in_use(row: Row) -> bool:
    """Whether plans count a sweep: it is not put aside, and nobody said that it does not count any more."""
    return row.removed_at is None and row.facts.get("in_use", True) is not False


def is_job_file(path: Path) -> bool:
    """Whether a file is a job file, by its head and not by its name."""
    try:
        if not path.is_file():
            return False
        with path.open("rb") as file:
            head = file.read(72)
    except OSError:
        return False  # whoever reads it as a brief tells why it cannot be read
    return head.startswith(_MAGIC) and head[68:72] == APPLICATION_ID.to_bytes(4, "big")

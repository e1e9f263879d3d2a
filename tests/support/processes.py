"""Processes as this system lists them; one that has ended and waits to be asked for is not alive."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

PROC = Path("/proc")
PATIENCE_S = 120.0

LISTED = (PROC / "self" / "stat").exists()
NOT_LISTED = "this system does not list its processes in /proc"


def alive(process_id: int) -> bool:
    """Whether a process runs."""
    state = _state_and_parent(process_id)
    return state is not None and state[0] != "Z"


def children_of(process_id: int) -> list[int]:
    """Return the processes that a process started and that run."""
    found = {int(path.name): _state_and_parent(int(path.name)) for path in PROC.glob("[0-9]*")}
    return [number for number, known in found.items() if known and known[1] == process_id and known[0] != "Z"]


def until(true: Callable[[], bool]) -> bool:
    """Wait until something is true, as long as a loaded machine may need."""
    ends = time.monotonic() + PATIENCE_S
    while not true():
        if time.monotonic() > ends:
            return False
        threading.Event().wait(0.02)
    return True


def _state_and_parent(process_id: int) -> tuple[str, int] | None:
    try:
        state, parent = (PROC / str(process_id) / "stat").read_text().rpartition(")")[2].split()[:2]
    except (FileNotFoundError, ProcessLookupError):
        return None
    return state, int(parent)

"""What a service function may use of the world: clock, progress, cancel and paths, frozen and handed in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

__all__ = ["PREPARING", "Context", "Progress"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """One message about long work; `done` runs from 0 to 1, or is None where nobody can know.

    A search also tells how many of how many are `placed`, how many can be at most where that is known (`bound`), and
    for how long it has searched.
    """

    text: str
    done: float | None = None
    placed: int | None = None
    wanted: int | None = None
    bound: int | None = None
    elapsed_s: float | None = None


PREPARING = Progress(text="preparing the kernels: once on this machine, up to a minute")


def _now() -> datetime:
    return datetime.now(tz=UTC)


def _silent(_: Progress) -> None:
    return None


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """Clock, progress, cancel, the user's folders, and the trace to read where a sweep file holds several."""

    now: Callable[[], datetime] = _now
    progress: Callable[[Progress], None] = _silent
    cancelled: Callable[[], bool] = _never
    kit_folder: Path | None = None
    trace: str | None = None

"""What a service function may use of the world: clock, progress, cancel and paths, frozen and handed in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

__all__ = ["Context", "Progress"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """One message about long work; `done` runs from 0 to 1, or is None where nobody can know."""

    text: str
    done: float | None = None


def _now() -> datetime:
    return datetime.now(tz=UTC)


def _silent(_: Progress) -> None:
    return None


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """Clock, progress, cancel and the user's folders."""

    now: Callable[[], datetime] = _now
    progress: Callable[[Progress], None] = _silent
    cancelled: Callable[[], bool] = _never
    kit_folder: Path | None = None

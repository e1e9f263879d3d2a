"""How a search ends before its end: by time, by hand, or because its effort is spent."""

from __future__ import annotations

__all__ = ["Stop"]


class Stop(Exception):  # noqa: N818 - it ends a search that keeps its best, it is no error
    """The search ends here; `reason` is time, cancelled or effort."""

    def __init__(self, reason: str) -> None:
        self.reason = reason

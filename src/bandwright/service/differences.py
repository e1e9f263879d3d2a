"""What is different in a job from what it was at an event: rows then and now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bandwright.store import JobFile

__all__ = ["Difference", "differences_since"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A row as it was at an event and as it is now, however often it changed between; None where there is none."""

    noun: str
    uid: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None


def differences_since(file: JobFile, seq: int, *nouns: str) -> tuple[Difference, ...]:
    """Return the rows of these tables that are not as an event left them, in the order in which they first changed."""
    return tuple(
        Difference(noun=noun, uid=uid, before=before, after=after)
        for noun, uid, before, after in file.rows_since(seq, *nouns)
        if before != after
    )

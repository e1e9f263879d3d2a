"""What happens at the desk, as pages are told of it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from bandwright.service.desk import Told
from bandwright.service.runs import RunState

__all__ = ["message_of"]


def message_of(told: Told | RunState) -> dict[str, Any]:
    """Return what listeners are told, as a message of the socket."""
    return {"type": "changed" if isinstance(told, Told) else "run", **asdict(told)}

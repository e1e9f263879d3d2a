"""How many random cases a slow test draws: `BANDWRIGHT_THOROUGH` times as many where that is set."""

from __future__ import annotations

import os


def cases(usual: int) -> int:
    return usual * int(os.environ.get("BANDWRIGHT_THOROUGH", "1"))

"""`bandwright doctor`: what works on this machine."""

from __future__ import annotations

import os
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from bandwright.cli import shared

if TYPE_CHECKING:
    from bandwright.service.doctor import Examination

__all__ = ["command"]


@shared.command(example="bandwright doctor")
def command() -> shared.Answer:
    """Say what works on this machine, and what to do about what does not.

    Exit code 0 when nothing is broken, 1 otherwise. A note is no fault.
    """
    from bandwright.service.doctor import Terminal, examine

    terminal = Terminal(
        encoding=getattr(sys.stdout, "encoding", None) or "utf-8",
        is_terminal=sys.stdout.isatty(),
        colour_refused=bool(os.environ.get("NO_COLOR")),
    )
    found = examine(terminal=terminal, folder=Path.cwd())
    columns = shared.columns(100)
    return shared.Answer(
        text=lambda: found.text(columns=columns), document=lambda: _document(found), exit_code=0 if found.ok else 1
    )


def _document(found: Examination) -> dict[str, object]:
    return {
        "schema": "bandwright.doctor/1",
        "program": shared.PROGRAM,
        "ok": found.ok,
        "findings": [asdict(finding) for finding in found.findings],
    }

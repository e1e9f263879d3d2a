"""Stand-ins for programs that sweep: small Python scripts that print invented rows, and a replay without a process."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from bandwright.instruments.transport import Said, Stream

LOW_HZ, HOP_HZ, BIN_HZ = 606_000_000, 2_000_000, 25_000
HOPS = 4
BINS = HOP_HZ // BIN_HZ


def rtl_row(hop: int, *, second: int = 0, level: float = -60.0, carrier: float | None = None) -> str:
    """Return one row as rtl_power prints it: one level more than bins, the last one twice."""
    levels = [level + (0.37 * (index * 7 % 11) - 1.85) for index in range(BINS)]
    if carrier is not None:
        levels[BINS // 2] = carrier
    levels.append(levels[-1])
    low = LOW_HZ + hop * HOP_HZ
    words = ", ".join(f"{value:.2f}" for value in levels)
    return f"2027-05-14, 09:00:{second:02d}, {low}, {low + HOP_HZ}, {BIN_HZ}.00, 16, {words}\n"


def rtl_sweep(*, second: int = 0, **levels: float) -> list[str]:
    """Return the rows of one sweep."""
    return [rtl_row(hop, second=second, **levels) for hop in range(HOPS)]


class Replay:
    """A transport that says what it is given: text is a line of output, bytes a complaint, an int the end, None a wait.

    `clock` runs on by `step_s` with each of them.
    """

    def __init__(self, said: list[str | bytes | int | None], *, step_s: float = 0.0) -> None:
        self._said = list(said)
        self._step_s = step_s
        self.now_s = 100.0
        self.stopped = False

    def clock(self) -> float:
        return self.now_s

    def heard(self, wait_s: float) -> Said | None:
        said = self._said.pop(0) if self._said else None
        self.now_s += self._step_s if said is not None else max(self._step_s, wait_s)
        if isinstance(said, str):
            return Said(stream=Stream.OUT, line=said.encode())
        if isinstance(said, bytes):
            return Said(stream=Stream.ERROR, line=said)
        return None if said is None else Said(stream=Stream.END, code=said)

    def stop(self) -> None:
        self.stopped = True


def install(folder: Path, name: str, body: str) -> None:
    """Put a program of that name into a folder: a Python script of which `body` is all but the first line."""
    folder.mkdir(exist_ok=True)
    script = folder / name
    script.write_text(f"#!{sys.executable}\n{body}", encoding="utf-8")
    script.chmod(0o755)


def on_path(folder: Path) -> str:
    """Return the search path with a folder in front."""
    return f"{folder}{os.pathsep}{os.environ['PATH']}"

"""What a running sweep shows while it runs: sweeps so far, the strongest level, the noise floor."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from bandwright.core.floor import noise_level
from bandwright.core.sweep import SweepBlock
from bandwright.units import mhz_text

__all__ = ["LiveTally", "LiveView"]

Floats = npt.NDArray[np.float64]
Part = tuple[Floats, Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveView:
    """How things stand: whole sweeps so far, and of the newest whole one its strongest bin and its floor.

    Before the first sweep is whole, what came of it counts. None is what nobody can tell yet.
    """

    sweeps: int
    unit: str | None = None
    strongest_hz: float | None = None
    strongest_db: float | None = None
    floor_db: float | None = None

    @property
    def text(self) -> str:
        """The view as one line."""
        count = f"{self.sweeps} {'sweep' if self.sweeps == 1 else 'sweeps'}"
        if self.strongest_hz is None or self.strongest_db is None:
            return f"{count}, no level yet"
        strongest = (
            f"strongest {self.strongest_db:.1f} {self.unit} at {mhz_text(round(self.strongest_hz / 1e3) * 1000)} MHz"
        )
        floor = "floor not known" if self.floor_db is None else f"floor {self.floor_db:.1f} {self.unit}"
        return f"{count}, {strongest}, {floor}"


@dataclass(slots=True, kw_only=True)
class LiveTally:
    """Counts sweeps as their blocks come; one that covers `wanted_hz` counts at once, others when the next begins."""

    wanted_hz: float
    _sweeps: int = 0
    _unit: str | None = None
    _begun: set[float] = field(default_factory=set)
    _open: list[Part] = field(default_factory=list)
    _covered_hz: float = 0.0
    _whole: list[Part] = field(default_factory=list)

    def take(self, block: SweepBlock) -> None:
        """Count one block; one that begins where an earlier one of its sweep did begins the next sweep."""
        if block.first_hz in self._begun:
            self._close()
        self._unit = block.unit
        self._begun.add(block.first_hz)
        self._open.append((block.frequencies_hz(), block.levels_db))
        self._covered_hz += block.bin_hz * block.levels_db.size

    def _close(self) -> None:
        self._sweeps += 1
        self._whole, self._open, self._covered_hz = self._open, [], 0.0
        self._begun.clear()

    @property
    def whole(self) -> int:
        """Whole sweeps so far."""
        return self._sweeps + int(self._open_is_whole)

    @property
    def _open_is_whole(self) -> bool:
        return self._covered_hz >= self.wanted_hz * (1 - 1e-6) > 0

    def view(self) -> LiveView:
        """Return how things stand."""
        parts = self._open if self._open_is_whole or not self._whole else self._whole
        levels = np.concatenate([level for _, level in parts]) if parts else np.zeros(0)
        known = np.isfinite(levels)
        if not known.any():
            return LiveView(sweeps=self.whole)
        centres = np.concatenate([centre for centre, _ in parts])[known]
        levels = levels[known]
        noise = noise_level(10 ** (levels / 10))
        top = int(np.argmax(levels))
        return LiveView(
            sweeps=self.whole,
            unit=self._unit,
            strongest_hz=float(centres[top]),
            strongest_db=float(levels[top]),
            floor_db=None if noise is None or noise.power <= 0 else 10 * math.log10(noise.power),
        )

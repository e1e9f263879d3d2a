"""Many plain lines of hops at once: what lies between the compiled loop and the readers of hops."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np
import numpy.typing as npt

from bandwright.core.sweep import SweepBlock, SweepRows

__all__ = ["ManyLines"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bytes = npt.NDArray[np.uint8]

_MOST_HEADS = 20_000
_PLACES = 2**16
_SHORTEST_LINE = 16


@dataclass(slots=True, kw_only=True)
class ManyLines:
    """Reads lines whose frequencies were seen before; `learn` tells it what a line read by hand stood for."""

    time_of: Callable[[bytes], datetime | None]
    _hops: list[SweepBlock] = field(default_factory=list)
    _expected: list[int] = field(default_factory=list)
    _known: dict[bytes, int] = field(default_factory=dict)
    _pool: bytes = b""
    _pool_start: list[int] = field(default_factory=lambda: [0])
    _places: Ints = field(default_factory=lambda: np.zeros(_PLACES, dtype=np.int64))
    _tables: tuple[Bytes, Ints, Ints] | None = None
    _levels: Floats = field(default_factory=lambda: np.empty(0))
    _lines: Ints = field(default_factory=lambda: np.empty((0, 5), dtype=np.int64))

    def learn(self, line: bytes, block: SweepBlock) -> None:
        """Take a line and the block it gave as the pattern of later ones with the same frequencies and count."""
        from bandwright.kernels.parse import hop_hash

        fields = line.split(b",", 6)
        head = b"," + b",".join(fields[2:5])
        count = fields[6].count(b",") + 1 - (not fields[6].rsplit(b",", 1)[-1].strip())
        if count not in (block.levels_db.size, block.levels_db.size + 1):
            return
        number = self._known.get(head)
        if number is not None:
            self._expected[number] = count
            self._hops[number] = _pattern(block)
        elif len(self._hops) < _MOST_HEADS:
            place = int(hop_hash(np.frombuffer(head, dtype=np.uint8), 0, len(head))) % _PLACES
            while self._places[place]:
                place = (place + 1) % _PLACES
            self._known[head] = len(self._hops)
            self._hops.append(_pattern(block))
            self._expected.append(count)
            self._places[place] = len(self._hops)
            self._pool += head
            self._pool_start.append(len(self._pool))
        self._tables = None

    def read(self, piece: bytes, position: int) -> tuple[SweepRows | None, int, int]:
        """Return the rows of the plain lines from `position` on, how many they are, and where they end.

        They end at the end of the piece or at a line that has to be read by hand.
        """
        from bandwright.kernels.parse import hop_lines  # compiled code is loaded for long logs only

        if not self._hops:
            return None, 0, position
        if self._tables is None:
            self._tables = (
                np.frombuffer(self._pool, dtype=np.uint8),
                np.array(self._pool_start, dtype=np.int64),
                np.array(self._expected, dtype=np.int64),
            )
        self._make_room(len(piece))
        text = np.frombuffer(piece, dtype=np.uint8)
        count, end = hop_lines(text, position, self._places, *self._tables, self._levels, self._lines)
        return (self._rows(piece, self._lines[:count]) if count else None), count, end

    def _make_room(self, size: int) -> None:
        if self._levels.size < size // 2 + 1:  # a level and its comma take two characters at least
            self._levels = np.empty(size // 2 + 1)
            self._lines = np.empty((size // _SHORTEST_LINE + 1, 5), dtype=np.int64)

    def _rows(self, piece: bytes, lines: Ints) -> SweepRows:
        changes = lines[:, 4].copy()
        changes[0] = 1
        stamps = lines[changes > 0, 2:4].tolist()
        hops, hop = np.unique(lines[:, 0], return_inverse=True)
        return SweepRows(
            hops=tuple(self._hops[number] for number in hops.tolist()),
            hop=hop.astype(np.int64),
            first=lines[:, 1].copy(),
            levels_db=self._levels[: int(lines[-1, 1]) + int(self._expected[int(lines[-1, 0])])].copy(),
            times=tuple(self.time_of(piece[start:end]) for start, end in stamps),
            time=np.cumsum(changes) - 1,
        )


def _pattern(block: SweepBlock) -> SweepBlock:
    return replace(block, levels_db=np.broadcast_to(np.nan, block.levels_db.shape), time=None)

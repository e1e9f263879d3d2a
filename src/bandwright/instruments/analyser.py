"""Sweeps of a spectrum analyser that speaks SCPI, one kind of which is described by `core.analyser.AnalyserKind`.

Each trace becomes one row of the log: `date, time, low Hz, high Hz, step Hz, 1, level, level, ...`, below a line that
states unit and resolution bandwidth as the analyser answers them. Levels that it calls not a number or infinite
(9.91E37, 9.9E37: SCPI-1999 volume 1, 7.2.1.4 and 7.2.1.5) stay missing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from bandwright.core.analyser import AnalyserKind
from bandwright.core.sweep import SweepBlock
from bandwright.errors import MachineError
from bandwright.instruments.talk import Talk
from bandwright.instruments.wish import Taken, Wish

__all__ = ["identity_of", "sweeps_of"]

Floats = npt.NDArray[np.float64]

_POLL_S = 0.1
_NO_LEVEL = 9.9e37
_MOST_RBW_HZ = 1e10
_DONE = 1  # bit 0 of the standard event register, IEEE 488.2 11.5.1
_FAULTS = 0b0011_1100  # query, device, execution and command error
_UNITS = {"DBM": "dBm", "DBUV": "dBuV"}
_SHOWN = 60
_DESCRIBE = "If it wants other commands or fewer points, describe it in a file of your own (docs/sweeps.md)."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    """One trace: points at equal steps, the middles of bins."""

    start_hz: int
    step_hz: int
    points: int

    @property
    def stop_hz(self) -> int:
        """The last point."""
        return self.start_hz + (self.points - 1) * self.step_hz


@dataclass(frozen=True, slots=True, kw_only=True)
class _States:
    """What levels mean: their unit and the resolution bandwidth, as the analyser answers."""

    unit: str
    rbw_hz: float

    @property
    def heading(self) -> str:
        """The line of the log that says so."""
        return f"# levels in {self.unit}, resolution bandwidth {self.rbw_hz:.12g} Hz\n"


def identity_of(talk: Talk) -> str:
    """Return what an instrument says of itself."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in talk.ask("*IDN?")).split())


def sweeps_of(
    talk: Talk,
    *,
    kind: AnalyserKind,
    wish: Wish,
    now: Callable[[], datetime],
    clock: Callable[[], float],
    wait: Callable[[float], None],
    patience_s: float = 60.0,
) -> Iterator[Taken | None]:
    """Yield one trace after the other, each as a row, and None while the analyser sweeps.

    The range is cut into pieces of as many points as it takes; each sweep begins at the lowest.

    Raises
    ------
    MachineError
        When it refuses a command, answers what is no answer, takes longer than `patience_s`, or is gone.
    """
    analyser = _Analyser(talk=talk, kind=kind, clock=clock, wait=wait, patience_s=patience_s)
    analyser.prepare()
    pieces = _pieces(wish, kind.most_points)
    written: _States | None = None
    states: _States | None = None
    while True:
        for piece in pieces:
            if states is None or len(pieces) > 1:
                states = analyser.set_range(piece)
            yield from analyser.sweep()
            row = _row(piece, analyser.levels(piece), now(), states, heading=states != written)
            written = states
            yield row
        if wish.once:
            return


def _pieces(wish: Wish, most_points: int) -> tuple[_Piece, ...]:
    """Cut the range into traces next to each other, as few as it takes and of nearly the same length."""
    bins = max(2, math.ceil((wish.high_hz - wish.low_hz) / wish.bin_hz))
    count = math.ceil(bins / most_points)
    sizes = [bins // count + (number < bins % count) for number in range(count)]
    before = [sum(sizes[:number]) for number in range(count)]
    first_hz = wish.low_hz + wish.bin_hz // 2
    return tuple(
        _Piece(start_hz=first_hz + done * wish.bin_hz, step_hz=wish.bin_hz, points=size)
        for done, size in zip(before, sizes, strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Analyser:
    """An analyser and how it is spoken to."""

    talk: Talk
    kind: AnalyserKind
    clock: Callable[[], float]
    wait: Callable[[float], None]
    patience_s: float

    def prepare(self) -> None:
        """Forget old errors and make ready."""
        self.talk.write("*CLS")
        self._tell(self.kind.prepare)

    def set_range(self, piece: _Piece) -> _States:
        """Set range, points and resolution bandwidth, and return what the analyser made of them."""
        places = {
            "start_hz": piece.start_hz,
            "stop_hz": piece.stop_hz,
            "points": piece.points,
            "rbw_hz": piece.step_hz,
        }
        self._tell(tuple(command.format_map(places) for command in self.kind.set_range))
        points = self._number(self.kind.ask_points)
        if points != piece.points:
            raise MachineError(
                f"The analyser sweeps {points:.0f} points where {piece.points} were asked for; write a file for it "
                f"that says most_points = {points:.0f}, or choose another --bin-khz."
            )
        rbw_hz = self._number(self.kind.ask_rbw)
        if not 1 <= rbw_hz <= _MOST_RBW_HZ:
            raise MachineError(f"The analyser answers a resolution bandwidth of {rbw_hz:g} Hz; that cannot be.")
        return _States(unit=self._unit(), rbw_hz=rbw_hz)

    def sweep(self) -> Iterator[None]:
        """Sweep once; comes back with None while that takes."""
        self.talk.write(self.kind.sweep)
        self.talk.write("*OPC")
        began = self.clock()
        while True:
            state = int(self._number("*ESR?"))
            if state & _FAULTS:
                why = self._error() or "it does not say why"
                raise MachineError(f"The analyser refuses {self.kind.sweep}: {why}. {_DESCRIBE}")
            if state & _DONE:
                return
            if self.clock() - began > self.patience_s:
                text = f"The analyser has not ended its sweep within {self.patience_s:.0f} s; choose a wider --bin-khz."
                raise MachineError(text)
            yield None
            self.wait(_POLL_S)

    def levels(self, piece: _Piece) -> Floats:
        """Return the levels of the last sweep, NaN where the analyser has none."""
        answer = self.talk.ask(self.kind.ask_trace)
        try:
            levels = np.array([float(word) for word in answer.strip(", ").split(",")])
        except ValueError as error:
            raise _no_answer(self.kind.ask_trace, answer, "levels with commas between") from error
        if levels.size != piece.points:
            raise MachineError(
                f"The analyser sent {levels.size} levels for {piece.points} points: nobody can tell which is which."
            )
        levels[~(np.abs(levels) < _NO_LEVEL)] = np.nan
        return levels

    def _tell(self, commands: tuple[str, ...]) -> None:
        for command in commands:
            self.talk.write(command)
            error = self._error()
            if error:
                raise MachineError(f"The analyser refuses {command}: {error}. {_DESCRIBE}")

    def _error(self) -> str:
        """Return the oldest error in words; nothing where there is none or nobody can ask."""
        if self.kind.ask_error is None:
            return ""
        answer = self.talk.ask(self.kind.ask_error)
        return "" if answer.partition(",")[0].strip() in ("0", "+0", "-0") else _shown(answer)

    def _unit(self) -> str:
        if self.kind.ask_unit is None:
            return self.kind.unit
        answer = self.talk.ask(self.kind.ask_unit)
        if answer.upper() not in _UNITS:
            raise _no_answer(self.kind.ask_unit, answer, " or ".join(_UNITS))
        return _UNITS[answer.upper()]

    def _number(self, query: str) -> float:
        answer = self.talk.ask(query)
        try:
            number = float(answer)
        except ValueError as error:
            raise _no_answer(query, answer, "a number") from error
        if not math.isfinite(number):
            raise _no_answer(query, answer, "a number")
        return number


def _row(piece: _Piece, levels: Floats, time: datetime, states: _States, *, heading: bool) -> Taken:
    half = piece.step_hz / 2
    words = ", ".join("nan" if math.isnan(level) else f"{level:.2f}" for level in levels.tolist())
    text = (
        f"{time:%Y-%m-%d}, {time:%H:%M:%S}, {piece.start_hz - half:.12g}, {piece.stop_hz + half:.12g}, "
        f"{piece.step_hz}, 1, {words}\n"
    )
    block = SweepBlock(
        first_hz=float(piece.start_hz),
        bin_hz=float(piece.step_hz),
        levels_db=levels,
        time=time,
        rbw_hz=states.rbw_hz,
        unit=states.unit,
    )
    return Taken(text=f"{states.heading if heading else ''}{text}".encode(), blocks=(block,))


def _no_answer(query: str, answer: str, wanted: str) -> MachineError:
    return MachineError(f"The analyser answers {query} with {_shown(answer)}; needed is {wanted}.")


def _shown(answer: str) -> str:
    text = "".join(letter if letter.isprintable() else "?" for letter in answer)
    return f"'{text[:_SHOWN]}{'...' if len(text) > _SHOWN else ''}'"

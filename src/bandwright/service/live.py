"""Sweeps from a receiver or analyser that is at hand: measured now, watched, and written as a log to read later."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import Any

from bandwright.core.live import LiveTally, LiveView
from bandwright.documents.faults import list_text, nearest_hint
from bandwright.documents.sweep_note import read_stated
from bandwright.errors import Cancelled, InputError, MachineError
from bandwright.instruments.analyser import identity_of, sweeps_of
from bandwright.instruments.programs import PROGRAMS, Program, rows_of
from bandwright.instruments.talk import Talk, VisaTalk
from bandwright.instruments.transport import Child, Transport
from bandwright.instruments.wish import Taken, Wish
from bandwright.readers import hackrf_sweep, rtl_power
from bandwright.service.analysers import kind_of
from bandwright.service.context import Context
from bandwright.service.live_log import LiveLog
from bandwright.units import khz_text

__all__ = ["Recorded", "Rig", "Stopped", "record_sweeps", "stated_of", "wish_of"]

Clock = Callable[[], float]
Source = Iterator[Taken | None]

_READERS = {"hackrf_sweep": hackrf_sweep.parse, "rtl_power": rtl_power.parse}
_ANALYSER = "scpi:"
_VIEW_S = 1.0


class Stopped(StrEnum):
    """What ended a recording: one sweep was asked for, the time was over, or somebody said so."""

    ONCE = "once"
    TIME = "time"
    TOLD = "told"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A log that was written, and what ended it."""

    log: Path
    view: LiveView
    stopped: Stopped
    source: str

    @property
    def text(self) -> str:
        """One sentence for people."""
        count = f"{self.view.sweeps} whole {'sweep' if self.view.sweeps == 1 else 'sweeps'}"
        return f"Measured {count} with {self.source}, written to {self.log}."


def _start(program: Program, wish: Wish) -> Transport:
    found = shutil.which(program.name)
    if found is None:
        raise MachineError(
            f"{program.name} is not installed here; on Debian and Ubuntu: apt install {program.package}."
        )
    return Child([found, *program.arguments(wish)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """The outside world of a recording: how programs and talks start, the clock, and how long a silence may be."""

    start: Callable[[Program, Wish], Transport] = _start
    talk: Callable[[str], Talk] = VisaTalk
    clock: Clock = time.monotonic
    wait: Callable[[float], None] = time.sleep
    patience_s: float = 60.0


def wish_of(*, low_hz: int, high_hz: int, bin_hz: int, once: bool = False) -> Wish:
    """Return what is asked of a source; raises InputError where the range or the bin makes no sense."""
    try:
        return Wish(low_hz=low_hz, high_hz=high_hz, bin_hz=bin_hz, once=once)
    except ValueError as error:
        hint = "For example: --low-mhz 470 --high-mhz 694 --bin-khz 25"
        raise InputError.single("bad-range", f"{error} Hz.", key="--low-mhz", hint=hint) from error


def stated_of(*, place: str | None, antenna: str | None, gain_ahead_db: Decimal | None) -> dict[str, Any]:
    """Return what somebody states of a sweep that is still to run, as its note holds it.

    Raises
    ------
    InputError
        With everything that is wrong with it.
    """
    given = {"place": place, "antenna": antenna, "gain_ahead_db": gain_ahead_db}
    stated = {key: value for key, value in given.items() if value is not None}
    read_stated(stated, file="--live")
    return stated


def record_sweeps(
    context: Context,
    name: str,
    wish: Wish,
    *,
    log: Path,
    own_transmitters: str = "unknown",
    stated: Mapping[str, Any] = MappingProxyType({}),
    seconds: float | None = None,
    watch: Callable[[str], None] = lambda _: None,
    rig: Rig | None = None,
) -> Recorded:
    """Sweep with a source and write what it measures, until one sweep is whole, the time is over or somebody says so.

    Parameters
    ----------
    name
        The source: a program of `instruments.programs`, or `scpi:HOST`, `scpi:HOST:PORT` or `scpi:` and a VISA name.
    log
        A new file that the readers take; `FILE.toml` beside it states `own_transmitters` where that is known, and what
        else is `stated` (`stated_of`).
    seconds
        How long to measure, from the first levels on; None: until `context.cancelled()`.
    watch
        Is given one line of text about once a second.

    Raises
    ------
    InputError
        When there is no such source, or the log is there already.
    MachineError
        When the source is missing or fails; what was measured before stays.
    Cancelled
        When it was stopped before anything was measured.
    """
    rig = rig or Rig()
    note = {**stated, "own_transmitters": None if own_transmitters == "unknown" else own_transmitters}
    opened = _source(context, name, wish, rig, watch)
    tally = LiveTally(wanted_hz=wish.high_hz - wish.low_hz)
    with LiveLog(log, stated=note) as file:
        try:
            with opened as source:
                stopped = _drive(context, source, file, tally, _Watch(clock=rig.clock, seconds=seconds, tell=watch))
        except MachineError as error:
            if not file.begun:
                raise
            raise MachineError(f"{error} What was measured before stays in {log}: {tally.view().text}.") from error
        if not file.begun:
            raise Cancelled("stopped before anything was measured")
    return Recorded(log=log, view=tally.view(), stopped=stopped, source=name)


def _source(
    context: Context, name: str, wish: Wish, rig: Rig, tell: Callable[[str], None]
) -> AbstractContextManager[Source]:
    if name.startswith(_ANALYSER) and name != _ANALYSER:
        return _analyser(context, name.removeprefix(_ANALYSER), wish, rig, tell)
    if name in PROGRAMS:
        _check_bin(PROGRAMS[name], wish)
        return _program(PROGRAMS[name], wish, rig)
    known = [*PROGRAMS, f"{_ANALYSER}HOST"]
    raise InputError.single(
        "unknown-source",
        f'There is no source "{name}"; known are {list_text(known)}.',
        key="--live",
        given=name,
        allowed=list_text(known),
        hint=nearest_hint(name, known),
    )


def _check_bin(program: Program, wish: Wish) -> None:
    least, most = program.bins_hz
    if not least <= wish.bin_hz <= most:
        allowed = f"{khz_text(least)} to {khz_text(most)} kHz"
        raise InputError.single(
            "bad-bin",
            f"{program.name} takes bins of {allowed}, not of {khz_text(wish.bin_hz)} kHz.",
            key="--bin-khz",
            given=khz_text(wish.bin_hz),
            allowed=allowed,
        )


@contextmanager
def _analyser(context: Context, where: str, wish: Wish, rig: Rig, tell: Callable[[str], None]) -> Iterator[Source]:
    talk = rig.talk(where)
    try:
        identity = identity_of(talk)
        kind = kind_of(context, identity)
        tell(f"The analyser says it is {identity}; spoken to with {kind.name}.")
        yield sweeps_of(
            talk,
            kind=kind,
            wish=wish,
            now=lambda: context.now().astimezone().replace(tzinfo=None, microsecond=0),
            clock=rig.clock,
            wait=rig.wait,
            patience_s=rig.patience_s,
        )
    finally:
        talk.close()


@contextmanager
def _program(program: Program, wish: Wish, rig: Rig) -> Iterator[Source]:
    transport = rig.start(program, wish)
    try:
        read = _READERS[program.name]
        yield rows_of(transport, program=program, read=read, clock=rig.clock, patience_s=rig.patience_s)
    finally:
        transport.stop()


@dataclass(slots=True, kw_only=True)
class _Watch:
    """Looks at the clock: when to say something, and when the time is over."""

    clock: Clock
    seconds: float | None
    tell: Callable[[str], None]
    began: float | None = None
    told: float = 0.0

    def look(self, tally: LiveTally) -> bool:
        """Say how things stand when it is time to, and return whether the time is over; it begins with a first look."""
        now = self.clock()
        if self.began is None:
            self.began = self.told = now
        if now - self.told >= _VIEW_S:
            self.told = now
            self.tell(f"{now - self.began:.0f} s: {tally.view().text}")
        return self.seconds is not None and now - self.began >= self.seconds


def _drive(context: Context, source: Source, file: LiveLog, tally: LiveTally, watch: _Watch) -> Stopped:
    for taken in source:
        if taken is not None:
            file.add(taken.text)
            for block in taken.blocks:
                tally.take(block)
        if context.cancelled():
            return Stopped.TOLD
        if file.begun and watch.look(tally):
            return Stopped.TIME
    return Stopped.ONCE

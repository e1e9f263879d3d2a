"""Programs of the system that sweep a receiver and print one row for each hop: rtl_power and hackrf_sweep.

Their arguments and complaints are those of the versions in Debian 12 (rtl-sdr 0.6, hackrf 2022.09): their help, and the
words in the programs themselves. Rows are read by the reader of their format, which is handed in, and passed on as they
came. rtl_power goes on when its receiver is pulled out and prints levels of before (from its source, from memory): rows
wait for a moment, and what waits when the program complains of its receiver is dropped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from bandwright.core.sweep import SweepBlock, SweepItem
from bandwright.errors import MachineError
from bandwright.instruments.transport import Said, Stream, Transport
from bandwright.instruments.wish import Taken, Wish
from bandwright.units import HZ_PER_MHZ

__all__ = ["PROGRAMS", "Program", "rows_of"]

_TICK_S = 0.25
_MOST_NONSENSE = 3  # lines in a row
_SHOWN = 60
_RTL_HZ_PER_S = 80_000_000  # common practice: hops of some 2.4 MHz
_TELLING = (b"error", b"fail")


def _rtl_power(wish: Wish) -> list[str]:
    """Return its arguments; its help warns of an interval shorter than a sweep, which takes some 30 ms a hop."""
    interval_s = max(1, -(-(wish.high_hz - wish.low_hz) // _RTL_HZ_PER_S))
    single = ["-1"] if wish.once else []
    return ["-f", f"{wish.low_hz}:{wish.high_hz}:{wish.bin_hz}", "-i", str(interval_s), *single, "-"]


def _hackrf_sweep(wish: Wish) -> list[str]:
    low, high = wish.low_hz // HZ_PER_MHZ, -(-wish.high_hz // HZ_PER_MHZ)
    return ["-f", f"{low}:{high}", "-w", str(wish.bin_hz), *(["-1"] if wish.once else [])]


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """How a program is started and what its complaints mean; `package` is Debian's, `bins_hz` what bins it takes."""

    name: str
    package: str
    arguments: Callable[[Wish], list[str]]
    bins_hz: tuple[int, int]
    absent: tuple[bytes, ...]
    lost: tuple[bytes, ...]


PROGRAMS: dict[str, Program] = {
    program.name: program
    for program in (
        Program(
            name="hackrf_sweep",
            package="hackrf",
            arguments=_hackrf_sweep,
            bins_hz=(2_445, 5_000_000),
            absent=(b"hackrf_open() failed", b"hackrf_init() failed"),
            lost=(b"couldn't transfer any data", b"hackrf_is_streaming() result"),
        ),
        Program(
            name="rtl_power",
            package="rtl-sdr",
            arguments=_rtl_power,
            bins_hz=(1, 2_800_000),
            absent=(b"no supported devices", b"no matching devices", b"failed to open"),
            lost=(b"dropped samples", b"bad retune", b"failed to set center freq", b"i2c wr failed"),
        ),
    )
}


@dataclass(slots=True, kw_only=True)
class _Hearing:
    """What was heard and not passed on yet."""

    program: Program
    read: Callable[[Iterable[bytes]], Iterator[SweepItem]]
    lines: list[bytes] = field(default_factory=list)
    blocks: list[SweepBlock] = field(default_factory=list)
    nonsense: int = 0
    rows: int = 0
    complaint: bytes = b""

    def taken(self) -> Taken | None:
        """Return what waits, and let it go."""
        if not self.lines:
            return None
        taken = Taken(text=b"".join(self.lines), blocks=tuple(self.blocks))
        self.lines, self.blocks = [], []
        return taken

    def take_row(self, line: bytes) -> None:
        """Take one line of output. Raises MachineError where too many in a row are no rows of levels."""
        blocks = _row(line, self.read) if line.endswith(b"\n") else ()
        if blocks:
            self.nonsense = 0
            self.rows += 1
            self.lines.append(line)
            self.blocks.extend(blocks)
            return
        if line.strip():
            self.nonsense += 1
        if self.nonsense >= _MOST_NONSENSE:
            raise MachineError(
                f"{self.program.name} prints what is no row of levels, for example {_shown(line)}; "
                f"start it by hand to see what is wrong."
            )

    def take_complaint(self, line: bytes) -> None:
        """Take one line of complaint. Raises MachineError where it says that there is no receiver, or no more."""
        told = line.lower()
        if any(word in told for word in self.program.absent):
            raise MachineError(
                f"{self.program.name} finds no receiver it can use ({_shown(line)}); plug it in, close other programs "
                "that use it, and try again."
            )
        if any(word in told for word in self.program.lost):
            raise self.lost(line)
        telling = any(word in told for word in _TELLING)
        if line.strip() and (telling or not any(word in self.complaint.lower() for word in _TELLING)):
            self.complaint = line

    def lost(self, line: bytes) -> MachineError:
        """Return the error of a receiver that was pulled out."""
        return MachineError(
            f"{self.program.name} lost its receiver during the sweep ({_shown(line)}); plug it in again and start anew."
        )

    def ended(self, code: int | None) -> None:
        """Judge the end of the program. Raises MachineError where it did not end well, or gave nothing."""
        if code == 0 and self.rows:
            return
        how = "without a single row of levels" if code == 0 else f"by itself with code {code}"
        said = f" ({_shown(self.complaint)})" if self.complaint else ""
        raise MachineError(f"{self.program.name} ended {how}{said}; look whether the receiver is still plugged in.")


def rows_of(
    transport: Transport,
    *,
    program: Program,
    read: Callable[[Iterable[bytes]], Iterator[SweepItem]],
    clock: Callable[[], float],
    patience_s: float = 60.0,
) -> Iterator[Taken | None]:
    """Yield the rows that a program prints, whole ones only, and None while it says nothing.

    Parameters
    ----------
    transport
        The running program; whoever started it also stops it.
    read
        The reader of its format.
    clock
        Seconds that only grow.
    patience_s
        For so long it may print no row.

    Raises
    ------
    MachineError
        When it finds no receiver or loses it, prints nonsense, falls silent, or ends badly.
    """
    hearing = _Hearing(program=program, read=read)
    last, waiting_since = clock(), clock()
    while True:
        said = transport.heard(_TICK_S)
        now = clock()
        if said is not None and said.stream is Stream.END:
            yield hearing.taken()
            hearing.ended(said.code)
            return
        before = hearing.rows
        _take(hearing, said)
        if hearing.rows > before:
            last, waiting_since = now, now if len(hearing.lines) == 1 else waiting_since
        elif now - last > patience_s:
            raise MachineError(
                f"{program.name} has sent no levels for {patience_s:.0f} s; unplug the receiver, plug it in again and "
                "start anew."
            )
        if said is None or now - waiting_since > 2 * _TICK_S:
            yield hearing.taken()
            waiting_since = now


def _take(hearing: _Hearing, said: Said | None) -> None:
    if said is not None and said.stream is Stream.OUT:
        hearing.take_row(said.line)
    elif said is not None:
        hearing.take_complaint(said.line)


def _row(line: bytes, read: Callable[[Iterable[bytes]], Iterator[SweepItem]]) -> tuple[SweepBlock, ...]:
    """Return the blocks of a line; none where anything in it is in doubt but a level that the program calls nan."""
    items = tuple(read([line]))
    doubtful = any(not isinstance(item, SweepBlock) and getattr(item, "code", "") != "no-level" for item in items)
    return () if doubtful else tuple(item for item in items if isinstance(item, SweepBlock))


def _shown(line: bytes) -> str:
    text = line.decode("utf-8", errors="replace").strip()
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    return f'"{text[:_SHOWN]}{"..." if len(text) > _SHOWN else ""}"'

"""One module per sweep file format; foreign words and units end here.

A format is a module with two functions, `sniff(head) -> bool` and `parse(blocks) -> iterator of blocks and faults`,
and one entry in `FORMATS`. The first format that knows a file's head reads it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from bandwright.core.fold import DEFAULT_BANDWIDTHS_HZ, SweepAccumulator, TooManyPointsError
from bandwright.core.sweep import Sweep, SweepBlock, SweepFault
from bandwright.errors import Cancelled, InputError, MachineError
from bandwright.readers import columns, hackrf_sweep, rtl_power, sweep_columns, touchstone
from bandwright.readers.text import LineTooLongError

__all__ = ["FORMATS", "REFUSED", "Format", "read"]

Items = Iterator[SweepBlock | SweepFault]

_HEAD = 64 * 1024
_BLOCK = 1024 * 1024
_KNOWN = "rtl_power CSV, hackrf_sweep CSV, plain columns of frequency and level, analyser exports, sweeps as columns"


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """How to tell a format and how to read it."""

    name: str
    sniff: Callable[[bytes], bool]
    parse: Callable[[Iterable[bytes]], Items]


# Looked through in this order: the narrow descriptions stand before the wide ones.
FORMATS: tuple[Format, ...] = (
    Format(name="hackrf_sweep", sniff=hackrf_sweep.sniff, parse=hackrf_sweep.parse),
    Format(name="rtl_power", sniff=rtl_power.sniff, parse=rtl_power.parse),
    Format(name="sweeps as columns", sniff=sweep_columns.sniff, parse=sweep_columns.parse),
    Format(name="plain columns", sniff=columns.sniff, parse=columns.parse),
)

# What is known and is no sweep: how to tell it, and the sentence.
REFUSED: tuple[tuple[Callable[[bytes], bool], str], ...] = ((touchstone.sniff, touchstone.REFUSAL),)


def read(
    path: Path | str,
    *,
    bandwidths_hz: Sequence[int] = DEFAULT_BANDWIDTHS_HZ,
    progress: Callable[[float | None], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Sweep:
    """Return the sweep that a file holds, read in one pass and in memory that does not grow with the file.

    Channel power is folded for `bandwidths_hz`. `progress` is told the part of the file that was read (None where
    nobody knows its size). What could not be used is listed in the sweep's `problems`.

    Raises
    ------
    InputError
        When the file is empty, binary, of no known format, or holds no level at all.
    MachineError
        When it cannot be read.
    Cancelled
        When `cancelled()` says so.
    """
    if Path(path).is_dir():
        raise InputError.single("folder", "this is a folder; name the sweep file in it.", file=str(path))
    place = Path(path)
    try:
        size = place.stat().st_size
        with place.open("rb") as file:
            head = file.read(_HEAD)
            chosen = _format_of(head, place)
            blocks = _blocks(head, lambda: file.read(_BLOCK), size, progress, cancelled)
            return _folded(chosen, blocks, place, bandwidths_hz)
    except FileNotFoundError as error:
        raise InputError.single(
            "no-such-file", f"{place} does not exist.", file=str(place), hint="Give the name of a sweep file."
        ) from error
    except OSError as error:
        raise MachineError(f"{place} cannot be read: {error.strerror or error}.") from error


def _blocks(
    head: bytes,
    more: Callable[[], bytes],
    size: int,
    progress: Callable[[float | None], None] | None,
    cancelled: Callable[[], bool] | None,
) -> Iterator[bytes]:
    done, block = 0, head
    while block:
        yield block
        if cancelled is not None and cancelled():
            raise Cancelled("reading was stopped")
        done += len(block)
        if progress is not None:
            progress(min(done / size, 1.0) if size else None)
        block = more()


def _format_of(head: bytes, place: Path) -> Format:
    name = str(place)
    if not head.strip():
        raise InputError.single("empty-file", "The file is empty.", file=name, hint="Record the sweep again.")
    if _is_binary(head):
        raise InputError.single(
            "binary-file", "The file is binary, no text.", file=name, allowed=_KNOWN, hint="Export it as CSV."
        )
    for sniff, sentence in REFUSED:
        if sniff(head):
            raise InputError.single(
                "no-sweep", sentence, file=name, allowed=_KNOWN, hint="Give a file with frequencies and levels."
            )
    found = next((item for item in FORMATS if item.sniff(head)), None)
    if found is None:
        first = head.split(b"\n", 1)[0].decode("latin-1").strip()[:60]
        raise InputError.single(
            "unknown-format",
            f"No known kind of sweep file; it begins with {first!r}.",
            file=name,
            given=first,
            allowed=_KNOWN,
            hint="Export frequencies and levels as CSV, at least three rows.",
        )
    return found


def _is_binary(head: bytes) -> bool:
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return False
    odd = sum(head.count(code) for code in (*range(9), 11, *range(14, 32), 127))
    return b"\x00" in head or odd > len(head) // 100


def _folded(chosen: Format, blocks: Iterator[bytes], place: Path, bandwidths_hz: Sequence[int]) -> Sweep:
    accumulator = SweepAccumulator(bandwidths_hz=tuple(sorted({*bandwidths_hz})))
    try:
        for item in chosen.parse(blocks):
            if isinstance(item, SweepFault):
                accumulator.fault(item)
            else:
                accumulator.add(item)
    except (TooManyPointsError, LineTooLongError) as error:
        raise InputError.single("too-large", str(error), file=str(place)) from error
    sweep = accumulator.finish(name=place.name)
    if sweep is None:
        raise InputError.single(
            "no-rows",
            f"No row of the file could be used (read as {chosen.name}).{_first_faults(accumulator)}",
            file=str(place),
            allowed=_KNOWN,
            hint="Record or export the sweep again.",
        )
    if not np.isfinite(sweep.typical_db).any():
        raise InputError.single(
            "no-levels",
            f"None of the {sweep.grid.size} frequencies has a level: nothing was measured.",
            file=str(place),
            hint="Record the sweep again.",
        )
    return sweep


def _first_faults(accumulator: SweepAccumulator) -> str:
    listed = accumulator.faults[:3]
    return "".join(f" Line {fault.line}: {fault.text}" if fault.line else f" {fault.text}" for fault in listed)

"""One module per sweep file format; foreign words and units end here.

A format is a module with two functions, `sniff(head) -> bool` and `parse(blocks) -> iterator of what was read` (of a
`Source` where its own bytes are not enough), and one entry in `FORMATS`. The first format that knows
a file's head reads it. Any of them may be packed with gzip.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from bandwright.core.fold import DEFAULT_BANDWIDTHS_HZ, SweepAccumulator, TooManyPointsError
from bandwright.core.sweep import Sweep, SweepFault, SweepItem
from bandwright.errors import Cancelled, InputError, MachineError
from bandwright.readers import columns, hackrf_sweep, rtl_power, sigmf, soapy_power, sweep_columns, touchstone
from bandwright.readers.source import GZIP_MAGIC, BadGzipError, Source, unpacked
from bandwright.readers.text import LineTooLongError
from bandwright.readers.traces import UnknownTraceError

__all__ = ["FORMATS", "REFUSED", "Format", "Source", "other_files", "read"]

Items = Iterator[SweepItem]

_HEAD = 64 * 1024
_BLOCK = 1024 * 1024
_KNOWN = (
    "rtl_power, hackrf_sweep and soapy_power logs, plain columns of frequency and level, analyser exports, sweeps as "
    "columns, SigMF recordings; also packed with gzip"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """How to tell a format and how to read it; `endings` are file names that tell it too.

    `text` says that the file is text, `exact` that levels stand in it and are not computed from it, `traces` that it
    may hold several traces of which one is chosen.
    """

    name: str
    sniff: Callable[[bytes], bool]
    parse: Callable[[Source], Items]
    endings: tuple[str, ...] = ()
    text: bool = True
    exact: bool = True
    traces: bool = False


def _of_blocks(parse: Callable[[Iterable[bytes]], Items]) -> Callable[[Source], Items]:
    return lambda source: parse(source.blocks())


# Looked through in this order: the narrow descriptions stand before the wide ones.
FORMATS: tuple[Format, ...] = (
    Format(
        name="SigMF",
        sniff=sigmf.sniff,
        parse=sigmf.parse,
        endings=(sigmf.META, sigmf.DATA, sigmf.ARCHIVE),
        text=False,
        exact=False,
    ),
    Format(
        name="soapy_power binary",
        sniff=soapy_power.sniff_binary,
        parse=_of_blocks(soapy_power.parse_binary),
        text=False,
    ),
    Format(name="soapy_power", sniff=soapy_power.sniff, parse=_of_blocks(soapy_power.parse)),
    Format(name="hackrf_sweep", sniff=hackrf_sweep.sniff, parse=_of_blocks(hackrf_sweep.parse)),
    Format(name="rtl_power", sniff=rtl_power.sniff, parse=_of_blocks(rtl_power.parse)),
    Format(name="sweeps as columns", sniff=sweep_columns.sniff, parse=_of_blocks(sweep_columns.parse)),
    Format(
        name="plain columns",
        sniff=columns.sniff,
        parse=lambda source: columns.parse(source.blocks(), trace=source.trace),
        traces=True,
    ),
)

# What is known and is no sweep: how to tell it, and the sentence.
REFUSED: tuple[tuple[Callable[[bytes], bool], str], ...] = ((touchstone.sniff, touchstone.REFUSAL),)


def read(
    path: Path | str,
    *,
    bandwidths_hz: Sequence[int] = DEFAULT_BANDWIDTHS_HZ,
    trace: str | None = None,
    rbw_hz: float | None = None,
    progress: Callable[[float | None], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    piped: Callable[[bytes], None] | None = None,
) -> Sweep:
    """Return the sweep that a file holds, read in one pass and in memory that does not grow with the file.

    Channel power is folded for `bandwidths_hz`. `trace` names the trace to read where the file holds several, `rbw_hz`
    is a resolution bandwidth that counts in place of what the file says. `progress` is told the part of the file that
    was read (None where nobody knows its size); `piped` is given the bytes of a pipe, which nobody can read again.
    What could not be used is listed in the sweep's `problems`.

    Raises
    ------
    InputError
        When the file is empty, of no known format, damaged, without such a trace, or holds no level at all.
    MachineError
        When it cannot be read.
    Cancelled
        When `cancelled()` says so.
    """
    place = Path(path)
    if place.is_dir():
        raise InputError.single("folder", "this is a folder; name the sweep file in it.", file=str(path))
    faults: list[SweepFault] = []
    watch = _Watch(progress=progress, cancelled=cancelled, piped=piped)
    source = _source(place, trace, watch, faults.append)
    accumulator = SweepAccumulator(bandwidths_hz=tuple(sorted({*bandwidths_hz})), stated_rbw_hz=rbw_hz)
    try:
        chosen = _format_of(_head(source), place)
        if trace is not None and not chosen.traces:
            text = f"A file of this kind ({chosen.name}) holds no traces to choose from."
            raise InputError.single("no-traces", text, key="--trace", file=str(place), given=trace)
        watch.size = place.stat().st_size
        for item in chosen.parse(source):
            accumulator.take(item)
        for fault in dict.fromkeys(faults):
            accumulator.fault(fault)
        return _usable(accumulator, chosen, place)
    except (TooManyPointsError, LineTooLongError) as error:
        raise InputError.single("too-large", str(error), file=str(place)) from error
    except BadGzipError as error:
        hint = "Copy or pack the file again, or unpack it yourself."
        raise InputError.single("bad-gzip", str(error), file=str(place), hint=hint) from error
    except UnknownTraceError as error:
        raise InputError.single(
            "unknown-trace", str(error), key="--trace", file=str(place), given=trace, allowed=", ".join(error.known)
        ) from error
    except FileNotFoundError as error:
        raise InputError.single(
            "no-such-file", "There is no such file.", file=str(place), hint="Give the name of a sweep file."
        ) from error
    except OSError as error:
        raise MachineError(f"{place} cannot be read: {error.strerror or error}.") from error


def other_files(path: Path) -> tuple[Path, ...]:
    """Return the files that belong to a recording besides the one that was named."""
    pairs = ((sigmf.META, sigmf.DATA), (sigmf.DATA, sigmf.META))
    others = (path.with_name(path.name.removesuffix(one) + two) for one, two in pairs if path.name.endswith(one))
    return tuple(other for other in others if other.is_file())


@dataclass(slots=True, kw_only=True)
class _Watch:
    """Tells how much of the file was read, and stops when told to."""

    progress: Callable[[float | None], None] | None
    cancelled: Callable[[], bool] | None
    piped: Callable[[bytes], None] | None = None
    size: int | None = None

    def blocks(self, path: Path) -> Iterator[bytes]:
        """Yield the bytes of a file."""
        done = 0
        with path.open("rb") as file:
            while block := file.read(_BLOCK):
                yield block
                if self.cancelled is not None and self.cancelled():
                    raise Cancelled("reading was stopped")
                done += len(block)
                if self.progress is not None and self.size is not None:
                    self.progress(min(done / self.size, 1.0) if self.size else None)


def _source(path: Path, trace: str | None, watch: _Watch, tell: Callable[[SweepFault], None]) -> Source:
    seen: list[bytes] = []
    once = None if path.is_file() or path.is_dir() else watch.blocks(path)

    def blocks() -> Iterator[bytes]:
        raw = _begun_again(seen, once, watch.piped) if once is not None else watch.blocks(path)
        first = next(raw, b"")
        whole = itertools.chain((first,), raw)
        return unpacked(whole, tell=tell) if first.startswith(GZIP_MAGIC) else whole

    def beside(name: str) -> Source | None:
        other = path.parent / name
        return _source(other, trace, watch, tell) if other.is_file() else None

    return Source(name=path.name, blocks=blocks, beside=beside, trace=trace)


def _begun_again(seen: list[bytes], once: Iterator[bytes], piped: Callable[[bytes], None] | None) -> Iterator[bytes]:
    """Yield a pipe's bytes; its head, which was read to tell the format, comes again."""
    yield from tuple(seen)
    for block in once:
        if piped is not None:
            piped(block)
        if sum(map(len, seen)) < _HEAD:
            seen.append(block)
        yield block


def _head(source: Source) -> bytes:
    head = b""
    for block in source.blocks():
        head += block
        if len(head) >= _HEAD:
            break
    return head[:_HEAD]


def _format_of(head: bytes, place: Path) -> Format:
    name = str(place)
    if not head.strip():
        raise InputError.single("empty-file", "The file is empty.", file=name, hint="Record the sweep again.")
    ending = place.name.removesuffix(".gz")
    binary = _is_binary(head)
    for item in FORMATS:
        if not item.text and (ending.endswith(item.endings or ("\0",)) or item.sniff(head)):
            return item
    if binary:
        raise InputError.single(
            "binary-file", "The file is binary, no text.", file=name, allowed=_KNOWN, hint="Export it as CSV."
        )
    for sniff, sentence in REFUSED:
        if sniff(head):
            raise InputError.single(
                "no-sweep", sentence, file=name, allowed=_KNOWN, hint="Give a file with frequencies and levels."
            )
    found = next((item for item in FORMATS if item.text and item.sniff(head)), None)
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


def _usable(accumulator: SweepAccumulator, chosen: Format, place: Path) -> Sweep:
    sweep = accumulator.finish(name=place.name)
    if sweep is None:
        raise InputError.single(
            "no-rows",
            f"Nothing in the file could be used (read as {chosen.name}).{_first_faults(accumulator)}",
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
    telling = [fault for fault in accumulator.faults if fault.code != "assumed"]
    listed = (telling or accumulator.faults)[:3]
    return "".join(f" Line {fault.line}: {fault.text}" if fault.line else f" {fault.text}" for fault in listed)

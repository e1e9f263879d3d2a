"""Where a reader's bytes come from: a file that can be read again from its start, gzip taken off."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bandwright.core.sweep import SweepFault

if TYPE_CHECKING:
    from zlib import _Decompress as _Member

__all__ = ["GZIP_MAGIC", "MOST_RATIO", "MOST_UNPACKED", "BadGzipError", "Source", "unpacked"]

GZIP_MAGIC = b"\x1f\x8b"
MOST_RATIO = 400  # text of levels packs 3 to 30 times; only nearly endless repetition packs more
MOST_UNPACKED = 256 * 2**30
_RATIO_FROM = 32 * 2**20  # a small file may pack as well as it likes
_PIECE = 2**20


class BadGzipError(ValueError):
    """A gzip file that is damaged, or that would fill the machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file as a reader sees it: `blocks()` reads it from the start, `beside(name)` is another file in its folder.

    `trace` is the trace that the user asked for.
    """

    name: str
    blocks: Callable[[], Iterator[bytes]]
    beside: Callable[[str], Source | None]
    trace: str | None = None

    @classmethod
    def of_bytes(cls, data: bytes, *, name: str = "sweep", size: int = _PIECE, trace: str | None = None) -> Source:
        """Return bytes in memory as a source, in blocks of `size`."""

        def blocks() -> Iterator[bytes]:
            pieces = (data[start : start + size] for start in range(0, len(data), size))
            return unpacked(pieces, tell=lambda _: None) if data.startswith(GZIP_MAGIC) else pieces

        return cls(name=name, blocks=blocks, beside=lambda _: None, trace=trace)


def unpacked(blocks: Iterable[bytes], *, tell: Callable[[SweepFault], None]) -> Iterator[bytes]:
    """Yield what gzip packed, piece by piece; several members one after the other are one file.

    A file that is cut off gives what it holds and a fault to `tell`.

    Raises
    ------
    BadGzipError
        When the data are damaged (the check sum of a member differs), or unpack to more than 400 times their size or
        more than 256 GiB.
    """
    packed = size = 0
    member = zlib.decompressobj(31)
    for block in blocks:
        packed += len(block)
        data, more = block, False
        while data or more:
            if member.eof:
                if not data.startswith(GZIP_MAGIC[: len(data)]):
                    _tell_of_rest(data, tell)
                    return
                member = zlib.decompressobj(31)
            piece = _piece(member, data)
            size += len(piece)
            _hold_limits(size, packed)
            if piece:
                yield piece
            data = member.unused_data if member.eof else member.unconsumed_tail
            more = len(piece) == _PIECE and not member.eof
    if not member.eof:
        tell(SweepFault(code="cut-off", text="The gzip file is cut off; what it holds up to there is used."))


def _piece(member: _Member, data: bytes) -> bytes:
    try:
        return member.decompress(data, _PIECE)
    except zlib.error as error:
        raise BadGzipError("The gzip file is damaged: its check sum or structure is wrong.") from error


def _hold_limits(size: int, packed: int) -> None:
    if size > max(_RATIO_FROM, MOST_RATIO * packed):
        raise BadGzipError(f"The gzip file unpacks to more than {MOST_RATIO} times its size: not read.")
    if size > MOST_UNPACKED:
        raise BadGzipError(f"The gzip file unpacks to more than {MOST_UNPACKED // 2**30} GiB: not read.")


def _tell_of_rest(data: bytes, tell: Callable[[SweepFault], None]) -> None:
    """Tell of anything behind the last member but the zeros that tapes and downloads leave there."""
    if data.strip(b"\0"):
        text = "Behind the end of the gzip file there is something else: not read."
        tell(SweepFault(code="behind-the-end", text=text))

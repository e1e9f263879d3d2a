"""SigMF recordings: IQ samples with their metadata, as two files or one archive, turned into power over frequency.

The Signal Metadata Format, https://sigmf.org (version 1.2): `NAME.sigmf-meta` is JSON, `NAME.sigmf-data` the samples,
`NAME.sigmf` a tar of both. Levels are dB relative to full scale.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
import tarfile
import warnings
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from bandwright.core.sweep import SweepFault, SweepItem
from bandwright.readers.iq import Capture, Samples, sweeps_of
from bandwright.readers.source import Source

__all__ = ["ARCHIVE", "DATA", "META", "parse", "sniff"]

META, DATA, ARCHIVE = ".sigmf-meta", ".sigmf-data", ".sigmf"

_MOST_META = 64 * 2**20
_DATATYPE = re.compile(r"(?P<kind>[cr])(?P<number>f32|f64|[iu]32|[iu]16|[iu]8)(?P<order>_le|_be)?$")
_PIECE = 2**20
_MOST_HZ = 1e12
_MOST_RATE_HZ = 1e11
_MOST_CAPTURES = 100_000


class _RefusedError(ValueError):
    """A recording that cannot be used, as a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Recording:
    """What the metadata say."""

    samples: Samples
    sample_rate_hz: float
    captures: tuple[Capture, ...]
    sha512: str | None
    trailing_bytes: int


def sniff(head: bytes) -> bool:
    """Whether the file is a tar with a recording in it, or begins as the metadata of one."""
    if head[257:262] == b"ustar":
        return META.encode() in head or DATA.encode() in head or b".sigmf" in head
    return head.lstrip().startswith(b"{") and b'"core:' in head


def parse(source: Source) -> Iterator[SweepItem]:
    """Yield blocks of averaged power, each of about a tenth of a second or 64 transforms, and faults.

    The source is the metadata, the data or the archive; the other half of a pair is looked for beside it.
    """
    try:
        yield from _parse(source)
    except _RefusedError as error:
        yield SweepFault(code="no-recording", text=str(error))
    except tarfile.TarError as error:
        yield SweepFault(code="bad-archive", text=f"The archive is damaged: {error}.")


def _parse(source: Source) -> Iterator[SweepItem]:
    if _is_tar(source):
        meta = _from_archive(source)
        data: Callable[[], Iterator[bytes]] = partial(_member, source, _is_data)
    elif source.name.endswith(DATA):
        meta = _text(_other(source, source.name.removesuffix(DATA) + META).blocks())
        data = source.blocks
    else:
        meta = _text(source.blocks())
        data = _data_beside(source, meta)
    metadata = _metadata(meta)
    yield from _invalid(metadata)
    recording, faults = _recording(metadata)
    yield from faults
    yield from _levels(recording, data())


def _is_tar(source: Source) -> bool:
    head = b""
    for block in source.blocks():
        head += block
        if len(head) >= 512:
            break
    return head[257:262] == b"ustar"


def _other(source: Source, name: str) -> Source:
    other = source.beside(name)
    if other is None:
        raise _RefusedError(f"A SigMF recording has two files; {name} is not beside {source.name}.")
    return other


def _data_beside(source: Source, meta: bytes) -> Callable[[], Iterator[bytes]]:
    stated = _metadata(meta).get("global", {})
    if isinstance(stated, dict) and isinstance(stated.get("core:dataset"), str):
        name = stated["core:dataset"].replace("\\", "/").rsplit("/", 1)[-1]
    else:
        name = source.name.removesuffix(META) + DATA
    return _other(source, name).blocks


def _text(blocks: Iterable[bytes]) -> bytes:
    parts: list[bytes] = []
    size = 0
    for block in blocks:
        parts.append(block)
        size += len(block)
        if size > _MOST_META:
            raise _RefusedError(f"Metadata of more than {_MOST_META // 2**20} MiB are not read.")
    return b"".join(parts)


class _Stream:
    """The blocks of a source as a file that tarfile reads from front to back."""

    def __init__(self, blocks: Iterator[bytes]) -> None:
        self._blocks = blocks
        self._rest = b""

    def read(self, size: int) -> bytes:
        """Return exactly `size` bytes, fewer only at the end."""
        parts = [self._rest]
        have = len(self._rest)
        while have < size and (block := next(self._blocks, b"")):
            parts.append(block)
            have += len(block)
        joined = b"".join(parts)
        self._rest = joined[size:]
        return joined[:size]


def _is_meta(name: str) -> bool:
    return name.endswith(META)


def _is_data(name: str) -> bool:
    return not name.endswith(META)


def _from_archive(source: Source) -> bytes:
    found = _text(_member(source, _is_meta))
    if not found:
        raise _RefusedError(f"The archive holds no {META} file: no SigMF recording.")
    return found


def _member(source: Source, wanted: Callable[[str], bool]) -> Iterator[bytes]:
    """Yield the first file of the archive with such a name."""
    with tarfile.open(fileobj=_Stream(iter(source.blocks())), mode="r|", bufsize=_PIECE) as archive:  # type: ignore[call-overload]
        for member in archive:
            if member.isfile() and not member.issparse() and wanted(member.name):
                file = archive.extractfile(member)
                while file is not None and (piece := file.read(_PIECE)):
                    yield piece
                return


def _metadata(meta: bytes) -> dict[str, Any]:
    try:
        found = json.loads(meta.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise _RefusedError(f"The SigMF metadata are no JSON: {str(error)[:100]}.") from error
    if not isinstance(found, dict) or not isinstance(found.get("global"), dict):
        raise _RefusedError('The SigMF metadata hold no "global" object: nobody knows the kind of samples.')
    if isinstance(captures := found.get("captures"), list) and len(captures) > _MOST_CAPTURES:
        raise _RefusedError(f"More than {_MOST_CAPTURES} captures are not read.")
    return found


def _invalid(metadata: dict[str, Any]) -> Iterator[SweepFault]:
    """Yield what SigMF's own validator does not like; what is needed may be there all the same."""
    import jsonschema
    from sigmf.validate import validate

    try:
        with warnings.catch_warnings(record=True):
            warnings.simplefilter("always")
            validate(metadata)
    except jsonschema.ValidationError as error:
        where = ".".join(str(part) for part in error.absolute_path) or "the metadata"
        yield SweepFault(code="invalid-metadata", text=f"No valid SigMF: {where}: {error.message[:160]}")


def _number(values: dict[str, Any], key: str, *, least: float, most: float) -> float | None:
    value = values.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if least <= value <= most else None


def _count(values: dict[str, Any], key: str) -> int:
    value = values.get(key, 0)
    return value if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**62 else 0


def _recording(metadata: dict[str, Any]) -> tuple[_Recording, list[SweepFault]]:
    stated = metadata["global"]
    if stated.get("core:metadata_only") is True:
        raise _RefusedError("This SigMF recording states metadata only: it holds no samples.")
    channels = max(1, _count(stated, "core:num_channels"))
    faults: list[SweepFault] = []
    if channels > 1:
        text = f"{channels} channels lie side by side; only the first is read."
        faults.append(SweepFault(code="more-channels", text=text))
    rate = _number(stated, "core:sample_rate", least=1.0, most=_MOST_RATE_HZ)
    samples = _samples(stated.get("core:datatype"), channels)
    if rate is None:
        shown = stated.get("core:sample_rate")
        raise _RefusedError(f"core:sample_rate is a number of Hz from 1 to {_MOST_RATE_HZ:g}; found {shown!r}.")
    captures, left_out = _captures(metadata.get("captures"), samples, _count(stated, "core:offset"))
    faults.extend(left_out)
    sha512 = stated.get("core:sha512")
    return (
        _Recording(
            samples=samples,
            sample_rate_hz=rate,
            captures=captures,
            sha512=sha512.lower() if isinstance(sha512, str) else None,
            trailing_bytes=_count(stated, "core:trailing_bytes"),
        ),
        faults,
    )


def _samples(datatype: object, channels: int) -> Samples:
    match = _DATATYPE.match(datatype) if isinstance(datatype, str) else None
    if match is None:
        raise _RefusedError(
            f"core:datatype is one such as cf32_le, ci16_be or cu8; found {str(datatype)[:40]!r}: not read."
        )
    if match["kind"] == "r":
        raise _RefusedError(
            f"The samples are real ({datatype}), as in an audio recording, and no IQ: nothing of it was on the air at "
            "its frequency. Record complex samples."
        )
    width = int(match["number"][1:]) // 8
    if width > 1 and match["order"] is None:
        raise _RefusedError(f"{datatype} does not say the order of its bytes; write {datatype}_le or {datatype}_be.")
    letter = match["number"][0]
    dtype = np.dtype(f"{'>' if match['order'] == '_be' else '<'}{letter}{width}")
    half = 2.0 ** (8 * width - 1)
    return Samples(
        dtype=dtype,
        channels=channels,
        middle=half if letter == "u" else 0.0,
        full_scale=1.0 if letter == "f" else half,
    )


def _captures(stated: object, samples: Samples, offset: int) -> tuple[tuple[Capture, ...], list[SweepFault]]:
    found: list[Capture] = []
    faults: list[SweepFault] = []
    skip_bytes = 0
    entries = stated if isinstance(stated, list) else []
    for number, entry in enumerate(entries):
        values = entry if isinstance(entry, dict) else {}
        skip_bytes += _count(values, "core:header_bytes")
        start = max(0, _count(values, "core:sample_start") - offset)
        centre = _number(values, "core:frequency", least=math.ulp(0.0), most=_MOST_HZ)
        if centre is None:
            shown = values.get("core:frequency")
            text = f"Capture {number} names no frequency above 0 Hz ({str(shown)[:40]}): not used."
            faults.append(SweepFault(code="no-frequency", text=text))
        if found and start < found[-1].first_sample:
            raise _RefusedError("The captures of a SigMF recording stand in the order of their samples; here not.")
        stamp = values.get("core:datetime")
        first_byte = start * samples.size + skip_bytes
        found.append(
            Capture(
                first_sample=start,
                first_byte=first_byte,
                header_bytes=_count(values, "core:header_bytes"),
                centre_hz=centre,
                stamp=stamp if isinstance(stamp, str) else "",
            )
        )
    if not any(capture.centre_hz is not None for capture in found):
        raise _RefusedError("No capture of this SigMF recording names its frequency (core:frequency).")
    return tuple(found), faults


def _levels(recording: _Recording, blocks: Iterator[bytes]) -> Iterator[SweepItem]:
    digest = hashlib.sha512()
    shown = 0

    def hashed() -> Iterator[bytes]:
        nonlocal shown
        for block in blocks:
            digest.update(block)
            shown += len(block)
            yield block

    yield from sweeps_of(
        hashed(),
        samples=recording.samples,
        sample_rate_hz=recording.sample_rate_hz,
        captures=recording.captures,
        trailing_bytes=recording.trailing_bytes,
    )
    if not shown:
        yield SweepFault(code="no-samples", text="The data of the SigMF recording are empty.")
    elif recording.sha512 is not None and digest.hexdigest() != recording.sha512:
        text = "The SHA-512 of the data is not the one in the metadata: samples were changed, lost or added."
        yield SweepFault(code="hash", text=text)

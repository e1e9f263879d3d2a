"""WAV files: PCM of 8, 16, 24 and 32 bits and floating point of 32 and 64, any number of channels, any usual rate."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bandwright.core.sound.recording import Recording
from bandwright.errors import InputError

__all__ = ["LOWEST_HZ", "parse"]

Floats = npt.NDArray[np.float64]

LOWEST_HZ = 4_000
_HIGHEST_HZ = 768_000
_MOST_CHANNELS = 64
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_SUBFORMAT_END = bytes.fromhex("000000001000800000aa00389b71")
_ALLOWED = "PCM of 8, 16, 24 or 32 bits, or floating point of 32 or 64"
_HINT = "Save it as a WAV file of 24-bit PCM."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Format:
    kind: int
    channels: int
    rate_hz: int
    bits: int
    frame: int


def parse(data: bytes, *, size: int, name: str, most_s: float) -> Recording:
    """Return a WAV file, or so many seconds of it from its start.

    A file that ends before it says is taken as far as it goes, and so is one of unknown length.

    Parameters
    ----------
    data
        The file, or its beginning.
    size
        Bytes of the whole file.
    name
        What to call it in errors.
    most_s
        More is not converted.

    Raises
    ------
    InputError
        When it is no WAV file, is packed in a way that is not read, holds no samples, or holds some that are no number.
    """
    if data[:4] not in (b"RIFF", b"RF64") or data[8:12] != b"WAVE":
        raise _refusal("no-wav", "this is no WAV file", name)
    found: _Format | None = None
    for kind, start, long in _chunks(data):
        if kind == b"fmt ":
            found = _format(data[start : start + long], name)
        elif kind == b"data":
            if found is None:
                raise _refusal("no-format", "its samples come before it says how they are stored", name)
            there = max(0, min(long, size - start))
            samples = _samples(data[start : start + there], found, name, most_s)
            seconds = there / found.frame / found.rate_hz
            return Recording(samples=samples, rate_hz=found.rate_hz, of_seconds=seconds, cut=there < long)
    raise _refusal("no-samples", "it holds no samples" if found else "it does not say how its samples are stored", name)


def _chunks(data: bytes) -> Iterator[tuple[bytes, int, int]]:
    at = 12
    while at + 8 <= len(data):
        kind, size = struct.unpack_from("<4sI", data, at)
        yield kind, at + 8, size
        at += 8 + size + size % 2


def _format(chunk: bytes, name: str) -> _Format:
    if len(chunk) < 16:
        raise _refusal("no-format", "it does not say how its samples are stored", name)
    kind, channels, rate_hz, _, frame, bits = struct.unpack_from("<HHIIHH", chunk)
    if kind == _EXTENSIBLE and len(chunk) >= 40 and chunk[26:40] == _SUBFORMAT_END:
        kind = struct.unpack_from("<H", chunk, 24)[0]
    if (kind, bits) not in _READ:
        raise _refusal(
            "unread-wav", f"its samples are stored in a way that is not read (format {kind}, {bits} bits)", name
        )
    if not LOWEST_HZ <= rate_hz <= _HIGHEST_HZ:
        given, allowed = f"{rate_hz} Hz", f"{LOWEST_HZ} to {_HIGHEST_HZ} samples per second"
        raise _refusal("rate", f"it says that it has {rate_hz} samples per second", name, given=given, allowed=allowed)
    if not 1 <= channels <= _MOST_CHANNELS or frame != channels * bits // 8:
        raise _refusal("channels", f"its {channels} channels and {frame} bytes a frame do not go together", name)
    return _Format(kind=kind, channels=channels, rate_hz=rate_hz, bits=bits, frame=frame)


def _samples(data: bytes, form: _Format, name: str, most_s: float) -> Floats:
    frames = min(len(data) // form.frame, round(most_s * form.rate_hz))
    if frames == 0:
        raise _refusal("no-samples", "it holds no samples", name)
    samples = _READ[form.kind, form.bits](data[: frames * form.frame]).reshape(frames, form.channels)
    if not np.isfinite(samples).all() or np.abs(samples).max() > _LOUDEST:
        raise _refusal("no-number", "some of its samples are no number, or far above full scale", name)
    return samples


def _refusal(code: str, text: str, name: str, *, given: str | None = None, allowed: str = _ALLOWED) -> InputError:
    sentence = f"{text}; what is read: {allowed}."
    return InputError.single(code, sentence, file=name, given=given, allowed=allowed, hint=_HINT)


def _three_bytes(raw: bytes) -> Floats:
    parts = np.zeros((len(raw) // 3, 4), np.uint8)
    parts[:, 1:] = np.frombuffer(raw, np.uint8).reshape(-1, 3)
    return parts.view("<i4")[:, 0] / 2.0**31


_LOUDEST = 1e6  # times full scale: floating point may say anything
_READ: dict[tuple[int, int], Callable[[bytes], Floats]] = {
    (_PCM, 8): lambda raw: (np.frombuffer(raw, np.uint8) - 128.0) / 128,
    (_PCM, 16): lambda raw: np.frombuffer(raw, "<i2") / 2.0**15,
    (_PCM, 24): _three_bytes,
    (_PCM, 32): lambda raw: np.frombuffer(raw, "<i4") / 2.0**31,
    (_FLOAT, 32): lambda raw: np.frombuffer(raw, "<f4").astype(np.float64),
    (_FLOAT, 64): lambda raw: np.frombuffer(raw, "<f8").astype(np.float64),
}

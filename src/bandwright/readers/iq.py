"""Streams of IQ samples to sweep blocks: what every reader of recordings needs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from bandwright.core.sweep import SweepBlock, SweepFault, SweepItem, decibels
from bandwright.core.welch import Welch, hann, noise_bandwidth_bins
from bandwright.readers.text import time_of

__all__ = ["Capture", "Samples", "sweeps_of"]

Floats = npt.NDArray[np.float64]
Complexes = npt.NDArray[np.complex128]

_BIN_HZ = 6_250.0  # fine enough for a carrier of 12.5 kHz
_LEAST_SIZE, _MOST_SIZE = 256, 2**18
_LONGEST_S = 1e8
_BLOCK_S = 0.1
_LEAST_SEGMENTS = 64
_OVERLOAD_PART = 1e-4
_NEAR_FULL = 0.999
_MOST_FLOAT = 1e100  # beyond it a square overflows


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """How a sample is written: `dtype` of one component, I before Q, `channels` side by side.

    `middle` is what stands for 0, `full_scale` what stands for 1.
    """

    dtype: np.dtype[np.generic]
    channels: int = 1
    middle: float = 0.0
    full_scale: float = 1.0

    @property
    def size(self) -> int:
        """Bytes of one sample of all channels."""
        return 2 * self.dtype.itemsize * self.channels

    def read(self, data: bytes) -> Complexes:
        """Return whole samples of the first channel, 1 being full scale; what is no number becomes NaN."""
        table = np.frombuffer(data, dtype=self.dtype).reshape(-1, self.channels, 2)[:, 0, :].astype(np.float64)
        table = (table - self.middle) / self.full_scale
        table[~(np.abs(table) < _MOST_FLOAT)] = np.nan
        return np.asarray(table[:, 0] + 1j * table[:, 1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Capture:
    """A stretch of samples at one frequency (None: unknown, not used); `header_bytes` before it are no samples."""

    first_sample: int
    first_byte: int
    header_bytes: int
    centre_hz: float | None
    stamp: str


@dataclass(slots=True, kw_only=True)
class _Meter:
    """Turns the samples of one capture after the other into blocks."""

    samples: Samples
    sample_rate_hz: float
    size: int
    welch: Welch = field(init=False)
    read: int = 0
    full: int = 0
    short: int = 0

    def __post_init__(self) -> None:
        self.welch = Welch(size=self.size)

    @property
    def wanted(self) -> int:
        """Segments in one block."""
        return max(_LEAST_SEGMENTS, round(_BLOCK_S * self.sample_rate_hz / self.welch.step))

    def count(self, samples: Complexes) -> None:
        self.read += samples.size
        if self.samples.full_scale > 1:
            largest = np.maximum(np.abs(samples.real), np.abs(samples.imag))
            self.full += int(np.count_nonzero(largest >= _NEAR_FULL * (1 - 1 / self.samples.full_scale)))

    def block(self, power: Floats, capture: Capture, time: datetime | None) -> SweepBlock | None:
        """Return averaged power as a block; bins that would lie at or below 0 Hz are left out."""
        assert capture.centre_hz is not None
        bin_hz = self.sample_rate_hz / self.size
        first_hz = capture.centre_hz - self.sample_rate_hz / 2
        below = max(0, int(np.ceil(-first_hz / bin_hz + 0.5))) if first_hz < bin_hz / 2 else 0
        if below >= self.size:
            return None
        return SweepBlock(
            first_hz=first_hz + below * bin_hz,
            bin_hz=bin_hz,
            levels_db=decibels(power[below:]),
            time=time,
            rbw_hz=bin_hz * noise_bandwidth_bins(hann(self.size)),
            unit="dB",
        )


def _size(sample_rate_hz: float) -> int:
    wanted = 2 ** int(np.ceil(np.log2(max(sample_rate_hz / _BIN_HZ, 1.0))))
    return int(min(max(wanted, _LEAST_SIZE), _MOST_SIZE))


def sweeps_of(
    blocks: Iterable[bytes],
    *,
    samples: Samples,
    sample_rate_hz: float,
    captures: tuple[Capture, ...],
    trailing_bytes: int = 0,
) -> Iterator[SweepItem]:
    """Yield blocks of power (dB relative to full scale) and faults.

    Bins are at most 6.25 kHz wide (transforms of 256 to 262,144 samples under a Hann window); each block averages a
    tenth of a second, 64 transforms at least. The samples left over at the end of a capture join its last block.
    """
    meter = _Meter(samples=samples, sample_rate_hz=sample_rate_hz, size=_size(sample_rate_hz))
    reader = _Reader(blocks, trailing_bytes)
    for index, capture in enumerate(captures):
        end = captures[index + 1] if index + 1 < len(captures) else None
        reader.skip_to(capture.first_byte)
        until = end.first_byte - end.header_bytes if end is not None else None
        if capture.centre_hz is not None:
            yield from _capture(meter, reader, capture, until)
    left = reader.finish()
    if captures and captures[-1].centre_hz is not None and 0 < left < samples.size:
        yield SweepFault(code="cut-off", text="The last sample is cut off in the middle: not used.")
    yield from _faults(meter)


@dataclass(frozen=True, slots=True, eq=False)
class _Total:
    """The summed power of so many segments, the first of which began at a sample of the capture."""

    power: Floats
    segments: int
    began: int


def _capture(meter: _Meter, reader: _Reader, capture: Capture, until: int | None) -> Iterator[SweepItem]:
    """Yield the blocks of one capture; each is held back until it is known that enough samples for one more follow."""
    meter.welch.break_off()
    meter.welch.take()
    length = meter.wanted * meter.welch.step
    held: _Total | None = None
    position = began = 0
    for data in reader.pieces(until, meter.samples.size):
        found = meter.samples.read(data)
        meter.count(found)
        while found.size:
            part, found = found[: began + length - position], found[began + length - position :]
            meter.welch.add(part)
            position += part.size
            if position == began + length:
                total = _Total(*meter.welch.take(), began)
                began = position
                if held is not None:
                    yield from _given(meter, held, capture)
                held = total if total.segments else held
    rest = _Total(*meter.welch.take(), began)
    if held is not None and 2 * rest.segments >= meter.wanted:
        yield from _given(meter, held, capture)
        held = rest
    elif held is not None:
        held = _Total(held.power + rest.power, held.segments + rest.segments, held.began)
    elif rest.segments:
        held = rest
    else:
        meter.short += 1
        return
    yield from _given(meter, held, capture)


def _given(meter: _Meter, total: _Total, capture: Capture) -> Iterator[SweepItem]:
    started = time_of(capture.stamp)
    seconds = min(total.began / meter.sample_rate_hz, _LONGEST_S)
    time = started + timedelta(seconds=seconds) if started is not None else None
    block = meter.block(total.power / total.segments, capture, time)
    if block is not None:
        yield block


def _faults(meter: _Meter) -> Iterator[SweepFault]:
    if meter.short:
        text = f"{meter.short} captures are shorter than {meter.size} samples: too short to look at."
        yield SweepFault(code="short-capture", text=text)
    if meter.welch.spoiled:
        text = f"{meter.welch.spoiled} stretches hold samples that are no numbers: not used."
        yield SweepFault(code="bad-sample", text=text)
    if meter.full > _OVERLOAD_PART * meter.read:
        text = f"{meter.full / meter.read:.2%} of the samples are at full scale: the receiver was overloaded."
        yield SweepFault(code="overload", text=text)


class _Reader:
    """Gives bytes of a stream by their place in it; the last `trailing` bytes are no samples."""

    def __init__(self, blocks: Iterable[bytes], trailing: int) -> None:
        self._blocks = iter(blocks)
        self._trailing = trailing
        self._held = b""
        self._at = 0

    def _more(self) -> bool:
        block = next(self._blocks, b"")
        self._held += block
        return bool(block)

    def _ready(self) -> int:
        return max(0, len(self._held) - self._trailing)

    def skip_to(self, place: int) -> None:
        """Leave out everything before a place."""
        while self._at < place:
            step = min(self._ready(), place - self._at)
            self._held, self._at = self._held[step:], self._at + step
            if self._at < place and not self._more():
                return

    def pieces(self, until: int | None, size: int) -> Iterator[bytes]:
        """Yield whole samples of `size` bytes from here to a place, or to the end."""
        while True:
            ready = self._ready() if until is None else min(self._ready(), until - self._at)
            whole = ready - ready % size
            if whole > 0:
                piece, self._held, self._at = self._held[:whole], self._held[whole:], self._at + whole
                yield piece
            if (until is not None and until - self._at < size) or not self._more():
                return

    def finish(self) -> int:
        """Read to the end, and return how many bytes were left over before the rest was read."""
        left = self._ready()
        while self._more():
            self._held = b""
        return left

"""Sound as a WAV file of 24-bit PCM in mono."""

from __future__ import annotations

import struct

import numpy as np
import numpy.typing as npt

__all__ = ["wav"]

_STEPS = 2**23


def wav(samples: npt.NDArray[np.float64], *, rate_hz: int) -> bytes:
    """Return samples as a WAV file; 1.0 is full scale, and what is above it is cut off."""
    whole = np.clip(np.rint(samples * _STEPS), -_STEPS, _STEPS - 1).astype("<i4")
    data = whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    odd = b"\0" * (len(data) % 2)
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, rate_hz, 3 * rate_hz, 3, 24)
    body = b"WAVE" + form + struct.pack("<4sI", b"data", len(data)) + data + odd
    return struct.pack("<4sI", b"RIFF", len(body)) + body

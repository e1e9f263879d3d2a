"""Memory of reading a long sweep log minus that of a short one: `python -m benchmarks.sweep_memory [LONG_MB SHORT_MB]`.

Each log is written to a temporary file and read in a process of its own, which reports the most memory it ever held.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

__all__ = ["megabytes_a_second", "most_memory_mb", "write_log"]

_HOPS = 80
_BINS = 240
_BIN_HZ = 10_000
_CHILD = (
    "import resource, sys; from bandwright import readers; readers.read(sys.argv[1]); "
    "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
)
_KIB_PER_MB = 1000 / 1.024


def write_log(path: Path, megabytes: float) -> None:
    """Write an rtl_power log of about that size: 470-662 MHz in bins of 10 kHz, one sweep after the other."""
    rng = np.random.default_rng(1)
    sweeps = [_sweep(rng) for _ in range(4)]
    with path.open("wb") as file:
        count = 0
        while file.tell() < megabytes * 1e6:
            file.write(sweeps[count % len(sweeps)])
            count += 1


def _sweep(rng: np.random.Generator) -> bytes:
    rows = []
    for hop in range(_HOPS):
        low = 470_000_000 + hop * _BINS * _BIN_HZ
        levels = ", ".join(f"{level:.2f}" for level in rng.normal(-60, 4, _BINS + 1).tolist())
        rows.append(f"2027-05-14, 09:00:00, {low}, {low + _BINS * _BIN_HZ}, {_BIN_HZ}.00, 1, {levels}\n")
    return "".join(rows).encode()


def most_memory_mb(megabytes: float) -> float:
    """Return the most memory in MB that a process held while it read a log of that size."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "log.csv"
        write_log(log, megabytes)
        done = subprocess.run([sys.executable, "-c", _CHILD, str(log)], capture_output=True, text=True, check=True)
    scale = 1e6 if sys.platform == "darwin" else _KIB_PER_MB  # bytes there, KiB elsewhere
    return int(done.stdout) / scale


def megabytes_a_second(megabytes: float) -> float:
    """Return how fast a log of that size is read, the first reading not counted."""
    from bandwright import readers

    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "log.csv"
        write_log(log, megabytes)
        readers.read(log)
        start = time.perf_counter()
        readers.read(log)
        return log.stat().st_size / 1e6 / (time.perf_counter() - start)


def main() -> None:
    """Print memory at both sizes and the difference."""
    long, short = (float(word) for word in (*sys.argv[1:3], "1000", "100")[:2])
    at_long, at_short = most_memory_mb(long), most_memory_mb(short)
    print(f"{long:g} MB log: {at_long:.1f} MB; {short:g} MB log: {at_short:.1f} MB; more: {at_long - at_short:.1f} MB")


if __name__ == "__main__":
    main()

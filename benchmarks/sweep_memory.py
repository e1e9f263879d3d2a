"""Memory of reading a long sweep log minus that of a short one: `python -m benchmarks.sweep_memory [LONG_MB SHORT_MB]`.

Each log is written to a temporary file and read in a process of its own, which reports the most memory it ever held.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

__all__ = ["megabytes_a_second", "most_memory_mb", "times_polars", "write_interleaved_log", "write_log"]

_HOPS = 80
_BINS = 240
_BIN_HZ = 10_000
_CHILD = (
    "import resource, sys; from bandwright import readers; readers.read(sys.argv[1]); "
    "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
)
_OURS = """
import sys, tempfile, time
from pathlib import Path
from bandwright import readers
with open(sys.argv[1], "rb") as log, tempfile.TemporaryDirectory() as folder:
    start = Path(folder) / "start.csv"
    start.write_bytes(log.read(12_000_000))
    readers.read(start)  # loads the compiled code
began = time.process_time()
readers.read(sys.argv[1])
print(time.process_time() - began)
"""
_POLARS = """
import sys, time
import polars as pl
began = time.process_time()
table = pl.read_csv(sys.argv[1], has_header=False, infer_schema=False)
table = table.with_columns(pl.all().cast(pl.Float64))
print(time.process_time() - began)
"""
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


def write_interleaved_log(path: Path, megabytes: float) -> None:
    """Write a hackrf_sweep log of about that size: 0-1600 MHz in hops of 5 MHz out of order, 100 kHz bins."""
    rng = np.random.default_rng(1)
    with path.open("wb") as file:
        sweep = 0
        while file.tell() < megabytes * 1e6:
            if sweep < 4:
                rows = [_interleaved(low, rng) for low in range(0, 1_600_000_000, 20_000_000)]
                parts = "".join(rows).splitlines(keepends=True)
            stamp = f"2027-05-14, 09:{sweep // 60 % 60:02d}:{sweep % 60:02d}.250000, "
            file.write("".join(stamp + part for part in parts).encode())
            sweep += 1


def _interleaved(start: int, rng: np.random.Generator) -> str:
    rows = ""
    for low in (start, start + 10_000_000, start + 5_000_000, start + 15_000_000):
        levels = ", ".join(f"{level:.2f}" for level in rng.normal(-60, 4, 50).tolist())
        rows += f"{low}, {low + 5_000_000}, 100000.00, 200, {levels}\n"
    return rows


def most_memory_mb(megabytes: float) -> float:
    """Return the most memory in MB that a process held while it read a log of that size."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "log.csv"
        write_log(log, megabytes)
        done = subprocess.run([sys.executable, "-c", _CHILD, str(log)], capture_output=True, text=True, check=True)
    scale = 1e6 if sys.platform == "darwin" else _KIB_PER_MB  # bytes there, KiB elsewhere
    return int(done.stdout) / scale


def _child_s(code: str, path: Path, **environment: str) -> float:
    """Return the seconds of one core that a process reports to have used for its work on a file."""
    command = [sys.executable, "-c", code, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=os.environ | environment)
    return float(done.stdout)


def megabytes_a_second(megabytes: float, write: Callable[[Path, float], None] = write_log) -> float:
    """Return how many MB of a log of that size one core reads in a second; loading the program is not counted."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "log.csv"
        write(log, megabytes)
        return log.stat().st_size / 1e6 / _child_s(_OURS, log)


def times_polars(megabytes: float) -> float | None:
    """Return how many times as long as polars we take for files of that size; None where polars is not installed.

    Polars reads a rectangular file of the same numbers without dates and spaces as text, and casts it to floating-point
    numbers, with one thread; we also find the sweeps, integrate, count levels and keep a waterfall. Both in processes
    of their own, in seconds of a core, the best of three.
    """
    if importlib.util.find_spec("polars") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        log, table = Path(folder) / "log.csv", Path(folder) / "table.csv"
        write_log(log, megabytes)
        _write_table(table, megabytes)
        ours = min(_child_s(_OURS, log) / log.stat().st_size for _ in range(3))
        theirs = min(_child_s(_POLARS, table, POLARS_MAX_THREADS="1") / table.stat().st_size for _ in range(3))
        return ours / theirs


def _write_table(path: Path, megabytes: float) -> None:
    rng = np.random.default_rng(1)
    rows = "".join(
        ",".join(f"{level:.2f}" for level in rng.normal(-60, 4, _BINS + 1).tolist()) + "\n" for _ in range(_HOPS)
    ).encode()
    with path.open("wb") as file:
        while file.tell() < megabytes * 1e6:
            file.write(rows)


def main() -> None:
    """Print memory at both sizes and the difference."""
    long, short = (float(word) for word in (*sys.argv[1:3], "1000", "100")[:2])
    at_long, at_short = most_memory_mb(long), most_memory_mb(short)
    print(f"{long:g} MB log: {at_long:.1f} MB; {short:g} MB log: {at_short:.1f} MB; more: {at_long - at_short:.1f} MB")


if __name__ == "__main__":
    main()

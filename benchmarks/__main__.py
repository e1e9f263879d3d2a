"""Run all benchmarks, or those whose name holds a given word, and print one table: `python -m benchmarks [WORD]`.

Times are told as measured, and as multiples of the reference kernel. The promise stands as it was made, on a machine
that takes 40 ms for that kernel; "x pace" is how many times slower the machine works just now, and a promised time is
kept when the measured one is below the promised one times that. `benchmarks.pace` has the arithmetic.
"""

from __future__ import annotations

import importlib
import pkgutil
import platform
import sys
from collections.abc import Iterator

import benchmarks
from benchmarks.measure import Benchmark, Figure
from benchmarks.pace import PROMISED_AT_S, Judged, judge, measured, timed
from benchmarks.reference import reference_s

_HEAD = (
    f"A promise is that of a machine which takes {PROMISED_AT_S * 1e3:.0f} ms for the reference kernel; a promised "
    f"time counts times what\nthe kernel takes here, mean of right before and right after, over "
    f"{PROMISED_AT_S * 1e3:.0f} ms (x pace)."
)

_WIDTHS = (14, 13, 14, 16, 8)


def main() -> None:
    """Print the table, a line as soon as it is known."""
    word = sys.argv[1] if len(sys.argv) > 1 else ""
    print(f"Python {platform.python_version()}, {platform.system()} {platform.machine()}")
    print(f"reference kernel: {reference_s() * 1e3:.1f} ms (plain Python, benchmarks/reference.py)\n{_HEAD}\n")
    print(_line("benchmark", "measured", "x reference", "first call +", "promised", "x pace", ""))
    for item in _all():
        if word in item.name:
            print(_timed(item) if isinstance(item, Benchmark) else _measured(item), flush=True)


def _all() -> Iterator[Benchmark | Figure]:
    for module in pkgutil.iter_modules(benchmarks.__path__):
        if module.name.startswith("bench_"):
            yield from importlib.import_module(f"benchmarks.{module.name}").benchmarks()


def _timed(benchmark: Benchmark) -> str:
    timing = timed(benchmark)
    found = judge(timing.median_s, unit="s", reference=timing.reference_s, limit=benchmark.limit_s)
    promised = "" if benchmark.limit_s is None else f"< {_duration(benchmark.limit_s)}"
    return _line(
        benchmark.name,
        _duration(timing.median_s),
        _number(found.multiple),
        _duration(timing.first_extra_s),
        promised,
        *_verdict(found),
    )


def _measured(figure: Figure) -> str:
    reading = measured(figure)
    if reading is None:
        return f"{figure.name:<70}  not measured: {figure.without}"
    found = judge(
        reading.value,
        unit=figure.unit,
        reference=reading.reference_s,
        limit=figure.limit,
        at_least=figure.at_least,
    )
    promised = "" if figure.limit is None else f"{'>' if figure.at_least else '<'} {figure.limit:g} {figure.unit}"
    value = f"{reading.value:.4g} {figure.unit}"
    return _line(figure.name, value, _number(found.multiple), "", promised, *_verdict(found))


def _line(name: str, *columns: str) -> str:
    *numbers, verdict = columns
    right = "".join(f"{number:>{width}}" for number, width in zip(numbers, _WIDTHS, strict=True))
    return f"{name:<70}{right}  {verdict}".rstrip()


def _verdict(found: Judged) -> tuple[str, str]:
    """Return the pace, where it counts, and whether the promise is kept at it."""
    if found.kept is None:
        return "", ""
    return "" if found.scale is None else f"{found.scale:.2f}", "kept" if found.kept else "MISSED"


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.3g}"


def _duration(seconds: float) -> str:
    return f"{seconds * 1e3:.3g} ms" if seconds < 1 else f"{seconds:.3g} s"


if __name__ == "__main__":
    main()

"""Run all benchmarks, or those whose name holds a given word, and print one table: `python -m benchmarks [WORD]`."""

from __future__ import annotations

import importlib
import pkgutil
import platform
import sys
from collections.abc import Iterator

import benchmarks
from benchmarks.measure import Benchmark, Figure, time_it
from benchmarks.reference import reference_s


def main() -> None:
    """Print the table, a line as soon as it is known."""
    word = sys.argv[1] if len(sys.argv) > 1 else ""
    reference = reference_s()
    print(f"Python {platform.python_version()}, {platform.system()} {platform.machine()}")
    print(f"reference kernel: {reference * 1e3:.1f} ms (plain Python, benchmarks/reference.py)\n")
    print(f"{'benchmark':<70}{'median':>12}{'x reference':>13}{'first call +':>14}{'promised':>14}")
    for item in _all():
        if word in item.name:
            line = _timed(item, reference) if isinstance(item, Benchmark) else _measured(item)
            print(line, flush=True)


def _all() -> Iterator[Benchmark | Figure]:
    for module in pkgutil.iter_modules(benchmarks.__path__):
        if module.name.startswith("bench_"):
            yield from importlib.import_module(f"benchmarks.{module.name}").benchmarks()


def _timed(benchmark: Benchmark, reference: float) -> str:
    timing = time_it(benchmark)
    limit = benchmark.limit_s
    verdict = "" if limit is None else f"{_mark(timing.median_s < limit)} < {_duration(limit)}"
    multiple = f"{timing.median_s / reference:.3g}"
    return (
        f"{benchmark.name:<70}{_duration(timing.median_s):>12}{multiple:>13}"
        f"{_duration(timing.first_extra_s):>14}{verdict:>14}"
    )


def _measured(figure: Figure) -> str:
    value = figure.measure()
    if value is None:
        return f"{figure.name:<70}  not measured: {figure.without}"
    sign = ">" if figure.at_least else "<"
    kept = figure.limit is None or (value >= figure.limit if figure.at_least else value < figure.limit)
    verdict = "" if figure.limit is None else f"{_mark(kept)} {sign} {figure.limit:g}"
    return f"{figure.name:<70}{f'{value:.4g} {figure.unit}':>12}{'':>13}{'':>14}{verdict:>14}"


def _mark(kept: bool) -> str:
    return "kept" if kept else "MISSED"


def _duration(seconds: float) -> str:
    return f"{seconds * 1e3:.3g} ms" if seconds < 1 else f"{seconds:.3g} s"


if __name__ == "__main__":
    main()

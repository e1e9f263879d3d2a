"""What the analysis finds in recordings made by others, against labels by hand: `python -m benchmarks.air_recordings`.

The recordings are no part of this project: the environment variable BANDWRIGHT_RECORDINGS names their folder.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bandwright import readers
from bandwright.core.air import AirReport, describe_air
from bandwright.core.artefacts import without_overload
from bandwright.units import HZ_PER_MHZ

__all__ = ["Compared", "compared", "labels"]

_LABELS = Path(__file__).parents[1] / "tests" / "authorities" / "recordings_labelled.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Labels of one recording: those found, those missed, and carriers that are neither sure nor doubtful, in MHz."""

    found: tuple[float, ...]
    missed: tuple[float, ...]
    false: tuple[float, ...]
    quiet: bool


def labels() -> list[dict[str, Any]]:
    """Return the labels of all recordings."""
    return list(json.loads(_LABELS.read_text())["recordings"])


def compared(label: dict[str, Any], path: Path) -> Compared:
    """Return what is found in a recording against its labels."""
    report = describe_air(without_overload(readers.read(path)))
    sure, doubtful = label["sure"], label["doubtful"]
    found = [one["mhz"] for one in sure if any(_meets(one, *stretch) for stretch in _stretches(report))]
    return Compared(
        found=tuple(found),
        missed=tuple(one["mhz"] for one in sure if one["mhz"] not in found),
        false=tuple(
            round((low + high) / 2, 4)
            for low, high in _stretches(report)
            if not any(_meets(one, low, high) for one in (*sure, *doubtful))
        ),
        quiet=bool(report.quiet),
    )


def _stretches(report: AirReport) -> Iterator[tuple[float, float]]:
    for one in report.carriers:
        middle, half = one.centre_hz / HZ_PER_MHZ, one.width_hz / 2 / HZ_PER_MHZ
        yield middle - half, middle + half


def _meets(label: dict[str, Any], low_mhz: float, high_mhz: float) -> bool:
    reach = label["tolerance_khz"] / 1000
    return bool(low_mhz - reach <= label["mhz"] <= high_mhz + reach)


def _lines(folder: Path) -> Iterable[str]:
    for label in labels():
        path = folder / label["file"]
        if not path.exists():
            yield f"{label['file']:<42} not here"
            continue
        result = compared(label, path)
        yield (
            f"{label['file']:<42} found {len(result.found)} of {len(label['sure'])}, missed {list(result.missed)}, "
            f"false {list(result.false)}, quiet stretches: {result.quiet} (labelled {label['quiet']})"
        )


def main() -> None:
    """Print a line for each recording."""
    folder = os.environ.get("BANDWRIGHT_RECORDINGS")
    if folder is None:
        print("BANDWRIGHT_RECORDINGS names no folder")
        return
    for line in _lines(Path(folder)):
        print(line)


if __name__ == "__main__":
    main()

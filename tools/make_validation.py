"""Make docs/validation.md from the authority records of a test run.

`python -m tools.make_validation --records FILE [--check]`. With `--check` nothing is written; it ends with exit code 1
where the run recorded a check that the page does not show, or shows in another way. A row of the page that the run
did not record is let be: a test may be skipped where its recording is not at hand.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import Any

from tools.generated import ROOT, write_or_check

PAGE = ROOT / "docs" / "validation.md"
LONGEST = 48
# The tests of the fixture itself record numbers that say nothing about the program.
OF_THE_FIXTURE_ITSELF = "tests/test_authority.py"

HEADINGS = {
    "published": "Against published values",
    "library": "Against general-purpose libraries",
    "arithmetic": "Against definitions and brute force",
    "common practice": "Against common practice",
    "memory": "Against values from memory",
}
NOTES = {
    "published": "Standards, papers, handbook tables and worked examples, each named.",
    "library": "The same quantity from a library that knows nothing of this program.",
    "arithmetic": "Definitions, whole-number arithmetic and plain enumeration, with nothing of this program.",
    "common practice": "No document is the source; people of the trade do it this way.",
    "memory": "The document was not at hand: to be looked up before anybody relies on the number.",
}
INTRODUCTION = """# How we know it is right

Every computation is compared with something outside the project. This page is made from a run of the tests by
`make docs`; each row is one check that passed, with the largest difference where a test made several."""


def main() -> None:
    """Write the page or check it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=Path, required=True)
    parser.add_argument("--check", action="store_true")
    given = parser.parse_args()
    text = page(read(given.records))
    if given.check:
        check(text)
    else:
        write_or_check({PAGE: text}, check=False)


def read(records: Path) -> list[dict[str, Any]]:
    """Return the rows of a run."""
    rows = [json.loads(line) for line in records.read_text(encoding="utf-8").splitlines()]
    return [row for row in rows if not row["test"].startswith(OF_THE_FIXTURE_ITSELF)]


def check(text: str) -> None:
    """End with exit code 1 where a row of this run is not on the page."""
    shown = set(PAGE.read_text(encoding="utf-8").splitlines()) if PAGE.exists() else set()
    lost = [line for line in text.splitlines() if line not in shown]
    if lost:
        sys.exit("docs/validation.md is out of date; run `make docs`. It lacks:\n" + "\n".join(lost))


def page(rows: list[dict[str, Any]]) -> str:
    """Return the whole page, sorted, the same for the same rows."""
    parts = [INTRODUCTION]
    for kind, heading in HEADINGS.items():
        lines = sorted({line(row) for row in rows if row["kind"] == kind})
        if lines:
            head = "| computation | source | ours | theirs | tolerance |\n|---|---|--:|--:|--:|"
            parts.append(f"## {heading}\n\n{NOTES[kind]}\n\n{head}\n" + "\n".join(lines))
    return "\n\n".join(parts) + "\n"


def line(row: dict[str, Any]) -> str:
    """Return one row of the table."""
    unit = f" {row['unit']}" if row["unit"] else ""
    ours = _shown(_to_the_tolerance(row["ours"], row["tolerance"]))
    cells = (row["computation"], row["source"], f"{ours}{unit}", f"{_shown(row['theirs'])}{unit}")
    tolerance = f"{row['tolerance']:g}{unit}" if row["tolerance"] else "exact"
    return "| " + " | ".join(_cell(cell) for cell in (*cells, tolerance)) + " |"


def _to_the_tolerance(value: object, tolerance: float) -> object:
    """Round to a tenth of the tolerance: what lies below is rounding noise and differs between machines."""
    if isinstance(value, list):
        return [_to_the_tolerance(item, tolerance) for item in value]
    if isinstance(value, float) and tolerance > 0:
        return round(value, 1 - math.floor(math.log10(tolerance))) + 0.0
    return value


def _shown(value: object) -> str:
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "none"}[value]
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list):
        text = ", ".join(_shown(item) for item in value)
        return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}… ({len(value)} values)"
    if isinstance(value, dict):
        return _shown([f"{key}: {_shown(item)}" for key, item in value.items()])
    return str(value)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


if __name__ == "__main__":
    main()

"""What all tests share: the book of authorities, which becomes docs/validation.md."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from decimal import Decimal
from numbers import Real
from pathlib import Path
from typing import Any

import pytest

KINDS = ("published", "library", "arithmetic", "common practice", "memory")

BOOK = pytest.StashKey[dict[tuple[str, str, str], dict[str, Any]]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--authority-records",
        metavar="FILE",
        default=os.environ.get("BANDWRIGHT_AUTHORITY_RECORDS"),
        help="write one JSON line for each check against an outside authority to FILE (for docs/validation.md)",
    )


def pytest_configure(config: pytest.Config) -> None:
    os.environ.pop("COLUMNS", None)  # how wide a text is does not hang on who runs the tests, and in how many processes
    config.stash[BOOK] = {}


def pytest_sessionfinish(session: pytest.Session) -> None:
    output = getattr(session.config, "workeroutput", None)
    if output is not None:  # one of several processes: the one that started them writes for all
        output["authorities"] = json.dumps(list(session.config.stash[BOOK].items()))
        return
    target = session.config.getoption("--authority-records")
    if not target:
        return
    path = Path(target)
    path.parent.mkdir(parents=True, exist_ok=True)
    rows = (json.dumps(row, ensure_ascii=False) for _, row in sorted(session.config.stash[BOOK].items()))
    path.write_text("".join(f"{row}\n" for row in rows), encoding="utf-8")


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Take in what one of several processes recorded; all tests of a file run in one of them."""
    book = node.config.stash[BOOK]
    book.update((tuple(key), row) for key, row in json.loads(node.workeroutput.get("authorities", "[]")))


@pytest.fixture
def authority(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Compare a value of ours with one from outside the project, and record both for docs/validation.md.

    `authority(computation, source=..., ours=..., theirs=..., tolerance=0, kind="published", unit="")` asserts that
    the difference is at most `tolerance` for numbers (also item by item in sequences), and equality for anything
    else. Called more than once with the same computation and source in one test, the row with the largest
    difference is kept, and the number of checks.
    """
    book = request.config.stash[BOOK]

    def compare(
        computation: str,
        *,
        source: str,
        ours: Any,
        theirs: Any,
        tolerance: float = 0,
        kind: str = "published",
        unit: str = "",
    ) -> None:
        assert kind in KINDS, f"kind {kind!r} is not known; known: {', '.join(KINDS)}"
        assert computation, "name the computation"
        assert source, "name the source"
        ours, theirs = plain(ours), plain(theirs)
        off = difference(ours, theirs)
        assert off <= tolerance, (
            f"{computation}: ours is {ours!r}, {source} says {theirs!r}; "
            f"they differ by {off:g}, allowed is {tolerance:g}"
        )
        test = request.node.nodeid.partition("[")[0]
        row = book.setdefault((computation, source, test), {"checks": 0, "difference": -1.0})
        row["checks"] += 1
        if off > row["difference"]:
            row.update(computation=computation, source=source, ours=ours, theirs=theirs, tolerance=float(tolerance))
            row.update(difference=off, kind=kind, unit=unit, test=test)

    return compare


@pytest.fixture(scope="session")
def authority_table() -> Callable[[str], Any]:
    """Return a loader of the tables in tests/authorities: `authority_table("golomb_rulers")`."""
    folder = Path(__file__).parent / "authorities"
    return lambda name: json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))


def plain(value: Any) -> Any:
    """Return the value as plain numbers, text and lists: what JSON can hold and `==` can judge."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, (bool, str, int, float)) or value is None:
        return value
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, (set, frozenset)):
        return sorted((plain(item) for item in value), key=repr)
    if isinstance(value, (Real, Decimal)):
        whole = int(value)
        return whole if whole == value else float(value)
    return str(value)


def difference(ours: Any, theirs: Any) -> float:
    """Return how far two plain values are apart; infinite where they cannot be compared or one is no number."""
    if ours == theirs:
        return 0.0
    if isinstance(ours, list) and isinstance(theirs, list):
        if len(ours) != len(theirs):
            return float("inf")
        return max(difference(one, two) for one, two in zip(ours, theirs, strict=True))
    if isinstance(ours, bool) or isinstance(theirs, bool):
        return float("inf")
    if not (isinstance(ours, (int, float)) and isinstance(theirs, (int, float))):
        return float("inf")
    off = abs(ours - theirs)
    return float(off) if off == off else float("inf")  # noqa: PLR0124 - NaN is no agreement

"""The job file: opening one of 300 links with its brief read and checked, and one change on the disk."""

from __future__ import annotations

import itertools
import tempfile
from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path

from bandwright.service.desk import Desk
from bandwright.store import Draft, JobFile
from benchmarks.measure import Benchmark

__all__ = ["benchmarks"]

_LINKS = 300
_WHO = "Mara"


def benchmarks() -> Sequence[Benchmark]:
    """Return what is measured."""
    return (
        Benchmark(name=f"job: opening one of {_LINKS} links, with its brief read", prepare=_opening, limit_s=0.3),
        Benchmark(name=f"job: one change among {_LINKS} links, forced to disk", prepare=_changing, rounds=51),
        Benchmark(name=f"job: one undo among {_LINKS} links, forced to disk", prepare=_undoing, rounds=51),
    )


def _opening() -> Callable[[], object]:
    with _job() as job:
        path = job.path

    def work() -> None:
        with Desk.open(path) as desk:
            desk.job()

    return work


def _changing() -> Callable[[], object]:
    return _renaming(_job())


def _undoing() -> Callable[[], object]:
    job = _job()
    rename = _renaming(job)
    for _ in range(60):
        rename()
    return lambda: job.undo(who=_WHO)


def _renaming(job: JobFile) -> Callable[[], object]:
    links, numbers = job.entries("link"), itertools.count()

    def work() -> None:
        number = next(numbers)
        link = links[number % len(links)]
        renamed = {**link.value, "name": f"Understudy {number}"}
        job.change(lambda draft: draft.set(link.uid, renamed, id=link.id), who=_WHO, what=f"Renamed {link.id}")

    return work


def _job() -> JobFile:
    path = Path(tempfile.mkdtemp(prefix="bandwright-bench-")) / "quay.bwjob"
    return JobFile.create(path, _fill, who=_WHO, what="Made this job")


def _fill(draft: Draft) -> None:
    draft.add("job", {"title": "Lantern Quay"})
    window = [Decimal("470.5"), Decimal("693.5")]
    power = {"any_mw": 50, "kind": "erp"}
    draft.add("permit", {"id": "shared", "state": "granted", "windows_mhz": [window], "max_power": power}, id="shared")
    tuning = {"low_mhz": Decimal("470.1"), "high_mhz": Decimal("693.9"), "step_khz": 25}
    radio = {"id": "heron", "tuning": [tuning], "defaults": "analogue-fm-wide"}
    draft.add("radio", radio, id="heron")
    for number in range(_LINKS):
        name = f"L{number:03d}"
        draft.add("link", {"id": name, "name": f"Person {number}", "radio": "heron", "worn": "body"}, id=name)

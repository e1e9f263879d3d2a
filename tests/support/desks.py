"""Open jobs for tests: made of a brief, with a clock that stands still."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from brief_examples import SAMPLE

from bandwright.documents.brief import parse_toml
from bandwright.service.context import Context
from bandwright.service.desk import Desk
from bandwright.service.job import create_job, fill
from bandwright.service.job_plans import plan_in_force
from bandwright.service.job_runs import run_plan

__all__ = ["NOON", "context", "desk_of", "entry_named", "fault_at", "planned_desk", "revision", "sweep_csv"]

NOON = datetime(2027, 5, 14, 12, 0, tzinfo=UTC)


def context(now: datetime = NOON, **more) -> Context:
    return Context(now=lambda: now, **more)


def desk_of(folder: Path, brief: str = SAMPLE, *, name: str = "quay.bwjob", now: datetime = NOON, **more) -> Desk:
    """Return an open job with this brief in it."""
    tables, _ = parse_toml(brief, file="brief.toml")
    path = folder / name
    create_job(context(now), path, who="Ines", what="Made for a test", make=lambda draft: fill(draft, tables))
    return Desk.open(path, context=context(now), **more)


def entry_named(desk: Desk, name: str):
    found = desk.file.entry_named(name)
    assert found is not None, name
    return found


def revision(desk: Desk, name: str) -> int:
    return entry_named(desk, name).revision


def fault_at(cell) -> tuple[str, str | None]:
    """Return code and field of a fault at a cell."""
    return cell.fault.code, cell.field


def sweep_csv(*, low_mhz: int = 606, high_mhz: int = 614, loud_mhz: float | None = None) -> bytes:
    """Return a sweep as plain columns, in steps of 25 kHz: noise, and one loud carrier."""
    rng = np.random.default_rng(7)
    mhz = np.arange(low_mhz * 1000, high_mhz * 1000, 25) / 1000
    level = -100 + rng.normal(0, 0.4, mhz.size)
    if loud_mhz is not None:
        level[np.abs(mhz - loud_mhz) < 0.1] = -50
    rows = "".join(f"{hz:.3f},{db:.2f}\n" for hz, db in zip(mhz, level, strict=True))
    return f"Frequency (MHz),Level (dBm)\n{rows}".encode()


def planned_desk(folder: Path, brief: str = SAMPLE, **more) -> Desk:
    """Return an open job that has a plan in force."""
    desk = desk_of(folder, brief, **more)
    run_plan(desk, who="Ines")
    assert plan_in_force(desk) is not None
    return desk

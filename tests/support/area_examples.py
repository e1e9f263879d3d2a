"""The brief of the guide that has a plan of its place, for tests of what is judged on it."""

from __future__ import annotations

from pathlib import Path

from brief_examples import job_of

from bandwright.core.job import Job
from bandwright.core.reach.area import Area

HALL = (Path(__file__).parents[2] / "docs" / "lantern-hall.toml").read_text(encoding="utf-8")


def job_of_hall(text: str) -> Job:
    """Return the job of a brief of the hall."""
    return job_of(text)


def area_of(text: str) -> Area:
    """Return the plan of a brief that has one."""
    area = job_of(text).area
    assert area is not None
    return area

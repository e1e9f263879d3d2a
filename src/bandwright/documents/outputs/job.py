"""What `job` and `report` answer: the files they wrote, and what is wrong inside a job file."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from bandwright.documents.outputs.common import PROGRAM, Model

__all__ = ["JobCheckDocument", "JobCounts", "JobDocument", "PartModel", "ReportDocument"]


class JobDocument(Model):
    """The file or folder that `job new`, `import`, `export` or `compact` wrote.

    `files` and `left_out` are of an export: what is in the folder, and what a newer program keeps in a way not known
    here. `sweeps_dropped`, `before_bytes` and `after_bytes` are of making a file small. What another command told is
    absent.
    """

    schema_: Literal["bandwright.job/1"] = Field(default="bandwright.job/1", alias="schema")
    program: str = PROGRAM
    written: str
    files: tuple[str, ...] | None = None
    left_out: tuple[str, ...] | None = None
    sweeps_dropped: int | None = None
    before_bytes: int | None = None
    after_bytes: int | None = None

    def text(self) -> str:
        """Return it as JSON, without what this command does not tell."""
        return self.model_dump_json(by_alias=True, exclude_none=True)


class JobCounts(Model):
    """How much a job file holds; `entries` are the tables of its brief, `events` what its history tells."""

    entries: int
    sweeps: int
    plans: int
    versions: int
    notes: int
    events: int


class JobCheckDocument(Model):
    """Whether a job file is whole: `problems` are damage; `faults` only keep its brief from being planned."""

    schema_: Literal["bandwright.job-check/1"] = Field(default="bandwright.job-check/1", alias="schema")
    program: str = PROGRAM
    file: str
    title: str
    ok: bool
    problems: tuple[str, ...]
    faults: tuple[str, ...]
    counts: JobCounts


class PartModel(Model):
    """One file inside the archive, and what it is in a sentence."""

    name: str
    bytes: int
    what: str


class ReportDocument(Model):
    """The archive that `report` wrote, what is inside, and in a sentence what was left out."""

    schema_: Literal["bandwright.report/1"] = Field(default="bandwright.report/1", alias="schema")
    program: str = PROGRAM
    file: str
    contents: tuple[PartModel, ...]
    withheld: str

"""The job file as a whole: made new, made of the demonstration, looked through, and made small."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from bandwright import exact_json
from bandwright.core.fold import DEFAULT_BANDWIDTHS_HZ
from bandwright.core.job import Job
from bandwright.documents.brief import ALWAYS, DEEPEST, parse_toml, read_brief, read_parsed, tables_as_toml_gives
from bandwright.documents.outputs import JobCheckDocument, JobCounts, JobDocument
from bandwright.documents.sweep_note import read_sweep_note
from bandwright.errors import InputError
from bandwright.reference.demo import DEMO_TITLE, demo_air, demo_brief_text
from bandwright.service.context import Context, Progress
from bandwright.service.demo import SWEEP_NAME, sweep_lines
from bandwright.service.inputs import Beside, bandwidths_of, library_of, load_sweep, read_text
from bandwright.service.job_brief import plain, read_entries
from bandwright.service.job_sweeps import plain_name, read_facts
from bandwright.service.measured_parts import with_points
from bandwright.service.newfile import check_new_file
from bandwright.store import Draft, JobFile

__all__ = [
    "JobChecked",
    "JobCompacted",
    "check_job",
    "compact_job",
    "create_job",
    "fill",
    "import_brief",
    "new_demo_job",
    "new_job",
    "written_document",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobChecked:
    """What is wrong inside a job file, what keeps its brief from being planned, and how much it holds."""

    file: str
    title: str
    problems: tuple[str, ...]
    faults: tuple[str, ...]
    counts: Mapping[str, int]

    @property
    def exit_code(self) -> int:
        """1 when the file is not whole, else 0: an unfinished brief is no damage."""
        return 1 if self.problems else 0

    def text(self) -> str:
        """Return it for a terminal."""
        counts = ", ".join(f"{what} {count}" for what, count in self.counts.items())
        whole = [f"DAMAGED: {problem}" for problem in self.problems] or ["The file is whole."]
        brief = [f"The brief cannot be planned yet: {fault}" for fault in self.faults] or ["The brief can be planned."]
        return "\n".join([f"{self.file}: {self.title}", f"It holds: {counts}.", *whole, *brief])

    def document(self) -> JobCheckDocument:
        """Return it as the JSON document."""
        return JobCheckDocument(
            file=self.file,
            title=self.title,
            ok=not self.problems,
            problems=self.problems,
            faults=self.faults,
            counts=JobCounts(**self.counts),
        )


def new_job(context: Context, path: Path, *, who: str, title: str | None = None) -> None:
    """Make a job that holds no more than a title: everything else is filled in cell by cell.

    Raises
    ------
    InputError
        When the file is there already.
    MachineError
        When it cannot be written.
    """
    tables = {"job": {"title": title or path.stem}}
    create_job(context, path, who=who, what="Made a new job", make=lambda draft: fill(draft, tables))


def new_demo_job(context: Context, path: Path, *, who: str) -> None:
    """Make a job of the bundled, invented scenario, with the sweep over it."""
    context.progress(Progress(text="making the air of the demonstration"))
    tables, _ = parse_toml(demo_brief_text(), file=DEMO_TITLE)
    data = "".join(sweep_lines(demo_air())).encode()
    stated = {"own_transmitters": "off"}
    read = read_facts(context, SWEEP_NAME, data, stated, DEFAULT_BANDWIDTHS_HZ)

    def make(draft: Draft) -> None:
        fill(draft, tables)
        draft.add_sweep(SWEEP_NAME, data, {**stated, "read": read})
        draft.set_state("invented", True)

    create_job(context, path, who=who, what="Made a job of the invented demonstration", make=make)


def import_brief(context: Context, brief: Path, path: Path, *, who: str, sweeps: Sequence[Path] = ()) -> None:
    """Make a job of a brief, TOML or JSON, and of sweeps, each with what the note beside it states.

    Raises
    ------
    InputError
        With everything that is wrong with the brief or a sweep, or when the job file is there already.
    """
    tables, job = _read_any(context, brief)
    bandwidths = bandwidths_of(job)
    rows = [_brought(context, sweep, bandwidths) for sweep in sweeps]

    def make(draft: Draft) -> None:
        fill(draft, tables)
        for row in rows:
            draft.add_sweep(*row)

    create_job(context, path, who=who, what=f"Made of {brief.name}", make=make)


def _read_any(context: Context, brief: Path) -> tuple[Mapping[str, Any], Job]:
    """Return the tables of a brief in TOML or JSON, with points for files that it names, and the job that they are."""
    text, name, beside = read_text(brief, "brief"), str(brief), Beside(folder=brief.parent)
    library = replace(library_of(context), touchstone=beside.response)
    if brief.suffix.casefold() != ".json":
        job = read_brief(text, file=name, library=library)  # whose faults know their lines
        return with_points(parse_toml(text, file=name)[0], beside.response), job
    try:
        found = exact_json.loads(text, deepest=DEEPEST)
    except ValueError as error:
        raise InputError.single("not-json", f"this is no JSON: {error}.", file=name) from error
    if not isinstance(found, dict):
        raise InputError.single("not-a-brief", "a brief in JSON is one object with a list for each table.", file=name)
    tables = tables_as_toml_gives(found)
    reading = read_parsed(tables, file=name, library=library)
    if reading.job is None:
        raise InputError([item.fault for item in reading.faults])
    return with_points(tables, beside.response), reading.job


def _brought(context: Context, path: Path, bandwidths_hz: Sequence[int]) -> tuple[str, bytes, dict[str, Any]]:
    """Return a sweep file as a job keeps it: its name, its bytes, and what is known of it."""
    beside = path.with_name(f"{path.name}.toml")
    stated = {}
    if beside.is_file():
        text = read_text(beside, "note on a sweep")
        read_sweep_note(text, file=str(beside))
        stated = plain(parse_toml(text, file=str(beside))[0])
    load_sweep(context, path, bandwidths_hz=bandwidths_hz)  # refused in words, under its own name
    data, name = path.read_bytes(), plain_name(path.name)
    return name, data, {**stated, "read": read_facts(context, name, data, stated, bandwidths_hz)}


def create_job(context: Context, path: Path, *, who: str, what: str, make: Callable[[Draft], object]) -> None:
    """Make a job file of what `make` puts into it, whole or not at all; an existing file is never touched."""
    check_new_file(path, what="job", otherwise="another.bwjob", elsewhere=f"FOLDER/{path.name}")
    JobFile.create(path, make, who=who, what=what, now=context.now).close()


def fill(draft: Draft, tables: Mapping[str, Any]) -> None:
    """Put the tables of a brief into an empty job, in their order; [job] and [plan] are there in any case."""
    for kind, rows in {**{kind: {} for kind in ALWAYS}, **tables}.items():
        if kind == "bandwright":
            continue
        for row in _rows(rows):
            table = plain(row)
            draft.add(kind, table, id=table.get("id"))


def _rows(found: Any) -> Iterable[Mapping[str, Any]]:
    return found if isinstance(found, list) else [found]


def check_job(context: Context, path: Path) -> JobChecked:
    """Look through a job file: whether it is whole, and what its brief still lacks."""
    with JobFile.open(path, read_only=True, now=context.now) as file:
        brief = read_entries(file.entries(), seq=file.seq, file=str(path), library=library_of(context))
        titles = [row.value.get("title") for row in brief.entries if row.kind == "job"]
        return JobChecked(
            file=str(path),
            title=str(titles[0]) if titles and titles[0] else path.stem,
            problems=file.check(),
            faults=tuple(str(cell.fault) for cell in brief.faults),
            counts={
                "entries": len(brief.entries),
                "sweeps": len(file.sweeps()),
                "plans": len(file.plans()),
                "versions": len(file.versions()),
                "notes": len(file.notes()),
                "events": file.seq,
            },
        )


def written_document(path: Path) -> JobDocument:
    """Return the answer of a command that wrote a job file."""
    return JobDocument(written=str(path))


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCompacted:
    """A job file that was made small: how many sweeps went for good, and its size before and after, in bytes."""

    path: Path
    sweeps: int
    before_bytes: int
    after_bytes: int

    def document(self) -> JobDocument:
        """Return it as the JSON document."""
        return JobDocument(
            written=str(self.path),
            sweeps_dropped=self.sweeps,
            before_bytes=self.before_bytes,
            after_bytes=self.after_bytes,
        )


def compact_job(context: Context, path: Path, *, who: str, drop_removed: bool = False) -> JobCompacted:
    """Make a job file as small as it can be; with `drop_removed`, sweeps that were put aside go for good."""
    with JobFile.open(path, now=context.now) as file:
        found = file.compact(who=who, drop_removed=drop_removed)
    return JobCompacted(path=path, sweeps=found.sweeps, before_bytes=found.before_bytes, after_bytes=found.after_bytes)

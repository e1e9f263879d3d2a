"""A job file as a folder of plain files, and back: what it holds outlives this program.

The folder can be used as it is: commands take `brief.toml`, and the sweeps with the note beside each. `job.json` names
everything, holds what has no file of its own, and is written last; a job is made of the folder again from it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from bandwright import __version__, exact_json
from bandwright.core.fold import DEFAULT_BANDWIDTHS_HZ
from bandwright.documents.brief import brief_json, brief_toml
from bandwright.documents.job_export import (
    EntryRow,
    JobExport,
    NoteRow,
    PlanRow,
    StatementRow,
    SweepRow,
    VersionRow,
    check_version,
    read_job_export,
)
from bandwright.documents.outputs import JobDocument
from bandwright.documents.outputs.plan_back import read_plan_document
from bandwright.documents.sweep_note import read_stated, sweep_note_toml
from bandwright.errors import InputError, MachineError
from bandwright.service.context import Context
from bandwright.service.desk import Desk
from bandwright.service.inputs import read_text
from bandwright.service.job import create_job
from bandwright.service.job_brief import tables_of
from bandwright.service.job_plans import BROUGHT, CURRENT, plan_numbered
from bandwright.service.job_sweeps import plain_name, read_facts
from bandwright.service.kept import STATED
from bandwright.service.output import write_folder
from bandwright.store import Draft, JobFile, Note, Plan
from bandwright.store import Sweep as Row

__all__ = ["MANIFEST", "Exported", "export_job", "import_folder"]

T = TypeVar("T")

MANIFEST = "job.json"
"""The file that names everything in an exported folder."""

_OURS = re.compile(r"brief\.(toml|json)|events\.jsonl|job\.json|plan(-\d+)?\.json|version-\d+\.json|sweep-\d+-.+")
_PAGE = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """The folder that was written, the files in it, and what a newer program keeps in a way not known here."""

    folder: Path
    files: tuple[str, ...]
    left_out: tuple[str, ...] = ()

    def text(self) -> str:
        """Return it for a terminal."""
        lines = [f"Written to {self.folder}: {', '.join(self.files)}"]
        if self.left_out:
            lines.append(f"Left out, since a newer program wrote this file: {', '.join(self.left_out)}.")
        return "\n".join(lines)

    def document(self) -> JobDocument:
        """Return it as the JSON document."""
        return JobDocument(written=str(self.folder), files=self.files, left_out=self.left_out)


def export_job(context: Context, path: Path, folder: Path) -> Exported:
    """Write everything that a job file holds into a folder, all or nothing.

    `brief.toml` and `brief.json`; each sweep as it was given, with its note; every plan, the one in force as
    `plan.json`; every version; `events.jsonl` with one event on a line; `job.json` with the rest. People paired with
    the job, and their tokens, are not written. Of a file of a newer layout what can be read is written. Files of an
    earlier export into the folder that this one does not have go away; others stay.

    Raises
    ------
    InputError
        When it is no job file, or the folder is a file.
    MachineError
        When it cannot be written; what was there before is there still.
    """
    with Desk.open(path, context=context, read_only=True) as desk, desk.file.snapshot():
        found = _Found(desk)
        files = found.files()
    write_folder(folder, files, last=MANIFEST, ours=_is_ours, elsewhere="name another folder")
    return Exported(folder=folder, files=tuple(sorted(files)), left_out=tuple(found.left_out))


def _is_ours(name: str) -> bool:
    return _OURS.fullmatch(name) is not None


class _Found:
    """What there is to write; what cannot be read in a file of a newer layout is left out and named."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.left_out: list[str] = []
        self.sweeps = self.known("sweeps", lambda: _all_sweeps(desk.file))
        self.plans = self.known("plans", desk.file.plans)
        self.versions = self.known("versions", desk.file.versions)
        self.statements = self.known("statements", desk.file.statements)
        self.notes = self.known("notes", desk.file.notes)
        self.events = self.known("history", lambda: tuple(_events(desk.file)))
        current = self.known("plan in force", lambda: (desk.file.state(CURRENT),))
        self.current = current[0] if current else None

    def known(self, what: str, read: Callable[[], tuple[T, ...]]) -> tuple[T, ...]:
        """Return what can be read of one kind."""
        try:
            return read()
        except InputError as error:
            if error.faults[0].code != "newer-job":
                raise
            self.left_out.append(what)
            return ()

    def files(self) -> dict[str, bytes]:
        """Return every file with its bytes; the list of all is the last."""
        file, entries = self.desk.file, self.desk.brief().entries
        tables = tables_of(entries)
        sweeps = [_sweep(number, row) for number, row in enumerate(self.sweeps, start=1)]
        plans = [_plan(self.desk, row.number, current=row.number == self.current) for row in self.plans]
        versions = [
            VersionRow(file=f"version-{row.number}.json", number=row.number, name=row.name) for row in self.versions
        ]
        manifest = JobExport(
            program=f"bandwright {__version__}",
            entries=tuple(EntryRow(**_plain(row, EntryRow)) for row in entries),
            sweeps=tuple(sweeps),
            plans=tuple(plans),
            current_plan=self.current,
            versions=tuple(versions),
            statements=tuple(StatementRow(**_plain(row, StatementRow)) for row in self.statements),
            notes=tuple(_note(row, self.plans) for row in self.notes),
        )
        rows: tuple[tuple[SweepRow | PlanRow | VersionRow, str], ...] = (
            *((named, row.sha256) for named, row in zip(sweeps, self.sweeps, strict=True)),
            *((named, row.sha256) for named, row in zip(plans, self.plans, strict=True)),
            *((named, row.sha256) for named, row in zip(versions, self.versions, strict=True)),
        )
        notes = {f"{row.file}.toml": sweep_note_toml({key: row.facts.get(key) for key in STATED}) for row in sweeps}
        return {
            "brief.toml": brief_toml(tables).encode(),
            "brief.json": brief_json(tables).encode(),
            **{named.file: file.blob(sha256) for named, sha256 in rows},
            **{name: text.encode() for name, text in notes.items() if text},
            "events.jsonl": b"".join(self.events),
            MANIFEST: exact_json.dumps(manifest.model_dump(by_alias=True)).encode() + b"\n",
        }


def _all_sweeps(file: JobFile) -> tuple[Row, ...]:
    return (*file.sweeps(), *file.sweeps(removed=True))


def _sweep(number: int, row: Row) -> SweepRow:
    return SweepRow(file=f"sweep-{number}-{row.name}", **_plain(row, SweepRow, leave="file"))


def _plan(desk: Desk, number: int, *, current: bool) -> PlanRow:
    plan = plan_numbered(desk, number)
    today = {seat.uid: seat.id for seat in plan.seats}
    return PlanRow(
        file="plan.json" if current else f"plan-{number}.json",
        number=number,
        check_phrase=plan.row.check_phrase,
        stale=plan.stale,
        ids={uid: then for uid, then in plan.ids.items() if today.get(uid) != then},
    )


def _note(row: Note, plans: Sequence[Plan]) -> NoteRow:
    number = next((plan.number for plan in plans if plan.uid == row.about), None)
    about = row.about if number is None else None
    return NoteRow(uid=row.uid, about=about, plan=number, text=row.text, at=row.at, who=row.who)


def _plain(row: object, model: type[BaseModel], *, leave: str = "") -> dict[str, Any]:
    return {name: getattr(row, name) for name in model.model_fields if name != leave}


def _events(file: JobFile) -> Iterator[bytes]:
    """Yield the history, one event on a line; of devices only that there were some."""
    after = 0
    while found := file.events(after=after, limit=_PAGE):
        for event in found:
            if event.noun != "device":
                yield exact_json.dumps(asdict(event)).encode() + b"\n"
        after = found[-1].seq


# --------------------------------------------------------------------------------------------------------- back


def import_folder(context: Context, folder: Path, path: Path, *, who: str, sweeps: Sequence[Path] = ()) -> None:
    """Make a job file of an exported folder: everything that it holds; its history begins anew.

    Raises
    ------
    InputError
        When the folder is no export, a file of it is missing or was changed, or the job file is there already.
    """
    if sweeps:
        text = "an exported folder brings its own sweeps; name sweeps only beside a brief."
        raise InputError.single("two-sources", text, key="--sweep", given=str(sweeps[0]), file=str(folder))
    manifest = read_job_export(read_text(folder / MANIFEST, "list of an export"), file=str(folder / MANIFEST))
    rows: tuple[SweepRow | PlanRow | VersionRow, ...] = (*manifest.sweeps, *manifest.plans, *manifest.versions)
    blobs = {row.file: _bytes(folder, row.file) for row in rows}
    for row in manifest.plans:
        read_plan_document(blobs[row.file], file=str(folder / row.file))
    for kept in manifest.versions:
        text = blobs[kept.file].decode(errors="replace")
        check_version(text, file=str(folder / kept.file), plans=len(manifest.plans))
    facts = {row.uid: _facts(context, row, blobs[row.file], file=str(folder / row.file)) for row in manifest.sweeps}
    create_job(
        context, path, who=who, what=f"Made of the export in {folder.name}", make=partial(_fill, manifest, blobs, facts)
    )


def _facts(context: Context, row: SweepRow, data: bytes, *, file: str) -> dict[str, Any]:
    """Return what is stated of a sweep, and what its file tells when it is read anew."""
    stated = {key: value for key, value in row.facts.items() if key in STATED and value is not None}
    read_stated(stated, file=file)
    read = read_facts(context, plain_name(row.name), data, stated, DEFAULT_BANDWIDTHS_HZ)
    counts = {"in_use": row.facts["in_use"] is not False} if "in_use" in row.facts else {}
    return {**stated, **counts, "read": read}


def _fill(manifest: JobExport, blobs: Mapping[str, bytes], facts: Mapping[str, dict[str, Any]], draft: Draft) -> None:
    for entry in manifest.entries:
        draft.check_id(entry.id, entry.uid)
        image = {"kind": entry.kind, "id": entry.id, "position": entry.position, "value": entry.value}
        draft.put("entry", entry.uid, image)
    for sweep in manifest.sweeps:
        sha256 = draft.put_blob(blobs[sweep.file])
        rest = sweep.model_dump(exclude={"uid", "file", "name", "facts"})
        image = {"name": plain_name(sweep.name), "sha256": sha256, "facts": facts[sweep.uid], **rest}
        draft.put("sweep", sweep.uid, image)
    stands_on = len(manifest.entries) + len(manifest.sweeps)  # each was one event, and nothing came before
    for plan in sorted(manifest.plans, key=lambda row: row.number):
        number = draft.add_plan(blobs[plan.file], check_phrase=plan.check_phrase, stands_on=stands_on)
        if plan.stale is not None or plan.ids:
            draft.set_state(f"{BROUGHT}{number}", {"stale": plan.stale, "ids": plan.ids})
    for version in sorted(manifest.versions, key=lambda row: row.number):
        draft.add_version(version.name, blobs[version.file])
    for statement in manifest.statements:
        draft.put("statement", statement.uid, statement.model_dump(exclude={"uid"}))
    _fill_notes(manifest, draft)
    draft.set_state(CURRENT, manifest.current_plan)


def _fill_notes(manifest: JobExport, draft: Draft) -> None:
    plans = {plan.number: draft.plan_uid(plan.number) for plan in manifest.plans}
    for note in manifest.notes:
        about = note.about if note.plan is None else plans[note.plan]
        draft.put("note", note.uid, {"about": about, **note.model_dump(include={"text", "at", "who"})})


def _bytes(folder: Path, name: str) -> bytes:
    path = folder / name
    if Path(name).name != name or not path.is_file():
        text = f"{MANIFEST} names {name}, and there is no such file beside it."
        raise InputError.single("missing-file", text, file=str(folder / MANIFEST), given=name)
    try:
        return path.read_bytes()
    except OSError as error:
        raise MachineError(f"{path}: cannot be read: {error.strerror}.") from error

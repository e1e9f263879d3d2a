"""An archive for a report about a mistake of ours: made on this computer, for the user to look into and to send."""

from __future__ import annotations

import contextlib
import getpass
import io
import json
import platform
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bandwright.documents.outputs import PartModel, ReportDocument
from bandwright.service.bug_report import bug_reports, versions
from bandwright.service.context import Context
from bandwright.service.doctor import Terminal, examine
from bandwright.service.folders import state_folder
from bandwright.service.log import log_files
from bandwright.service.newfile import write_new_file
from bandwright.service.redaction import Keep, outline, redacted_text
from bandwright.store import JobFile

__all__ = ["Archive", "Part", "write_archive"]

_MOST_REPORTS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One file inside the archive, and what it is in a sentence."""

    name: str
    what: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Archive:
    """What was written: the file, what is inside, and what was left out of it."""

    path: Path
    parts: tuple[Part, ...]
    withheld: str

    def text(self) -> str:
        """Return the list of what is inside, for a terminal."""
        wide = max(len(part.name) for part in self.parts)
        listed = [f"  {part.name:<{wide}}  {len(part.data):>9,} bytes  {part.what}" for part in self.parts]
        where = f"Written to {self.path}. Nothing was sent; look into it before you do."
        return "\n".join([where, "", "It holds:", *listed, "", self.withheld]) + "\n"

    def document(self) -> ReportDocument:
        """Return it as the JSON document."""
        contents = tuple(PartModel(name=part.name, bytes=len(part.data), what=part.what) for part in self.parts)
        return ReportDocument(file=str(self.path), contents=contents, withheld=self.withheld)


def write_archive(
    context: Context, path: Path, *, terminal: Terminal, job: Path | None = None, keep: Keep | None = None
) -> Archive:
    """Write a new zip file with what helps to find a mistake: versions, findings, log, reports, outline of a job.

    Raises
    ------
    InputError
        When the file is there already, or `job` is no job file.
    MachineError
        When it cannot be written.
    """
    keep = Keep() if keep is None else keep
    parts = tuple(_parts(context, terminal=terminal, job=job, keep=keep))
    contents = "".join(f"{part.name}: {part.what}\n" for part in parts) + f"\n{_withheld(keep)}\n"
    parts = (Part(name="contents.txt", what="this list", data=contents.encode()), *parts)
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in parts:
            archive.writestr(part.name, part.data)
    write_new_file(path, written.getvalue(), what="report", otherwise="another.zip", elsewhere=f"FOLDER/{path.name}")
    return Archive(path=path, parts=parts, withheld=_withheld(keep))


def _parts(context: Context, *, terminal: Terminal, job: Path | None, keep: Keep) -> Iterator[Part]:
    known = _known()
    yield Part(name="versions.txt", what="versions and system", data=_text("\n".join(versions())))
    found = examine(terminal=terminal, folder=Path.cwd())
    yield Part(
        name="doctor.txt",
        what="what works on this computer",
        data=_text("\n".join(f"{item.state.value:<8}{item.about}" for item in found.findings)),
    )
    for file in log_files():
        text = file.read_text(encoding="utf-8", errors="replace")
        data = _text(redacted_text(text, keep=keep, known=known))
        yield Part(name=f"log/{file.name}", what="what was refused, failed, or took long, and when", data=data)
    for file in bug_reports()[:_MOST_REPORTS]:
        text = file.read_text(encoding="utf-8", errors="replace")
        data = _text(redacted_text(text, keep=keep, known=known))
        yield Part(name=f"mistakes/{file.name}", what="a mistake of ours, where in our code", data=data)
    if job is not None:
        what = "the tables of the brief" + ("" if keep.names else ", numbers in place of names")
        yield Part(name="job.json", what=what, data=_job(context, job, keep))


def _job(context: Context, path: Path, keep: Keep) -> bytes:
    with JobFile.open(path, read_only=True, now=context.now) as file:
        tables = outline([(entry.kind, entry.value) for entry in file.entries()], keep=keep)
        counts = {
            "sweeps": len(file.sweeps()),
            "plans": len(file.plans()),
            "versions": len(file.versions()),
            "notes": len(file.notes()),
            "events": file.seq,
        }
        problems = [problem if keep.names else "(withheld)" for problem in file.check()]
    return json.dumps({"counts": counts, "problems": problems, "tables": tables}, indent=1).encode()


def _known() -> dict[str, str]:
    """Return what names this user and this computer, longest first, and what stands in its place."""
    found = {str(Path.cwd()): "(folder)", platform.node(): "(computer)"}
    if (state := state_folder()) is not None:
        found[str(state)] = "(state folder)"
    with contextlib.suppress(OSError, RuntimeError, KeyError):  # a user without a name or a home has none to hide
        found |= {str(Path.home()): "~", getpass.getuser(): "(user)"}
    return {text: found[text] for text in sorted(found, key=len, reverse=True) if len(text) > 2}


def _withheld(keep: Keep) -> str:
    left_out = [
        *([] if keep.names else ["names, times of the job, and messages that may hold them (--names keeps them)"]),
        *([] if keep.frequencies else ["frequencies and TV channels (--frequencies keeps them)"]),
        "sweeps, plans and the tokens of devices (in any case)",
    ]
    return f"Left out: {'; '.join(left_out)}."


def _text(text: str) -> bytes:
    return f"{text.rstrip()}\n".encode()

"""Sheets made of drawings with the same head on each page: what stands in it, and writing them as one new PDF."""

from __future__ import annotations

from pathlib import Path

from bandwright.core.job import Job
from bandwright.core.sheet import dates_text, minute_text
from bandwright.errors import InputError
from bandwright.service.context import Context
from bandwright.service.newfile import check_new_file, write_new_file
from bandwright.service.planned import minute_at
from bandwright.sheets.headed_pdf import PageHead

__all__ = ["check_sheet", "page_head", "write_sheet"]


def check_sheet(path: Path, *, about: str) -> None:
    """Raise InputError where no sheet about something ("reach") can be written under a name."""
    if path.suffix.lower() != ".pdf":
        text = f'"{path.name}" does not end with .pdf.'
        allowed = "a new file that ends with .pdf"
        raise InputError.single("unknown-sheet", text, key="--pdf", given=str(path), allowed=allowed)
    check_new_file(path, **_file(about))


def page_head(context: Context, job: Job, *, about: str, carriers: str = "") -> PageHead:
    """Return the head of every page of a sheet about a job; `carriers` says which ones count."""
    return PageHead(
        title=job.title,
        about=about,
        when=" · ".join(part for part in (*(place.name for place in job.places), dates_text(job.dates)) if part),
        minute=minute_text(minute_at(context, job)),
        carriers=carriers,
        invented=job.invented,
    )


def write_sheet(path: Path, pdf: bytes, *, about: str) -> None:
    """Write a sheet as a new file; raises as `check_sheet` and `write_new_file` do."""
    check_sheet(path, about=about)
    write_new_file(path, pdf, **_file(about))


def _file(about: str) -> dict[str, str]:
    return {"what": "sheet", "otherwise": f"--pdf {about}-2.pdf", "elsewhere": f"--pdf FOLDER/{about}.pdf"}

"""Sound on paper: settings and margins, level diagrams, companding, times and clocks, as one new PDF."""

from __future__ import annotations

from pathlib import Path

from bandwright.core.picture_sound import sound_pictures
from bandwright.core.sheet_names import names_shown
from bandwright.service.context import Context
from bandwright.service.headed_sheet import page_head, write_sheet
from bandwright.service.sound import Sounded
from bandwright.sheets.headed_pdf import headed_pdf

__all__ = ["sound_sheet", "write_sound_sheet"]


def sound_sheet(context: Context, sounded: Sounded, *, names: str = "full", paper: str = "a4") -> bytes:
    """Return the sheet of how links sound as PDF."""
    pictures = sound_pictures(sounded.report, names_shown(sounded.job, names))
    head = page_head(context, sounded.job, about="sound")
    return headed_pdf(head, pictures, cautions=sounded.report.cautions, paper=paper)


def write_sound_sheet(context: Context, sounded: Sounded, path: Path, *, names: str, paper: str) -> None:
    """Write the sheet of how links sound as a new PDF; raises as `write_sheet` does."""
    write_sheet(path, sound_sheet(context, sounded, names=names, paper=paper), about="sound")

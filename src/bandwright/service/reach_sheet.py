"""Reach on paper: margins, the way of each kind of signal and maps, as one new PDF."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bandwright.core.drawing import Drawing
from bandwright.core.picture_reach import margin_pictures, way_pictures
from bandwright.core.reach.advice import CAUTIONS
from bandwright.core.sheet_names import names_shown
from bandwright.service.context import Context
from bandwright.service.headed_sheet import page_head, write_sheet
from bandwright.service.reach import Reached
from bandwright.sheets.headed_pdf import headed_pdf

__all__ = ["reach_sheet", "write_reach_sheet"]


def reach_sheet(
    context: Context,
    reached: Reached,
    *,
    names: str = "full",
    paper: str = "a4",
    maps: Sequence[Drawing] = (),
) -> bytes:
    """Return the sheet of how links stand as PDF: margins first, then maps, then the way of each kind of signal."""
    head = page_head(context, reached.job, about="reach", carriers=reached.carriers_from)
    margins = margin_pictures(reached.links, names_shown(reached.job, names))
    ways = way_pictures(reached.links, reached.advice)
    return headed_pdf(head, (*margins, *maps, *ways), cautions=CAUTIONS, paper=paper)


def write_reach_sheet(
    context: Context, reached: Reached, path: Path, *, names: str, paper: str, maps: Sequence[Drawing] = ()
) -> None:
    """Write the sheet of how links stand as a new PDF; raises as `write_sheet` does."""
    write_sheet(path, reach_sheet(context, reached, names=names, paper=paper, maps=maps), about="reach")

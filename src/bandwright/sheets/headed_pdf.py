"""Drawings as a PDF, each on a landscape page of its own with the same head and foot: reach and sound on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from bandwright.core.drawing import Drawing, texts
from bandwright.core.words import one_line
from bandwright.sheets.blocks import PageFrame, Pen
from bandwright.sheets.fonts import Face
from bandwright.sheets.onepage import PAPERS
from bandwright.sheets.pdf_drawing import draw_on, new_canvas
from bandwright.sheets.typeset import TypeCase, wrap

__all__ = ["PageHead", "headed_pdf"]

_MARGIN = 18.0
_HEAD, _FOOT = 40.0, 26.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PageHead:
    """What stands on every page: the job and what the pages are about, where and when it is, and when this was made.

    `carriers` says which carriers count, nothing where that does not matter.
    """

    title: str
    about: str
    when: str
    minute: str
    carriers: str = ""
    invented: bool = False


def headed_pdf(head: PageHead, drawings: Sequence[Drawing], *, cautions: Sequence[str], paper: str = "a4") -> bytes:
    """Return drawings as a PDF, each on a page with the same head and foot. The bytes depend on nothing else.

    Raises
    ------
    KeyError
        When the paper is unknown; the text lists the known ones.
    """
    if paper not in PAPERS:
        raise KeyError(f"unknown paper {paper!r}; known: {', '.join(PAPERS)}")
    buffer = BytesIO()
    width, height = PAPERS[paper]
    canvas = new_canvas(buffer, (width, height), title=f"{head.title}: {head.about}", subject=head.when)
    pen = Pen(canvas, TypeCase())
    frame = PageFrame(left=_MARGIN, bottom=_MARGIN - 4, width=width - 2 * _MARGIN, height=height - 2 * _MARGIN + 4)
    for number, drawing in enumerate(drawings, start=1):
        _head(pen, frame, head)
        _foot(pen, frame, cautions, f"page {number} of {len(drawings)}")
        _page(pen, frame, drawing)
    canvas.save()
    return buffer.getvalue()


def _page(pen: Pen, frame: PageFrame, drawing: Drawing) -> None:
    top, bottom = frame.top - _HEAD, frame.bottom + _FOOT
    width = min(frame.width, (top - bottom) * drawing.width / drawing.height)
    for text in texts(drawing):
        pen.case.run(text.text, Face.TEXT, text.size)
    x = frame.left + (frame.width - width) / 2
    draw_on(pen.canvas, drawing, x=x, y=top - width * drawing.height / drawing.width, width=width)
    pen.canvas.showPage()


def _head(pen: Pen, frame: PageFrame, head: PageHead) -> None:
    case, right = pen.case, frame.left + frame.width
    pen.line(frame.left, frame.top - 13, (case.run(f"{one_line(head.title)}: {head.about}", Face.STRONG, 15),))
    invented = (case.run("Invented example.", Face.STRONG, 8.5),) if head.invented else ()
    pen.line_right(right, frame.top - 11, (*invented, case.run(f"made {head.minute}", Face.TEXT, 8.5)))
    pen.line(frame.left, frame.top - 25, (case.run(head.when, Face.TEXT, 8.5),))
    pen.line_right(right, frame.top - 25, (case.run(head.carriers, Face.TEXT, 8.5),))
    pen.rule(frame.left, frame.top - 30, frame.width, 1.2)


def _foot(pen: Pen, frame: PageFrame, cautions: Sequence[str], page: str) -> None:
    pen.rule(frame.left, frame.bottom + _FOOT - 4, frame.width, 0.4)
    y = frame.bottom + _FOOT - 11
    for text in cautions:
        for line in wrap((pen.case.run(text, Face.TEXT, 6.0),), frame.width - 60)[:1]:
            pen.line(frame.left, y, line)
        y -= 7.6
    pen.line_right(frame.left + frame.width, frame.bottom + _FOOT - 11, (pen.case.run(page, Face.TEXT, 6.6),))

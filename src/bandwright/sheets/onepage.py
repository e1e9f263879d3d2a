"""The one-page sheet as PDF: landscape, black and white, the carrier in the largest type.

Rows shrink as they get more, down to a size that can still be read at arm's length; after that the sheet flows to
further pages, each with the same head and foot. The bytes depend on nothing but the sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from bandwright.core.drawing import Drawing, texts
from bandwright.core.planning.plan import Warn
from bandwright.core.sheet import Sheet
from bandwright.sheets.blocks import Block, PageFrame, Pen, closing_blocks, foot_block, head_block, notes_block
from bandwright.sheets.fonts import Face, register_faces
from bandwright.sheets.pdf_drawing import draw_on, new_canvas
from bandwright.sheets.table import MAX_ROW, MIN_ROW, TableStyle, heading_row, table_blocks
from bandwright.sheets.typeset import TypeCase

__all__ = ["PAPERS", "SheetPdf", "onepage_pdf", "picture_page"]

# Landscape, in points (1/72 inch): ISO 216 A4, and ANSI A.
PAPERS: dict[str, tuple[float, float]] = {"a4": (841.89, 595.28), "letter": (792.0, 612.0)}

_MARGIN = 18.0
_PICTURE_GAP = 6.0
_SEARCH_STEPS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPdf:
    """A printed sheet: the file's bytes, how many pages it has, and what could not be printed."""

    data: bytes
    pages: int
    warnings: tuple[Warn, ...]


def onepage_pdf(sheet: Sheet, *, paper: str = "a4", drawings: Sequence[Drawing] = ()) -> SheetPdf:
    """Return the sheet as PDF; drawings of the sweeps follow, each on a page of its own.

    Raises
    ------
    KeyError
        When the paper is unknown; the text lists the known ones.
    """
    if paper not in PAPERS:
        raise KeyError(f"unknown paper {paper!r}; known: {', '.join(PAPERS)}")
    register_faces()
    case = TypeCase()
    width, height = PAPERS[paper]
    frame = _frame(paper)
    layout = _best_layout(sheet, frame, case)
    buffer = BytesIO()
    canvas = _canvas(buffer, (width, height), sheet)
    pages = len(layout.pages) + len(drawings)
    pen = Pen(canvas, case)
    for number in range(1, len(layout.pages) + 1):
        _draw_page(pen, frame, layout, number, pages)
    for number, drawing in enumerate(drawings, start=len(layout.pages) + 1):
        _draw_picture(pen, frame, sheet, drawing, f"page {number} of {pages}")
    canvas.save()
    return SheetPdf(data=buffer.getvalue(), pages=pages, warnings=_missing_glyphs(case))


def picture_page(sheet: Sheet, *, paper: str = "a4") -> float:
    """Return width over height of the room that a drawing has on a page of its own, for a paper of `PAPERS`."""
    register_faces()
    frame = _frame(paper)
    top, bottom = _picture_room(frame, sheet, TypeCase())
    return frame.width / (top - bottom)


def _frame(paper: str) -> PageFrame:
    width, height = PAPERS[paper]
    return PageFrame(left=_MARGIN, bottom=_MARGIN - 4, width=width - 2 * _MARGIN, height=height - 2 * _MARGIN + 4)


def _picture_room(frame: PageFrame, sheet: Sheet, case: TypeCase) -> tuple[float, float]:
    """Return the upper and the lower edge between which a drawing stands."""
    head, foot = (make(sheet, case, frame.width) for make in (head_block, foot_block))
    return frame.top - head.height - _PICTURE_GAP, frame.bottom + foot.height + _PICTURE_GAP


def _canvas(buffer: BytesIO, size: tuple[float, float], sheet: Sheet) -> Canvas:
    head = sheet.head
    subject = ", ".join(part for part in (head.places, head.dates) if part)
    return new_canvas(buffer, size, title=f"{head.title}: {head.plan}, {head.check_phrase}", subject=subject)


def _missing_glyphs(case: TypeCase) -> tuple[Warn, ...]:
    return tuple(
        Warn(
            code="glyph-missing",
            text=f"The sheet's typeface has no {char!r} (U+{ord(char):04X}); it is printed as ? in {text!r}.",
        )
        for char, text in sorted(case.missing.items())
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """Blocks dealt out to pages, all with the same head; `closing` is the first block after the table."""

    sheet: Sheet
    head: Block
    columns: Block
    pages: tuple[tuple[Block, ...], ...]
    closing: Block


def _best_layout(sheet: Sheet, frame: PageFrame, case: TypeCase) -> _Layout:
    """Return the layout with the fewest pages, and among those the one with the largest rows."""
    best = _layout(sheet, frame, case, MIN_ROW)
    low, high = MIN_ROW, MAX_ROW
    for _ in range(_SEARCH_STEPS):
        middle = (low + high) / 2
        tried = _layout(sheet, frame, case, middle)
        if len(tried.pages) <= len(best.pages):
            best, low = tried, middle
        else:
            high = middle
    return best


def _layout(sheet: Sheet, frame: PageFrame, case: TypeCase, row: float) -> _Layout:
    style = TableStyle.of(sheet.rows, case, width=frame.width, row_height=row)
    head = head_block(sheet, case, frame.width)
    columns = heading_row(style, case)
    closing = closing_blocks(sheet, case, frame.width, figures=style.figures)
    room = frame.height - head.height - columns.height - foot_block(sheet, case, frame.width).height
    pages = _dealt((*table_blocks(sheet, style, case), *closing), room)
    return _Layout(sheet=sheet, head=head, columns=columns, pages=pages, closing=closing[0])


def _dealt(blocks: Sequence[Block], room: float) -> tuple[tuple[Block, ...], ...]:
    """Deal blocks to pages; a group that goes on gets its heading again, a heading never stands last."""
    pages: list[list[Block]] = [[]]
    left = room
    for position, block in enumerate(blocks):
        needed = block.height + (blocks[position + 1].height if block.keep_with_next else 0.0)
        if needed > left and pages[-1]:
            pages.append([block.again] if block.again else [])
            left = room - sum(item.height for item in pages[-1])
        pages[-1].append(block)
        left -= block.height
    return tuple(tuple(page) for page in pages)


def _draw_page(pen: Pen, frame: PageFrame, layout: _Layout, number: int, pages: int) -> None:
    sheet, blocks = layout.sheet, layout.pages[number - 1]
    foot_top = _draw_edges(pen, frame, sheet, layout.head, f"page {number} of {pages}")
    y = frame.top - layout.head.height
    if layout.closing is not blocks[0]:
        y = _draw(layout.columns, pen, frame.left, y)
    for block in blocks:
        if block is layout.closing:
            _draw_notes(pen, frame, sheet, y, foot_top)
        y = _draw(block, pen, frame.left, y)
    pen.canvas.showPage()


def _draw_notes(pen: Pen, frame: PageFrame, sheet: Sheet, top: float, bottom: float) -> None:
    block = notes_block(sheet, pen.case, frame.width, top - bottom)
    block.draw(pen, frame.left, top)


def _draw_edges(pen: Pen, frame: PageFrame, sheet: Sheet, head: Block, page: str) -> float:
    """Draw head, foot and page number; return the upper edge of the foot."""
    head.draw(pen, frame.left, frame.top)
    foot = foot_block(sheet, pen.case, frame.width, page=page)
    foot.draw(pen, frame.left, frame.bottom + foot.height)
    return frame.bottom + foot.height


def _draw(block: Block, pen: Pen, x: float, y: float) -> float:
    block.draw(pen, x, y)
    return y - block.height


def _draw_picture(pen: Pen, frame: PageFrame, sheet: Sheet, drawing: Drawing, page: str) -> None:
    head = head_block(sheet, pen.case, frame.width)
    _draw_edges(pen, frame, sheet, head, page)
    top, bottom = _picture_room(frame, sheet, pen.case)
    width = min(frame.width, (top - bottom) * drawing.width / drawing.height)
    height = width * drawing.height / drawing.width
    for text in texts(drawing):
        pen.case.run(text.text, Face.TEXT, text.size)
    draw_on(pen.canvas, drawing, x=frame.left + (frame.width - width) / 2, y=top - height, width=width)
    pen.canvas.showPage()

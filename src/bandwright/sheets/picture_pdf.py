"""Drawings as a PDF, one to a page, in black and white on A4 or wherever they fit best."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from bandwright.core.drawing import Drawing
from bandwright.sheets.pdf_drawing import draw_on, new_canvas

__all__ = ["picture_pdf"]

_A4 = (595.28, 841.89)  # ISO 216, in points
_MARGIN = 24.0


def picture_pdf(drawings: Sequence[Drawing]) -> bytes:
    """Return drawings as a PDF, each on an A4 page of its own, turned so that it comes out larger."""
    buffer = BytesIO()
    canvas = new_canvas(buffer, _A4, title=drawings[0].title, subject=drawings[0].description)
    for drawing in drawings:
        page = _page(drawing)
        scale = _scale(drawing, page)
        canvas.setPageSize(page)
        top = page[1] - _MARGIN - drawing.height * scale
        draw_on(canvas, drawing, x=(page[0] - drawing.width * scale) / 2, y=top, width=drawing.width * scale)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _scale(drawing: Drawing, page: tuple[float, float]) -> float:
    return min((page[0] - 2 * _MARGIN) / drawing.width, (page[1] - 2 * _MARGIN) / drawing.height)


def _page(drawing: Drawing) -> tuple[float, float]:
    upright, across = _A4, (_A4[1], _A4[0])
    return upright if _scale(drawing, upright) > _scale(drawing, across) else across

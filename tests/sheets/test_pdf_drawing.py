"""Drawings on a page of a PDF, looked at with PyMuPDF."""

from __future__ import annotations

from io import BytesIO

import pymupdf
import pytest
from reportlab.pdfgen.canvas import Canvas

from bandwright.core.drawing import (
    Anchor,
    Area,
    Drawing,
    Group,
    Ink,
    Item,
    Line,
    Mark,
    Pattern,
    Polyline,
    Rect,
    Shape,
    Text,
)
from bandwright.sheets.pdf_drawing import draw_on


def page_of(*items: Item, width: float = 400) -> pymupdf.Page:
    drawing = Drawing(width=200, height=100, items=items, title="t", description="d")
    file = BytesIO()
    canvas = Canvas(file, pagesize=(500, 300))
    assert draw_on(canvas, drawing, x=50, y=40, width=width) == pytest.approx(width / 2)
    canvas.save()
    return pymupdf.open(stream=file.getvalue(), filetype="pdf")[0]


def darkness(page: pymupdf.Page, box: tuple[float, float, float, float]) -> float:
    """Share of the box that is not white; the box is in page points from the top left."""
    pixels = page.get_pixmap(clip=pymupdf.Rect(*box), matrix=pymupdf.Matrix(2, 2), colorspace=pymupdf.csGRAY)
    return sum(1 for value in pixels.samples if value < 250) / len(pixels.samples)


def test_a_drawing_lands_where_it_is_put_and_at_its_scale():
    page = page_of(Rect(x=100, y=0, width=100, height=50, fill=Ink.OURS))
    # Drawing 200 x 100 at twice its size from (50, 40) up: page x 250-450, top at 300 - 40 - 200 = 60.
    assert darkness(page, (252, 62, 448, 158)) == 1.0
    assert darkness(page, (52, 62, 248, 258)) == 0.0
    assert darkness(page, (252, 162, 448, 258)) == 0.0


def test_text_reads_right_and_stands_at_its_anchor():
    page = page_of(Text(at=(190, 50), text="Łukasz Nguyễn", size=10, anchor=Anchor.END, bold=True))
    assert page.get_text().strip() == "Łukasz Nguyễn"
    box = page.search_for("Łukasz")[0]
    assert box.x1 < 50 + 190 * 2
    assert page.search_for("Nguyễn")[0].x1 == pytest.approx(50 + 190 * 2, abs=1)


@pytest.mark.parametrize(
    ("pattern", "least", "most"), [(Pattern.HATCH, 0.1, 0.6), (Pattern.CROSS, 0.2, 0.8), (Pattern.DOTS, 0.03, 0.4)]
)
def test_patterns_stay_inside_their_shape_and_leave_white_between(pattern, least, most):
    page = page_of(Area(points=((50, 0), (100, 0), (100, 50), (50, 50)), ink=Ink.TAKEN, pattern=pattern))
    assert least < darkness(page, (152, 62, 248, 158)) < most
    assert darkness(page, (254, 62, 448, 158)) == 0.0
    assert darkness(page, (52, 62, 148, 158)) == 0.0


def test_a_group_is_cut_to_its_clip():
    wide = Rect(x=0, y=0, width=200, height=100, fill=Ink.OURS)
    page = page_of(Group(items=(wide,), clip=Rect(x=0, y=0, width=50, height=100)))
    assert darkness(page, (52, 62, 148, 258)) == 1.0
    assert darkness(page, (154, 62, 448, 258)) == 0.0


def test_every_mark_and_line_leaves_ink():
    for shape in Shape:
        assert darkness(page_of(Mark(at=(100, 50), shape=shape, ink=Ink.OURS)), (240, 150, 260, 170)) > 0.1
    assert darkness(page_of(Line(start=(0, 50), end=(200, 50), ink=Ink.OURS)), (60, 155, 440, 165)) > 0.05
    line = Polyline(points=((0, 50), (100, 50), (200, 50)), ink=Ink.TRACE, dash=(4, 4))
    assert darkness(page_of(line), (60, 155, 440, 165)) > 0.05


def test_an_outline_is_drawn_around_a_rectangle():
    page = page_of(Rect(x=50, y=20, width=100, height=50, outline=Ink.OURS))
    assert darkness(page, (148, 98, 152, 200)) > 0.2
    assert darkness(page, (160, 110, 340, 190)) == 0.0


@pytest.mark.parametrize(("opacity", "grey"), [(1.0, 0), (0.16, 214), (0.5, 128)])
def test_a_faint_fill_is_as_faint_as_it_was_asked_to_be(opacity, grey):
    # Black at 16 % over white: 255 (1 - 0.16) = 214.
    page = page_of(Rect(x=100, y=0, width=100, height=50, fill=Ink.OURS, opacity=opacity))
    pixels = page.get_pixmap(clip=pymupdf.Rect(300, 80, 310, 90), colorspace=pymupdf.csGRAY)
    assert set(pixels.samples) <= {grey - 1, grey, grey + 1}

"""Drawing values."""

from __future__ import annotations

import pytest

from bandwright.core.drawing import (
    Drawing,
    Group,
    Ink,
    Line,
    Mark,
    Rect,
    Shape,
    Text,
    corners_of,
    texts,
    walk,
    width_of,
)


def test_walking_a_drawing_reaches_items_inside_groups():
    inner = Text(at=(0, 0), text="inside", size=12)
    outer = Text(at=(0, 0), text="outside", size=12)
    drawing = Drawing(
        width=10, height=10, items=(outer, Group(items=(Group(items=(inner,)),))), title="t", description="d"
    )
    assert texts(drawing) == (outer, inner)
    assert len(list(walk(drawing.items))) == 4


def test_a_rectangle_with_a_negative_side_is_refused_in_words():
    with pytest.raises(ValueError, match="no negative sides; given -1 by 2"):
        Rect(x=0, y=0, width=-1, height=2, fill=Ink.TAKEN)


@pytest.mark.parametrize(("shape", "corners"), [(Shape.SQUARE, 4), (Shape.TRIANGLE, 3), (Shape.DIAMOND, 4)])
def test_marks_stay_within_their_size(shape, corners):
    points = corners_of(Mark(at=(10, 20), shape=shape, ink=Ink.OURS, size=8))
    assert len(points) == corners
    assert all(6 <= x <= 14 and 16 <= y <= 24 for x, y in points)


def test_lines_are_plain_values():
    line = Line(start=(0, 0), end=(1, 1), ink=Ink.GRID)
    assert line == Line(start=(0, 0), end=(1, 1), ink=Ink.GRID)


def test_the_room_left_for_a_text_is_enough_for_a_common_face():
    # Helvetica's own widths, as published with the Base 14 fonts (Adobe Core 14 AFM, through reportlab).
    from reportlab.pdfbase.pdfmetrics import stringWidth

    for text in ("L01 606.700", "news-crew 522.475", "TV 45 taken", "Mara Oyelaran", "MWm@ iljt", "not measured"):
        assert width_of(text, size=12) >= stringWidth(text, "Helvetica", 12)
        assert width_of(text, size=12, bold=True) >= stringWidth(text, "Helvetica-Bold", 12)

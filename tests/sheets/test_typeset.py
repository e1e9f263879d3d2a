"""Type is wrapped without losing a letter."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bandwright.sheets.fonts import Face
from bandwright.sheets.typeset import Run, TypeCase, line_width, share_width, wrap

WORDS = st.text(alphabet="abcdefgiłễ -.0123456789", max_size=60)


@given(text=WORDS, width=st.floats(min_value=4, max_value=300))
def test_wrapping_keeps_every_letter_in_its_order(text, width):
    lines = wrap((Run(text, Face.TEXT, 8.0),), width)
    assert "".join(run.text for line in lines for run in line).replace(" ", "") == text.replace(" ", "")


@given(text=WORDS, width=st.floats(min_value=10, max_value=300))
def test_no_line_is_wider_than_asked(text, width):
    assert all(line_width(line) <= width + 0.05 for line in wrap((Run(text, Face.TEXT, 8.0),), width))


def test_runs_in_two_faces_share_a_line():
    (line,) = wrap((Run("Mara", Face.STRONG, 8.0), Run("body, held", Face.TEXT, 8.0)), 200.0)
    assert [run.text for run in line] == ["Mara", "body, held"]


def test_a_figure_stays_beside_its_unit():
    run = Run("carriers 12.5 kHz apart", Face.TEXT, 8.0)
    width = Run("carriers 12.5", Face.TEXT, 8.0).width
    assert [line[0].text for line in wrap((run,), width)] == ["carriers", "12.5 kHz", "apart"]


def test_nothing_wraps_to_no_lines():
    assert wrap((Run("  ", Face.TEXT, 8.0),), 50.0) == ()


def test_a_type_case_remembers_what_it_could_not_print():
    case = TypeCase()
    assert case.run("漢 Mara", Face.TEXT, 8.0).text == "? Mara"
    assert case.missing == {"漢": "漢 Mara"}


@given(
    natural=st.lists(st.floats(min_value=0, max_value=500), min_size=1, max_size=8),
    room=st.floats(min_value=1, max_value=900),
)
def test_shared_widths_fit_and_nobody_gets_more_than_asked(natural, room):
    shared = share_width(natural, room)
    assert sum(shared) <= max(room, 0) + 1e-6
    assert all(got <= asked + 1e-9 for got, asked in zip(shared, natural, strict=True))
    assert sum(shared) == pytest.approx(min(room, sum(natural)), abs=1e-6)

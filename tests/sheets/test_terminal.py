"""Lines for a terminal: as wide as asked, broken at spaces, wide letters counted as two cells."""

from __future__ import annotations

import textwrap

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bandwright.sheets.terminal import NO_BREAK, cut, display_width, padded, wrapped

WORDS = st.lists(st.text("abcü漢-/", min_size=1, max_size=12), max_size=30)


@given(words=WORDS, width=st.integers(24, 60), first=st.sampled_from(["", "  ", "Note: ", "漢字  "]))
def test_wrapping_keeps_every_word_and_no_line_is_wider_than_asked(words, width, first):
    lines = wrapped(" ".join(words), width, first=first)
    indent = display_width(first)
    assert [word for line in lines for word in line.removeprefix(first).split()] == words
    assert all(len(line.split()) == 1 or display_width(line) <= width for line in lines)
    assert all(line.startswith(" " * indent) for line in lines[1:])


@given(words=st.lists(st.text("abc-", min_size=1, max_size=9), min_size=1, max_size=30), width=st.integers(20, 60))
def test_plain_letters_wrap_as_the_standard_library_wraps_them(words, width):
    # Python's textwrap counts letters, not cells: for letters of one cell both must agree.
    text = " ".join(words)
    assert wrapped(text, width) == textwrap.wrap(text, width, break_on_hyphens=False, break_long_words=False)


def test_what_is_glued_stays_on_one_line_and_leaves_with_plain_spaces():
    assert wrapped("it is 34 dB wide at 497.863 MHz", 14) == ["it is 34 dB", "wide at", "497.863 MHz"]
    assert wrapped(f"23 26{NO_BREAK}(-62{NO_BREAK}dB)", 12) == ["23", "26 (-62 dB)"]


def test_a_word_longer_than_the_line_stays_whole():
    assert wrapped("a " + "b" * 30, 10) == ["a", "b" * 30]


@pytest.mark.parametrize("text", ["", "   "])
def test_no_word_gives_no_line(text):
    assert wrapped(text, 10, first="Note: ") == []


def test_cutting_counts_cells_and_marks_the_cut():
    assert cut("漢字漢字", 5) == "漢字…"
    assert cut("Mara", 4) == "Mara"


def test_padding_counts_cells():
    assert padded("漢字", 6) == "漢字  "
    assert padded("Mara", 6, right=True) == "  Mara"

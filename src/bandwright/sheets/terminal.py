"""Text for a terminal: widths in cells, padding, cutting and wrapping. Wide letters take two cells, accents none."""

from __future__ import annotations

import unicodedata

from bandwright.core.words import UNIT_SPACE

__all__ = ["NO_BREAK", "cut", "display_width", "padded", "wrapped"]

NO_BREAK = "\u00a0"
"""A space that no line is broken at; it leaves as a plain space."""


def display_width(text: str) -> int:
    """Return how many cells of a terminal the text takes.

    >>> display_width("Nguyễn"), display_width("漢字")
    (6, 4)
    """
    return sum(_cells(char) for char in text)


def _cells(char: str) -> int:
    if unicodedata.combining(char):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


def padded(text: str, width: int, *, right: bool = False) -> str:
    """Return the text with blanks up to the width, after it or (`right`) before it."""
    blank = " " * max(0, width - display_width(text))
    return blank + text if right else text + blank


def cut(text: str, width: int) -> str:
    """Return the text, its end replaced by "…" where it is wider."""
    if display_width(text) <= width:
        return text
    while display_width(text) > width - 1:
        text = text[:-1]
    return f"{text.rstrip()}…"


def wrapped(text: str, width: int, *, first: str = "") -> list[str]:
    """Return the text in lines of at most `width` cells, broken at plain spaces only; a longer word stays whole.

    A figure and its unit count as one word. `first` stands before the first line; the others are indented as far.
    Text without a word gives no line.

    >>> wrapped("at least 350 kHz is asked", 22, first="Note: ")
    ['Note: at least 350 kHz', '      is asked']
    """
    lines: list[str] = []
    start = first
    for word in filter(None, UNIT_SPACE.sub(NO_BREAK, text).split(" ")):
        if lines and display_width(f"{lines[-1]} {word}") <= width:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(f"{start}{word}")
            start = " " * display_width(first)
    return [line.replace(NO_BREAK, " ") for line in lines]

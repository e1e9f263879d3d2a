"""Words that must fit a length of a drawing before a face is known."""

from __future__ import annotations

from bandwright.core.drawing import width_of

__all__ = ["cut", "folded"]


def cut(text: str, *, size: float, width: float, bold: bool = False) -> str:
    """Return a text that takes at most a width, its end given way to an ellipsis where it is longer.

    >>> cut("a splitter", size=10, width=500), cut("a splitter", size=10, width=40)
    ('a splitter', 'a split…')
    """
    if width_of(text, size=size, bold=bold) <= width:
        return text
    while text and width_of(f"{text}…", size=size, bold=bold) > width:
        text = text[:-1]
    return f"{text.rstrip()}…"


def folded(text: str, *, size: float, width: float) -> list[str]:
    """Return a text in lines that take at most a width; a word that is longer is cut.

    >>> folded("a splitter of four ways", size=10, width=70)
    ['a splitter of', 'four ways']
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size=size) <= width:
            lines[-1] = longer
        else:
            lines.append(cut(word, size=size, width=width))
    return lines

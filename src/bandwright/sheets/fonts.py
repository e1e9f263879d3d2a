"""The faces embedded in printed sheets, and what they cannot print.

The font files lie in the folder `fonts` beside this module, with their licence. A character that a face does not hold
becomes a visible "?" and is reported: it never turns into a black box without a word.
"""

from __future__ import annotations

import tarfile
from enum import StrEnum
from functools import cache, lru_cache
from importlib import resources
from io import BytesIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from bandwright.core.words import JOINERS, one_line

__all__ = ["FOR_NAMES", "Face", "face_data", "printable", "register_faces", "text_width"]

SUBSTITUTE = "?"


class Face(StrEnum):
    """The faces by what they are for; the value is the font's file and its name in a PDF. FIGURES holds ASCII only."""

    TEXT = "RobotoCondensed-Regular"
    STRONG = "RobotoCondensed-Bold"
    FIGURES = "Roboto-Bold"


FOR_NAMES = (Face.TEXT, Face.STRONG)
"""The faces in which names are printed."""


def face_data(face: Face) -> bytes:
    """Return the font file of a face."""
    return _faces()[f"{face.value}.ttf"]


@cache
def _faces() -> dict[str, bytes]:
    """Return the font files by their names; they lie in one archive, in which they take a quarter less."""
    whole = (resources.files(__package__) / "fonts" / "faces.tar.xz").read_bytes()
    with tarfile.open(fileobj=BytesIO(whole), mode="r:xz") as archive:
        return {entry.name: held.read() for entry in archive if (held := archive.extractfile(entry)) is not None}


@cache
def _font(face: Face) -> TTFont:
    font = TTFont(face.value, BytesIO(face_data(face)))
    pdfmetrics.registerFont(font)
    return font


def register_faces() -> None:
    """Make every face known to the PDF library under its own name; does it once."""
    for face in Face:
        _font(face)


def text_width(text: str, face: Face, size: float) -> float:
    """Return the width of a text in points."""
    return _width_at_one_point(text, face) * size


@lru_cache(maxsize=4096)
def _width_at_one_point(text: str, face: Face) -> float:
    return float(_font(face).stringWidth(text, 1.0))


def printable(text: str, face: Face) -> tuple[str, frozenset[str]]:
    """Return the text as the face can print it, and the characters it does not hold.

    The text is composed first (NFC: "e" with separate accents is one letter), line breaks and tabs become spaces,
    invisible format characters are dropped, and what the face does not hold becomes "?".

    >>> printable("Łukasz Nguyễn", Face.TEXT)
    ('Łukasz Nguyễn', frozenset())
    """
    glyphs = _font(face).face.charToGlyph
    composed = "".join(char for char in one_line(text) if char not in JOINERS)
    missing = frozenset(char for char in composed if ord(char) not in glyphs)
    return "".join(SUBSTITUTE if char in missing else char for char in composed), missing

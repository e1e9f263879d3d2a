"""The colours of drawings for each theme, and how patterns and rings are drawn; the same in SVG and PDF.

Contrast in every theme, against the paper and against the grey outside the permits: text at least 4.5 to 1, marks and
lines that carry meaning 3 to 1 (WCAG 2.2, 1.4.3 and 1.4.11). The grid and the soft fill of the typical level are not
needed to read the drawing.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from bandwright.core.drawing import Ink

__all__ = ["DOTS", "DOT_RADIUS", "PALETTES", "RING_LINE", "TILE", "Theme"]


class Theme(StrEnum):
    """Which colours: `auto` follows the reader's setting and prints in black and white."""

    AUTO = "auto"
    LIGHT = "light"
    DARK = "dark"
    PRINT = "print"


PALETTES: Mapping[Theme, Mapping[Ink, str]] = {
    Theme.LIGHT: {
        Ink.PAPER: "#ffffff",
        Ink.TEXT: "#1a2027",
        Ink.MUTED: "#56616d",
        Ink.GRID: "#dfe4e9",
        Ink.OUTSIDE: "#eef1f4",
        Ink.TRACE: "#3b4652",
        Ink.TYPICAL: "#c5cdd5",
        Ink.FLOOR: "#56616d",
        Ink.OURS: "#0b57a4",
        Ink.OTHER: "#1a2027",
        Ink.TAKEN: "#7b8793",
        Ink.UNMEASURED: "#7b8793",
    },
    Theme.DARK: {
        Ink.PAPER: "#12171c",
        Ink.TEXT: "#e8edf2",
        Ink.MUTED: "#a3afbb",
        Ink.GRID: "#2b343d",
        Ink.OUTSIDE: "#1d242b",
        Ink.TRACE: "#c3ccd5",
        Ink.TYPICAL: "#3b4651",
        Ink.FLOOR: "#a3afbb",
        Ink.OURS: "#7cb8ff",
        Ink.OTHER: "#e8edf2",
        Ink.TAKEN: "#7d8995",
        Ink.UNMEASURED: "#7d8995",
    },
    Theme.PRINT: {
        Ink.PAPER: "#ffffff",
        Ink.TEXT: "#000000",
        Ink.MUTED: "#3d3d3d",
        Ink.GRID: "#d6d6d6",
        Ink.OUTSIDE: "#ededed",
        Ink.TRACE: "#333333",
        Ink.TYPICAL: "#c8c8c8",
        Ink.FLOOR: "#3d3d3d",
        Ink.OURS: "#000000",
        Ink.OTHER: "#000000",
        Ink.TAKEN: "#6b6b6b",
        Ink.UNMEASURED: "#6b6b6b",
    },
}

# Patterns repeat in square tiles; a dotted tile holds these dots. A ring is an outline of this width.
TILE = 8
DOTS = ((2, 2), (6, 6))
DOT_RADIUS = 0.9
RING_LINE = 1.75

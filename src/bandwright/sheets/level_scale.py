"""The colours of levels in a waterfall: even in lightness, so that steps look alike and print in greys.

The scale is our own. CIE L* (1976) runs straight from one end to the other, and a* and b* run along a path from sand
through a greyish blue to deep blue. People with any of the common forms of colour blindness see the same order, because
the order is in the lightness. On light paper quiet is pale and loud is dark; on a dark screen it is the reverse, so
that quiet always lies near the ground; in print the scale is grey.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from itertools import pairwise

from bandwright.core.drawing import Raster
from bandwright.sheets.palette import Theme

__all__ = ["STEPS", "level_colours", "raster_png"]

STEPS = 256  # step 0 is no level

Lab = tuple[float, float, float]
Rgb = tuple[int, int, int]

# L*, a*, b* of the quietest level, of some between, and of the loudest; L* is even over the whole.
_ENDS: Mapping[Theme, tuple[Lab, ...]] = {
    Theme.LIGHT: ((95, 0, 12), (75, -11, -2), (55, -12, -22), (35, -2, -36), (15, 16, -34)),
    Theme.DARK: ((15, 6, -20), (35, -2, -36), (55, -12, -24), (75, -12, 0), (95, 0, 18)),
    Theme.PRINT: ((95, 0, 0), (15, 0, 0)),
}
_WHITE = (0.95047, 1.0, 1.08883)  # D65, two degrees
_TO_LINEAR = ((3.2406, -1.5372, -0.4986), (-0.9689, 1.8758, 0.0415), (0.0557, -0.2040, 1.0570))  # IEC 61966-2-1


@cache
def level_colours(theme: Theme) -> tuple[Rgb, ...]:
    """Return red, green and blue (0 to 255) of each step from 1 on, the quietest first."""
    path = _ENDS[Theme.LIGHT if theme is Theme.AUTO else theme]
    return tuple(_rgb(_along(path, step / (STEPS - 2))) for step in range(STEPS - 1))


def _along(path: Sequence[Lab], part: float) -> Lab:
    place = part * (len(path) - 1)
    leg = min(int(place), len(path) - 2)
    one, two = list(pairwise(path))[leg]
    low, a, b = (x + (y - x) * (place - leg) for x, y in zip(one, two, strict=True))
    return low, a, b


def _rgb(lab: Lab) -> Rgb:
    """Return the sRGB values of a CIELAB colour (CIE 15, IEC 61966-2-1); what lies outside is cut off."""
    fy = (lab[0] + 16) / 116
    xyz = [w * _cubed(f) for w, f in zip(_WHITE, (fy + lab[1] / 500, fy, fy - lab[2] / 200), strict=True)]
    red, green, blue = (_gamma(sum(k * v for k, v in zip(row, xyz, strict=True))) for row in _TO_LINEAR)
    return red, green, blue


def _cubed(f: float) -> float:
    return f**3 if f > 6 / 29 else 3 * (6 / 29) ** 2 * (f - 4 / 29)


def _gamma(value: float) -> int:
    shown = 12.92 * value if value <= 0.0031308 else 1.055 * value ** (1 / 2.4) - 0.055
    return round(255 * min(max(shown, 0.0), 1.0))


def raster_png(raster: Raster, theme: Theme) -> bytes:
    """Return the cells of a raster as a PNG of indexed colours, one pixel a cell, step 0 clear (ISO/IEC 15948)."""
    palette = bytes(3) + bytes(value for colour in level_colours(theme) for value in colour)
    lines = (raster.steps[k : k + raster.columns] for k in range(0, len(raster.steps), raster.columns))
    chunks = (
        (b"IHDR", struct.pack(">IIBBBBB", raster.columns, raster.rows, 8, 3, 0, 0, 0)),
        (b"PLTE", palette),
        (b"tRNS", b"\0"),
        (b"IDAT", zlib.compress(b"".join(b"\0" + line for line in lines), 9)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunks(chunks))


def _chunks(chunks: Iterable[tuple[bytes, bytes]]) -> Iterable[bytes]:
    for name, data in chunks:
        yield struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

"""Plain decimal numbers out of text, fast; whatever is not plain is left to slower hands."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bandwright.kernels.jit import compiled

__all__ = ["plain_decimals"]

_POWERS = 10.0 ** np.arange(23)  # exact: 10**22 is the last power of ten a double holds
_MOST_DIGITS = 15  # every whole number of so many digits is exact, and so is one division by a power above


@compiled
def plain_decimals(text: npt.NDArray[np.uint8], start: int, separator: int, out: npt.NDArray[np.float64]) -> int:
    """Write the numbers of `text[start:]` to `out` and return how many there are.

    `text` is uint8. Numbers are digits with an optional sign and point, spaces around them, one `separator` between
    them. Returns -1 at anything else (exponent, word, empty field, more than 15 digits) and -2 when `out` is full:
    nothing in `out` counts then.
    """
    count = 0
    i = start
    end = text.shape[0]
    while True:
        while i < end and text[i] == 32:
            i += 1
        negative = False
        if i < end and (text[i] == 45 or text[i] == 43):
            negative = text[i] == 45
            i += 1
        whole = np.int64(0)
        digits = 0
        decimals = 0
        pointed = False
        while i < end:
            c = text[i]
            if c >= 48 and c <= 57:
                whole = whole * 10 + np.int64(c - 48)
                digits += 1
                if pointed:
                    decimals += 1
            elif c == 46 and not pointed:
                pointed = True
            else:
                break
            i += 1
        if digits == 0 or digits > _MOST_DIGITS:
            return -1
        while i < end and text[i] == 32:
            i += 1
        if count >= out.shape[0]:
            return -2
        value = whole / _POWERS[decimals]
        out[count] = -value if negative else value
        count += 1
        if i == end:
            return count
        if text[i] != separator:
            return -1
        i += 1

"""Rows of plain decimal numbers out of text, fast; whatever is not plain is left to slower hands."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from bandwright.kernels.jit import compiled

__all__ = ["hop_hash", "hop_lines", "plain_decimals"]

_POWERS = 10.0 ** np.arange(23)  # exact: 10**22 is the last power of ten a double holds
_MOST_DIGITS = 15  # every whole number of so many digits is exact, and so is one division by a power above
_HASH = 2166136261 & 0x7FFFFFFF
_HASH_PRIME = 16777619
_HASH_BITS = 0x7FFFFFFF


@compiled
def plain_decimals(
    text: npt.NDArray[np.uint8], start: int, end: int, separator: int, out: npt.NDArray[np.float64], at: int
) -> int:
    """Write the numbers of `text[start:end]` to `out` from index `at` on and return how many there are.

    `text` is uint8. Numbers are digits with an optional sign and point, spaces around them, one `separator` between
    them. Returns -1 at anything else (exponent, word, empty field, more than 15 digits) and -2 when `out` is full:
    nothing that was written counts then.
    """
    count = at
    room = out.shape[0]
    i = start
    while True:
        while i < end and text[i] == 32:
            i += 1
        negative = False
        if i < end and (text[i] == 45 or text[i] == 43):
            negative = text[i] == 45
            i += 1
        whole = np.int64(0)
        first = i
        while i < end and text[i] >= 48 and text[i] <= 57:
            whole = whole * 10 + (np.int64(text[i]) - 48)
            i += 1
        digits = i - first
        decimals = 0
        if i < end and text[i] == 46:
            i += 1
            first = i
            while i < end and text[i] >= 48 and text[i] <= 57:
                whole = whole * 10 + (np.int64(text[i]) - 48)
                i += 1
            decimals = i - first
            digits += decimals
        if digits == 0 or digits > _MOST_DIGITS:
            return -1
        while i < end and text[i] == 32:
            i += 1
        if count >= room:
            return -2
        value = whole / _POWERS[decimals]
        out[count] = -value if negative else value
        count += 1
        if i == end:
            return count - at
        if text[i] != separator:
            return -1
        i += 1


@compiled
def hop_hash(text: npt.NDArray[np.uint8], start: int, end: int) -> int:
    """Return a hash of `text[start:end]` (Fowler, Noll and Vo's, cut to 31 bits)."""
    code = np.int64(_HASH)
    for i in range(start, end):
        code = ((code ^ np.int64(text[i])) * _HASH_PRIME) & _HASH_BITS
    return int(code)


@compiled
def hop_lines(
    text: npt.NDArray[np.uint8],
    start: int,
    places: npt.NDArray[np.int64],
    pool: npt.NDArray[np.uint8],
    pool_start: npt.NDArray[np.int64],
    expected: npt.NDArray[np.int64],
    levels: npt.NDArray[np.float64],
    lines: npt.NDArray[np.int64],
) -> tuple[int, int]:
    """Read lines `stamp, stamp, a, b, c, any, level, level, ...` of `text[start:]` that end in a line feed.

    Known heads `a, b, c` (from the second comma to the fifth) stand one after the other in `pool`, number k from
    `pool_start[k]` to `pool_start[k + 1]`; `places` is an open hash table (its size a power of two) of k + 1, 0 where
    it is empty. Head k goes with `expected[k]` levels.

    Writes to `lines` for each line: head, index of its first level in `levels`, where its stamp starts and ends, and 1
    where the stamp differs from the line before. Returns how many lines were read and where the next one starts: the
    end of the text, or a line that is anything else (unknown head, another count of levels, no plain numbers), or one
    for which there is no room.
    """
    count = 0
    filled = 0
    position = start
    size = text.shape[0]
    mask = places.shape[0] - 1
    before_start = 0
    before_end = 0
    commas = np.zeros(6, dtype=np.int64)
    while position < size and count < lines.shape[0]:
        i = position
        found = 0
        while i < size and found < 6 and text[i] != 10:
            if text[i] == 44:
                commas[found] = i
                found += 1
            i += 1
        if found < 6:
            return count, position
        end = i
        while end < size and text[end] != 10:
            end += 1
        if end == size:
            return count, position
        after = end + 1
        if end > i and text[end - 1] == 13:
            end -= 1
        while end > i and text[end - 1] == 32:
            end -= 1
        if end > i and text[end - 1] == 44:  # a comma at the end of a row
            end -= 1
        head_start = commas[1]
        head_end = commas[4]
        place = hop_hash(text, head_start, head_end) & mask
        head = -1
        while places[place] > 0:
            known = places[place] - 1
            if pool_start[known + 1] - pool_start[known] == head_end - head_start:
                same = True
                offset = pool_start[known] - head_start
                for k in range(head_start, head_end):
                    if text[k] != pool[offset + k]:
                        same = False
                        break
                if same:
                    head = known
                    break
            place = (place + 1) & mask
        if head < 0:
            return count, position
        read = plain_decimals(text, i, end, 44, levels, filled)
        if read != expected[head]:
            return count, position
        changed = before_end - before_start != head_start - position
        if not changed:
            for k in range(head_start - position):
                if text[before_start + k] != text[position + k]:
                    changed = True
                    break
        lines[count, 0] = head
        lines[count, 1] = filled
        lines[count, 2] = position
        lines[count, 3] = head_start
        lines[count, 4] = 1 if changed else 0
        before_start = position
        before_end = head_start
        filled += read
        count += 1
        position = after
    return count, position

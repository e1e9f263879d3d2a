"""Branch and bound for interchangeable members on one raster: marks on a ruler, from left to right.

Marks lie on cells 0, 1, ... of a raster and rise. With d = x - j the distance of the newest mark x to an older one j
and u = y - x that of a mark y to come, a relation over three of them reads |cy u - cj d| < width; the relation
(1, 1, -1, -1) says that u keeps `apart` to every distance there is between placed marks. So each new mark adds its
distances to one set of bits, and that set, shifted to the new mark, closes cells for all marks to come.

What cannot lead to a ruler is cut by four bounds: the least spans of shorter rulers (`spans[n]` for n marks); the sum
of the smallest distances that are still free, over several orders; the free cells that are left, taken one by one from
the left; and, since a ruler and its mirror image are both or neither good, its middle, which can be had in the left
half.

rows[m, 3]     (cy, cj, width) with cy > 0
four[m, 4]     coefficients of (new, x, j, k) of relations that are not (1, 1, -1, -1), with four_width[m]
closed[d, words], gone[d, words]   for the first d marks: closed cells; distances no later step may have
need[d]        at least so long is the rest of a ruler after the mark that follows the first d
"""

from __future__ import annotations

import numpy as np

from bandwright.kernels.jit import compiled

__all__ = [
    "NOWHERE",
    "cells_too_few",
    "close_span",
    "next_free",
    "or_shifted",
    "search_rulers",
    "set_bits",
    "sums_too_large",
]

_DEPTH = 0
_NODES = 1
_FOUND = 2
_FINISHED = 3
_LENGTH = 4
_MOST = 5
_ORDERS = 3
_ALL = np.uint64(0xFFFFFFFFFFFFFFFF)
_ONE = np.uint64(1)
NOWHERE = np.int64(1) << np.int64(40)


@compiled
def _lowest(x):
    """Return the number of the lowest set bit; x is not 0."""
    n = np.int64(0)
    if x & np.uint64(0xFFFFFFFF) == np.uint64(0):
        n += 32
        x >>= np.uint64(32)
    if x & np.uint64(0xFFFF) == np.uint64(0):
        n += 16
        x >>= np.uint64(16)
    if x & np.uint64(0xFF) == np.uint64(0):
        n += 8
        x >>= np.uint64(8)
    if x & np.uint64(0xF) == np.uint64(0):
        n += 4
        x >>= np.uint64(4)
    if x & np.uint64(0x3) == np.uint64(0):
        n += 2
        x >>= np.uint64(2)
    if x & _ONE == np.uint64(0):
        n += 1
    return n


@compiled
def next_free(bits, at):
    """Return the first clear bit from `at` on, or `NOWHERE`."""
    word = at >> 6
    if word >= bits.shape[0]:
        return NOWHERE
    free = ~bits[word] & (_ALL << np.uint64(at & 63))
    while free == np.uint64(0):
        word += 1
        if word >= bits.shape[0]:
            return NOWHERE
        free = ~bits[word]
    return (word << 6) + _lowest(free)


@compiled
def set_bits(bits, low, high):
    """Set bits `low` to `high`, both included, as far as there are any."""
    low = max(low, np.int64(0))
    high = min(high, (np.int64(bits.shape[0]) << 6) - 1)
    if low > high:
        return
    one = low >> 6
    two = high >> 6
    left = _ALL << np.uint64(low & 63)
    right = _ALL >> np.uint64(63 - (high & 63))
    if one == two:
        bits[one] |= left & right
        return
    bits[one] |= left
    for word in range(one + 1, two):
        bits[word] = _ALL
    bits[two] |= right


@compiled
def or_shifted(bits, other, by):
    """Add `other`, moved up by `by` places, to `bits`."""
    words = by >> 6
    up = np.uint64(by & 63)
    if up == np.uint64(0):
        for word in range(words, bits.shape[0]):
            bits[word] |= other[word - words]
        return
    down = np.uint64(64) - up
    for word in range(bits.shape[0] - 1, words, -1):
        bits[word] |= (other[word - words] << up) | (other[word - words - 1] >> down)
    if words < bits.shape[0]:
        bits[words] |= other[0] << up


@compiled
def _close_ahead(at, apart, rows, four, four_width, pos, closed, gone, ahead):
    """Close what mark number `at` spoils for those to come, from the sets before it into those after it."""
    x = pos[at]
    before = gone[at]
    after = gone[at + 1]
    for word in range(after.shape[0]):
        after[word] = before[word]
        closed[at + 1, word] = closed[at, word]
    if apart > 0:
        for p in range(at):
            d = x - pos[p]
            set_bits(after, d - apart + 1, d + apart - 1)
            if d < apart:
                set_bits(after, np.int64(0), apart - d - 1)
    for word in range(after.shape[0]):
        ahead[word] = after[word]
    for m in range(rows.shape[0]):
        cy = rows[m, 0]
        cj = rows[m, 1]
        width = rows[m, 2]
        for p in range(at):
            middle = cj * (x - pos[p])
            if cy == 1:
                set_bits(ahead, middle - width + 1, middle + width - 1)
            else:
                set_bits(ahead, (middle - width) // cy + 1, -((-middle - width) // cy) - 1)
    or_shifted(closed[at + 1], ahead, x)
    for m in range(four.shape[0]):
        cy = four[m, 0]
        width = four_width[m]
        for p in range(at):
            for q in range(p):
                rest = four[m, 1] * x + four[m, 2] * pos[p] + four[m, 3] * pos[q]
                close_span(closed[at + 1], cy, rest, width)


@compiled
def close_span(bits, factor, rest, width):
    """Close the cells y with |factor y + rest| < width."""
    if factor < 0:
        factor = -factor
        rest = -rest
    set_bits(bits, (-rest - width) // factor + 1, -((rest - width) // factor) - 1)


@compiled
def sums_too_large(placed, marks, length, spacing, apart, spans, gone, pos, need, sums):
    """Whether the distances to come need more room than there is; sets `need` for the marks placed.

    Distances of order r that end at a mark to come add up to the last r marks less the r marks before the first of
    them: those placed, or for r > `placed` the first r of all, of which those to come are no lower than the spans
    allow. All of the orders 1 to R together are `apart` and free, so their sum is no less than that of the smallest;
    where marks may come closer than that, this holds of order 1 only, since others share outer marks.
    """
    need[placed] = 0
    if apart <= 0:
        return False
    x = pos[placed - 1]
    rest = marks - placed
    have = 0  # sums[n] is known for n up to here: the least sum of n distances that are free and `apart`
    value = spacing - apart
    count = 0
    room = np.int64(0)
    next_room = np.int64(0)
    last = np.int64(0)
    first = np.int64(0)
    for order in range(1, min(_ORDERS if spacing >= apart else 1, rest) + 1):
        last += length - spans[order]
        if order <= placed:
            next_room += last - first
            first += pos[placed - order]
        else:
            first += max(spans[order], x + spans[order - placed + 1])
        room += last - first
        count += marks - max(placed, order)
        while have < count:
            value = next_free(gone, value + apart)
            sums[have + 1] = sums[have] + value
            have += 1
        if sums[count] > room:
            return True
        if order <= placed:
            high = (next_room - sums[order * (rest - 1)]) // order
            need[placed] = max(need[placed], length - high)
    return False


@compiled
def cells_too_few(placed, marks, length, spacing, spans, closed, pos):
    """Whether the marks to come, each on the first free cell that it can have, end too late."""
    x = pos[placed - 1]
    rest = marks - placed
    at = x
    for n in range(1, rest + 1):
        at = next_free(closed, max(at + spacing, x + spans[n + 1]))
        if at > length - spans[rest - n + 1]:
            return True
    return False


@compiled
def _highest(placed, marks, length, anchored, spans, pos, need):
    """Return the last cell on which the next mark can lie."""
    if placed == 0 and anchored:
        return np.int64(0)
    high = length - max(spans[marks - placed], need[placed])
    if anchored:
        half = marks >> 1
        if marks & 1:
            if placed <= half:
                high = min(high, (length >> 1) - spans[half - placed + 1])
        elif placed < half:
            high = min(high, ((length - spans[2]) >> 1) - spans[half - placed])
        elif placed == half:
            high = min(high, length - pos[half - 1])
    return high


@compiled
def search_rulers(
    budget, marks, shrink, anchored, spacing, apart, rows, four, four_width, spans, closed, gone, ahead, pos, cursor,
    need, sums, best, state,
):  # fmt: skip
    """Go on looking for a ruler of so many marks for at most `budget` nodes.

    With `shrink` each ruler found asks for a shorter one, else the first one ends the search. `anchored` says that all
    cells are alike, so that a ruler starts at cell 0 and its mirror image need not be looked at. The state is (marks
    placed now, nodes so far, whether one is found, whether all has been searched, the longest span allowed, the most
    marks that were placed at a time, which `best` holds).
    """
    placed = state[_DEPTH]
    stop = state[_NODES] + budget
    while state[_NODES] < stop:
        length = state[_LENGTH]
        y = next_free(closed[placed], cursor[placed])
        if y > _highest(placed, marks, length, anchored, spans, pos, need):
            if placed == 0:
                state[_FINISHED] = 1
                break
            placed -= 1
            continue
        state[_NODES] += 1
        cursor[placed] = y + 1
        pos[placed] = y
        placed += 1
        if state[_MOST] < placed < marks:
            state[_MOST] = placed
            best[:placed] = pos[:placed]
        if placed == marks:
            state[_MOST] = marks
            best[:] = pos
            state[_FOUND] = 1
            if not shrink:
                state[_FINISHED] = 1
                break
            state[_LENGTH] = y - pos[0] - 1
            placed -= 1
            continue
        _close_ahead(placed - 1, apart, rows, four, four_width, pos, closed, gone, ahead)
        if sums_too_large(placed, marks, length, spacing, apart, spans, gone[placed], pos, need, sums) or cells_too_few(
            placed, marks, length, spacing, spans, closed[placed], pos
        ):
            placed -= 1
            continue
        cursor[placed] = y + spacing
    state[_DEPTH] = placed

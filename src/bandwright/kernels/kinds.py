"""Branch and bound for a few kinds of members on one raster: rulers whose marks are of different kinds.

As `kernels.ruler`, with one set of closed cells for each kind. A relation asks for the width that its strictest victim
asks for, so widths are tables over kinds. The relation (1, 1, -1, -1) over marks y, x, a, b asks for the largest of
four clearances: the distances of older marks are kept once for each `level` of the two newer ones. Given carriers lie
anywhere, also off the raster; what they close by themselves is in `closed` from the start.

closed[d, kind, words]           closed cells for each kind
gone[d, level, words]            distances of older marks, widened by the largest of level[l], own[a], own[b]
low[d, words]                    all distances, widened by the smallest clearance: for the bound on sums
near[kind, kind]                 spacing
level[l], level_of[kind, kind]   clearances in cells, rising, and which of them two newer marks ask for
own[kind]                        clearance in cells for (1, 1, -1, -1)
rows[m, 2], width[m, y, x, j]    (cy, cj) and widths
four[m, 4], four_width[m, y, x, j, k]   relations of four marks that are not (1, 1, -1, -1)
given[g], raster                 given carriers in Hz from cell 0, and Hz for a cell
third[m, 3], third_width[m, y, x, g]   relations with one given carrier, Hz
fourth[m, 4], fourth_width[m, y, x, g, h], fourth_mark[m, y, x, g, j]   with two (h < g), or with an older mark, Hz
"""

from __future__ import annotations

import numpy as np

from bandwright.kernels.jit import compiled
from bandwright.kernels.ruler import (
    NOWHERE,
    cells_too_few,
    close_span,
    next_free,
    or_shifted,
    set_bits,
    sums_too_large,
)

__all__ = ["search_kinds"]

_DEPTH = 0
_NODES = 1
_FOUND = 2
_FINISHED = 3
_LENGTH = 4
_MOST = 5
_ALL = np.uint64(0xFFFFFFFFFFFFFFFF)


@compiled
def _add_distances(at, level, own, pos, kind, gone, low, least):
    """Widen the distances of mark number `at` to those before it into the sets that hold after it."""
    x = pos[at]
    c = kind[at]
    gone[at + 1] = gone[at]
    low[at + 1] = low[at]
    for p in range(at):
        d = x - pos[p]
        pair = max(own[c], own[kind[p]])
        for n in range(level.shape[0]):
            wide = max(level[n], pair)
            if wide > 0:
                set_bits(gone[at + 1, n], d - wide + 1, d + wide - 1)
                if d < wide:
                    set_bits(gone[at + 1, n], np.int64(0), wide - d - 1)
        if least > 0:
            set_bits(low[at + 1], d - least + 1, d + least - 1)


@compiled
def _close_kind(y, at, near, level_of, rows, width, four, four_width, pos, kind, gone, ahead, bits):
    """Close for kind `y` what mark number `at` spoils together with those before it."""
    x = pos[at]
    c = kind[at]
    older = gone[at, level_of[y, c]]
    for word in range(ahead.shape[0]):
        ahead[word] = older[word]
    set_bits(ahead, np.int64(0), near[y, c] - 1)
    for m in range(rows.shape[0]):
        cy = rows[m, 0]
        for p in range(at):
            wide = width[m, y, c, kind[p]]
            if wide > 0:
                close_span(ahead, cy, -rows[m, 1] * (x - pos[p]), wide)
    or_shifted(bits, ahead, x)
    for m in range(four.shape[0]):
        for p in range(at):
            for q in range(p):
                wide = four_width[m, y, c, kind[p], kind[q]]
                if wide > 0:
                    rest = four[m, 1] * x + four[m, 2] * pos[p] + four[m, 3] * pos[q]
                    close_span(bits, four[m, 0], rest, wide)


@compiled
def _close_beside_given(
    y, at, raster, given, third, third_width, fourth, fourth_width, fourth_mark, pos, kind, bits
):  # fmt: skip
    """Close for kind `y` what mark number `at` spoils together with given carriers."""
    x = pos[at] * raster
    c = kind[at]
    for g in range(given.shape[0]):
        for m in range(third.shape[0]):
            wide = third_width[m, y, c, g]
            if wide > 0:
                close_span(bits, third[m, 0] * raster, third[m, 1] * x + third[m, 2] * given[g], wide)
        for m in range(fourth.shape[0]):
            for h in range(g):
                wide = fourth_width[m, y, c, g, h]
                if wide > 0:
                    rest = fourth[m, 1] * x + fourth[m, 2] * given[g] + fourth[m, 3] * given[h]
                    close_span(bits, fourth[m, 0] * raster, rest, wide)
            for p in range(at):
                wide = fourth_mark[m, y, c, g, kind[p]]
                if wide > 0:
                    rest = fourth[m, 1] * x + fourth[m, 2] * given[g] + fourth[m, 3] * pos[p] * raster
                    close_span(bits, fourth[m, 0] * raster, rest, wide)


@compiled
def _kinds_too_few(rest, lacking, near, closed, at):
    """Whether the kinds together, each by its own spacing, have too few free cells from `at` on."""
    total = np.int64(0)
    for y in range(lacking.shape[0]):
        cell = at
        for _ in range(min(lacking[y], rest)):
            cell = next_free(closed[y], cell)
            if cell >= NOWHERE:
                break
            total += 1
            cell += max(near[y, y], np.int64(1))
        if total >= rest:
            return False
    return True


@compiled
def search_kinds(
    budget, marks, lacking, spacing, least, near, level, level_of, own, rows, width, four, four_width, raster, given,
    third, third_width, fourth, fourth_width, fourth_mark, spans, closed, gone, low, ahead, any_closed, pos, kind,
    cursor, turn, need, sums, best, best_kind, state,
):  # fmt: skip
    """Go on looking for so many marks, of each kind as many as `lacking` says at most, for at most `budget` nodes.

    The state is as in `kernels.ruler`. `spacing` and `least` are what marks of any kinds and their distances keep.
    """
    placed = state[_DEPTH]
    stop = state[_NODES] + budget
    length = state[_LENGTH]
    while state[_NODES] < stop:
        cell = NOWHERE
        y = 0
        for d in range(lacking.shape[0]):
            if lacking[d] > 0:
                free = next_free(closed[placed, d], cursor[placed] + (0 if d >= turn[placed] else 1))
                if free < cell:
                    cell = free
                    y = d
        if cell > length - max(spans[marks - placed], need[placed]):
            if placed == 0:
                state[_FINISHED] = 1
                break
            placed -= 1
            lacking[kind[placed]] += 1
            continue
        state[_NODES] += 1
        cursor[placed] = cell
        turn[placed] = y + 1
        pos[placed] = cell
        kind[placed] = y
        lacking[y] -= 1
        placed += 1
        if state[_MOST] < placed < marks:
            state[_MOST] = placed
            best[:placed] = pos[:placed]
            best_kind[:placed] = kind[:placed]
        if placed == marks:
            state[_MOST] = marks
            best[:] = pos
            best_kind[:] = kind
            state[_FOUND] = 1
            state[_FINISHED] = 1
            break
        _add_distances(placed - 1, level, own, pos, kind, gone, low, least)
        any_closed[:] = _ALL
        for d in range(lacking.shape[0]):
            if lacking[d] > 0:
                closed[placed, d] = closed[placed - 1, d]
                _close_kind(
                    d, placed - 1, near, level_of, rows, width, four, four_width, pos, kind, gone, ahead,
                    closed[placed, d],
                )  # fmt: skip
                if given.shape[0] > 0:
                    _close_beside_given(
                        d, placed - 1, raster, given, third, third_width, fourth, fourth_width, fourth_mark, pos, kind,
                        closed[placed, d],
                    )  # fmt: skip
                for word in range(any_closed.shape[0]):
                    any_closed[word] &= closed[placed, d, word]
        cursor[placed] = cell + spacing
        turn[placed] = 0
        if (
            sums_too_large(placed, marks, length, spacing, least, spans, low[placed], pos, need, sums)
            or cells_too_few(placed, marks, length, spacing, spans, any_closed, pos)
            or _kinds_too_few(marks - placed, lacking, near, closed[placed], cell + spacing)
        ):
            placed -= 1
            lacking[y] += 1
    state[_DEPTH] = placed

"""Count arrays over cells: what a member put on a cell would break.

A member sits on a cell of the raster, or nowhere (-1), and is of a *kind*: what it asks for as a victim, whether it
takes part in products, and by how much it lies off the raster. A *relation* is a vector of whole coefficients over
distinct members; it is broken when the absolute value of its sum is below what its victim asks.

* A relation of three members becomes an interval that each pair adds to a *direct* array over multiples of the cell.
* A relation of four is cut in two halves: each pair adds an interval to a *shifted* array, and each third member reads
  that array shifted by its own place.

What a pair of kinds adds (`ops`) and what a kind reads (`direct`, `reads`) is worked out beforehand, exactly in Hz, so
these loops hold no rules. Each broken relation counts 2, whichever of its members looks.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bandwright.kernels.jit import compiled

__all__ = ["BIG", "CLOSED", "Air", "Rules", "add_member", "conflicts", "next_random", "scan_member"]

BIG = 200_000  # what a broken spacing counts
CLOSED = 1_000_000_000  # what a cell counts that is no candidate
_MULTIPLIER = np.uint64(2685821657736338717)
_LOW_HALF = np.uint64(0xFFFFFFFF)


class Rules(NamedTuple):
    """What stays: rows of `ops`, `direct` and `reads` are described beside the kernels that use them."""

    ops: NDArray[np.int64]
    ops_start: NDArray[np.int64]  # of the pair of kinds k, j: entry k * kinds + j
    direct: NDArray[np.int64]
    direct_start: NDArray[np.int64]  # of each kind
    reads: NDArray[np.int64]
    reads_start: NDArray[np.int64]  # of the pair of kinds
    twin: NDArray[np.int64]  # of the pair of kinds: what a member counts of its own pair when it looks at its own cell
    off_hz: NDArray[np.int64]  # how far each kind lies above its cell
    step_hz: int
    context_of: NDArray[np.int64]  # (member, 1 + most): how many contexts a member is in, and which
    context_start: NDArray[np.int64]
    context_list: NDArray[np.int64]  # members of each context, one after another
    near_hz: NDArray[np.int64]  # (member, member): least distance, 0 = none asked
    far_hz: NDArray[np.int64]  # largest distance, 0 = none asked
    choice: NDArray[np.int64]  # of each wanted member
    strip_start: NDArray[np.int64]  # strips of each choice
    strip: NDArray[np.int64]  # (strip, 4): kind, lowest cell, number of cells, first entry
    entry_start: NDArray[np.int64]  # entries of each choice
    entry_cell: NDArray[np.int64]
    entry_kind: NDArray[np.int64]
    static: NDArray[np.int32]  # what an entry counts by itself
    wish: NDArray[np.int64]


class Air(NamedTuple):
    """What moves: where members are, and what the arrays count in each context."""

    cell: NDArray[np.int64]
    kind: NDArray[np.int64]
    entry: NDArray[np.int64]
    counts: NDArray[np.int32]  # (context, size)
    cost: NDArray[np.int32]
    sums: NDArray[np.int32]
    others: NDArray[np.int64]  # (kind, members): room for sorting the members of a context by kind
    amount: NDArray[np.int64]
    starts: NDArray[np.int64]
    random: NDArray[np.uint64]


@compiled
def next_random(state):
    """Return the next 32 random bits of an xorshift64* stream (Vigna 2016); `state` is one uint64."""
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    low = x & _LOW_HALF  # the upper half of x times the multiplier, made so that no product overflows
    carried = (low * (_MULTIPLIER & _LOW_HALF)) >> np.uint64(32)
    across = (low * (_MULTIPLIER >> np.uint64(32))) & _LOW_HALF
    upper = ((x >> np.uint64(32)) * (_MULTIPLIER & _LOW_HALF)) & _LOW_HALF
    return np.int64((carried + across + upper) & _LOW_HALF)


@compiled
def _sort_others(x, c, rules, air):
    """Sort the placed members of context `c` other than `x` by kind: their cells go to `others`."""
    air.amount[:] = 0
    for slot in range(rules.context_start[c], rules.context_start[c + 1]):
        j = rules.context_list[slot]
        if j != x and air.cell[j] >= 0:
            k = air.kind[j]
            air.others[k, air.amount[k]] = air.cell[j]
            air.amount[k] += 1


@compiled
def add_member(x, sign, rules, air):
    """Add (`sign` 1) or take away (-1) what `x` on its cell counts together with each other member.

    A row of `ops` is base, a, cx, cj, below, above, weight: the interval from base - floor((q + below) / a) to
    base + floor((above - q) / a), where q = cx * cell of x + cj * cell of j.
    """
    kinds = air.amount.shape[0]
    px = air.cell[x]
    for turn in range(rules.context_of[x, 0]):
        c = rules.context_of[x, turn + 1]
        _sort_others(x, c, rules, air)
        counts = air.counts[c]
        for k in range(kinds):
            many = air.amount[k]
            if many == 0:
                continue
            others = air.others[k]
            pair = air.kind[x] * kinds + k
            for m in range(rules.ops_start[pair], rules.ops_start[pair + 1]):
                weight = sign * rules.ops[m, 6]
                cj = rules.ops[m, 3]
                if rules.ops[m, 1] == 1:
                    start = rules.ops[m, 0] - rules.ops[m, 2] * px - rules.ops[m, 4]
                    width = rules.ops[m, 4] + rules.ops[m, 5] + 1
                    if width == 1:
                        for i in range(many):
                            counts[start - cj * others[i]] += weight
                    elif width == 3:
                        for i in range(many):
                            at = start - cj * others[i]
                            counts[at] += weight
                            counts[at + 1] += weight
                            counts[at + 2] += weight
                    else:
                        for i in range(many):
                            at = start - cj * others[i]
                            for place in range(at, at + width):
                                counts[place] += weight
                else:
                    a = rules.ops[m, 1]
                    for i in range(many):
                        q = rules.ops[m, 2] * px + cj * others[i]
                        low = rules.ops[m, 0] - (q + rules.ops[m, 4]) // a
                        for place in range(low, rules.ops[m, 0] + (rules.ops[m, 5] - q) // a + 1):
                            counts[place] += weight


@compiled
def scan_member(x, lowest, rules, air):
    """Fill `cost` with what `x` (now nowhere) would break on each entry of its choice, from cell `lowest` on.

    A row of `direct` is base, a: read at base + a * cell. A row of `reads` is base, a, b: read at
    base + a * cell + b * cell of j.
    """
    q = rules.choice[x]
    first = rules.entry_start[q]
    kinds = air.amount.shape[0]
    for s in range(rules.strip_start[q], rules.strip_start[q + 1]):
        k, low, length = rules.strip[s, 0], rules.strip[s, 1], rules.strip[s, 2]
        at = rules.strip[s, 3]
        skip = min(max(lowest - low, 0), length)
        low += skip
        length -= skip
        at += skip
        if length == 0:
            continue
        cost = air.cost[at - first : at - first + length]
        sums = air.sums[:length]
        sums[:] = 0
        for turn in range(rules.context_of[x, 0]):
            c = rules.context_of[x, turn + 1]
            counts = air.counts[c]
            for m in range(rules.direct_start[k], rules.direct_start[k + 1]):
                a = rules.direct[m, 1]
                _add_every(counts, rules.direct[m, 0] + a * low, a, sums)
            many = 0
            for slot in range(rules.context_start[c], rules.context_start[c + 1]):
                j = rules.context_list[slot]
                if j == x or air.cell[j] < 0:
                    continue
                pair = k * kinds + air.kind[j]
                for m in range(rules.reads_start[pair], rules.reads_start[pair + 1]):
                    a = rules.reads[m, 1]
                    start = rules.reads[m, 0] + a * low + rules.reads[m, 2] * air.cell[j]
                    if a == 1:
                        air.starts[many] = start
                        many += 1
                    else:
                        _add_every(counts, start, a, sums)
            _add_shifted(counts, air.starts, many, sums)
        static = rules.static[at : at + length]
        for p in range(length):
            cost[p] = sums[p] + static[p]
        _add_spacing(x, k, low, rules.near_hz, rules.far_hz, rules.off_hz, rules.step_hz, air.cell, air.kind, cost)


@compiled
def _add_spacing(x, k, low, near_hz, far_hz, off_hz, step_hz, cell, kind, cost):
    """Add what spacing forbids for `x` as kind `k` on the cells from `low` on."""
    length = cost.shape[0]
    for j in range(cell.shape[0]):
        apart = near_hz[x, j]
        if cell[j] < 0 or j == x:
            continue
        if apart > 0:
            shift = off_hz[k] - off_hz[kind[j]]
            if shift == 0:
                half = (
                    np.int64(np.uint32(apart - 1) // np.uint32(step_hz))
                    if apart < 4_000_000_000
                    else (apart - 1) // step_hz
                )
                start = cell[j] - low - half
                stop = cell[j] - low + half
            else:
                start = cell[j] - low - (apart - 1 + shift) // step_hz
                stop = cell[j] - low + (apart - 1 - shift) // step_hz
            for p in range(max(start, 0), min(stop, length - 1) + 1):
                cost[p] += BIG
        widest = far_hz[x, j]
        if widest > 0:
            shift = off_hz[k] - off_hz[kind[j]]
            start = cell[j] - low - (widest + shift) // step_hz
            stop = cell[j] - low + (widest - shift) // step_hz
            for p in range(length):
                if p < start or p > stop:
                    cost[p] += BIG


@compiled
def _add_every(counts, start, a, sums):
    """Add every a-th count from `start` on to `sums`."""
    length = sums.shape[0]
    part = counts[start : start + a * length]
    if a == 1:
        for p in range(length):
            sums[p] += part[p]
    elif a == 2:
        for p in range(length):
            sums[p] += part[np.uint64(2) * np.uint64(p)]
    else:
        step = np.uint64(a)
        for p in range(length):
            sums[p] += part[step * np.uint64(p)]


@compiled
def _add_shifted(counts, starts, many, sums):
    """Add the counts from each of `many` starts on to `sums`, four at a time."""
    length = sums.shape[0]
    i = 0
    while i + 4 <= many:
        one = counts[starts[i] : starts[i] + length]
        two = counts[starts[i + 1] : starts[i + 1] + length]
        three = counts[starts[i + 2] : starts[i + 2] + length]
        four = counts[starts[i + 3] : starts[i + 3] + length]
        for p in range(length):
            sums[p] += one[p] + two[p] + three[p] + four[p]
        i += 4
    while i < many:
        one = counts[starts[i] : starts[i] + length]
        for p in range(length):
            sums[p] += one[p]
        i += 1


@compiled
def conflicts(spacing, rules, air, conflict):
    """Fill `conflict[x]` with what each placed wanted member breaks where it sits, from arrays that include it.

    What a pair counts against itself is taken off (`twin`). Where clearances exceed spacing the figure may be wrong.
    Spacing is looked at only where `spacing` says so.
    """
    kinds = air.amount.shape[0]
    conflict[:] = 0
    for c in range(rules.context_start.shape[0] - 1):
        counts = air.counts[c]
        _sort_others(-1, c, rules, air)
        for slot in range(rules.context_start[c], rules.context_start[c + 1]):
            x = rules.context_list[slot]
            if x >= conflict.shape[0] or air.cell[x] < 0:
                continue
            p = air.cell[x]
            k = air.kind[x]
            count = np.int64(0)
            for m in range(rules.direct_start[k], rules.direct_start[k + 1]):
                count += counts[rules.direct[m, 0] + rules.direct[m, 1] * p]
            for j in range(kinds):
                many = air.amount[j]
                if many == 0:
                    continue
                pair = k * kinds + j
                others = air.others[j]
                count -= rules.twin[pair] * (many - (1 if j == k else 0))
                for m in range(rules.reads_start[pair], rules.reads_start[pair + 1]):
                    b = rules.reads[m, 2]
                    start = rules.reads[m, 0] + rules.reads[m, 1] * p
                    for i in range(many):
                        count += counts[start + b * others[i]]
                    if j == k:
                        count -= counts[start + b * p]
            conflict[x] += count
    for x in range(conflict.shape[0]):
        if air.cell[x] < 0:
            continue
        conflict[x] += rules.static[air.entry[x]]
        if spacing:
            for j in range(air.cell.shape[0]):
                if j != x and air.cell[j] >= 0 and (rules.near_hz[x, j] > 0 or rules.far_hz[x, j] > 0):
                    gap = abs(
                        (air.cell[x] - air.cell[j]) * rules.step_hz
                        + rules.off_hz[air.kind[x]]
                        - rules.off_hz[air.kind[j]]
                    )
                    if gap < rules.near_hz[x, j] or (rules.far_hz[x, j] > 0 and gap > rules.far_hz[x, j]):
                        conflict[x] += BIG

"""Branch and bound over candidates: as much as can be placed together, decided exactly in Hz.

An *entry* is a candidate of one class of interchangeable members. Entries have one fixed order (their rank), in which
those of a class rise in Hz; members are placed in that order only, so that no set is met twice. `open` says which
entries are still clean beside everything placed; placing a member closes, for each class that lacks members, what the
new member spoils together with any one or two others. A pass from the last entry to the first then counts how much
can still come at or after each entry if nothing but spacing mattered, and what cannot beat the best set is not tried.

Members and given carriers have a *kind*: classes first, then given carriers. Arguments that return:

hz[entries], kind_of[entries]   carrier and class of each entry, by rank
first[c]                        entries of class c in `listed` are listed[first[c]:first[c + 1]], rising in Hz
near[kinds, kinds], far[kinds, kinds]   least and largest distance in Hz, 0 = none asked
mask[kinds, words]              contexts of a kind, as bits
sends[kinds]                    0 makes no products, 1 only together with one of ours, 2 always
clear[kinds, families]          the clearance a kind asks for as a victim, 0 = off
pair[m, 2]                      (factor, family): factor times the distance of two senders
three[m, 3], four[m, 4]         coefficients of (new, x, j) and of (new, x, j, k)
three_who[n, 4], four_who[n, 4] (row, victim 0 new, 1 x, 2 j, 3 k; family; whether the victim is a generator)
three_from, four_from           rows of `_who` for row m are those from [m] to [m + 1]
held[n], held_hz[n]             kind and carrier of what is placed, given carriers first
"""

from __future__ import annotations

import numpy as np

from bandwright.kernels.jit import compiled

__all__ = ["close_by_given", "count_ahead", "fill_widths", "search_on"]

_PLACED = 0
_NODES = 1
_BEST = 2
_FOUND = 3
_FINISHED = 4
_FAR = np.int64(1) << np.int64(60)


@compiled
def _close(low, high, d, hz, first, listed, open_):
    """Close the entries of class `d` strictly between two carriers."""
    left = first[d]
    right = first[d + 1]
    stop = right
    while left < right:
        middle = (left + right) >> 1
        if hz[listed[middle]] <= low:
            left = middle + 1
        else:
            right = middle
    while left < stop and hz[listed[left]] < high:
        open_[listed[left]] = 0
        left += 1


@compiled
def _close_about(factor, rest, width, d, hz, first, listed, open_):
    """Close the entries y of class `d` with |factor y + rest| < width."""
    if factor < 0:
        factor = -factor
        rest = -rest
    if factor == 1:
        _close(-rest - width, width - rest, d, hz, first, listed, open_)
    else:
        _close((-rest - width) // factor, -((rest - width) // factor), d, hz, first, listed, open_)


@compiled
def _meet(mask, a, b, c, d):
    """Whether four kinds share a context."""
    for word in range(mask.shape[1]):
        if mask[a, word] & mask[b, word] & mask[c, word] & mask[d, word]:
            return True
    return False


@compiled
def _widest(row, who, start, new, x, j, k, parts, classes, sends, clear):
    """Return the largest clearance that a victim asks for in this row, 0 where no product is made."""
    widest = np.int64(0)
    for n in range(start[row], start[row + 1]):
        role = who[n, 1]
        victim = new if role == 0 else x if role == 1 else j if role == 2 else k
        asked = clear[victim, who[n, 2]]
        if asked <= widest:
            continue
        generates = who[n, 3] == 1
        least = np.int64(2)
        any_own = False
        for place in range(parts):
            if place == role and not generates:
                continue
            kind = new if place == 0 else x if place == 1 else j if place == 2 else k
            least = min(least, sends[kind])
            any_own = any_own or kind < classes
        if least == 2 or (least == 1 and any_own):
            widest = asked
    return widest


@compiled
def fill_widths(new, x, j, k, parts, who, start, classes, mask, sends, clear, table):
    """Fill `table[row, new, x, j, k]` with what victims ask for, over lists of kinds that share a context.

    With three parts `k` holds one kind, which does not count.
    """
    for a in range(new.shape[0]):
        for b in range(x.shape[0]):
            for c in range(j.shape[0]):
                for d in range(k.shape[0]):
                    last = k[d] if parts > 3 else j[c]
                    if not _meet(mask, new[a], x[b], j[c], last):
                        continue
                    for row in range(table.shape[0]):
                        table[row, a, b, c, d] = _widest(
                            row, who, start, new[a], x[b], j[c], last, parts, classes, sends, clear
                        )


@compiled
def _close_beside(
    at, held, held_hz, lacking, hz, first, listed, near, far, mask, sends, clear, pair, three, three_who, three_from,
    four, four_who, four_from, open_,
):  # fmt: skip
    """Close what member number `at` spoils, alone and with one or two of those placed before it."""
    classes = first.shape[0] - 1
    x = held[at]
    fx = held_hz[at]
    for d in range(classes):
        if lacking[d] <= 0:
            continue
        if near[x, d] > 0:
            _close(fx - near[x, d], fx + near[x, d], d, hz, first, listed, open_)
        if far[x, d] > 0:
            _close(-_FAR, fx - far[x, d], d, hz, first, listed, open_)
            _close(fx + far[x, d], _FAR, d, hz, first, listed, open_)
        if not _meet(mask, d, x, d, x):
            continue
        for m in range(pair.shape[0]):
            asked = max(clear[x, pair[m, 1]], clear[d, pair[m, 1]])
            if asked > 0 and sends[x] > 0:
                _close_about(pair[m, 0], -pair[m, 0] * fx, asked, d, hz, first, listed, open_)
        if three.shape[0] == 0 and four.shape[0] == 0:
            continue
        for p in range(at):
            j = held[p]
            fj = held_hz[p]
            if not _meet(mask, d, x, j, j):
                continue
            for m in range(three.shape[0]):
                width = _widest(m, three_who, three_from, d, x, j, j, 3, classes, sends, clear)
                if width > 0:
                    rest = three[m, 1] * fx + three[m, 2] * fj
                    _close_about(three[m, 0], rest, width, d, hz, first, listed, open_)
            if four.shape[0] == 0:
                continue
            for q in range(p):
                k = held[q]
                if not _meet(mask, d, x, j, k):
                    continue
                for m in range(four.shape[0]):
                    width = _widest(m, four_who, four_from, d, x, j, k, 4, classes, sends, clear)
                    if width > 0:
                        rest = four[m, 1] * fx + four[m, 2] * fj + four[m, 3] * held_hz[q]
                        _close_about(four[m, 0], rest, width, d, hz, first, listed, open_)


@compiled
def close_by_given(
    held, held_hz, lacking, hz, first, listed, near, far, mask, sends, clear, pair, three, three_who, three_from,
    four, four_who, four_from, open_,
):  # fmt: skip
    """Close every entry that the given carriers alone rule out."""
    for at in range(held.shape[0]):
        _close_beside(
            at, held, held_hz, lacking, hz, first, listed, near, far, mask, sends, clear, pair, three, three_who,
            three_from, four, four_who, four_from, open_,
        )  # fmt: skip


@compiled
def count_ahead(start, lacking, worth, alone, hz, kind_of, near, together, open_, ahead, room, last):
    """Fill `ahead[e]`: the most that entries from rank e on can add by spacing alone.

    `alone[c]` marks classes whose entries come first in the order, class by class; the others are merged by Hz and
    also share the spacing `together` (0 = none). Entries of classes that lack nothing are closed on the way.
    """
    for c in range(lacking.shape[0]):
        room[c] = 0
        last[c] = _FAR
    apart = np.int64(0)
    merged = np.int64(0)
    joint = np.int64(0)
    joint_last = _FAR
    heaviest = np.int64(0)
    for e in range(hz.shape[0] - 1, start - 1, -1):
        if open_[e]:
            c = kind_of[e]
            if lacking[c] <= 0:
                open_[e] = 0
            else:
                spacing = near[c, c]
                more = np.int64(0)
                if spacing <= 0:
                    more += lacking[c] - room[c]
                elif hz[e] <= last[c] - spacing:
                    last[c] = hz[e]
                    more += 1 if room[c] < lacking[c] else 0
                room[c] += more
                if alone[c]:
                    apart += more * worth[c]
                else:
                    merged += more * worth[c]
                    if together > 0 and hz[e] <= joint_last - together:
                        joint_last = hz[e]
                        joint += 1
                    heaviest = max(heaviest, worth[c])
        ahead[e] = apart + (min(merged, joint * heaviest) if together > 0 else merged)


@compiled
def search_on(
    budget, enough, given, held, held_hz, lacking, worth, alone, together, hz, kind_of, first, listed, near, far, mask,
    sends, clear, pair, three, three_who, three_from, four, four_who, four_from, open_, ahead, cursor, value, room,
    last, best, state,
):  # fmt: skip
    """Go on with the search for at most `budget` nodes, or until a set is worth `enough`.

    The state is (members placed now, nodes so far, worth of the best set or one less than is asked, members in it,
    whether all has been searched); `best` holds the entries of the best set. At depth d `open_[d]`, `ahead[d]` and
    `cursor[d]` belong to the set of d members, and `entry d` of the set is cursor[d] - 1.
    """
    depth = state[_PLACED]
    stop = state[_NODES] + budget
    entries = hz.shape[0]
    while state[_NODES] < stop:
        e = cursor[depth]
        while e < entries and not open_[depth, e]:
            e += 1
        if e >= entries or value[depth] + ahead[depth, e] <= state[_BEST]:
            if depth == 0:
                state[_FINISHED] = 1
                break
            depth -= 1
            lacking[kind_of[cursor[depth] - 1]] += 1
            continue
        state[_NODES] += 1
        cursor[depth] = e + 1
        c = kind_of[e]
        held[given + depth] = c
        held_hz[given + depth] = hz[e]
        lacking[c] -= 1
        value[depth + 1] = value[depth] + worth[c]
        open_[depth + 1, e:] = open_[depth, e:]
        _close_beside(
            given + depth, held, held_hz, lacking, hz, first, listed, near, far, mask, sends, clear, pair, three,
            three_who, three_from, four, four_who, four_from, open_[depth + 1],
        )  # fmt: skip
        depth += 1
        cursor[depth] = e
        if value[depth] > state[_BEST]:
            state[_BEST] = value[depth]
            state[_FOUND] = depth
            for d in range(depth):
                best[d] = cursor[d] - 1
            if value[depth] >= enough:
                state[_FINISHED] = 1
                break
        count_ahead(e, lacking, worth, alone, hz, kind_of, near, together, open_[depth], ahead[depth], room, last)
    state[_PLACED] = depth

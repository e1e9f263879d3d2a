"""What a placement needs: the rows of members one of whom must leave, and how many must leave at least."""

from __future__ import annotations

import numpy as np

from bandwright.kernels.jit import compiled
from bandwright.kernels.repair_board import (
    BUDGET,
    LATER,
    OVERFLOWED,
    WIDTH,
    may_leave,
    nobody_left,
    said_before,
)

__all__ = ["in_the_way", "packing"]


@compiled
def _keep_row(row, count, need, board, machine):
    """Add a row to what a placement needs; returns the new count, -1 where nobody of it may leave."""
    some = False
    for k in range(row.shape[0]):
        if row[k] >= 0 and may_leave(row[k], board, machine[LATER]):
            some = True
    if not some or machine[BUDGET] == 0:
        return -1
    if count == need.shape[0]:
        machine[OVERFLOWED] = 1
        return -1
    for k in range(WIDTH):
        need[count, k] = row[k] if k < row.shape[0] else -1
    return count + 1


@compiled
def packing(need, count, board, most, later_left):
    """Return how many open rows share no member that may leave, as a greedy count finds them, at most `most` + 1."""
    used = np.empty(WIDTH * (most + 2), np.int64)
    filled = 0
    packed = 0
    for r in range(count):
        if not nobody_left(need[r], board):
            continue
        meets = False
        before = filled
        for k in range(WIDTH):
            m = need[r, k]
            if m < 0 or not may_leave(m, board, later_left):
                continue
            for u in range(before):
                if used[u] == m:
                    meets = True
            used[filled] = m
            filled += 1
        if meets:
            filled = before
            continue
        packed += 1
        if packed > most:
            break
    return packed


@compiled
def in_the_way(t, p, entry, rules, board, places, need, machine):
    """Fill `need` with every row that `t` on `p` asks to lose a member; returns how many, -1 where it cannot be."""
    count = 0
    n = board.status.shape[0]
    row = np.full(WIDTH, -1, np.int64)
    for j in range(n):
        if j == t or (board.status[j] != 0 and board.status[j] != 2):
            continue
        gap = abs(p - board.f[j])
        if gap < rules.near[t, j] or (rules.far[t, j] > 0 and gap > rules.far[t, j]):
            if board.status[j] == 2:
                return -1
            row[0] = j
            count = _keep_row(row, count, need, board, machine)
            if count < 0:
                return -1
    for r in range(places.row_start[entry], places.row_start[entry + 1]):
        if nobody_left(places.rows[r], board):
            count = _keep_row(places.rows[r], count, need, board, machine)
            if count < 0:
                return -1
    if count > machine[BUDGET] and packing(need, count, board, machine[BUDGET], machine[LATER]) > machine[BUDGET]:
        return -1
    count = _with_newcomers(t, p, count, rules, board, need, machine)
    if count > machine[BUDGET] and packing(need, count, board, machine[BUDGET], machine[LATER]) > machine[BUDGET]:
        return -1
    return count


@compiled
def _with_newcomers(t, p, count, rules, board, need, machine):
    """Add the relations that `t` on `p` breaks together with at least one member on a new place.

    The last member of each comes from a search among members by carrier; a call for each would cost more than it does.
    """
    f = board.f
    status = board.status
    rising = board.rising
    rise = board.rise
    coef = rules.coef
    least = rules.least
    sends = rules.sends
    budget = machine[BUDGET]
    row = np.full(WIDTH, -1, np.int64)
    fresh = np.empty(f.shape[0], np.int64)
    for slot in range(rules.context_of[t, 0]):
        c = rules.context_of[t, slot + 1]
        begin, end = rules.context_start[c], rules.context_start[c + 1]
        newcomers = 0
        for entry in range(begin, end):
            if status[rising[entry]] == 2 and rising[entry] != t:
                fresh[newcomers] = rising[entry]
                newcomers += 1
        for i in range(newcomers):
            u = fresh[i]
            for relation in range(rules.parts.shape[0]):
                k = rules.parts[relation]
                v = rules.victim[relation]
                makers = rules.makers[relation]
                for role in range(k):
                    if said_before(relation, role, -1, rules):
                        continue
                    for turn in range(k):
                        if turn == role or said_before(relation, turn, role, rules):
                            continue
                        g = least[t, relation] if v == role else least[u, relation]
                        if (v == role or v == turn) and g <= 0:
                            continue
                        s = coef[relation, role] * p + coef[relation, turn] * f[u]
                        if k == 2:
                            if abs(s) < g:
                                return -1
                            continue
                        o0 = 0
                        while o0 == role or o0 == turn:
                            o0 += 1
                        last = o0
                        if k > 3:
                            last = o0 + 1
                            while last == role or last == turn:
                                last += 1
                        a = coef[relation, last]
                        sign = 1 if a > 0 else -1
                        a *= sign
                        for entry in range(begin, end if k > 3 else begin + 1):
                            x0 = -1
                            rest = s
                            if k > 3:
                                x0 = rising[entry]
                                if x0 == t or x0 == u or (status[x0] != 0 and status[x0] != 2):
                                    continue
                                if o0 < makers and sends[x0] == 0:
                                    continue
                                if v == o0:
                                    g = least[x0, relation]
                                    if g <= 0:
                                        continue
                                rest += coef[relation, o0] * f[x0]
                            if v == last:
                                g = rules.widest[relation]
                            rest *= sign
                            low = 1 - g - rest
                            high = g - rest - 1
                            if a > 1:
                                low = (-g - rest) // a + 1
                                high = -((rest - g) // a) - 1
                            at = begin
                            above = end
                            while at < above:
                                middle = (at + above) >> 1
                                if rise[middle] < low:
                                    at = middle + 1
                                else:
                                    above = middle
                            for turned in range(-newcomers, end - at):
                                if turned < 0:
                                    x1 = fresh[turned + newcomers]
                                    if x1 == u or f[x1] < low or f[x1] > high:
                                        continue
                                else:
                                    if rise[at + turned] > high:
                                        break
                                    x1 = rising[at + turned]
                                    if status[x1] != 0:
                                        continue
                                if x1 == x0 or x1 == t or (last < makers and sends[x1] == 0):
                                    continue
                                if v == last and abs(a * f[x1] + rest) >= least[x1, relation]:
                                    continue
                                if budget == 0:
                                    return -1
                                row[0] = x0 if x0 >= 0 and status[x0] == 0 else -1
                                row[1] = x1 if status[x1] == 0 else -1
                                count = _keep_row(row, count, need, board, machine)
                                if count < 0:
                                    return -1
    return count

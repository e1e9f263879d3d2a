"""Which members must leave their places so that others find one: an exact search, in whole numbers.

Members sit where they were (`status` 0), wait for a place (1), sit on a new one (2) or stay nowhere (3). A relation is
a vector of integer coefficients over distinct members, one of which is its victim; it is broken when the absolute value
of its sum is below what the victim asks. To put a waiting member on a candidate, every relation broken there must lose
one of its members that sit where they were: each in turn is sent away (and waits), those tried before it stay for good
in that branch, so that no set of leavers is met twice. A budget bounds how many leave.

Every set of at most that many leavers and every way to place all who wait is met, unless the search is stopped.
"""

from __future__ import annotations

import numpy as np

from bandwright.kernels.jit import compiled
from bandwright.kernels.repair_board import (
    BACK,
    BUDGET,
    DEPTH,
    ENDED,
    FOUND,
    LATER,
    NODES,
    WIDTH,
    may_leave,
    nobody_left,
)
from bandwright.kernels.repair_needs import in_the_way, packing

__all__ = ["run"]

_START, _PLACE, _SEND = range(3)  # what a line of `Stack.kind` is


@compiled
def _fits_twins(t, p, board):
    """Whether members that are alike are placed rising, those nowhere last; `p` is -1 for nowhere."""
    if board.twin[t] < 0:
        return True
    for u in range(board.twin.shape[0]):
        if u == t or board.twin[u] != board.twin[t]:
            continue
        if board.status[u] == 2:
            if p < 0 and u > t:
                return False
            if p >= 0 and board.f[u] != p and (u < t) != (board.f[u] < p):
                return False
        elif board.status[u] == 3 and u < t and p >= 0:
            return False
    return True


@compiled
def _options(t, most, board, places, machine, into):
    """List the candidates where the rows known from the start can be met by whom may leave; stop at `most` of them."""
    group = places.group[t]
    budget = machine[BUDGET]
    used = np.empty(3 * (budget + 1), np.int64)
    good = 0
    for entry in range(places.start[group], places.start[group + 1]):
        packed = 0
        filled = 0
        for r in range(places.row_start[entry], places.row_start[entry + 1]):
            if not nobody_left(places.rows[r], board):
                continue
            if budget == 0:
                packed = 1
                break
            meets = False
            before = filled
            some = False
            for k in range(3):
                m = places.rows[r, k]
                if m < 0 or not may_leave(m, board, machine[LATER]):
                    continue
                some = True
                for u in range(before):
                    if used[u] == m:
                        meets = True
                if not meets and filled < used.shape[0]:
                    used[filled] = m
                    filled += 1
            if not some:
                packed = budget + 1
                break
            if meets:
                filled = before
                continue
            packed += 1
            if packed > budget:
                break
        if packed <= budget:
            into[good] = entry
            good += 1
            if good >= most:
                break
    return good


@compiled
def _next_waiting(board, places, stack):
    """Return a waiting member of the group with the fewest options, which are listed for it; -1 if nobody waits."""
    machine = stack.machine
    into = stack.entry[machine[DEPTH]]
    chosen = -1
    last = -1
    fewest = into.shape[0] + 1
    for t in range(board.status.shape[0]):
        if board.status[t] != 1:
            continue
        seen = False
        for u in range(t):
            if board.status[u] == 1 and places.group[u] == places.group[t]:
                seen = True
                break
        if seen:
            continue
        machine[NODES] += 1
        last = t
        good = _options(t, fewest, board, places, machine, into)
        if good < fewest:
            fewest = good
            chosen = t
    if chosen != last:
        fewest = _options(chosen, into.shape[0] + 1, board, places, machine, into)
    stack.entries[machine[DEPTH]] = max(fewest, 0)
    return chosen


@compiled
def _push(kind, who, board_of, stack):
    depth = stack.machine[DEPTH]
    stack.kind[depth] = kind
    stack.who[depth] = who
    stack.at[depth] = -1
    stack.base[depth] = board_of if board_of >= 0 else depth
    stack.needs[depth] = 0
    stack.frozen_by[depth, :] = -1
    stack.machine[DEPTH] = depth + 1
    stack.machine[BACK] = 1


@compiled
def _descend(board, places, stack):
    """Decide what comes next: somebody who must leave, or somebody to be placed, or a solution to be kept."""
    machine = stack.machine
    base = stack.base[machine[DEPTH] - 1]
    count = stack.needs[base]
    need = stack.need[base]
    chosen = -1
    fewest = WIDTH + 1
    for r in range(count):
        if not nobody_left(need[r], board):
            continue
        able = 0
        for k in range(WIDTH):
            if need[r, k] >= 0 and may_leave(need[r, k], board, machine[LATER]):
                able += 1
        if able < fewest:
            fewest = able
            chosen = r
    if chosen >= 0:
        machine[BACK] = 1
        if fewest == 0 or machine[BUDGET] == 0:
            return
        if packing(need, count, board, machine[BUDGET], machine[LATER]) > machine[BUDGET]:
            return
        stack.row[machine[DEPTH], :] = need[chosen]
        _push(_SEND, -1, base, stack)
        return
    t = _next_waiting(board, places, stack)
    if t >= 0:
        _push(_PLACE, t, -1, stack)
        return
    at = machine[FOUND]
    for m in range(stack.found.shape[1]):
        stack.found[at, m] = board.f[m] if board.status[m] == 0 or board.status[m] == 2 else -1
    machine[FOUND] = at + 1
    machine[BACK] = 1


@compiled
def _next_place(d, limit, rules, board, places, stack):
    """Put the member of frame `d` on its next candidate (or nowhere); returns whether there was one."""
    machine = stack.machine
    t = stack.who[d]
    if board.status[t] == 3:
        board.allowed[board.level[t]] += 1
    board.status[t] = 1
    total = stack.entries[d]
    at = stack.at[d] + 1
    while at < total:
        if machine[NODES] >= limit:
            stack.at[d] = at - 1
            return True
        machine[NODES] += 1
        entry = stack.entry[d, at]
        p = places.hz[entry]
        if p != board.home[t] and _fits_twins(t, p, board):
            count = in_the_way(t, p, entry, rules, board, places, stack.need[d], machine)
            if count >= 0:
                stack.at[d] = at
                stack.needs[d] = count
                board.status[t] = 2
                board.f[t] = p
                machine[BACK] = 0
                return True
        at += 1
    if at == total and board.allowed[board.level[t]] > 0 and _fits_twins(t, -1, board):
        stack.at[d] = at
        stack.needs[d] = 0
        board.allowed[board.level[t]] -= 1
        board.status[t] = 3
        machine[BACK] = 0
        return True
    return False


@compiled
def _next_leaver(d, board, stack):
    """Send away the next member of the row of frame `d`, those tried before stay; returns whether there was one."""
    machine = stack.machine
    at = stack.at[d]
    if at >= 0:
        m = stack.row[d, at]
        board.status[m] = 0
        board.f[m] = board.home[m]
        board.frozen[m] += 1
        stack.frozen_by[d, at] = m
        machine[BUDGET] += 1
        if board.loose[m] == 2:
            machine[LATER] += 1
    for k in range(at + 1, WIDTH):
        m = stack.row[d, k]
        if m >= 0 and may_leave(m, board, machine[LATER]):
            stack.at[d] = k
            board.status[m] = 1
            machine[BUDGET] -= 1
            if board.loose[m] == 2:
                machine[LATER] -= 1
            machine[BACK] = 0
            return True
    for k in range(WIDTH):
        if stack.frozen_by[d, k] >= 0:
            board.frozen[stack.frozen_by[d, k]] -= 1
    return False


@compiled
def run(limit, rules, board, places, stack):
    """Go on until `limit` candidates were looked at in all, the solutions fill their table, or nothing is left.

    `machine[ENDED]` then tells whether everything was met; `machine[OVERFLOWED]` that a placement asked too much to
    be followed, so that something may have been missed.
    """
    machine = stack.machine
    while machine[ENDED] == 0 and machine[NODES] < limit and machine[FOUND] < stack.found.shape[0]:
        if machine[BACK] == 0:
            _descend(board, places, stack)
            continue
        d = machine[DEPTH] - 1
        if stack.kind[d] == _START:
            machine[ENDED] = 1
        elif stack.kind[d] == _PLACE:
            if not _next_place(d, limit, rules, board, places, stack):
                machine[DEPTH] = d
        elif not _next_leaver(d, board, stack):
            machine[DEPTH] = d

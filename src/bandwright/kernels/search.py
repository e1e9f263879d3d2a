"""Moves on count arrays: put down, mend by tabu, take out, settle. See `kernels.counts` for `rules` and `air`."""

from __future__ import annotations

import numpy as np

from bandwright.kernels.counts import BIG, add_member, conflicts, next_random, scan_member
from bandwright.kernels.jit import compiled

__all__ = [
    "drop_worst",
    "load_members",
    "place_greedily",
    "put_member",
    "recount",
    "settle",
    "tabu_epoch",
    "take_member",
]

_NEVER = np.int64(1) << np.int64(60)
CLOSED_FROM = 500_000_000


@compiled
def put_member(x, entry, rules, air):
    """Put a member on an entry."""
    air.entry[x] = entry
    air.cell[x] = rules.entry_cell[entry]
    air.kind[x] = rules.entry_kind[entry]
    add_member(x, 1, rules, air)


@compiled
def take_member(x, rules, air):
    """Take a member out and return the entry it was on."""
    add_member(x, -1, rules, air)
    entry = air.entry[x]
    air.entry[x] = -1
    air.cell[x] = -1
    return entry


@compiled
def load_members(order, start, rules, air):
    """Put the members of `order` on the entries `start` (-1 = nowhere); returns what they break in all."""
    total = np.int64(0)
    for index in range(order.shape[0]):
        x = order[index]
        if start[x] < 0 or air.cell[x] >= 0:
            continue
        scan_member(x, 0, rules, air)
        total += air.cost[start[x] - rules.entry_start[rules.choice[x]]]
        put_member(x, start[x], rules, air)
    return total


@compiled
def place_greedily(order, only_clean, leftmost, total, rules, air):
    """Put the members of `order` one after another where each breaks least; returns what they break in all.

    Ties go to the smallest wish, then to the lowest cell (`leftmost`) or by lot. With `only_clean` a member that
    would break something stays nowhere.
    """
    for index in range(order.shape[0]):
        x = order[index]
        q = rules.choice[x]
        first = rules.entry_start[q]
        length = rules.entry_start[q + 1] - first
        if air.cell[x] >= 0 or length == 0:
            continue
        scan_member(x, 0, rules, air)
        found = -1
        least = _NEVER
        least_wish = _NEVER
        ties = 0
        for e in range(length):
            value = np.int64(air.cost[e])
            if value > least or value >= CLOSED_FROM:
                continue
            wish = rules.wish[first + e]
            if value < least or wish < least_wish:
                least = value
                least_wish = wish
                found = first + e
                ties = 1
            elif wish == least_wish:
                if leftmost:
                    if rules.entry_cell[first + e] < rules.entry_cell[found]:
                        found = first + e
                else:
                    ties += 1
                    if next_random(air.random) % ties == 0:
                        found = first + e
        if found < 0 or (only_clean and least > 0):
            continue
        total += least
        put_member(x, found, rules, air)
    return total


@compiled
def recount(rules, air):
    """Return what is broken in all: members are taken out one after another, then put back."""
    count = rules.choice.shape[0]
    held = air.entry[:count].copy()
    total = np.int64(0)
    for x in range(count):
        if held[x] >= 0:
            take_member(x, rules, air)
            scan_member(x, 0, rules, air)
            total += air.cost[held[x] - rules.entry_start[rules.choice[x]]]
    for x in range(count):
        if held[x] >= 0:
            put_member(x, held[x], rules, air)
    return total


@compiled
def _best_entry(x, tabu, now, gap, own, rules, air):
    """Return the entry of least cost for `x`, ties broken by lot; a tabu one only where it beats `gap`."""
    q = rules.choice[x]
    first = rules.entry_start[q]
    length = rules.entry_start[q + 1] - first
    cost = air.cost[:length]
    left = tabu[first : first + length]
    least = np.int32(CLOSED_FROM)
    kept = cost[own - first]
    cost[own - first] = CLOSED_FROM
    for e in range(length):
        value = cost[e] if left[e] <= now or cost[e] < gap else np.int32(CLOSED_FROM)
        least = min(least, value)
    found = -1
    if least < CLOSED_FROM:
        ties = 0
        for e in range(length):
            if cost[e] == least and (left[e] <= now or cost[e] < gap):
                ties += 1
                if ties == 1 or next_random(air.random) % ties == 0:
                    found = first + e
    cost[own - first] = kept
    return found


@compiled
def tabu_epoch(moves, total, clock, best, best_entry, movable, tabu, rest_until, conflict, tenure, rules, air):
    """Make `moves` moves, or stop when nothing is broken; returns (total, clock).

    The member that breaks most and does not rest goes to the cell where it breaks least and that no member of its
    choice left lately. The entries of least total are kept in `best_entry`, their total in `best[0]`.
    """
    count = conflict.shape[0]
    placed = 0
    for x in range(count):
        if air.cell[x] >= 0 and movable[x]:
            placed += 1
    for _ in range(moves):
        if total == 0 or placed == 0:
            break
        clock += 1
        conflicts(total >= BIG, rules, air, conflict)
        x = -1
        most = np.int64(0)
        ties = 0
        for i in range(count):
            if air.cell[i] < 0 or not movable[i] or rest_until[i] > clock or conflict[i] <= 0 or conflict[i] < most:
                continue
            if conflict[i] > most:
                most = conflict[i]
                ties = 1
                x = i
            else:
                ties += 1
                if next_random(air.random) % ties == 0:
                    x = i
        if x < 0:
            skip = next_random(air.random) % placed
            for i in range(count):
                if air.cell[i] >= 0 and movable[i]:
                    if skip == 0:
                        x = i
                        break
                    skip -= 1
        own = take_member(x, rules, air)
        scan_member(x, 0, rules, air)
        first = rules.entry_start[rules.choice[x]]
        own_cost = np.int64(air.cost[own - first])
        gap = best[0] - (total - own_cost)
        tabu[own] = 0
        chosen = _best_entry(x, tabu, clock, gap, own, rules, air)
        if chosen < 0:
            chosen = own
        crowded = total >= BIG
        total += np.int64(air.cost[chosen - first]) - own_cost
        put_member(x, chosen, rules, air)
        if crowded and total < BIG:  # counts are uneven while spacing is broken
            total = recount(rules, air)
        tabu[own] = clock + tenure[0] + next_random(air.random) % tenure[1]
        rest_until[x] = clock + placed // tenure[2] + next_random(air.random) % tenure[3]
        if total < best[0]:
            best[0] = total
            best_entry[:] = air.entry[:count]
    return total, clock


@compiled
def settle(order, rules, air):
    """Move members one at a time to clean cells of smaller wish; returns how many moved."""
    moved = 0
    for index in range(order.shape[0]):
        x = order[index]
        if air.cell[x] < 0:
            continue
        own = take_member(x, rules, air)
        scan_member(x, 0, rules, air)
        first = rules.entry_start[rules.choice[x]]
        target = own
        for e in range(rules.entry_start[rules.choice[x] + 1] - first):
            if air.cost[e] == 0 and rules.wish[first + e] < rules.wish[target]:
                target = first + e
        moved += target != own
        put_member(x, target, rules, air)
    return moved


@compiled
def _breaks(x, rules, air):
    """Return what a placed member breaks where it is, by taking it out and looking: right whatever `conflicts` says."""
    own = take_member(x, rules, air)
    scan_member(x, 0, rules, air)
    broken = air.cost[own - rules.entry_start[rules.choice[x]]]
    put_member(x, own, rules, air)
    return broken


@compiled
def _worst(rank, conflict, air):
    """Return the placed member that breaks something, of least rank, then of most breaks; -1 for nobody."""
    worst = -1
    for x in range(conflict.shape[0]):
        if air.cell[x] < 0 or rank[x] < 0 or conflict[x] <= 0:
            continue
        if worst < 0 or rank[x] < rank[worst] or (rank[x] == rank[worst] and conflict[x] > conflict[worst]):
            worst = x
    return worst


@compiled
def drop_worst(rank, conflict, rules, air):
    """Take members out until nothing is broken: always one that breaks something, of least rank, then of most breaks.

    Members with a negative rank stay. `conflicts` is quick, but may miss something where clearances exceed spacing, so
    whoever is left is looked at one by one.
    """
    while True:
        conflicts(True, rules, air, conflict)
        worst = _worst(rank, conflict, air)
        while worst >= 0 and _breaks(worst, rules, air) == 0:
            conflict[worst] = 0
            worst = _worst(rank, conflict, air)
        if worst < 0:
            for x in range(conflict.shape[0]):
                conflict[x] = _breaks(x, rules, air) if air.cell[x] >= 0 and rank[x] >= 0 else 0
            worst = _worst(rank, conflict, air)
        if worst < 0:
            return
        take_member(worst, rules, air)

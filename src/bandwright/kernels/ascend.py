"""Partial sets grown upwards in frequency: what can follow each of them, and how much room that leaves.

See `kernels.counts` for `rules` and `air`. A partial set is a row of members and a row of the entries they are on.
"""

from __future__ import annotations

import math

import numpy as np

from bandwright.kernels.counts import next_random, scan_member
from bandwright.kernels.jit import compiled
from bandwright.kernels.search import put_member, take_member

__all__ = ["follow_up", "stand_on"]

_NO_ROOM = 50.0  # what each member without a free candidate left costs a set


@compiled
def stand_on(members, entries, depth, rules, air, stack):
    """Bring the air to the given partial set; `stack` holds what stands there now, its length in `stack[0, 0]`."""
    shared = 0
    there = stack[0, 0]
    while shared < depth and shared < there:
        if stack[0, 1 + shared] != members[shared] or stack[1, 1 + shared] != entries[shared]:
            break
        shared += 1
    while there > shared:
        take_member(stack[0, there], rules, air)
        there -= 1
    while there < depth:
        put_member(members[there], entries[there], rules, air)
        stack[0, 1 + there] = members[there]
        stack[1, 1 + there] = entries[there]
        there += 1
    stack[0, 0] = there


@compiled
def _first_from(rising, start, stop, hz, carrier_hz):
    """Return the first place in `rising[start:stop]` whose carrier is at least `hz`."""
    low, high = start, stop
    while low < high:
        middle = (low + high) >> 1
        if carrier_hz[rising[middle]] < hz:
            low = middle + 1
        else:
            high = middle
    return low


@compiled
def follow_up(
    first, last, depth, members, entries, tries, jitter, group_start, group_list, rising_start, rising, carrier_hz,
    rules, air, stack, child,
):  # fmt: skip
    """List what can follow the partial sets `first` to `last`; returns how many rows of `child` were filled.

    A row is the parent, the member, its entry, and a score: the sum over groups of what is still wanted times the
    logarithm of the free candidates above. Of each group the next member is tried on its `tries` lowest candidates.
    """
    groups = group_start.shape[0] - 1
    used = np.zeros(groups, np.int64)
    place_of = np.zeros((groups, tries), np.int64)
    found = 0
    for parent in range(first, last):
        stand_on(members[parent], entries[parent], depth, rules, air, stack)
        from_hz = carrier_hz[entries[parent, depth - 1]] if depth > 0 else np.int64(0)
        for g in range(groups):
            used[g] = 0
            for slot in range(group_start[g], group_start[g + 1]):
                used[g] += air.cell[group_list[slot]] >= 0
        for g in range(groups):
            if group_start[g] + used[g] == group_start[g + 1]:
                continue
            x = group_list[group_start[g] + used[g]]
            q = rules.choice[x]
            begin = _first_from(rising, rising_start[q], rising_start[q + 1], from_hz, carrier_hz)
            if begin == rising_start[q + 1]:
                continue
            scan_member(x, rules.entry_cell[rising[begin]] - 1, rules, air)
            many = 0
            for place in range(begin, rising_start[q + 1]):
                if air.cost[rising[place] - rules.entry_start[q]] == 0:
                    place_of[g, many] = place
                    many += 1
                    if many == tries:
                        break
            for turn in range(many):
                entry = rising[place_of[g, turn]]
                put_member(x, entry, rules, air)
                score = 0.0
                for h in range(groups):
                    wanted = group_start[h + 1] - group_start[h] - used[h]
                    if h == g:
                        wanted -= 1
                    if wanted == 0:
                        continue
                    y = group_list[group_start[h + 1] - wanted]
                    room = _room(y, carrier_hz[entry], rising_start, rising, carrier_hz, rules, air)
                    score += wanted * math.log(1.0 + room)
                    if room < wanted:
                        score -= _NO_ROOM * (wanted - room)
                take_member(x, rules, air)
                child[found, 0] = parent
                child[found, 1] = x
                child[found, 2] = entry
                child[found, 3] = score + jitter * (next_random(air.random) & 0xFFFF) / 65536.0
                found += 1
    return found


@compiled
def _room(x, from_hz, rising_start, rising, carrier_hz, rules, air):
    """Return how many candidates of `x` from `from_hz` on break nothing."""
    q = rules.choice[x]
    begin = _first_from(rising, rising_start[q], rising_start[q + 1], from_hz, carrier_hz)
    if begin == rising_start[q + 1]:
        return 0
    scan_member(x, rules.entry_cell[rising[begin]] - 1, rules, air)
    first = rules.entry_start[q]
    room = 0
    for place in range(begin, rising_start[q + 1]):
        room += air.cost[rising[place] - first] == 0
    return room

"""Counts of broken separations over slots, and tabu moves on them, for groups of interchangeable calls.

Each group asks for some slots of one row; two calls break a separation when their slots are less than it apart.
`cost[g, s]` is how many calls, all others of the same group included, a call of group `g` on slot `s` would break with,
so that a move is judged by two look-ups. In a round (`cyclic`) row the last slot lies beside the first.

Arguments that return in every kernel:

calls[n, most]         slot of each call of a group; entries beyond demand[g] mean nothing
demand[n]              how many calls of each group are on a slot
used[n, slots]         whether a group has a call there
closed[n, slots]       whether a group may not use a slot
cost[n, slots]         the counts
separation[n, n]       least distance, 0 = none; the diagonal is between calls of one group, at least 1
beside[n, 1 + n]       how many groups have a separation to a group (itself included), and which
"""

from __future__ import annotations

import numpy as np

from bandwright.kernels.counts import next_random
from bandwright.kernels.jit import compiled

__all__ = [
    "add_call",
    "exchange_epoch",
    "load_calls",
    "place_calls",
    "removal_costs",
    "tabu_epoch",
    "take_out_worst",
]

BIG = 1 << 30


@compiled
def add_call(group, slot, weight, cost, separation, beside, cyclic):
    """Count (`weight` 1) or discount (-1) one call, everywhere but on its own place."""
    slots = cost.shape[1]
    for entry in range(1, beside[group, 0] + 1):
        other = beside[group, entry]
        reach = separation[group, other]
        row = cost[other]
        if cyclic:
            for near in range(slot - reach + 1, slot + reach):
                row[near % slots] += weight
        else:
            for near in range(max(0, slot - reach + 1), min(slots, slot + reach)):
                row[near] += weight
    cost[group, slot] -= weight


@compiled
def load_calls(calls, demand, used, cost, separation, beside, cyclic):
    """Set `used` and `cost` for these calls; return how many pairs are broken."""
    used[:] = False
    cost[:] = 0
    for group in range(calls.shape[0]):
        for k in range(demand[group]):
            used[group, calls[group, k]] = True
            add_call(group, calls[group, k], 1, cost, separation, beside, cyclic)
    total = 0
    for group in range(calls.shape[0]):
        for k in range(demand[group]):
            total += cost[group, calls[group, k]]
    return total // 2


@compiled
def place_calls(order, only_clean, calls, demand, used, closed, cost, separation, beside, cyclic):
    """Put one more call of each group in `order` on its lowest slot with the least count; return how many pairs break.

    A call that finds no slot (no clean one where `only_clean`) is left out.
    """
    slots = cost.shape[1]
    broken = 0
    for group in order:
        best = -1
        least = 1 if only_clean else BIG
        for slot in range(slots):
            if cost[group, slot] < least and not used[group, slot] and not closed[group, slot]:
                least = cost[group, slot]
                best = slot
                if least == 0:
                    break
        if best >= 0:
            calls[group, demand[group]] = best
            demand[group] += 1
            used[group, best] = True
            broken += least
            add_call(group, best, 1, cost, separation, beside, cyclic)
    return broken


@compiled
def take_out_worst(importance, calls, demand, used, cost, separation, beside, cyclic):
    """Take out broken calls, the least important group first and then the call with most breaks, until all is clean."""
    while True:
        worst = -1
        at = -1
        for group in range(calls.shape[0]):
            for k in range(demand[group]):
                here = cost[group, calls[group, k]]
                if here > 0 and (
                    worst < 0
                    or importance[group] < importance[worst]
                    or (importance[group] == importance[worst] and here > cost[worst, calls[worst, at]])
                ):
                    worst = group
                    at = k
        if worst < 0:
            return
        slot = calls[worst, at]
        used[worst, slot] = False
        add_call(worst, slot, -1, cost, separation, beside, cyclic)
        demand[worst] -= 1
        calls[worst, at] = calls[worst, demand[worst]]


@compiled
def removal_costs(calls, demand, used, separation, beside, costs):
    """Fill `costs[s]` with what taking out slot `s` would break: its own calls, and pairs just far enough apart."""
    slots = used.shape[1]
    costs[:] = 0
    for group in range(calls.shape[0]):
        for k in range(demand[group]):
            slot = calls[group, k]
            costs[slot] += 1
            for entry in range(1, beside[group, 0] + 1):
                other = beside[group, entry]
                end = slot + separation[group, other]
                if end < slots and used[other, end]:
                    for between in range(slot + 1, end):
                        costs[between] += 1


@compiled
def tabu_epoch(
    moves, total, clock, random, tenure, best, best_calls, rests, calls, demand, used, closed, cost, separation,
    beside, cyclic,
):  # fmt: skip
    """Make up to `moves` moves and return the broken pairs and the clock after them.

    A move takes the call and slot, of all broken calls and all slots that do not rest, that break least (ties by lot).
    The slot it leaves rests for the group for `tenure[0]` moves, up to `tenure[1]` more by lot, and half the number of
    broken calls. `best[0]` and `best_calls` keep the calls with fewest broken pairs.
    """
    groups, slots = cost.shape
    whose = np.empty(np.sum(demand), np.int64)
    which = np.empty(np.sum(demand), np.int64)
    for _ in range(moves):
        if total == 0:
            break
        clock += 1
        broken = 0
        for group in range(groups):
            for k in range(demand[group]):
                if cost[group, calls[group, k]] > 0:
                    whose[broken] = group
                    which[broken] = k
                    broken += 1
        least = BIG
        move = -1
        to = -1
        ties = 0
        scanned = -1
        away = BIG
        away_slot = -1
        for entry in range(broken):
            group = whose[entry]
            slot = calls[group, which[entry]]
            here = cost[group, slot]
            reach = separation[group, group]
            if group != scanned:  # the best slot of the group as long as its own call is not taken away
                scanned = group
                away = BIG
                away_slot = -1
                counts = cost[group]
                taken = used[group]
                shut = closed[group]
                rest = rests[group]
                first = next_random(random) % slots
                for s in range(first, slots):
                    if counts[s] < away and not taken[s] and rest[s] <= clock and not shut[s]:
                        away = counts[s]
                        away_slot = s
                for s in range(first):
                    if counts[s] < away and not taken[s] and rest[s] <= clock and not shut[s]:
                        away = counts[s]
                        away_slot = s
            if away_slot >= 0 and away - here <= least:
                if away - here < least:
                    least = away - here
                    ties = 0
                ties += 1
                if next_random(random) % ties == 0:
                    move = entry
                    to = away_slot
            for near in range(slot - reach + 1, slot + reach):  # slots that the call itself makes look worse
                s = near
                if cyclic:
                    s = near % slots
                elif s < 0 or s >= slots:
                    continue
                if used[group, s] or closed[group, s] or rests[group, s] > clock:
                    continue
                change = cost[group, s] - 1 - here
                if change <= least:
                    if change < least:
                        least = change
                        ties = 0
                    ties += 1
                    if next_random(random) % ties == 0:
                        move = entry
                        to = s
        if move < 0:
            continue
        group = whose[move]
        slot = calls[group, which[move]]
        add_call(group, slot, -1, cost, separation, beside, cyclic)
        used[group, slot] = False
        total += cost[group, to] - cost[group, slot]
        calls[group, which[move]] = to
        used[group, to] = True
        add_call(group, to, 1, cost, separation, beside, cyclic)
        rests[group, slot] = clock + tenure[0] + next_random(random) % (tenure[1] + 1) + broken // 2
        if total < best[0]:
            best[0] = total
            best_calls[:] = calls
    return total, clock


@compiled
def exchange_epoch(
    moves, clock, random, tenure, value, asked, best, best_calls, best_demand, rests, calls, demand, used, closed, loss,
    separation, beside,
):  # fmt: skip
    """Make up to `moves` exchanges among calls that break nothing, and return the clock after them.

    An exchange puts a call that is lacking (`asked[g]` more than `demand[g]`) on a slot and takes out all that it
    would break with. `value[g]` is what a call is worth; `loss[g, s]` is what the calls in the way are worth together,
    counted as `cost` is. The exchange with most gain that does not rest is made, ties by lot; what is taken out may
    not come back to its slot for `tenure[0]` moves and up to `tenure[1]` more by lot. `best[0]` is the most that was
    held.
    """
    groups, slots = loss.shape
    held = 0.0
    for group in range(groups):
        held += value[group] * demand[group]
    for _ in range(moves):
        gain = -np.inf
        chosen = -1
        to = -1
        ties = 0
        for group in range(groups):
            if demand[group] >= asked[group]:
                continue
            for slot in range(slots):
                if used[group, slot] or closed[group, slot] or rests[group, slot] > clock:
                    continue
                here = value[group] - loss[group, slot]
                if here >= gain:
                    if here > gain:
                        gain = here
                        ties = 0
                    ties += 1
                    if next_random(random) % ties == 0:
                        chosen = group
                        to = slot
        clock += 1
        if chosen < 0:
            if not np.any(rests > clock):
                break
            continue
        for entry in range(1, beside[chosen, 0] + 1):
            other = beside[chosen, entry]
            k = demand[other] - 1
            while k >= 0:
                slot = calls[other, k]
                if abs(slot - to) < separation[chosen, other]:
                    add_call(other, slot, -value[other], loss, separation, beside, False)
                    used[other, slot] = False
                    demand[other] -= 1
                    calls[other, k] = calls[other, demand[other]]
                    rests[other, slot] = clock + tenure[0] + next_random(random) % (tenure[1] + 1)
                k -= 1
        calls[chosen, demand[chosen]] = to
        demand[chosen] += 1
        used[chosen, to] = True
        add_call(chosen, to, value[chosen], loss, separation, beside, False)
        held += gain
        if held > best[0]:
            best[0] = held
            best_calls[:] = calls
            best_demand[:] = demand
            if np.all(demand >= asked):
                break
    return clock

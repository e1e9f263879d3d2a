"""Moves that raise the worst ratio of carrier to interference, on members whose rules the count arrays keep.

What is looked at is the sum over receivers of (interference / carrier) squared: it falls where the worst alone would
stay, and the worst leads it. It is worked out anew for each move, the worst receivers first, and given up as soon as it
is more than the move may cost. See `kernels.counts` for `rules` and `air`, and `kernels.levels` for the other arrays.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bandwright.kernels.counts import next_random, scan_member
from bandwright.kernels.jit import compiled
from bandwright.kernels.levels import STEP_BITS
from bandwright.kernels.search import put_member, take_member

__all__ = ["SELECTIVITY_BITS", "Levels", "Standing", "anneal", "settle_order", "sum_of_squares"]

SELECTIVITY_BITS = 14  # what filters let through is looked up by offset in steps of 16,384 Hz
_HALF = 1 << (STEP_BITS - 1)
_ONE = 4294967296.0  # 2^32: random numbers are below it


class Levels(NamedTuple):
    """What stays: levels in mW and tables, by members."""

    base: NDArray[np.float64]  # (v, j): what j puts into v's nonlinearity before selectivity
    air: NDArray[np.float64]  # (v, j): what arrives of j at v
    made: NDArray[np.float64]  # (a, c): part that a's transmitter turns into 2a - c
    over_carrier: NDArray[np.float64]  # 1 / wanted carrier of each victim, 0 for others
    kind: NDArray[np.int64]
    one: NDArray[np.int64]
    two: NDArray[np.int64]
    three: NDArray[np.int64]
    share: NDArray[np.float64]
    reach_hz: int
    filter_of: NDArray[np.int64]  # which row of `passes` holds for each receiver
    passes: NDArray[np.float64]  # by offset in steps of 2^14 Hz, the last step for all beyond
    group: NDArray[np.int64]  # members that may exchange carriers have one number, -1 for nobody


class Standing(NamedTuple):
    """What moves: carriers, who is on the air in rising order, and the ratio at each receiver."""

    hz: NDArray[np.int64]  # -1 for none
    front: NDArray[np.float64]
    order: NDArray[np.int64]
    f: NDArray[np.int64]
    ratio: NDArray[np.float64]
    trial: NDArray[np.float64]
    worst_first: NDArray[np.int64]


@compiled
def _set_front(x, levels, now):
    """Bring the row and the column of a member up to date after it moved."""
    last = levels.passes.shape[1] - 1
    for j in range(now.hz.shape[0]):
        if now.hz[j] < 0:
            continue
        step = min(abs(now.hz[x] - now.hz[j]) >> SELECTIVITY_BITS, last)
        now.front[x, j] = levels.base[x, j] * levels.passes[levels.filter_of[x], step]
        now.front[j, x] = levels.base[j, x] * levels.passes[levels.filter_of[j], step]


@compiled
def settle_order(levels, now):
    """Sort those on the air by carrier; returns how many there are. Nearly sorted already after a move."""
    count = 0
    for m in range(now.hz.shape[0]):
        if now.hz[m] < 0:
            continue
        at = count
        while at > 0 and now.f[at - 1] > now.hz[m]:
            now.f[at] = now.f[at - 1]
            now.order[at] = now.order[at - 1]
            at -= 1
        now.f[at] = now.hz[m]
        now.order[at] = m
        count += 1
    return count


@compiled
def _ratio_at(v, count, room, levels, now):
    """Return interference over carrier at one receiver, or something above `room` as soon as it is."""
    f, order = now.f, now.order
    fv = now.hz[v]
    kv = levels.kind[v]
    steps = levels.share.shape[1] - 1
    reach = levels.reach_hz
    most = room / levels.over_carrier[v]
    total = 0.0
    for i in range(count):
        a = order[i]
        step = (abs(f[i] - fv) + _HALF) >> STEP_BITS
        if a != v and step < steps:
            total += levels.share[levels.one[levels.kind[a], kv], step] * levels.air[v, a]
    begin = 0
    for i in range(count):
        a = order[i]
        ka = levels.kind[a]
        own = now.front[v, a]
        twice = 2 * f[i] - fv
        while begin < count and f[begin] <= twice - reach:
            begin += 1
        k = begin
        while k < count and f[k] < twice + reach:
            c = order[k]
            if c != a:
                w = levels.share[
                    levels.two[ka, levels.kind[c], kv], min((abs(twice - f[k]) + _HALF) >> STEP_BITS, steps)
                ]
                total += w * (own * own * now.front[v, c] + levels.air[v, a] * levels.made[a, c])
            k += 1
        if a == v or own <= 0:
            continue
        first = begin
        for j in range(i + 1, count):
            b = order[j]
            s = f[i] + f[j] - fv
            while first < count and f[first] <= s - reach:
                first += 1
            if first == count:
                break
            if b == v or f[first] >= s + reach:
                continue
            both = 4.0 * own * now.front[v, b]
            k = first
            while k < count and f[k] < s + reach:
                c = order[k]
                if c != a and c != b:
                    row = levels.three[ka, levels.kind[b], levels.kind[c], kv]
                    w = levels.share[row, min((abs(s - f[k]) + _HALF) >> STEP_BITS, steps)]
                    total += w * both * now.front[v, c]
                k += 1
        if total > most:
            break
    return total * levels.over_carrier[v]


@compiled
def sum_of_squares(limit, count, levels, now):
    """Fill `trial` with the ratio at each receiver and return the sum of squares, or anything above `limit`."""
    total = 0.0
    for place in range(now.worst_first.shape[0]):
        v = now.worst_first[place]
        now.trial[v] = 0.0
        if now.hz[v] < 0 or levels.over_carrier[v] <= 0:
            continue
        ratio = _ratio_at(v, count, math.sqrt(max(0.0, limit - total)), levels, now)
        now.trial[v] = ratio
        total += ratio * ratio
        if total > limit:
            return total
    return total


@compiled
def _keep(now):
    """Take over the trial's ratios, and look at the worst first from now on."""
    now.ratio[:] = now.trial
    for i in range(1, now.worst_first.shape[0]):
        v = now.worst_first[i]
        at = i
        while at > 0 and now.ratio[now.worst_first[at - 1]] < now.ratio[v]:
            now.worst_first[at] = now.worst_first[at - 1]
            at -= 1
        now.worst_first[at] = v


@compiled
def _free_entry(x, own, avoid, rules, air):
    """Return another entry where a member that was taken out breaks nothing, by lot; -1 where there is none."""
    first = rules.entry_start[rules.choice[x]]
    found = -1
    ties = 0
    for e in range(rules.entry_start[rules.choice[x] + 1] - first):
        entry = first + e
        if air.cost[e] == 0 and entry != own and rules.wish[entry] // avoid <= rules.wish[own] // avoid:
            ties += 1
            if next_random(air.random) % ties == 0:
                found = entry
    return found


@compiled
def anneal(moves, hot_db, cold_db, current, movable, avoid, carrier_hz, best, best_sum, levels, now, rules, air):
    """Make so many moves, ever colder, and keep the least sum met in `best` (carriers) and `best_sum`; returns the sum.

    A move takes one member to another carrier where it breaks no rule, or exchanges two of a group. It is made where
    the sum does not grow by more than a random part of the temperature, in dB.
    """
    size = movable.shape[0]
    count = settle_order(levels, now)
    for move in range(moves):
        heat = hot_db * (cold_db / hot_db) ** (move / moves)
        chance = (next_random(air.random) + 1.0) / _ONE
        limit = current * 10.0 ** (-heat * math.log(chance) / 10.0)
        # Half the moves begin at the worst receiver, or at one of the next.
        x = now.worst_first[next_random(air.random) % min(4, now.worst_first.shape[0])]
        if next_random(air.random) % 2 == 0 or x >= size:
            x = next_random(air.random) % size
        if not movable[x] or now.hz[x] < 0:
            continue
        y = next_random(air.random) % size
        swaps = y != x and movable[y] and now.hz[y] >= 0 and levels.group[x] >= 0 and levels.group[x] == levels.group[y]
        own = air.entry[x]
        old = now.hz[x]
        if swaps:
            other = air.entry[y]
            now.hz[x], now.hz[y] = now.hz[y], now.hz[x]
            _set_front(x, levels, now)
            _set_front(y, levels, now)
        else:
            take_member(x, rules, air)
            scan_member(x, 0, rules, air)
            target = _free_entry(x, own, avoid, rules, air)
            if target < 0:
                put_member(x, own, rules, air)
                continue
            now.hz[x] = carrier_hz[target]
            _set_front(x, levels, now)
        settle_order(levels, now)
        found = sum_of_squares(limit, count, levels, now)
        if found <= limit:
            current = found
            _keep(now)
            if swaps:
                take_member(x, rules, air)
                take_member(y, rules, air)
                put_member(x, other, rules, air)
                put_member(y, own, rules, air)
            else:
                put_member(x, target, rules, air)
            if found < best_sum[0]:
                best_sum[0] = found
                best[:] = now.hz[: best.shape[0]]
            continue
        if swaps:
            now.hz[y] = now.hz[x]
            now.hz[x] = old
            _set_front(x, levels, now)
            _set_front(y, levels, now)
        else:
            now.hz[x] = old
            _set_front(x, levels, now)
            put_member(x, own, rules, air)
        settle_order(levels, now)
    return current

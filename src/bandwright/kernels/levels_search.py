"""Moves that raise the worst ratio of carrier to interference, on members whose rules the count arrays keep.

What is looked at is the sum over receivers of (interference / carrier)^8: it falls where the worst alone would stay,
and the worst leads it. See `kernels.counts` for `rules` and `air`, and `kernels.levels_change` for `levels` and `now`.
"""

from __future__ import annotations

import math

from bandwright.kernels.counts import next_random, scan_member
from bandwright.kernels.jit import compiled
from bandwright.kernels.levels_change import eighth, join, leave, rank, set_front, take_part
from bandwright.kernels.search import put_member, take_member

__all__ = ["anneal"]

_ONE = 4294967296.0  # 2^32: random numbers are below it
_POWER = 8.0  # of `eighth`
_PLACES = 4  # how many places are tried for a member that was taken out
_WORST = 4  # half the moves begin at one of so many of the worst receivers


@compiled
def _without(x, y, now, taken):
    """Fill `rest` with the ratios without what was taken part in; x and y, who are out, have nothing left."""
    for v in range(now.rest.shape[0]):
        now.rest[v] = max(0.0, now.ratio[v] - taken[v])
    now.rest[x] = 0.0
    now.rest[y] = 0.0


@compiled
def _free_entries(x, own, avoid, rules, air, free):
    """Fill `free` with the other entries where a member that was taken out breaks nothing; returns how many."""
    first = rules.entry_start[rules.choice[x]]
    worst_wish = rules.wish[own] // avoid
    found = 0
    for e in range(rules.entry_start[rules.choice[x] + 1] - first):
        entry = first + e
        if air.cost[e] == 0 and entry != own and rules.wish[entry] // avoid <= worst_wish:
            free[found] = entry
            found += 1
    return found


@compiled
def _limit(heat, current, air):
    """Return by lot what the sum may be after a move."""
    chance = (next_random(air.random) + 1.0) / _ONE
    return current * 10.0 ** (-heat * math.log(chance) * _POWER / 10.0)


@compiled
def _accept(found, sums, best, now):
    """Take over the trial's ratios and its sum; keep the carriers where they are the best so far."""
    sums[0] = found
    now.ratio[:] = now.trial
    rank(now)
    if found < sums[1]:
        sums[1] = found
        best[:] = now.hz[: best.shape[0]]


@compiled
def _elsewhere(x, heat, count, avoid, carrier_hz, best, sums, levels, now, rules, air):
    """Try to put a member on another carrier where it breaks no rule."""
    own, old = air.entry[x], now.hz[x]
    take_member(x, rules, air)
    scan_member(x, 0, rules, air)
    many = _free_entries(x, own, avoid, rules, air, now.free)
    if many == 0:
        put_member(x, own, rules, air)
        return
    count = leave(x, count, now)
    now.trial[:] = 0.0
    take_part(x, count, math.inf, levels, now, now.trial)
    _without(x, x, now, now.trial)
    for _ in range(_PLACES):
        limit = _limit(heat, sums[0], air)
        target = now.free[next_random(air.random) % many]
        now.hz[x] = carrier_hz[target]
        set_front(x, levels, now)
        now.trial[:] = now.rest
        if take_part(x, count, limit ** (1.0 / _POWER), levels, now, now.trial):
            continue
        found = eighth(now.trial)
        if found <= limit:
            _accept(found, sums, best, now)
            put_member(x, target, rules, air)
            join(x, count, now)
            return
    now.hz[x] = old
    set_front(x, levels, now)
    put_member(x, own, rules, air)
    join(x, count, now)


@compiled
def _exchange(x, y, limit, count, best, sums, levels, now, rules, air):
    """Try to let two members of a group exchange their carriers."""
    now.trial[:] = 0.0
    count = leave(x, count, now)
    take_part(x, count, math.inf, levels, now, now.trial)
    count = leave(y, count, now)
    take_part(y, count, math.inf, levels, now, now.trial)
    _without(x, y, now, now.trial)
    now.trial[:] = now.rest
    now.hz[x], now.hz[y] = now.hz[y], now.hz[x]
    set_front(x, levels, now)
    set_front(y, levels, now)
    most = limit ** (1.0 / _POWER)
    over = take_part(x, count, most, levels, now, now.trial)
    count = join(x, count, now)
    over = over or take_part(y, count, most, levels, now, now.trial)
    found = math.inf if over else eighth(now.trial)
    if found <= limit:
        join(y, count, now)
        _accept(found, sums, best, now)
        one = take_member(x, rules, air)
        two = take_member(y, rules, air)
        put_member(x, two, rules, air)
        put_member(y, one, rules, air)
        return
    count = leave(x, count, now)
    now.hz[x], now.hz[y] = now.hz[y], now.hz[x]
    set_front(x, levels, now)
    set_front(y, levels, now)
    join(y, join(x, count, now), now)


@compiled
def anneal(begin, end, moves, hot_db, cold_db, movable, avoid, carrier_hz, best, sums, levels, now, rules, air):
    """Make the moves from `begin` to `end` of so many, ever colder; `best` holds the carriers of the least sum met.

    A move takes one member to another carrier where it breaks no rule, or exchanges two of a group. It is made where
    the sum's eighth root does not grow by more than a random part of the temperature, in dB. `sums` holds the sum as
    it is and the least one.
    """
    size = movable.shape[0]
    count = 0
    for m in range(now.hz.shape[0]):
        count += 1 if now.hz[m] >= 0 else 0
    for move in range(begin, end):
        heat = hot_db * (cold_db / hot_db) ** (move / moves)
        x = now.worst_first[next_random(air.random) % min(_WORST, now.worst_first.shape[0])]
        if next_random(air.random) % 2 == 0 or x >= size:
            x = next_random(air.random) % size
        if not movable[x] or now.hz[x] < 0:
            continue
        y = next_random(air.random) % size
        alike = levels.group[x] >= 0 and levels.group[x] == levels.group[y]
        if next_random(air.random) % 2 == 0 and y != x and movable[y] and now.hz[y] >= 0 and alike:
            _exchange(x, y, _limit(heat, sums[0], air), count, best, sums, levels, now, rules, air)
        else:
            _elsewhere(x, heat, count, avoid, carrier_hz, best, sums, levels, now, rules, air)

"""What a change of carriers does to the ratio of interference to carrier at each receiver, by third order.

A moved member changes only what it takes part in, which is a product at four receivers for each pair of pairs of equal
sum: f_x + f_y = f_a + f_b lands at x, y, a and b. So members are taken out, what they took part in is taken off, and
what they take part in elsewhere is added until a receiver is worse than any may be. See `kernels.levels` for arrays
that are not described here.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bandwright.kernels.jit import compiled
from bandwright.kernels.levels import STEP_BITS, bounded

__all__ = [
    "SELECTIVITY_BITS",
    "Levels",
    "Standing",
    "eighth",
    "join",
    "leave",
    "rank",
    "set_front",
    "settle",
    "take_part",
]

SELECTIVITY_BITS = 14  # what filters let through is looked up by offset in steps of 16,384 Hz
_HALF = 1 << (STEP_BITS - 1)


class Levels(NamedTuple):
    """What stays, by members; powers are parts of the wanted carrier of the receiver that they arrive at."""

    base: NDArray[np.float64]  # (v, j): what j puts into v's nonlinearity before selectivity
    air: NDArray[np.float64]  # (v, j): what arrives of j at v
    made: NDArray[np.float64]  # (a, c): part that a's transmitter turns into 2a - c
    ceiling: NDArray[np.float64]  # of each receiver, as for `kernels.levels.bounded`
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
    rest: NDArray[np.float64]  # without what a member that was taken out takes part in
    trial: NDArray[np.float64]
    worst_first: NDArray[np.int64]
    free: NDArray[np.int64]  # room for entries


@compiled
def set_front(x, levels, now):
    """Bring the row and the column of a member up to date after it moved."""
    last = levels.passes.shape[1] - 1
    for j in range(now.hz.shape[0]):
        if now.hz[j] < 0:
            continue
        step = min(abs(now.hz[x] - now.hz[j]) >> SELECTIVITY_BITS, last)
        now.front[x, j] = levels.base[x, j] * levels.passes[levels.filter_of[x], step]
        now.front[j, x] = levels.base[j, x] * levels.passes[levels.filter_of[j], step]


@compiled
def leave(x, count, now):
    """Take a member out of those in rising order; returns how many are left."""
    at = 0
    while now.order[at] != x:
        at += 1
    for i in range(at, count - 1):
        now.order[i] = now.order[i + 1]
        now.f[i] = now.f[i + 1]
    return count - 1


@compiled
def join(x, count, now):
    """Put a member among those in rising order; returns how many there are."""
    at = count
    while at > 0 and now.f[at - 1] > now.hz[x]:
        now.f[at] = now.f[at - 1]
        now.order[at] = now.order[at - 1]
        at -= 1
    now.f[at] = now.hz[x]
    now.order[at] = x
    return count + 1


@compiled
def _product(times, one, two, three, ceiling):
    """Return the product of three in a receiver, one by one as they arrive there."""
    return bounded(times * one * two * three, max(one, two, three), ceiling)


@compiled
def _beside(x, count, levels, now, out):
    """Add what x makes with one other alone, carriers themselves among it: it lies as far from both as they are apart.

    2x-y lies at x, and twice as far from y.
    """
    kind, share, ceiling, air, made = levels.kind, levels.share, levels.ceiling, levels.air, levels.made
    last = share.shape[1] - 1
    for i in range(count):
        y = now.order[i]
        step = (abs(now.f[i] - now.hz[x]) + _HALF) >> STEP_BITS
        if step >= last:
            continue
        for v, w in ((x, y), (y, x)):
            own, kv, kw = now.front[v], kind[v], kind[w]
            out[v] += share[levels.one[kw, kv], step] * air[v, w]
            part = share[levels.two[kv, kw, kv], step]
            out[v] += part * (_product(1.0, own[v], own[v], own[w], ceiling[v]) + air[v, v] * made[v, w])
            twice = (2 * abs(now.f[i] - now.hz[x]) + _HALF) >> STEP_BITS
            if twice < last:
                part = share[levels.two[kw, kv, kv], twice]
                out[v] += part * (_product(1.0, own[w], own[w], own[v], ceiling[v]) + air[v, w] * made[w, v])


@compiled
def take_part(x, count, most, levels, now, out):
    """Add what x takes part in together with those in order (x is none of them); whether a receiver passed `most`.

    All in one, since a call with so many arrays costs more than what it would do.
    """
    f, order, reach = now.f, now.order, levels.reach_hz
    front, ceiling, air, made = now.front, levels.ceiling, levels.air, levels.made
    kind, share, two, three = levels.kind, levels.share, levels.two, levels.three
    alike = three.shape[0] == 1
    last = share.shape[1] - 1
    pair = share[two[0, 0, 0]]
    triple = share[three[0, 0, 0, 0]]
    _beside(x, count, levels, now, out)
    fx, kx, at_x = now.hz[x], kind[x], front[x]
    for turn in range(-1, count):
        y = x if turn < 0 else order[turn]
        s, ky, at_y = fx + now.hz[y], kind[y], front[y]
        i = 0
        end = count - 1
        while i <= end:
            while end >= i and f[i] + f[end] >= s + reach:
                end -= 1
            a = order[i]
            j = end if a != y else -1
            while j >= i and f[i] + f[j] > s - reach:
                b = order[j]
                step = (abs(f[i] + f[j] - s) + _HALF) >> STEP_BITS
                j -= 1
                if b == y or step >= last:
                    continue
                ka, kb, at_a, at_b = kind[a], kind[b], front[a], front[b]
                if y != x and a != b:
                    wx = wy = wa = wb = triple[step]
                    if not alike:
                        wx, wy = share[three[ka, kb, ky, kx], step], share[three[ka, kb, kx, ky], step]
                        wa, wb = share[three[kx, ky, kb, ka], step], share[three[kx, ky, ka, kb], step]
                    rx = out[x] + wx * _product(4.0, at_x[a], at_x[b], at_x[y], ceiling[x])
                    ry = out[y] + wy * _product(4.0, at_y[a], at_y[b], at_y[x], ceiling[y])
                    ra = out[a] + wa * _product(4.0, at_a[x], at_a[y], at_a[b], ceiling[a])
                    rb = out[b] + wb * _product(4.0, at_b[x], at_b[y], at_b[a], ceiling[b])
                    out[x], out[y], out[a], out[b] = rx, ry, ra, rb
                    if max(rx, ry, ra, rb) > most:
                        return True
                elif a != b:
                    wa = wb = pair[step]
                    wx = triple[step]
                    if not alike:
                        wx = share[three[ka, kb, kx, kx], step]
                        wa, wb = share[two[kx, kb, ka], step], share[two[kx, ka, kb], step]
                    out[x] += wx * _product(4.0, at_x[a], at_x[b], at_x[x], ceiling[x])
                    out[a] += wa * (_product(1.0, at_a[x], at_a[x], at_a[b], ceiling[a]) + air[a, x] * made[x, b])
                    out[b] += wb * (_product(1.0, at_b[x], at_b[x], at_b[a], ceiling[b]) + air[b, x] * made[x, a])
                elif y != x:
                    wx = wy = pair[step]
                    wa = triple[step]
                    if not alike:
                        wa = share[three[kx, ky, ka, ka], step]
                        wx, wy = share[two[ka, ky, kx], step], share[two[ka, kx, ky], step]
                    out[a] += wa * _product(4.0, at_a[x], at_a[y], at_a[a], ceiling[a])
                    out[x] += wx * (_product(1.0, at_x[a], at_x[a], at_x[y], ceiling[x]) + air[x, a] * made[a, y])
                    out[y] += wy * (_product(1.0, at_y[a], at_y[a], at_y[x], ceiling[y]) + air[y, a] * made[a, x])
            i += 1
        if out[x] > most or out[y] > most:
            return True
    return False


@compiled
def rank(now):
    """Sort the victims, the worst first: nearly sorted already after a move."""
    for i in range(1, now.worst_first.shape[0]):
        v = now.worst_first[i]
        at = i
        while at > 0 and now.ratio[now.worst_first[at - 1]] < now.ratio[v]:
            now.worst_first[at] = now.worst_first[at - 1]
            at -= 1
        now.worst_first[at] = v


@compiled
def eighth(ratio):
    """Return the sum of eighth powers."""
    total = 0.0
    for v in range(ratio.shape[0]):
        r = ratio[v] * ratio[v]
        r = r * r
        total += r * r
    return total


@compiled
def settle(levels, now):
    """Put those on the air in rising order and work out every ratio; returns the sum."""
    count = 0
    now.ratio[:] = 0.0
    for x in range(now.hz.shape[0]):
        if now.hz[x] >= 0:
            take_part(x, count, math.inf, levels, now, now.ratio)
            count = join(x, count, now)
    rank(now)
    return eighth(now.ratio)

"""Powers of intermodulation products at the receivers tuned near them, in mW, on members that rise in frequency.

`front[v, j]` is what member j puts into the nonlinearity of receiver v, so scaled that a product of third order is the
product of three of them; a product is at most `ceiling[v]` times the strongest of its tones, scaled alike (`bounded`).
`air[v, j]` is what arrives of j at v in mW, and `made[a, c]` the part of a's power that its
transmitter turns into 2 f_a - f_c when c is near. Zero means: not heard, or not known.

A row tells one product: victim, how it is made (one of the constants below), and up to three members. Products are
listed as long as there is room; the count tells how many there are.
"""

from __future__ import annotations

import math

import numpy as np

from bandwright.kernels.jit import compiled

__all__ = [
    "CARRIER",
    "FIFTH",
    "RECEIVER",
    "SENDER",
    "STEP_BITS",
    "TRIPLE",
    "bounded",
    "fifth_order",
    "lookup",
    "share_within",
    "shares",
    "third_order",
    "values_in_pictures",
]

CARRIER = 0  # A itself
RECEIVER = 1  # 2A-B in the receiver: A, A, B
TRIPLE = 2  # A+B-C in the receiver
SENDER = 3  # 2A-B in the transmitter of A
FIFTH = 4  # and above: FIFTH + 0, 1, 2 is 3A-2B, 2A+B-2C, 3A-B-C in the receiver

_TRIPLE_OVER_PAIR = 4.0  # +6.02 dB
_ROOT_2 = math.sqrt(2.0)

STEP_BITS = 8  # offsets count in steps of 256 Hz where shares are looked up
_HALF = 1 << (STEP_BITS - 1)


@compiled
def bounded(power, strongest, ceiling):
    """Return the power of a product in a receiver: by the power law, or what a limiter leaves of its strongest tone.

    Every product made in a receiver goes through here, with one `ceiling` for each order. In decibels:
    `core.reach.intermod.third_order_dbm`.
    """
    return min(power, ceiling * strongest)


@compiled
def share_within(offset_hz, variance, half_hz):
    """Return the part of a Gaussian spectrum around an offset that lies within plus and minus `half_hz`."""
    if variance <= 0:
        return 1.0 if abs(offset_hz) < half_hz else 0.5 if abs(offset_hz) == half_hz else 0.0
    scale = 1.0 / (math.sqrt(variance) * _ROOT_2)
    return 0.5 * (math.erfc((abs(offset_hz) - half_hz) * scale) - math.erfc((abs(offset_hz) + half_hz) * scale))


@compiled
def shares(variance, half_hz, out):
    """Fill each row of `out` with what is within at offsets of 0, 1, 2, ... steps of 2^`STEP_BITS` Hz."""
    for row in range(out.shape[0]):
        for i in range(out.shape[1]):
            out[row, i] = share_within(float(i << STEP_BITS), variance[row], half_hz[row])
        out[row, -1] = 0.0


@compiled
def lookup(f, low_hz, shift, reach_hz, first, last):
    """Fill for each cell of 2^shift Hz which members (rising) are less than `reach_hz` away from some point of it."""
    size = np.int64(1) << np.int64(shift)
    n = f.shape[0]
    begin = 0
    end = 0
    for cell in range(first.shape[0]):
        low = low_hz + cell * size
        while begin < n and f[begin] + reach_hz <= low:
            begin += 1
        while end < n and f[end] - reach_hz < low + size:
            end += 1
        first[cell] = begin
        last[cell] = max(begin, end)


@compiled
def _note(v, made, a, b, c, value, weight, total, best, who, rows, weights, count):
    total[v] += value
    if value > best[v]:
        best[v] = value
        who[v, 0] = made
        who[v, 1] = a
        who[v, 2] = b
        who[v, 3] = c
    if count < rows.shape[0]:
        rows[count, 0] = v
        rows[count, 1] = made
        rows[count, 2] = a
        rows[count, 3] = b
        rows[count, 4] = c
        weights[count] = weight


@compiled
def third_order(f, front, ceiling, air, made, kind, one, two, three, share, low_hz, shift, first, last,
                total, best, who, rows, weights):  # fmt: skip
    """Add carriers themselves and all products of third order to `total` (mW); returns how many there are.

    `one[ka, kv]`, `two[ka, kb, kv]`, `three[ka, kb, kc, kv]` say which row of `share` holds for kinds of members; its
    steps are 2^`STEP_BITS` Hz, and the last one of each row is 0. `weights` holds the share alone. For each victim and
    each pair A, B the partners C lie around f_a + f_b - f_v, which the table of cells tells at once.
    """
    n = f.shape[0]
    steps = share.shape[1]
    cells = first.shape[0]
    listed = rows.shape[0]
    partnered = np.zeros(n, np.int64)
    alike = three.shape[0] == 1
    line = share[three[0, 0, 0, 0]] if n > 0 else share[0]
    count = 0
    for v in range(n):
        fv = f[v]
        kv = kind[v]
        own = front[v]
        most_of = ceiling[v]
        for a in range(n):
            i = (abs(f[a] - fv) + _HALF) >> STEP_BITS
            if a != v and i < steps and air[v, a] > 0:
                w = share[one[kind[a], kv], i]
                if w > 0:
                    _note(v, CARRIER, a, a, a, w * air[v, a], w, total, best, who, rows, weights, count)
                    count += 1
        for a in range(n):
            if air[v, a] <= 0:
                continue
            ka = kind[a]
            cell = (2 * f[a] - fv - low_hz) >> shift
            if cell < 0 or cell >= cells:
                continue
            for c in range(first[cell], last[cell]):
                i = (abs(2 * f[a] - f[c] - fv) + _HALF) >> STEP_BITS
                if c == a or i >= steps:
                    continue
                w = share[two[ka, kind[c], kv], i]
                value = w * bounded(own[a] * own[a] * own[c], max(own[a], own[c]), most_of)
                if value > 0:
                    _note(v, RECEIVER, a, a, c, value, w, total, best, who, rows, weights, count)
                    count += 1
                value = w * air[v, a] * made[a, c]
                if value > 0:
                    _note(v, SENDER, a, a, c, value, w, total, best, who, rows, weights, count)
                    count += 1
        summed = total[v]
        most = best[v]
        pair = own.copy()  # as A or B a victim's own carrier only says that the two others are close
        pair[v] = 0.0
        low = low_hz + fv
        top = low + (np.int64(cells) << np.int64(shift))
        begin = n
        end = n
        for a in range(n):
            at = _TRIPLE_OVER_PAIR * pair[a]
            while begin > 0 and f[a] + f[begin - 1] >= low:
                begin -= 1
            while end > 0 and f[a] + f[end - 1] >= top:
                end -= 1
            if at <= 0:
                continue
            rest = f[a] - fv
            of_kinds = three[kind[a], :, :, kv]
            # First which B have any partner at all, without a branch that the processor could guess wrong.
            found = 0
            for b in range(max(a + 1, begin), end):
                cell = (rest + f[b] - low_hz) >> shift
                partnered[found] = b
                found += 1 if last[cell] > first[cell] else 0
            for k in range(found):
                b = partnered[k]
                s = rest + f[b]
                cell = (s - low_hz) >> shift
                both = at * pair[b]
                stronger = max(pair[a], pair[b])
                for c in range(first[cell], last[cell]):
                    i = min((abs(s - f[c]) + _HALF) >> STEP_BITS, steps - 1)
                    w = line[i] if alike else share[of_kinds[kind[b], kind[c]], i]
                    value = w * bounded(both * own[c], max(stronger, own[c]), most_of)
                    if value <= 0 or c == a or c == b:
                        continue
                    summed += value
                    if value > most:
                        most = value
                        who[v, 0] = TRIPLE
                        who[v, 1] = a
                        who[v, 2] = b
                        who[v, 3] = c
                    if count < listed:
                        rows[count, 0] = v
                        rows[count, 1] = TRIPLE
                        rows[count, 2] = a
                        rows[count, 3] = b
                        rows[count, 4] = c
                        weights[count] = w
                    count += 1
        total[v] = summed
        best[v] = most
    return count


@compiled
def fifth_order(
    f, front, ceiling, variance, half_hz, low_hz, shift, first, last, least, total, best, who, rows, weights
):
    """Add products of fifth order (3A-2B, 2A+B-2C, 3A-B-C) to `total` (mW) as `third_order` does.

    `front` is so scaled that a product of fifth order is the product of five of them; `variance` is that of each
    member's spectrum, `half_hz` half the bandwidth of each receiver. Products below `least[v]` are passed over.
    """
    n = f.shape[0]
    cells = first.shape[0]
    count = 0
    for a in range(n):
        for b in range(n):
            for c in range(n):
                for family in range(3):
                    if family == 0:
                        if a == b or c != b:
                            continue
                        p = 3 * f[a] - 2 * f[b]
                        spread = 9.0 * variance[a] + 4.0 * variance[b]
                        over = 1.0
                    elif family == 1:
                        if a == b or a == c or b == c:
                            continue
                        p = 2 * f[a] + f[b] - 2 * f[c]
                        spread = 4.0 * variance[a] + variance[b] + 4.0 * variance[c]
                        over = 9.0  # +9.54 dB
                    else:
                        if a == b or a == c or c <= b:
                            continue
                        p = 3 * f[a] - f[b] - f[c]
                        spread = 9.0 * variance[a] + variance[b] + variance[c]
                        over = 4.0  # +6.02 dB
                    cell = (p - low_hz) >> shift
                    if cell < 0 or cell >= cells:
                        continue
                    for v in range(first[cell], last[cell]):
                        if family == 1 and v == b:
                            continue
                        x, y, z = front[v, a], front[v, b], front[v, c]
                        if family == 0:
                            value = x * x * x * y * y
                        elif family == 1:
                            value = over * x * x * y * z * z
                        else:
                            value = over * x * x * x * y * z
                        value = bounded(value, max(x, y, z), ceiling[v])
                        if value <= least[v]:
                            continue
                        w = share_within(float(p - f[v]), spread, half_hz[v])
                        value *= w
                        if value > least[v]:
                            _note(v, FIFTH + family, a, b, c, value, w, total, best, who, rows, weights, count)
                            count += 1
    return count


@compiled
def values_in_pictures(victim, how, first, second, third, weight, ceiling, site, air, made, total):
    """Add what each row comes to in each picture to `total[s, v]` in mW.

    `air[s, site, j]` is what arrives of j at a place of reception, `made[s, pair]` the part that a transmitter turns
    into a product with another near it; for rows of that kind `second` is the pair. `weight` holds all that does not
    change from picture to picture, `ceiling[r]` what each of the three can leave at most in a receiver (`bounded`).
    """
    for s in range(air.shape[0]):
        for r in range(victim.shape[0]):
            v = victim[r]
            here = air[s, site[v]]
            a = here[first[r]]
            if how[r] == CARRIER:
                total[s, v] += weight[r] * a
                continue
            if how[r] == SENDER:
                total[s, v] += weight[r] * a * made[s, second[r]]
                continue
            b, c = here[second[r]], here[third[r]]
            if how[r] < FIFTH:
                value = a * b * c
            elif how[r] == FIFTH:
                value = a * a * a * b * b
            elif how[r] == FIFTH + 1:
                value = a * a * b * c * c
            else:
                value = a * a * a * b * c
            strongest = max(ceiling[r, 0] * a, ceiling[r, 1] * b, ceiling[r, 2] * c)
            total[s, v] += bounded(weight[r] * value, strongest, 1.0)

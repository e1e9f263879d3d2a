"""Relations between numbers, checked exactly; this module knows nothing of how a set was found.

`f` holds rising int64 values (Hz). A relation is a vector of non-zero integer coefficients over distinct members, one
of which is the victim. It is broken when |sum c f| is less than `least[victim]`; 0 there means the member is no victim.
`sends[i]` is 0 for a member that makes no products, 1 for one that makes them only together with an own member
(`own[i]`), 2 for one that always does. What no own member takes part in is nobody's to mend and does not count.
Broken relations go to `out` (one row of member indices in the order of the coefficients) up to its length; the number
returned counts all of them.
"""

from __future__ import annotations

import numpy as np

from bandwright.kernels.jit import compiled

__all__ = [
    "FAR",
    "MOST_MEMBERS",
    "WIDEST_HZ",
    "broken_differences",
    "broken_four",
    "broken_pairs",
    "broken_three",
    "broken_two",
    "difference_keys",
    "nearest_four",
    "nearest_three",
]

FAR = np.int64(1) << np.int64(60)
MOST_MEMBERS = 4096  # that a difference key can tell apart
WIDEST_HZ = 1 << 39  # the largest difference that it holds
_SHIFT = 12  # its bits for one member
_DIGIT = 11  # its bits for one step of sorting


@compiled
def broken_pairs(f, placed, ours, near, far, out):
    """Find pairs closer than `near[i, j]` or wider apart than `far[i, j]` (0 = no wish) among the members `placed`.

    One of each pair is among the first `ours` of them. Unlike elsewhere `f` need not rise, and rows are members.
    """
    found = 0
    for second in range(placed.shape[0]):
        i = placed[second]
        for first in range(min(second, ours)):
            j = placed[first]
            gap = abs(f[i] - f[j])
            if gap < near[i, j] or (far[i, j] > 0 and gap > far[i, j]):
                if found < out.shape[0]:
                    out[found, 0] = j
                    out[found, 1] = i
                found += 1
    return found


@compiled
def _allowed(i, j, k, parts, sends, own, v):
    """Whether the first `parts` of the members i, j, k make a product together that is ours to mend at member v."""
    any_own = own[i] or own[j] or (parts > 2 and own[k])
    if not any_own and not own[v]:
        return False
    least = min(sends[i], sends[j])
    if parts > 2:
        least = min(least, sends[k])
    return least == 2 or (least == 1 and any_own)


@compiled
def broken_two(f, sends, own, least, factor, victim, out):
    """Find members of which both make a product and `factor` times their distance is below what one of them asks."""
    n = f.shape[0]
    widest = np.int64(0)
    for i in range(n):
        widest = max(widest, least[i])
    found = 0
    for i in range(n):
        for j in range(i + 1, n):
            gap = factor * (f[j] - f[i])
            if gap >= widest:
                break
            if not _allowed(i, j, j, 2, sends, own, i):
                continue
            for turn in range(2):
                v = j if turn else i
                if gap < least[v]:
                    if found < out.shape[0]:
                        out[found, victim] = v
                        out[found, 1 - victim] = i + j - v
                    found += 1
    return found


@compiled
def broken_three(f, sends, own, least, c, victim, out):
    """Find broken relations over three members; `c` has three coefficients, `victim` is a position 0, 1 or 2."""
    n = f.shape[0]
    one = 1 if victim == 0 else 0
    two = 1 if victim == 2 else 2
    cv, c1, c2 = c[victim], c[one], c[two]
    victim_sends = False  # a victim outside the generators is the last position with coefficient -1 and is marked so
    if c[victim] != -1 or victim != 2:
        victim_sends = True
    found = 0
    sign = 1 if c2 > 0 else -1
    rising = (c1 > 0) != (c2 > 0)
    step = 1 if rising else -1
    for v in range(n):
        g = least[v]
        if g <= 0:
            continue
        start = 0 if rising else n - 1
        for m in range(n):
            if m == v or sends[m] == 0:
                continue
            rest = cv * f[v] + c1 * f[m]
            if rising:
                while start < n and sign * (c2 * f[start] + rest) <= -g:
                    start += 1
            else:
                while start >= 0 and sign * (c2 * f[start] + rest) >= g:
                    start -= 1
            i = start
            while 0 <= i < n:
                value = sign * (c2 * f[i] + rest)
                if value >= g or value <= -g:
                    break
                if i != v and i != m and sends[i] > 0 and (c1 != c2 or m < i):
                    if victim_sends:
                        good = _allowed(m, i, v, 3, sends, own, v)
                    else:
                        good = _allowed(m, i, i, 2, sends, own, v)
                    if good:
                        if found < out.shape[0]:
                            out[found, victim] = v
                            out[found, one] = m
                            out[found, two] = i
                        found += 1
                i += step
    return found


@compiled
def broken_four(f, sends, own, least, c, out):
    """Find broken relations over three generators and a victim apart from them, which is the last position."""
    n = f.shape[0]
    found = 0
    sign = 1 if c[2] > 0 else -1
    rising = (c[1] > 0) != (c[2] > 0)
    step = 1 if rising else -1
    for v in range(n):
        g = least[v]
        if g <= 0:
            continue
        for a in range(n):
            if a == v or sends[a] == 0:
                continue
            start = 0 if rising else n - 1
            for b in range(n):
                if b == v or b == a or sends[b] == 0 or (c[0] == c[1] and b < a):
                    continue
                rest = c[3] * f[v] + c[0] * f[a] + c[1] * f[b]
                if rising:
                    while start < n and sign * (c[2] * f[start] + rest) <= -g:
                        start += 1
                else:
                    while start >= 0 and sign * (c[2] * f[start] + rest) >= g:
                        start -= 1
                i = start
                while 0 <= i < n:
                    value = sign * (c[2] * f[i] + rest)
                    if value >= g or value <= -g:
                        break
                    good = i != v and i != a and i != b and sends[i] > 0 and (c[1] != c[2] or b < i)
                    if good and _allowed(a, b, i, 3, sends, own, v):
                        if found < out.shape[0]:
                            out[found, 0] = a
                            out[found, 1] = b
                            out[found, 2] = i
                            out[found, 3] = v
                        found += 1
                    i += step
    return found


@compiled
def difference_keys(f):
    """Return one key for each pair i > j: the difference, then i, then j, packed into an int64; they rise.

    Sorted by the difference, a digit at a time from the lowest (radix sort), which leaves pairs of one difference in
    the order of i, then j.
    """
    n = f.shape[0]
    keys = np.empty(n * (n - 1) // 2, np.int64)
    at = 0
    for i in range(n):
        for j in range(i):
            keys[at] = ((f[i] - f[j]) << (2 * _SHIFT)) | (i << _SHIFT) | j
            at += 1
    if at < 2:
        return keys
    spare = np.empty_like(keys)
    count = np.empty(1 << _DIGIT, np.int64)
    mask = (1 << _DIGIT) - 1
    span = f[n - 1] - f[0]
    shift = 2 * _SHIFT
    while span > 0:
        count[:] = 0
        for x in range(at):
            count[(keys[x] >> shift) & mask] += 1
        below = 0
        for digit in range(1 << _DIGIT):
            here = count[digit]
            count[digit] = below
            below += here
        for x in range(at):
            digit = (keys[x] >> shift) & mask
            spare[count[digit]] = keys[x]
            count[digit] += 1
        keys, spare = spare, keys
        shift += _DIGIT
        span >>= _DIGIT
    return keys


@compiled
def _note_difference(a, b, c, v, f, sends, own, least, out, found):
    """Note a + b - c at v; c may be v. Returns the new count."""
    if a == b or least[v] <= 0 or abs(f[a] + f[b] - f[c] - f[v]) >= least[v]:
        return found
    if not _allowed(a, b, c, 3, sends, own, v):
        return found
    if found < out.shape[0]:
        out[found, 0] = min(a, b)
        out[found, 1] = max(a, b)
        out[found, 2] = c
        out[found, 3] = v
    return found + 1


@compiled
def _note_both(a, b, c, d, f, sends, own, least, out, found):
    """Note the four ways in which a + b against c + d is a product and its victim."""
    found = _note_difference(a, b, c, d, f, sends, own, least, out, found)
    if c != d:
        found = _note_difference(a, b, d, c, f, sends, own, least, out, found)
    found = _note_difference(c, d, a, b, f, sends, own, least, out, found)
    if a != b:
        found = _note_difference(c, d, b, a, f, sends, own, least, out, found)
    return found


@compiled
def broken_differences(keys, f, sends, own, least, out):
    """Find a + b - c closer than `least[v]` to v (also v = c), from `difference_keys`: O(n^2).

    a + b - c - v = (a - c) - (v - b): two differences that nearly meet. A row is a, b, c, v.
    """
    n = f.shape[0]
    widest = np.int64(0)
    for i in range(n):
        widest = max(widest, least[i])
    mask = (1 << _SHIFT) - 1
    found = 0
    for x in range(keys.shape[0]):
        d = keys[x] >> (2 * _SHIFT)
        p = (keys[x] >> _SHIFT) & mask
        q = keys[x] & mask
        for y in range(x + 1, keys.shape[0]):
            if (keys[y] >> (2 * _SHIFT)) - d >= widest:
                break
            r = (keys[y] >> _SHIFT) & mask
            s = keys[y] & mask
            if p == r or q == s:
                continue
            found = _note_both(p, s, q, r, f, sends, own, least, out, found)
        if d < widest:  # two differences so small that they also meet with one of them turned round
            for y in range(x + 1, keys.shape[0]):
                if d + (keys[y] >> (2 * _SHIFT)) >= widest:
                    break
                r = (keys[y] >> _SHIFT) & mask
                s = keys[y] & mask
                if p != s and q != r:
                    found = _note_both(p, r, q, s, f, sends, own, least, out, found)
    return found


@compiled
def _seek(f, c, rest, skip_a, skip_b, skip_c, above, sends):
    """Return the sending member i > `above`, none of the skipped, whose c f[i] + rest is nearest to zero, or -1."""
    n = f.shape[0]
    low = 0
    high = n
    sign = 1 if c > 0 else -1
    while low < high:
        middle = (low + high) >> 1
        if sign * (c * f[middle] + rest) < 0:
            low = middle + 1
        else:
            high = middle
    right = low
    while right < n and (right in (skip_a, skip_b, skip_c) or right <= above or sends[right] == 0):
        right += 1
    left = low - 1
    while left >= 0 and (left in (skip_a, skip_b, skip_c) or left <= above or sends[left] == 0):
        left -= 1
    if right >= n:
        return left
    if left < 0:
        return right
    return right if abs(c * f[right] + rest) <= abs(c * f[left] + rest) else left


@compiled
def nearest_three(f, sends, own, least, c, victim, best, out):
    """Lower `best[v]` to the smallest |sum| - least[v] over relations of three members, with its row in `out[v]`."""
    n = f.shape[0]
    one = 1 if victim == 0 else 0
    two = 1 if victim == 2 else 2
    victim_sends = c[victim] != -1 or victim != 2
    for v in range(n):
        if least[v] <= 0:
            continue
        for m in range(n):
            if m == v or sends[m] == 0:
                continue
            rest = c[victim] * f[v] + c[one] * f[m]
            above = m if c[one] == c[two] else -1
            i = _seek(f, c[two], rest, v, m, m, above, sends)
            if i < 0 or abs(c[two] * f[i] + rest) - least[v] >= best[v]:
                continue
            good = _allowed(m, i, v, 3, sends, own, v) if victim_sends else _allowed(m, i, i, 2, sends, own, v)
            if not good:  # one that lies farther off may be allowed
                i = -1
                for j in range(above + 1, n):
                    if j in (v, m) or sends[j] == 0:
                        continue
                    good = _allowed(m, j, v, 3, sends, own, v) if victim_sends else _allowed(m, j, j, 2, sends, own, v)
                    if good and (i < 0 or abs(c[two] * f[j] + rest) < abs(c[two] * f[i] + rest)):
                        i = j
                if i < 0 or abs(c[two] * f[i] + rest) - least[v] >= best[v]:
                    continue
            best[v] = abs(c[two] * f[i] + rest) - least[v]
            out[v, victim] = v
            out[v, one] = m
            out[v, two] = i


@compiled
def nearest_four(f, sends, own, least, c, best, out):
    """As `nearest_three`, over three generators and a victim apart from them (the last position)."""
    n = f.shape[0]
    for v in range(n):
        if least[v] <= 0:
            continue
        for a in range(n):
            if a == v or sends[a] == 0:
                continue
            for b in range(a + 1 if c[0] == c[1] else 0, n):
                if b == v or b == a or sends[b] == 0:
                    continue
                rest = c[3] * f[v] + c[0] * f[a] + c[1] * f[b]
                above = b if c[1] == c[2] else -1
                i = _seek(f, c[2], rest, v, a, b, above, sends)
                if i < 0 or abs(c[2] * f[i] + rest) - least[v] >= best[v]:
                    continue
                if not _allowed(a, b, i, 3, sends, own, v):  # one that lies farther off may be allowed
                    i = -1
                    for j in range(above + 1, n):
                        if j in (v, a, b) or sends[j] == 0 or not _allowed(a, b, j, 3, sends, own, v):
                            continue
                        if i < 0 or abs(c[2] * f[j] + rest) < abs(c[2] * f[i] + rest):
                            i = j
                    if i < 0 or abs(c[2] * f[i] + rest) - least[v] >= best[v]:
                        continue
                best[v] = abs(c[2] * f[i] + rest) - least[v]
                out[v, 0] = a
                out[v, 1] = b
                out[v, 2] = i
                out[v, 3] = v

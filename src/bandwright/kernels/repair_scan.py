"""What stands against each candidate: the relations that a member would break there beside those in their places."""

from __future__ import annotations

import numpy as np

from bandwright.kernels.jit import compiled
from bandwright.kernels.repair_board import said_before, same_role

__all__ = ["scan_candidates"]


@compiled
def _visit(i, x0, x1, x2, filling, most, loose, dead, packed, pack, count, rows):
    """Note one broken relation against candidate `i`.

    First pass: count it, and give the candidate up once more than `most` rows share no member that may leave.
    """
    if dead[i]:
        return
    if filling:
        at = count[i]
        rows[at, 0] = x0
        rows[at, 1] = x1
        rows[at, 2] = x2
        count[i] += 1
        return
    count[i] += 1
    a = x0 if loose[x0] > 0 else -1
    b = x1 if x1 >= 0 and loose[x1] > 0 else -1
    c = x2 if x2 >= 0 and loose[x2] > 0 else -1
    if a < 0 and b < 0 and c < 0:
        dead[i] = True
        return
    for k in range(3 * packed[i]):
        m = pack[i, k]
        if m >= 0 and (m == a or m == b or m == c):
            return
    if packed[i] >= most:
        dead[i] = True
        return
    at = 3 * packed[i]
    pack[i, at] = a
    pack[i, at + 1] = b
    pack[i, at + 2] = c
    packed[i] += 1


@compiled
def scan_candidates(t, candidates, first_at, shift, most, filling, rules, board, dead, packed, pack, count, rows):
    """Find every relation that member `t` would break on each of the rising candidates beside those in their places.

    `first_at[k]` is the first candidate at or above candidates[0] + k * 2^shift. The first pass fills `dead` and
    `count`; the second (`filling`) writes rows, with `count` holding where the rows of each candidate begin. Carrier
    spacing is left out. The answer holds for all who share candidates, clearances and contexts with `t`, which may
    sit in its place itself.
    """
    f = board.f
    total = candidates.shape[0]
    if total == 0:
        return
    lowest = candidates[0]
    highest = candidates[total - 1]
    here = np.empty(board.status.shape[0], np.int64)
    for slot in range(rules.context_of[t, 0]):
        c = rules.context_of[t, slot + 1]
        n = 0
        for entry in range(rules.context_start[c], rules.context_start[c + 1]):
            j = rules.context_list[entry]
            if board.status[j] == 0:
                here[n] = j
                n += 1
        for relation in range(rules.parts.shape[0]):
            k = rules.parts[relation]
            v = rules.victim[relation]
            for role in range(k):
                if said_before(relation, role, -1, rules) or (role < rules.makers[relation] and rules.sends[t] == 0):
                    continue
                own_g = rules.least[t, relation]
                if role == v and own_g <= 0:
                    continue
                a = rules.coef[relation, role]
                sign = 1 if a > 0 else -1
                a *= sign
                o0 = 1 if role == 0 else 0
                o1 = 1 if role > 1 else 2
                o2 = 2 if role > 2 else 3
                c0 = sign * rules.coef[relation, o0]
                c1 = sign * rules.coef[relation, o1] if k > 2 else 0
                c2 = sign * rules.coef[relation, o2] if k > 3 else 0
                makers = rules.makers[relation]
                t_makes = role < makers
                like01 = k > 2 and same_role(relation, o0, o1, rules)
                like02 = k > 3 and same_role(relation, o0, o2, rules)
                like12 = k > 3 and same_role(relation, o1, o2, rules)
                for i0 in range(n):
                    x0 = here[i0]
                    if o0 < makers and rules.sends[x0] == 0:
                        continue
                    g = own_g
                    if o0 == v:
                        g = rules.least[x0, relation]
                        if g <= 0:
                            continue
                    s0 = c0 * f[x0]
                    for i1 in range(n if k > 2 else 1):
                        x1 = -1
                        s1 = s0
                        if k > 2:
                            if i1 == i0 or (like01 and i1 < i0):
                                continue
                            x1 = here[i1]
                            if o1 < makers and rules.sends[x1] == 0:
                                continue
                            if o1 == v:
                                g = rules.least[x1, relation]
                                if g <= 0:
                                    continue
                            s1 = s0 + c1 * f[x1]
                        for i2 in range(n if k > 3 else 1):
                            x2 = -1
                            s = s1
                            if k > 3:
                                if i2 == i0 or i2 == i1 or (like02 and i2 < i0) or (like12 and i2 < i1):
                                    continue
                                x2 = here[i2]
                                if o2 < makers and rules.sends[x2] == 0:
                                    continue
                                if o2 == v:
                                    g = rules.least[x2, relation]
                                    if g <= 0:
                                        continue
                                s = s1 + c2 * f[x2]
                            # |a p + s| < g
                            low = 1 - g - s
                            high = g - s - 1
                            if a > 1:
                                low = (-g - s) // a + 1
                                high = -((s - g) // a) - 1
                            if high < lowest or low > highest:
                                continue
                            if not t_makes and not _made(x0, x1, x2, o0, o1, o2, makers, rules):
                                continue
                            i = 0
                            if low > lowest:
                                i = first_at[(low - lowest) >> shift]
                                while candidates[i] < low:
                                    i += 1
                            while i < total and candidates[i] <= high:
                                _visit(i, x0, x1, x2, filling, most, board.loose, dead, packed, pack, count, rows)
                                i += 1


@compiled
def _made(x0, x1, x2, o0, o1, o2, makers, rules):
    """Whether the makers among three members make a product without anybody else of ours."""
    weakest = 2
    any_own = False
    if o0 < makers:
        weakest = min(weakest, rules.sends[x0])
        any_own = any_own or rules.own[x0]
    if x1 >= 0 and o1 < makers:
        weakest = min(weakest, rules.sends[x1])
        any_own = any_own or rules.own[x1]
    if x2 >= 0 and o2 < makers:
        weakest = min(weakest, rules.sends[x2])
        any_own = any_own or rules.own[x2]
    return weakest == 2 or (weakest == 1 and any_own)

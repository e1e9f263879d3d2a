"""Count arrays over cells, and the moves made on them.

Members sit on cells of one raster (or nowhere: -1). A *relation* is a vector of integer coefficients over distinct
members, one of which is its victim; it is broken when the absolute value of its sum is below the victim's width for
it. The arrays count, for every cell, how many relations a member put there would break:

* relations of three members become intervals that each pair of members adds (`gen`, `vic`);
* the relation of four members with coefficients (1, 1, -1, -1) says that two differences must stay apart, so pairs add
  to arrays over differences (`dif`, `com`), and a scan adds one shifted copy for each member.

Every broken relation counts 2 from the point of view of each of its members, so totals stay equal whichever member
is moved. Counts are kept per context: a set of members that all hear each other at one time.

Arguments that return in every kernel:

pos[n]                 cell of each member, -1 for nowhere
sender[n], kind[n]     whether a member takes part in products; which row of the width tables it uses as a victim
context_of[n, 1 + m]   how many contexts a member is in, and which
context_start, context_list   members of each context, one after another
op[m, 6]               coefficient of the new member, of x, of j; victim (0 new, 1 x, 2 j); relation; weight
width[kind, relation]  in cells, 0 = off; four[kind] is that of the (1, 1, -1, -1) relation
near[n, n], far[n, n]  least and largest distance in cells, 0 = none asked
gen[c, cells], vic[c, kind, cells], com[c, 2 cells - 1], dif[c, kind, 2 cells - 1]   the counts
"""

from __future__ import annotations

import numpy as np

from bandwright.kernels.jit import compiled

__all__ = [
    "add_member",
    "conflicts",
    "drop_worst",
    "load_members",
    "next_random",
    "place_greedily",
    "recount",
    "scan_member",
    "settle",
    "tabu_epoch",
]

BIG = 1_000_000
_MULTIPLIER = np.uint64(2685821657736338717)
_LOW_HALF = np.uint64(0xFFFFFFFF)


@compiled
def next_random(state):
    """Return the next 32 random bits of an xorshift64* stream (Vigna 2016); `state` is one uint64."""
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    low = x & _LOW_HALF  # the upper half of x times the multiplier, made so that no product overflows
    carried = (low * (_MULTIPLIER & _LOW_HALF)) >> np.uint64(32)
    across = (low * (_MULTIPLIER >> np.uint64(32))) & _LOW_HALF
    upper = ((x >> np.uint64(32)) * (_MULTIPLIER & _LOW_HALF)) & _LOW_HALF
    return np.int64((carried + across + upper) & _LOW_HALF)


@compiled
def _mark(row, low, high, weight):
    start = max(low, 0)
    stop = min(high, row.shape[0] - 1)
    for cell in range(start, stop + 1):
        row[cell] += weight


@compiled
def add_member(
    x, sign, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
):
    """Add (`sign` 1) or take away (-1) all that member `x`, sitting on `pos[x]`, counts together with the others."""
    kinds = vic.shape[1]
    middle = gen.shape[1] - 1
    px = pos[x]
    for slot in range(context_of[x, 0]):
        c = context_of[x, slot + 1]
        for entry in range(context_start[c], context_start[c + 1]):
            j = context_list[entry]
            if j == x or pos[j] < 0:
                continue
            pj = pos[j]
            for m in range(op.shape[0]):
                who = op[m, 3]
                if (who != 1 and not sender[x]) or (who != 2 and not sender[j]):
                    continue
                a = op[m, 0]
                rest = op[m, 1] * px + op[m, 2] * pj
                if a < 0:
                    a = -a
                    rest = -rest
                weight = sign * op[m, 5]
                if who > 0:
                    w = width[kind[x] if who == 1 else kind[j], op[m, 4]]
                    if w > 0:
                        if a == 1:
                            _mark(gen[c], -rest - w + 1, -rest + w - 1, weight)
                        else:
                            _mark(gen[c], -((rest + w - 1) // a), (w - 1 - rest) // a, weight)
                else:
                    for k in range(kinds):
                        w = width[k, op[m, 4]]
                        if w > 0:
                            if a == 1:
                                _mark(vic[c, k], -rest - w + 1, -rest + w - 1, weight)
                            else:
                                _mark(vic[c, k], -((rest + w - 1) // a), (w - 1 - rest) // a, weight)
            d = px - pj
            if sender[x] and sender[j]:
                for k in range(kinds):
                    w = four[k]
                    if w > 0:
                        _mark(dif[c, k], middle + d - w + 1, middle + d + w - 1, sign)
                        _mark(dif[c, k], middle - d - w + 1, middle - d + w - 1, sign)
            w = four[kind[x]]
            if sender[j] and w > 0:
                _mark(com[c], middle + d - w + 1, middle + d + w - 1, 2 * sign)
                _mark(com[c], middle - d - w + 1, middle - d + w - 1, sign)
            w = four[kind[j]]
            if sender[x] and w > 0:
                _mark(com[c], middle - d - w + 1, middle - d + w - 1, 2 * sign)
                _mark(com[c], middle + d - w + 1, middle + d + w - 1, sign)


@compiled
def _take_off_spacing(x, c, pos, sender, kind, context_start, context_list, four, near, low, high, cost):
    """Take off what the difference arrays count though it is spacing: a member shared by both differences.

    That is where x comes closer to a member than a width; it matters only where spacing asks for less than a width.
    """
    widest = np.int64(0)
    for k in range(four.shape[0]):
        widest = max(widest, four[k])
    senders = 0
    for entry in range(context_start[c], context_start[c + 1]):
        j = context_list[entry]
        if j != x and pos[j] >= 0 and sender[j]:
            senders += 1
    for entry in range(context_start[c], context_start[c + 1]):
        a = context_list[entry]
        if a == x or pos[a] < 0 or near[x, a] >= widest:
            continue
        others = senders - 1 if sender[a] else senders
        for p in range(max(low, pos[a] - widest + 1), min(high, pos[a] + widest - 1) + 1):
            gap = abs(p - pos[a])
            count = 0
            if sender[a] and gap < four[kind[x]]:
                count += others
            if gap < four[kind[a]]:
                count += 2 * others
            if sender[a]:
                for other in range(context_start[c], context_start[c + 1]):
                    j = context_list[other]
                    if j != x and j != a and pos[j] >= 0 and sender[j] and gap < four[kind[j]]:
                        count += 1
            cost[p] -= count


@compiled
def scan_member(
    x, pos, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com, low, high,
    cost, row, sums,
):  # fmt: skip
    """Fill `cost[low:high + 1]` with what member `x` (now nowhere) would break on each cell."""
    middle = gen.shape[1] - 1
    k = kind[x]
    cost[low : high + 1] = 0
    for slot in range(context_of[x, 0]):
        c = context_of[x, slot + 1]
        sums[low : high + 1] = 0
        first = True
        low_pos = np.int64(0)
        high_pos = np.int64(0)
        for entry in range(context_start[c], context_start[c + 1]):
            j = context_list[entry]
            if j != x and pos[j] >= 0 and sender[j]:
                if first or pos[j] < low_pos:
                    low_pos = pos[j]
                if first or pos[j] > high_pos:
                    high_pos = pos[j]
                first = False
        if not first:
            for d in range(low + middle - high_pos, high + middle - low_pos + 1):
                row[d] = com[c, d] + dif[c, k, d]
            for entry in range(context_start[c], context_start[c + 1]):
                j = context_list[entry]
                if j == x or pos[j] < 0 or not sender[j]:
                    continue
                shift = middle - pos[j]
                part = row[low + shift : high + 1 + shift]
                into = sums[low : high + 1]
                for p in range(high + 1 - low):
                    into[p] += part[p]
        for p in range(low, high + 1):
            cost[p] += gen[c, p] + vic[c, k, p] + sums[p]
        _take_off_spacing(x, c, pos, sender, kind, context_start, context_list, four, near, low, high, cost)
    for j in range(pos.shape[0]):
        if j == x or pos[j] < 0:
            continue
        w = near[x, j]
        if w > 0:
            for p in range(max(low, pos[j] - w + 1), min(high, pos[j] + w - 1) + 1):
                cost[p] += BIG
        w = far[x, j]
        if w > 0:
            for p in range(low, high + 1):
                if p > pos[j] + w or p < pos[j] - w:
                    cost[p] += BIG


@compiled
def conflicts(
    pos, entry_of, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com, static,
    conflict,
):  # fmt: skip
    """Fill `conflict[x]` with what each placed member breaks where it sits, from arrays that include it.

    What a pair counts against itself is taken off. Where clearances exceed spacing the figure may be too large, never
    too small; an exact answer comes from taking the member out.
    """
    middle = gen.shape[1] - 1
    for x in range(conflict.shape[0]):
        conflict[x] = 0
        p = pos[x]
        if p < 0:
            continue
        k = kind[x]
        count = np.int64(static[entry_of[x]])
        for slot in range(context_of[x, 0]):
            c = context_of[x, slot + 1]
            count += gen[c, p] + vic[c, k, p]
            for entry in range(context_start[c], context_start[c + 1]):
                j = context_list[entry]
                if j == x or pos[j] < 0 or not sender[j]:
                    continue
                d = middle + p - pos[j]
                count += com[c, d] + dif[c, k, d]
                if four[k] > 0:
                    count -= 3
                if four[kind[j]] > 0:
                    count -= 1
        for j in range(pos.shape[0]):
            if j == x or pos[j] < 0:
                continue
            gap = abs(p - pos[j])
            if gap < near[x, j] or (far[x, j] > 0 and gap > far[x, j]):
                count += BIG
        conflict[x] = count


@compiled
def _best_entry(x, choice, cand_start, cand, static, cost, tabu, now, gap, own, random):
    """Return the candidate of least cost for `x`, ties broken by lot; a tabu one only where it beats `gap`."""
    q = choice[x]
    found = -1
    least = np.int64(1) << np.int64(60)
    ties = 0
    for entry in range(cand_start[q], cand_start[q + 1]):
        p = cand[entry]
        if p == own:
            continue
        value = np.int64(cost[p] + static[entry])
        if value > least:
            continue
        if tabu[entry] > now and value >= gap:
            continue
        if value < least:
            least = value
            found = entry
            ties = 1
        else:
            ties += 1
            if next_random(random) % ties == 0:
                found = entry
    return found


@compiled
def place_greedily(
    order, only_clean, leftmost, total, pos, entry_of, sender, kind, context_of, context_start, context_list, op,
    width, four, near, far, gen, vic, dif, com, choice, cand_start, cand, static, wish, random, cost, row, sums,
):  # fmt: skip
    """Put the members of `order` one after another where each breaks least; returns what they break in all.

    Ties go to the smallest `wish`, then to the lowest cell (`leftmost`) or by lot. With `only_clean` a member that
    would break something stays nowhere.
    """
    for index in range(order.shape[0]):
        x = order[index]
        q = choice[x]
        if pos[x] >= 0 or cand_start[q] == cand_start[q + 1]:
            continue
        low = cand[cand_start[q]]
        high = cand[cand_start[q + 1] - 1]
        scan_member(
            x, pos, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com, low,
            high, cost, row, sums,
        )  # fmt: skip
        found = -1
        least = np.int64(1) << np.int64(60)
        least_wish = np.int64(1) << np.int64(60)
        ties = 0
        for entry in range(cand_start[q], cand_start[q + 1]):
            value = np.int64(cost[cand[entry]] + static[entry])
            if value < least or (value == least and wish[entry] < least_wish):
                least = value
                least_wish = wish[entry]
                found = entry
                ties = 1
            elif value == least and wish[entry] == least_wish and not leftmost:
                ties += 1
                if next_random(random) % ties == 0:
                    found = entry
        if only_clean and least > 0:
            continue
        pos[x] = cand[found]
        entry_of[x] = found
        total += least
        add_member(
            x, 1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
        )
    return total


@compiled
def recount(
    pos, entry_of, sender, kind, context_of, context_start, context_list, op, width, four, near, far, gen, vic, dif,
    com, static, cost, row, sums,
):  # fmt: skip
    """Return what is broken in all: members are taken out one after another, then put back."""
    total = np.int64(0)
    count = entry_of.shape[0]
    held = np.full(count, -1, np.int64)
    for x in range(count):
        if pos[x] < 0 or entry_of[x] < 0:
            continue
        held[x] = pos[x]
        add_member(
            x, -1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
        )
        pos[x] = -1
        p = held[x]
        scan_member(
            x, pos, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com, p, p,
            cost, row, sums,
        )  # fmt: skip
        total += np.int64(cost[p] + static[entry_of[x]])
    for x in range(count):
        if held[x] >= 0:
            pos[x] = held[x]
            add_member(
                x, 1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
            )
    return total


@compiled
def tabu_epoch(
    moves, total, clock, best, best_entry, movable, tabu, rest_until, conflict, pos, entry_of, sender, kind,
    context_of, context_start, context_list, op, width, four, near, far, gen, vic, dif, com, choice, cand_start, cand,
    static, random, cost, row, sums,
):  # fmt: skip
    """Make `moves` moves, or stop when nothing is broken; returns (total, clock).

    The member that breaks most and does not rest goes to the cell where it breaks least and that no member of its
    choice left lately. The entries of least total are kept in `best_entry`, their total in `best[0]`.
    """
    count = pos.shape[0]
    placed = 0
    for x in range(count):
        if pos[x] >= 0 and movable[x]:
            placed += 1
    for _ in range(moves):
        if total == 0 or placed == 0:
            break
        clock += 1
        conflicts(
            pos, entry_of, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com,
            static, conflict,
        )  # fmt: skip
        x = -1
        most = np.int64(0)
        ties = 0
        for i in range(conflict.shape[0]):
            if pos[i] < 0 or not movable[i] or rest_until[i] > clock or conflict[i] == 0 or conflict[i] < most:
                continue
            if conflict[i] > most:
                most = conflict[i]
                ties = 1
                x = i
            else:
                ties += 1
                if next_random(random) % ties == 0:
                    x = i
        if most == 0 and conflict.sum() == 0:
            total = recount(
                pos, entry_of, sender, kind, context_of, context_start, context_list, op, width, four, near, far, gen,
                vic, dif, com, static, cost, row, sums,
            )  # fmt: skip
            if total == 0:
                best[0] = 0
                best_entry[:] = entry_of
                break
        if x < 0:
            skip = next_random(random) % placed
            for i in range(count):
                if pos[i] >= 0 and movable[i]:
                    if skip == 0:
                        x = i
                        break
                    skip -= 1
        own = pos[x]
        own_entry = entry_of[x]
        add_member(
            x, -1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
        )
        pos[x] = -1
        q = choice[x]
        low = cand[cand_start[q]]
        high = cand[cand_start[q + 1] - 1]
        scan_member(
            x, pos, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com, low,
            high, cost, row, sums,
        )  # fmt: skip
        own_cost = np.int64(cost[own] + static[own_entry])
        gap = best[0] - (total - own_cost)
        chosen = _best_entry(x, choice, cand_start, cand, static, cost, tabu, clock, gap, own, random)
        if chosen < 0:
            chosen = own_entry
        pos[x] = cand[chosen]
        entry_of[x] = chosen
        total += np.int64(cost[cand[chosen]] + static[chosen]) - own_cost
        tabu[own_entry] = clock + 5 + next_random(random) % 10
        rest_until[x] = clock + placed // 6 + next_random(random) % 3
        add_member(
            x, 1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
        )
        if total <= 0:  # counts are uneven where spacing is broken too, so a sum of differences may drift
            total = recount(
                pos, entry_of, sender, kind, context_of, context_start, context_list, op, width, four, near, far, gen,
                vic, dif, com, static, cost, row, sums,
            )  # fmt: skip
        if total < best[0]:
            best[0] = total
            best_entry[:] = entry_of
    return total, clock


@compiled
def settle(
    order, pos, entry_of, sender, kind, context_of, context_start, context_list, op, width, four, near, far, gen, vic,
    dif, com, choice, cand_start, cand, static, wish, cost, row, sums,
):  # fmt: skip
    """Move members one at a time to clean cells of smaller `wish`; returns how many moved."""
    moved = 0
    for index in range(order.shape[0]):
        x = order[index]
        if pos[x] < 0:
            continue
        q = choice[x]
        add_member(
            x, -1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
        )
        pos[x] = -1
        low = cand[cand_start[q]]
        high = cand[cand_start[q + 1] - 1]
        scan_member(
            x, pos, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com, low,
            high, cost, row, sums,
        )  # fmt: skip
        target = entry_of[x]
        for entry in range(cand_start[q], cand_start[q + 1]):
            if cost[cand[entry]] + static[entry] == 0 and wish[entry] < wish[target]:
                target = entry
        if target != entry_of[x]:
            moved += 1
        entry_of[x] = target
        pos[x] = cand[target]
        add_member(
            x, 1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
        )
    return moved


@compiled
def load_members(
    order, start, pos, entry_of, sender, kind, context_of, context_start, context_list, op, width, four, near, far,
    gen, vic, dif, com, static, cost, row, sums, cand,
):  # fmt: skip
    """Put the members of `order` on the entries `start` (-1 = nowhere); returns what they break in all."""
    total = np.int64(0)
    for index in range(order.shape[0]):
        x = order[index]
        if start[x] < 0 or pos[x] >= 0:
            continue
        p = cand[start[x]]
        scan_member(
            x, pos, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com, p, p,
            cost, row, sums,
        )  # fmt: skip
        total += np.int64(cost[p] + static[start[x]])
        pos[x] = p
        entry_of[x] = start[x]
        add_member(
            x, 1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
        )
    return total


@compiled
def drop_worst(
    rank, pos, entry_of, sender, kind, context_of, context_start, context_list, op, width, four, near, far, gen, vic,
    dif, com, static, cost, row, sums, conflict,
):  # fmt: skip
    """Take members out until nothing is broken: always one that breaks something, of least rank, then of most breaks.

    Members with a negative rank stay.
    """
    while True:
        worst = -1
        for x in range(pos.shape[0]):
            conflict[x] = 0
            if pos[x] < 0 or rank[x] < 0:
                continue
            p = pos[x]
            add_member(
                x, -1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
            )
            pos[x] = -1
            scan_member(
                x, pos, sender, kind, context_of, context_start, context_list, four, near, far, gen, vic, dif, com, p,
                p, cost, row, sums,
            )  # fmt: skip
            conflict[x] = np.int64(cost[p] + static[entry_of[x]])
            pos[x] = p
            add_member(
                x, 1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
            )
            if conflict[x] == 0:
                continue
            if worst < 0 or rank[x] < rank[worst] or (rank[x] == rank[worst] and conflict[x] > conflict[worst]):
                worst = x
        if worst < 0:
            return
        add_member(
            worst, -1, pos, sender, kind, context_of, context_start, context_list, op, width, four, gen, vic, dif, com
        )
        pos[worst] = -1
        entry_of[worst] = -1

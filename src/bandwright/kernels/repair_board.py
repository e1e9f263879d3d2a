"""What the search for who must leave works on: rules, where members are, candidates, and the search between two calls.

`kernels.repair` says what the search does.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from numpy.typing import NDArray

from bandwright.kernels.jit import compiled

__all__ = ["WIDTH", "Board", "Places", "Rules", "Stack", "may_leave", "nobody_left", "said_before", "same_role"]

# Positions in `Stack.machine`.
DEPTH, BACK, BUDGET, LATER, NODES, FOUND, ENDED, OVERFLOWED = range(8)
WIDTH = 4  # members in a row


class Rules(NamedTuple):
    """What never changes; n members, R relations.

    coef[R, 4], parts[R], victim[R], makers[R]   coefficients, how many, position of the victim, number of generators
    least[n, R], widest[R]          what a member asks of a relation as its victim, 0 = nothing; the most of all
    sends[n], own[n]                0 makes no products, 1 only together with an own member, 2 always
    near[n, n], far[n, n]           least and largest distance, 0 = none asked
    context_of[n, 1 + m]            how many contexts a member is in, and which
    context_start, context_list     members of each context, one after another
    """

    coef: NDArray[Any]
    parts: NDArray[Any]
    victim: NDArray[Any]
    makers: NDArray[Any]
    least: NDArray[Any]
    widest: NDArray[Any]
    sends: NDArray[Any]
    own: NDArray[Any]
    near: NDArray[Any]
    far: NDArray[Any]
    context_of: NDArray[Any]
    context_start: NDArray[Any]
    context_list: NDArray[Any]


class Board(NamedTuple):
    """Where members are.

    f[n], status[n]      carriers, and what is with each member (0 to 3, see `kernels.repair`)
    home[n]              where a member was; it is not put there again
    rising, rise         members of each context by carrier, as in `context_list`, and these carriers (of those without
                         one the largest number)
    loose[n], frozen[n]  0 for members that stay, 1 for those that may leave, 2 for those that may leave within a second
                         budget; how often a member is held back in this branch
    level[n], allowed[levels]   how many of each level may stay nowhere
    twin[n]              members with one number >= 0 are alike and are placed rising
    """

    f: NDArray[Any]
    status: NDArray[Any]
    home: NDArray[Any]
    rising: NDArray[Any]
    rise: NDArray[Any]
    loose: NDArray[Any]
    frozen: NDArray[Any]
    level: NDArray[Any]
    allowed: NDArray[Any]
    twin: NDArray[Any]


class Places(NamedTuple):
    """Candidates by group of members, in the order of trial, and the rows of members that stand against each.

    group[n]; start[groups + 1] into hz; row_start[candidates + 1] into rows[., 3] (-1 = no member)
    """

    group: NDArray[Any]
    start: NDArray[Any]
    hz: NDArray[Any]
    row_start: NDArray[Any]
    rows: NDArray[Any]


class Stack(NamedTuple):
    """The search between two calls: one line for each decision, and the solutions.

    machine[8] (see the names above); kind, who, at, base, needs [depth]; row[depth, 4]; frozen_by[depth, 4];
    need[depth, most, 4]; entry[depth, candidates], entries[depth]: what is worth trying; found[solutions, wanted]
    """

    machine: NDArray[Any]
    kind: NDArray[Any]
    who: NDArray[Any]
    at: NDArray[Any]
    base: NDArray[Any]
    needs: NDArray[Any]
    row: NDArray[Any]
    frozen_by: NDArray[Any]
    need: NDArray[Any]
    entry: NDArray[Any]
    entries: NDArray[Any]
    found: NDArray[Any]


@compiled
def same_role(relation, role, other, rules):
    """Whether two positions of a relation are interchangeable."""
    v = rules.victim[relation]
    return rules.coef[relation, role] == rules.coef[relation, other] and role != v and other != v


@compiled
def said_before(relation, role, taken, rules):
    """Whether an earlier position, other than the one taken, says the same as this one."""
    for other in range(role):
        if other != taken and same_role(relation, role, other, rules):
            return True
    return False


@compiled
def may_leave(m, board, later_left):
    """Whether a member that sits where it was may be sent away, with so much of the second budget left."""
    return (
        board.status[m] == 0 and board.loose[m] > 0 and board.frozen[m] == 0 and (board.loose[m] == 1 or later_left > 0)
    )


@compiled
def nobody_left(row, board):
    """Whether nobody of a row has left yet."""
    for k in range(row.shape[0]):
        if row[k] >= 0 and board.status[row[k]] != 0:
            return False
    return True

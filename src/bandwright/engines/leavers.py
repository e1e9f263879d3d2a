"""Who must leave so that others find a place: a problem laid out for the exact search of `kernels.repair`.

The search works in whole Hz on the relations themselves, so that it holds for every family, every raster and members
of any kind. It runs in steps, between which it can be stopped.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import AVOID, Problem, Sends
from bandwright.core.products import Relation, family_named, relations
from bandwright.engines.raster import share_context
from bandwright.kernels import repair, repair_board, repair_scan

__all__ = ["Answer", "Question", "Seats", "ask", "rules_of"]

_STEP = 20_000
_MOST_NEEDS = 1_024


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seats:
    """Who sits where, and who may leave: one entry for each wanted member.

    `carriers_hz` is -1 for one that has no place. `loose` is 0 for a member that stays, 1 for one that may leave, 2 for
    one that may leave within the second budget. `waiting` members have to be placed; `absent` ones do not count.
    """

    carriers_hz: NDArray[np.int64]
    loose: NDArray[np.int64]
    waiting: NDArray[np.bool_]
    absent: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Question:
    """At most `leavers` of those seated leave, `later` of them from the second budget; all who wait are placed.

    `unplaced` says how many of each priority (of `levels`, in that order) may stay nowhere. `broken` holds sets of
    wanted members one of whom must leave in any case. `liked_hz` are candidates to be tried first, by the name of a
    choice.
    """

    leavers: int
    later: int
    levels: tuple[int, ...]
    unplaced: tuple[int, ...]
    broken: tuple[tuple[int, ...], ...]
    liked_hz: Mapping[str, frozenset[int]]
    most_answers: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """Solutions as carriers of all wanted members (-1 = nowhere); `all_met` when there are no others."""

    solutions: NDArray[np.int64]
    all_met: bool
    nodes: int
    stopped: bool


def rules_of(problem: Problem) -> repair_board.Rules:
    """Return the rules of a problem as arrays."""
    every = [relation for family in problem.families() for relation in relations(family_named(family))]
    first = len(problem.wanted)
    most = max((len(problem.contexts_of(m)) for m in range(problem.size)), default=0)
    context_of = np.zeros((problem.size, most + 1), np.int64)
    lists: list[list[int]] = [[] for _ in range(problem.contexts)]
    for member in range(problem.size):
        own = problem.contexts_of(member)
        context_of[member, 0] = len(own)
        context_of[member, 1 : len(own) + 1] = own
        for context in own:
            lists[context].append(member)
    coef = np.zeros((len(every), 4), np.int64)
    for row, relation in enumerate(every):
        coef[row, : len(relation.coefficients)] = relation.coefficients
    least = _least(problem, every)
    return repair_board.Rules(
        coef=coef,
        parts=np.array([len(relation.coefficients) for relation in every], np.int64),
        victim=np.array([relation.victim for relation in every], np.int64),
        makers=np.array([len(relation.family.coefficients) for relation in every], np.int64),
        least=least,
        widest=least.max(axis=0, initial=0),
        sends=np.array([int(Sends.FULLY)] * first + [int(item.sends) for item in problem.fixed], np.int64),
        own=np.arange(problem.size) < first,
        near=np.ascontiguousarray(problem.near_hz, np.int64),
        far=np.ascontiguousarray(problem.far_hz, np.int64),
        context_of=context_of,
        context_start=np.cumsum([0, *(len(members) for members in lists)]).astype(np.int64),
        context_list=np.array([member for members in lists for member in members], np.int64),
    )


def _least(problem: Problem, every: Sequence[Relation]) -> NDArray[np.int64]:
    table = np.zeros((problem.size, len(every)), np.int64)
    for member in range(problem.size):
        asked = dict(problem.clearance_of(member))
        table[member] = [asked.get(relation.family.name, 0) for relation in every]
    return table


def ask(
    problem: Problem,
    rules: repair_board.Rules,
    seats: Seats,
    question: Question,
    *,
    effort: int,
    more: int | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> Answer:
    """Search all answers to a question, looking at no more than `effort` candidates.

    With `more` the search goes on for about that many candidates once there is an answer. `stop` is asked every so
    often and ends the search.
    """
    board = _board(problem, rules, seats, question)
    places = _places(problem, rules, board, seats, question)
    stack = _stack(problem, seats, question, len(places.hz))
    machine = stack.machine
    stopped = False
    limit, found = effort, False
    while not machine[repair_board.ENDED] and machine[repair_board.FOUND] < len(stack.found):
        if more is not None and machine[repair_board.FOUND] and not found:
            limit, found = int(machine[repair_board.NODES]) + more, True
        if machine[repair_board.NODES] >= limit:
            break
        if stop():
            stopped = True
            break
        repair.run(min(limit, int(machine[repair_board.NODES]) + _STEP), rules, board, places, stack)
    return Answer(
        solutions=stack.found[: machine[repair_board.FOUND]],
        all_met=bool(machine[repair_board.ENDED]) and not machine[repair_board.OVERFLOWED],
        nodes=int(machine[repair_board.NODES]),
        stopped=stopped,
    )


def _board(problem: Problem, rules: repair_board.Rules, seats: Seats, question: Question) -> repair_board.Board:
    first = len(problem.wanted)
    fixed_hz = np.array([item.carrier_hz for item in problem.fixed], np.int64)
    status = np.zeros(problem.size, np.int64)
    status[:first][seats.waiting] = 1
    status[:first][seats.absent | (~seats.waiting & (seats.carriers_hz < 0))] = 3
    loose = np.zeros(problem.size, np.int64)
    loose[:first] = seats.loose
    level = np.zeros(problem.size, np.int64)
    level[:first] = [question.levels.index(item.priority) for item in problem.wanted]
    f = np.concatenate([seats.carriers_hz, fixed_hz])
    rising, rise = _rising(rules, f)
    return repair_board.Board(
        f=f,
        status=status,
        home=f.copy(),
        rising=rising,
        rise=rise,
        loose=loose,
        frozen=np.zeros(problem.size, np.int64),
        level=level,
        allowed=np.array(question.unplaced, np.int64),
        twin=_twins(problem, seats),
    )


def _rising(rules: repair_board.Rules, f: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the members of each context by carrier, and their carriers; those without one come last."""
    rising = rules.context_list.copy()
    where = np.where(f < 0, np.iinfo(np.int64).max, f)
    for begin, end in itertools.pairwise(rules.context_start.tolist()):
        members = rising[begin:end]
        rising[begin:end] = members[np.argsort(where[members], kind="stable")]
    return rising, where[rising]


def _twins(problem: Problem, seats: Seats) -> NDArray[np.int64]:
    """Give one number to those alike in every respect that wait or may leave: which gets which place is all the same.

    Nobody goes to the place that one alike has left: with that one staying, one less would have left.
    """
    twin = np.full(problem.size, -1, np.int64)
    firsts: dict[tuple[int, tuple[int, ...], int], list[int]] = {}
    for m in np.flatnonzero(seats.waiting | (seats.loose > 0)).tolist():
        item = problem.wanted[m]
        alike = firsts.setdefault((item.choice, item.contexts, item.priority), [])
        twin[m] = next((u for u in alike if problem.bound_alike(m, u)), m)
        if twin[m] == m:
            alike.append(m)
    return twin


def _places(
    problem: Problem, rules: repair_board.Rules, board: repair_board.Board, seats: Seats, question: Question
) -> repair_board.Places:
    """List, for each group of members that may need a place, the candidates that few enough leavers could free."""
    group = np.full(problem.size, -1, np.int64)
    groups: dict[tuple[int, tuple[int, ...]], int] = {}
    start, hz, row_counts, rows = [0], [], [], []
    for m in _who_may_move(problem, seats, question).tolist():
        item = problem.wanted[m]
        key = (item.choice, item.contexts)
        if key not in groups:
            groups[key] = len(groups)
            found = _scan(problem, rules, board, m, question)
            hz.append(found[0])
            row_counts.append(found[1])
            rows.append(found[2])
            start.append(start[-1] + len(found[0]))
        group[m] = groups[key]
    return repair_board.Places(
        group=group,
        start=np.array(start, np.int64),
        hz=np.concatenate([*hz, np.zeros(0, np.int64)]),
        row_start=np.concatenate([[0], np.cumsum(np.concatenate([*row_counts, np.zeros(0, np.int64)]))]).astype(
            np.int64
        ),
        rows=np.concatenate([*rows, np.zeros((0, 3), np.int64)]),
    )


def _who_may_move(problem: Problem, seats: Seats, question: Question) -> NDArray[np.int64]:
    """Return who waits or is in trouble, and who of those that may leave is reached from them.

    One is reached through a shared context, and through an offset that is asked without one.
    """
    first = len(problem.wanted)
    binds = (share_context(problem) | (problem.near_hz > 0) | (problem.far_hz > 0))[:first, :first]
    reached = seats.waiting.copy()
    reached[[m for members in question.broken for m in members if seats.loose[m] > 0]] = True
    while True:
        grown = reached | (binds[reached].any(axis=0) & (seats.loose > 0) & ~seats.absent)
        if np.array_equal(grown, reached):
            return np.flatnonzero(reached)
        reached = grown


def _scan(
    problem: Problem, rules: repair_board.Rules, board: repair_board.Board, member: int, question: Question
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Return (candidates in the order of trial, how many rows each has, rows) for the group of a member."""
    choice = problem.choices[problem.wanted[member].choice]
    candidates = np.ascontiguousarray(choice.carriers_hz, np.int64)
    size = len(candidates)
    dead, count = np.zeros(size, np.bool_), np.zeros(size, np.int64)
    work = {
        "packed": np.zeros(size, np.int64),
        "pack": np.full((size, 3 * question.leavers), -1, np.int64),
    }
    shift, first_at = _buckets(candidates)
    fixed = {"first_at": first_at, "shift": shift, "most": question.leavers, "rules": rules, "board": board}
    none = np.zeros((0, 3), np.int64)
    repair_scan.scan_candidates(member, candidates, filling=False, dead=dead, count=count, rows=none, **fixed, **work)
    count[dead] = 0
    at = np.concatenate([[0], np.cumsum(count)]).astype(np.int64)
    rows = np.full((at[-1], 3), -1, np.int64)
    repair_scan.scan_candidates(
        member, candidates, filling=True, dead=dead, count=at[:-1].copy(), rows=rows, **fixed, **work
    )
    alive = np.flatnonzero(~dead)
    disliked = ~np.isin(candidates[alive], sorted(question.liked_hz.get(choice.name, ())))
    order = alive[np.lexsort((candidates[alive], choice.wish[alive], disliked, choice.wish[alive] >= AVOID))]
    taken = np.concatenate([*(np.arange(at[i], at[i + 1]) for i in order.tolist()), np.zeros(0, np.int64)])
    return candidates[order], count[order], rows[taken.astype(np.int64)]


def _buckets(candidates: NDArray[np.int64]) -> tuple[int, NDArray[np.int64]]:
    """Return a shift, and the first candidate at or above each multiple of 2^shift from the lowest on."""
    if len(candidates) == 0:
        return 0, np.zeros(1, np.int64)
    span = int(candidates[-1] - candidates[0])
    shift = max(0, (span // len(candidates)).bit_length() - 1)
    edges = candidates[0] + (np.arange((span >> shift) + 1, dtype=np.int64) << shift)
    return shift, np.searchsorted(candidates, edges).astype(np.int64)


def _stack(problem: Problem, seats: Seats, question: Question, candidates: int) -> repair_board.Stack:
    """Return an empty search with what is broken already as its first need."""
    leavers, waiting = question.leavers, int(seats.waiting.sum())
    depth = waiting + 2 * leavers + 2
    most = max(_MOST_NEEDS if leavers else 1, len(question.broken))
    machine = np.zeros(8, np.int64)
    machine[repair_board.DEPTH] = 1
    machine[repair_board.BUDGET] = leavers
    machine[repair_board.LATER] = question.later
    need = np.full((depth, most, 4), -1, np.int64)
    count = np.zeros(depth, np.int64)
    count[0] = len(question.broken)
    for row, members in enumerate(question.broken):
        need[0, row, : len(members)] = members
    return repair_board.Stack(
        machine=machine,
        kind=np.zeros(depth, np.int64),
        who=np.full(depth, -1, np.int64),
        at=np.full(depth, -1, np.int64),
        base=np.zeros(depth, np.int64),
        needs=count,
        row=np.full((depth, 4), -1, np.int64),
        frozen_by=np.full((depth, 4), -1, np.int64),
        need=need,
        entry=np.zeros((depth, candidates + 1), np.int64),
        entries=np.zeros(depth, np.int64),
        found=np.full((question.most_answers, len(problem.wanted)), -1, np.int64),
    )

"""A problem laid out on cells for the count arrays, and the state the kernels move.

The cell is the largest step on which all candidates and given carriers lie, where that leaves the arrays at a sane
size; then counting on cells is exact. Otherwise given carriers are rounded to the nearest cell and clearances grow by
what that may hide: the filter then refuses more than the rules do, and the verifier decides in Hz.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Problem, Sends
from bandwright.core.products import Relation, family_named, relations
from bandwright.kernels import search

__all__ = ["FOUR", "Layout", "State", "lay_out", "new_state"]

FOUR = "A+B-C"
_MOST_CELLS = 400_000
_WEIGHT = 2  # what a broken relation counts from each of its members
_BIG = int(search.BIG)
_NOWHERE = 1 << 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """A problem on cells. `candidates_hz` runs over all choices one after another, beside `cand` and `wish`."""

    problem: Problem
    cell_hz: int
    base_hz: int
    cells: int
    exact: bool
    fixed_cell: NDArray[np.int64]
    candidates_hz: NDArray[np.int64]
    cand: NDArray[np.int64]
    cand_start: NDArray[np.int64]
    wish: NDArray[np.int64]
    static: NDArray[np.int64]
    arguments: dict[str, NDArray[Any]]


@dataclass(slots=True, kw_only=True, eq=False)
class State:
    """Where the members are and what the arrays count; only kernels write here."""

    layout: Layout
    cand: NDArray[np.int64]
    cand_start: NDArray[np.int64]
    static: NDArray[np.int64]
    wish: NDArray[np.int64]
    shared: dict[str, NDArray[Any]]
    random: NDArray[np.uint64]
    total: int = 0
    clock: int = 0
    work: dict[str, NDArray[Any]] = field(default_factory=dict)

    @property
    def pos(self) -> NDArray[np.int64]:
        """Cell of each member."""
        result: NDArray[np.int64] = self.shared["pos"]
        return result

    @property
    def entry_of(self) -> NDArray[np.int64]:
        """Candidate entry of each wanted member, -1 for nowhere."""
        result: NDArray[np.int64] = self.shared["entry_of"]
        return result


def _cell(problem: Problem) -> tuple[int, int, int, bool]:
    """Return (cell, base, number of cells, exact)."""
    candidates = np.concatenate([choice.carriers_hz for choice in problem.choices] or [np.zeros(0, np.int64)])
    fixed = np.array([item.carrier_hz for item in problem.fixed], np.int64)
    everything = np.concatenate([candidates, fixed])
    if everything.size == 0:
        return 1, 0, 1, True
    base = int(everything.min())
    span = int(everything.max()) - base
    for points in (everything, candidates):
        if points.size == 0:
            continue
        step = math.gcd(*(points - points.min()).tolist()) or max(1, span)
        base_here = int(points.min()) - step * -(-(int(points.min()) - base) // step)
        cells = (span + (int(points.min()) - base)) // step + 2
        if cells <= _MOST_CELLS:
            return step, base_here, cells, points is everything
    step = -(-span // (_MOST_CELLS - 2))
    return step, base, span // step + 2, False


def lay_out(problem: Problem, *, scale: float = 1.0) -> Layout:
    """Lay a problem out on cells; `scale` above 1 asks for that much more than every rule does."""
    cell, base, cells, exact = _cell(problem)
    fixed_hz = np.array([item.carrier_hz for item in problem.fixed], np.int64)
    fixed_cell = np.rint((fixed_hz - base) / cell).astype(np.int64)
    off = int(np.abs(fixed_hz - base - fixed_cell * cell).max(initial=0))
    counts = [len(choice.carriers_hz) for choice in problem.choices]
    candidates = np.concatenate([choice.carriers_hz for choice in problem.choices] or [np.zeros(0, np.int64)])
    cand = np.rint((candidates - base) / cell).astype(np.int64)
    off = max(off, int(np.abs(candidates - base - cand * cell).max(initial=0)))
    signatures = sorted({_scaled(problem.clearance_of(m), scale) for m in range(problem.size)})
    kind = np.array([signatures.index(_scaled(problem.clearance_of(m), scale)) for m in range(problem.size)], np.int64)
    every = _relations(problem)
    near_hz, far = _pair_limits(problem, scale, every)
    fixed_from = len(problem.wanted)
    near = -(-near_hz // cell)
    near[:, fixed_from:] = 0
    near[fixed_from:, :] = 0
    layout = Layout(
        problem=problem,
        cell_hz=cell,
        base_hz=base,
        cells=cells,
        exact=exact and off == 0,
        fixed_cell=fixed_cell,
        candidates_hz=candidates,
        cand=cand,
        cand_start=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        wish=np.concatenate([choice.wish for choice in problem.choices] or [np.zeros(0, np.int64)]).astype(np.int64),
        static=np.zeros(len(cand), np.int64),
        arguments={
            "sender": np.array([True] * fixed_from + [item.sends != Sends.NOT for item in problem.fixed], np.bool_),
            "kind": kind,
            **_contexts(problem),
            "op": _operations(every),
            "width": _widths(signatures, every, cell, off),
            "four": np.array([_cells_wide(dict(s).get(FOUR, 0), 4 * off, cell) for s in signatures], np.int64),
            "near": near,
            "far": far // cell,
        },
    )
    _close_by_fixed(layout, near_hz, scale)
    return layout


def _scaled(clearances: tuple[tuple[str, int], ...], scale: float) -> tuple[tuple[str, int], ...]:
    return tuple(sorted((family, math.ceil(hz * scale)) for family, hz in clearances))


def _cells_wide(hz: int, off: int, cell: int) -> int:
    """Return the least number of cells that is at least `hz` (plus what rounding may hide); 0 stays 0 (off)."""
    return -(-(hz + off) // cell) if hz > 0 else 0


def _relations(problem: Problem) -> list[Relation]:
    return [relation for family in problem.families() for relation in relations(family_named(family))]


def _pair_limits(problem: Problem, scale: float, every: list[Relation]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return least and largest offsets in Hz; relations over two members are spacing under another name."""
    near = np.ceil(problem.near_hz * scale).astype(np.int64)
    sends = np.array([True] * len(problem.wanted) + [item.sends != Sends.NOT for item in problem.fixed], np.bool_)
    for relation in every:
        if len(relation.coefficients) != 2:
            continue
        factor = abs(relation.coefficients[0])
        asked = np.array(
            [
                -(-math.ceil(dict(problem.clearance_of(m)).get(relation.family.name, 0) * scale) // factor)
                for m in range(problem.size)
            ],
            np.int64,
        )
        share = _share_context(problem) & np.outer(sends, sends)
        near = np.maximum(near, np.where(share, np.maximum(asked[:, None], asked[None, :]), 0))
    np.fill_diagonal(near, 0)
    return near, problem.far_hz.copy()


def _share_context(problem: Problem) -> NDArray[np.bool_]:
    inside = np.zeros((problem.size, problem.contexts), np.bool_)
    for member in range(problem.size):
        inside[member, list(problem.contexts_of(member))] = True
    shared: NDArray[np.bool_] = (inside.astype(np.int32) @ inside.T.astype(np.int32)) > 0
    return shared


def _contexts(problem: Problem) -> dict[str, NDArray[Any]]:
    lists: list[list[int]] = [[] for _ in range(problem.contexts)]
    most = max((len(problem.contexts_of(m)) for m in range(problem.size)), default=0)
    context_of = np.zeros((problem.size, most + 1), np.int64)
    for member in range(problem.size):
        own = problem.contexts_of(member)
        context_of[member, 0] = len(own)
        for slot, context in enumerate(own):
            context_of[member, slot + 1] = context
            lists[context].append(member)
    return {
        "context_of": context_of,
        "context_start": np.cumsum([0, *(len(members) for members in lists)]).astype(np.int64),
        "context_list": np.array([member for members in lists for member in members], np.int64),
    }


def _operations(every: list[Relation]) -> NDArray[np.int64]:
    """Return what a pair of members does to the arrays: see `op` in the kernel."""
    rows: list[tuple[int, int, int, int, int, int]] = []
    for index, relation in enumerate(every):
        c = relation.coefficients
        if len(c) == 3:
            if relation.family.name == FOUR:  # A+B-2C: only as a new victim, the rest is in the difference arrays
                rows.append((c[2], c[0], c[1], 0, index, _WEIGHT))
            else:
                rows.extend(_roles(c, relation.victim, index))
        elif c == (1, 1, -1, -1):
            # The difference arrays also count A = B, which is 2A-B and not this family: take that off again.
            rows.extend([(-1, 2, -1, 0, index, -1), (-1, -1, 2, 0, index, -1)])
            rows.extend([(-1, 2, -1, 2, index, -1), (-1, -1, 2, 1, index, -1)])
    return np.array(rows, np.int64).reshape(-1, 6)


def _roles(c: tuple[int, ...], victim: int, index: int) -> list[tuple[int, int, int, int, int, int]]:
    rows = []
    for new in range(3):
        one, two = (new + 1) % 3, (new + 2) % 3
        for x, j in ((one, two), (two, one)):
            if victim == new and c[one] == c[two] and x == two:
                continue
            who = 0 if victim == new else 1 if victim == x else 2
            rows.append((c[new], c[x], c[j], who, index, _WEIGHT))
    return rows


def _widths(
    signatures: list[tuple[tuple[str, int], ...]], every: list[Relation], cell: int, off: int
) -> NDArray[np.int64]:
    table = np.zeros((max(1, len(signatures)), max(1, len(every))), np.int64)
    for row, signature in enumerate(signatures):
        for column, relation in enumerate(every):
            spread = off * sum(abs(c) for c in relation.coefficients)
            table[row, column] = _cells_wide(dict(signature).get(relation.family.name, 0), spread, cell)
    return table


def new_state(layout: Layout, *, seed: int, keep: NDArray[np.bool_] | None = None) -> State:
    """Return arrays with the given carriers in place. `keep` leaves only some candidates (positions as in `cand`)."""
    problem = layout.problem
    a = layout.arguments
    kinds, contexts = a["width"].shape[0], problem.contexts
    cand, start, static, wish = layout.cand, layout.cand_start, layout.static, layout.wish
    if keep is not None:
        counts = [int(keep[start[q] : start[q + 1]].sum()) for q in range(len(start) - 1)]
        cand, static, wish = cand[keep], static[keep], wish[keep]
        start = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    shared: dict[str, NDArray[Any]] = {
        "pos": np.full(problem.size, -1, np.int64),
        "entry_of": np.full(problem.size, -1, np.int64),
        **a,
        "gen": np.zeros((contexts, layout.cells), np.int32),
        "vic": np.zeros((contexts, kinds, layout.cells), np.int32),
        "dif": np.zeros((contexts, kinds, 2 * layout.cells - 1), np.int16),
        "com": np.zeros((contexts, 2 * layout.cells - 1), np.int16),
    }
    work: dict[str, NDArray[Any]] = {
        "cost": np.zeros(layout.cells, np.int32),
        "row": np.zeros(2 * layout.cells - 1, np.int16),
        "sums": np.zeros(layout.cells, np.int16),
    }
    state = State(
        layout=layout,
        cand=cand,
        cand_start=start,
        static=static,
        wish=wish,
        shared=shared,
        random=np.array([(seed * 0x9E3779B97F4A7C15 + 0xD1B54A32D192ED03) % 2**64 or 1], np.uint64),
        work=work,
    )
    for _ in range(8):
        search.next_random(state.random)
    first = len(problem.wanted)
    adding = {name: shared[name] for name in shared if name not in ("entry_of", "near", "far")}
    for offset, cell in enumerate(layout.fixed_cell.tolist()):
        shared["pos"][first + offset] = cell
        search.add_member(first + offset, 1, **adding)
    return state


def _close_by_fixed(layout: Layout, near_hz: NDArray[np.int64], scale: float) -> None:
    """Close, exactly in Hz, candidates too near to given carriers or hit by products that need no other link of ours.

    The count arrays see those products too, but on cells and without asking who may make a product without us; what
    they count is taken off here.
    """
    problem = layout.problem
    if not problem.fixed:
        return
    first = len(problem.wanted)
    fixed_hz = np.array([item.carrier_hz for item in problem.fixed], np.int64)
    state = new_state(layout, seed=1)
    a = layout.arguments
    for q, (low, high) in enumerate(zip(layout.cand_start[:-1].tolist(), layout.cand_start[1:].tolist(), strict=True)):
        users = [x for x in range(first) if problem.wanted[x].choice == q]
        if low == high or not users:
            continue
        hz = layout.candidates_hz[low:high]
        # All users of one choice share their contexts with the same fixed members (the builder sees to that).
        x = users[0]
        for index, fixed in enumerate(fixed_hz.tolist()):
            layout.static[low:high] += _BIG * (np.abs(hz - fixed) < near_hz[x, first + index])
            largest = int(problem.far_hz[x, first + index])
            if largest:
                layout.static[low:high] += _BIG * (np.abs(hz - fixed) > largest)
        for family, clearance_hz in _scaled(problem.clearance_of(x), scale):
            layout.static[low:high] += _BIG * _hit_by_fixed(problem, x, hz, family, clearance_hz)
        layout.static[low:high] -= _counted_as_victim(state, x, layout.cand[low:high], a)


def _hit_by_fixed(problem: Problem, x: int, hz: NDArray[np.int64], family: str, clearance_hz: int) -> NDArray[np.bool_]:
    """Whether products of other users, made without us or together with the victim alone, land too near to it."""
    hit = np.zeros(len(hz), np.bool_)
    for context in problem.contexts_of(x):
        here = [item for item in problem.fixed if context in item.contexts]
        by_themselves = [item.carrier_hz for item in here if item.sends == Sends.FULLY]
        with_victim = [item.carrier_hz for item in here if item.sends != Sends.NOT]
        for relation in relations(family_named(family)):
            if len(relation.coefficients) == 2:
                continue  # spacing under another name
            others = tuple(c for place, c in enumerate(relation.coefficients) if place != relation.victim)
            makers = with_victim if relation.victim_generates else by_themselves
            meeting = -relation.coefficients[relation.victim] * hz
            hit |= _distance_to_nearest(meeting, _products(others, makers)) < clearance_hz
    return hit


def _distance_to_nearest(values: NDArray[np.int64], points: set[int]) -> NDArray[np.int64]:
    rising = np.array(sorted({*points, -_NOWHERE, _NOWHERE}), np.int64)
    at = np.searchsorted(rising, values)
    nearest: NDArray[np.int64] = np.minimum(values - rising[at - 1], rising[at] - values)
    return nearest


def _products(c: tuple[int, ...], f: list[int]) -> set[int]:
    found: set[int] = set()
    _extend(c, f, (), 0, found)
    return found


def _extend(c: tuple[int, ...], f: list[int], used: tuple[int, ...], total: int, found: set[int]) -> None:
    if len(used) == len(c):
        found.add(total)
        return
    for i, hz in enumerate(f):
        if i not in used:
            _extend(c, f, (*used, i), total + c[len(used)] * hz, found)


def _counted_as_victim(state: State, x: int, cells: NDArray[np.int64], a: dict[str, NDArray[Any]]) -> NDArray[np.int64]:
    """Return what the arrays count on these cells for victim `x` from given carriers alone."""
    counted = np.zeros(len(cells), np.int64)
    k = int(a["kind"][x])
    middle = state.layout.cells - 1
    first = len(state.layout.problem.wanted)
    for slot in range(int(a["context_of"][x, 0])):
        c = int(a["context_of"][x, slot + 1])
        counted += state.shared["vic"][c, k, cells]
        members = a["context_list"][a["context_start"][c] : a["context_start"][c + 1]]
        given = [j for j in members.tolist() if j >= first and a["sender"][j]]
        for j in given:
            off = cells - state.pos[j]
            counted += state.shared["dif"][c, k, middle + off]
            counted -= (len(given) - 1) * (np.abs(off) < a["four"][k])  # spacing: a scan takes that off by itself
    return counted

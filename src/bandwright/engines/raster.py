"""A problem laid out on cells for the count arrays, and the state the kernels move.

A cell is the step of the candidates; what lies beside the raster (a type with another step, presets, other users)
keeps its offset in Hz, so the arrays count exactly whatever the carriers are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bandwright.core.planning.problem import Problem, Sends
from bandwright.core.products import family_named, relations
from bandwright.engines.operations import Kind, Tables, work_out
from bandwright.kernels.counts import CLOSED, Air, Rules, add_member, next_random, scan_member

__all__ = ["Layout", "State", "lay_out", "new_state", "step_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """A problem on cells. Entries run over all seats one after another; `carrier_hz` is -1 where there is none."""

    problem: Problem
    step_hz: int
    rules: Rules
    kinds: int
    size: int
    carrier_hz: NDArray[np.int64]
    seat_of: NDArray[np.int64]
    rising: NDArray[np.int64]  # entries of each seat that are candidates, rising in Hz
    rising_start: NDArray[np.int64]
    fixed_cell: NDArray[np.int64]
    fixed_kind: NDArray[np.int64]

    @property
    def candidates_of_seat(self) -> NDArray[np.int64]:
        """How many candidates each seat has."""
        return np.diff(self.rising_start)

    def entries_of(self, carriers_hz: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the entry of each wanted member's carrier, -1 where it has none in this layout."""
        found = np.full(len(carriers_hz), -1, np.int64)
        for m, hz in enumerate(carriers_hz.tolist()):
            own = self.rising[self.rising_start[self.seat_of[m]] : self.rising_start[self.seat_of[m] + 1]]
            at = int(np.searchsorted(self.carrier_hz[own], hz))
            if hz >= 0 and at < len(own) and self.carrier_hz[own[at]] == hz:
                found[m] = own[at]
        return found


@dataclass(slots=True, kw_only=True, eq=False)
class State:
    """Where the members are and what the arrays count; only kernels write into `air`."""

    layout: Layout
    air: Air
    total: int = 0
    clock: int = 0

    def carriers_hz(self) -> NDArray[np.int64]:
        """Return the carrier of each wanted member, -1 for none."""
        carriers: NDArray[np.int64] = np.append(self.layout.carrier_hz, -1)[
            self.air.entry[: len(self.layout.problem.wanted)]
        ]
        return carriers


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seat:
    """Wanted members that share candidates, contexts and their distances to given carriers."""

    choice: int
    contexts: tuple[int, ...]
    member: int
    hz: NDArray[np.int64]
    wish: NDArray[np.int64]


def _scaled(clearances: tuple[tuple[str, int], ...], scale: float) -> tuple[tuple[str, int], ...]:
    return tuple(sorted((family, math.ceil(hz * scale)) for family, hz in clearances))


def _pair_limits(problem: Problem, scale: float) -> NDArray[np.int64]:
    """Return least offsets in Hz; relations over two members are spacing under another name."""
    near: NDArray[np.int64] = np.ceil(problem.near_hz * scale).astype(np.int64)
    twos = [r for f in problem.families() for r in relations(family_named(f)) if len(r.coefficients) == 2]
    if not twos:
        return near
    sends = np.array([True] * len(problem.wanted) + [item.sends != Sends.NOT for item in problem.fixed], np.bool_)
    share = share_context(problem) & np.outer(sends, sends)
    clearances = [dict(problem.clearance_of(m)) for m in range(problem.size)]
    for relation in twos:
        factor = abs(relation.coefficients[0])
        asked = np.array(
            [-(-math.ceil(own.get(relation.family.name, 0) * scale) // factor) for own in clearances], np.int64
        )
        near = np.maximum(near, np.where(share, np.maximum(asked[:, None], asked[None, :]), 0))
    np.fill_diagonal(near, 0)
    return near


def share_context(problem: Problem) -> NDArray[np.bool_]:
    """Return which members meet in some context."""
    if problem.contexts == 1:
        anywhere = np.array([bool(item.contexts) for item in problem.members], np.bool_)
        everywhere: NDArray[np.bool_] = np.outer(anywhere, anywhere)
        return everywhere
    inside = np.zeros((problem.size, problem.contexts), np.bool_)
    for member, item in enumerate(problem.members):
        inside[member, list(item.contexts)] = True
    shared: NDArray[np.bool_] = (inside.astype(np.int32) @ inside.T.astype(np.int32)) > 0
    return shared


def _seats(
    problem: Problem, near: NDArray[np.int64], pool: Sequence[NDArray[np.bool_]] | None
) -> tuple[list[_Seat], NDArray[np.int64]]:
    """Return the seats and which of them each wanted member takes."""
    first = len(problem.wanted)
    known: dict[tuple[object, ...], int] = {}
    seats: list[_Seat] = []
    seat_of = np.zeros(first, np.int64)
    for m, item in enumerate(problem.wanted):
        key = (item.choice, item.contexts, near[m, first:].tobytes(), problem.far_hz[m, first:].tobytes())
        if key not in known:
            known[key] = len(seats)
            choice = problem.choices[item.choice]
            hz, wish = choice.carriers_hz, choice.wish
            keep = np.ones(len(hz), np.bool_) if pool is None else pool[item.choice].copy()
            for index, fixed in enumerate(problem.fixed):
                gap = np.abs(hz - fixed.carrier_hz)
                keep &= gap >= near[m, first + index]
                if problem.far_hz[m, first + index]:
                    keep &= gap <= problem.far_hz[m, first + index]
            seats.append(_Seat(choice=item.choice, contexts=item.contexts, member=m, hz=hz[keep], wish=wish[keep]))
        seat_of[m] = known[key]
    return seats, seat_of


def _step(seats: list[_Seat], fixed_hz: NDArray[np.int64]) -> tuple[int, int]:
    """Return (cell, base): the step that leaves few residues and few cells."""
    hz = [seat.hz for seat in seats if len(seat.hz)]
    if not hz:
        return 1, int(fixed_hz.min(initial=0))
    low = min(int(h[0]) for h in hz)
    base = min(low, int(fixed_hz.min(initial=low)))
    every = np.unique(np.concatenate(hz))
    usual = {_mode(np.diff(h)) for h in hz if len(h) > 1}
    points = np.concatenate([every, fixed_hz])
    options = {math.gcd(*usual), *usual, math.gcd(*(points - low).tolist())} if usual else set()
    options.discard(0)
    span = max(1, int(points.max()) - base)

    def price(step: int) -> float:
        residues = {int(r) for r in np.unique((points - low) % step)}
        pieces = sum(len(np.unique((h - low) % step)) for h in hz) / len(hz)
        return (span / step + 200) * pieces + 20.0 * len(residues) ** 2

    best = min(sorted(options), key=price, default=span)
    return best, low - -(-(low - base) // best) * best


def _mode(steps: NDArray[np.int64]) -> int:
    values, counts = np.unique(steps, return_counts=True)
    return int(values[counts.argmax()])


@dataclass(slots=True, kw_only=True, eq=False)
class _Strips:
    """Entries as they are collected: one strip of cells for each offset that a seat's candidates have."""

    kinds: dict[Kind, int] = field(default_factory=dict)
    strips: list[tuple[int, int, int, int]] = field(default_factory=list)
    strip_start: list[int] = field(default_factory=lambda: [0])
    entry_start: list[int] = field(default_factory=lambda: [0])
    hz: list[NDArray[np.int64]] = field(default_factory=list)
    wish: list[NDArray[np.int64]] = field(default_factory=list)
    cell: list[NDArray[np.int64]] = field(default_factory=list)
    kind: list[NDArray[np.int64]] = field(default_factory=list)

    def add_seat(self, seat: _Seat, asks: tuple[tuple[str, int], ...], *, base_hz: int, step_hz: int) -> None:
        cells, offs = np.divmod(seat.hz - base_hz, step_hz)
        entries = self.entry_start[-1]
        for off in np.unique(offs).tolist():
            own = self.kinds.setdefault(Kind(asks, int(Sends.FULLY), False, off), len(self.kinds))
            here = offs == off
            places = cells[here]
            low, length = int(places[0]), int(places[-1] - places[0]) + 1
            self.strips.append((own, low, length, entries))
            entries += length
            self.hz.append(_spread(seat.hz[here], places - low, length, -1))
            self.wish.append(_spread(seat.wish[here], places - low, length, 0))
            self.cell.append(np.arange(low, low + length, dtype=np.int64))
            self.kind.append(np.full(length, own, np.int64))
        self.strip_start.append(len(self.strips))
        self.entry_start.append(entries)


def _spread(values: NDArray[np.int64], places: NDArray[np.int64], length: int, rest: int) -> NDArray[np.int64]:
    row = np.full(length, rest, np.int64)
    row[places] = values
    return row


def _joined(parts: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    return np.concatenate(parts) if parts else np.zeros(0, np.int64)


def step_of(problem: Problem, pool: Sequence[NDArray[np.bool_]]) -> int:
    """Return the cell, in Hz, on which a pool of candidates is laid out."""
    seats, _ = _seats(problem, _pair_limits(problem, 1.0), pool)
    return _step(seats, np.array([item.carrier_hz for item in problem.fixed], np.int64))[0]


def lay_out(
    problem: Problem,
    *,
    scale: float = 1.0,
    pool: Sequence[NDArray[np.bool_]] | None = None,
    pause: Callable[[], None] = lambda: None,
) -> Layout:
    """Lay a problem out on cells.

    Parameters
    ----------
    problem
        What is to be laid out.
    scale
        Above 1 it asks for that much more than every rule does.
    pool
        For each choice, which of its candidates to keep; all by default.
    pause
        Called all the time; it raises to end the work, which is long where steps have hardly a common measure.
    """
    near = _pair_limits(problem, scale)
    seats, seat_of = _seats(problem, near, pool)
    fixed_hz = np.array([item.carrier_hz for item in problem.fixed], np.int64)
    step, base = _step(seats, fixed_hz)
    strips = _Strips()
    for seat in seats:
        asks = _scaled(problem.choices[seat.choice].clearance_hz, scale)
        strips.add_seat(seat, asks, base_hz=base, step_hz=step)
    new = list(range(len(strips.kinds)))
    fixed_cell, fixed_off = np.divmod(fixed_hz - base, step)
    fixed_kind = [
        strips.kinds.setdefault(Kind(_scaled(item.clearance_hz, scale), int(item.sends), True, off), len(strips.kinds))
        for item, off in zip(problem.fixed, fixed_off.tolist(), strict=True)
    ]
    tables = work_out(
        problem.families(),
        list(strips.kinds),
        new,
        step_hz=step,
        span=max([0, *(int(part[-1]) for part in strips.cell), *fixed_cell.tolist()]),
        least_near_hz=_least_near(problem, near),
        pause=pause,
    )
    carrier_hz = _joined(strips.hz)
    layout = Layout(
        problem=problem,
        step_hz=step,
        rules=_rules(problem, tables, strips=strips, seat_of=seat_of, near=near, step_hz=step),
        kinds=max(1, len(strips.kinds)),
        size=tables.size,
        carrier_hz=carrier_hz,
        seat_of=seat_of,
        rising=np.zeros(0, np.int64),
        rising_start=np.zeros(len(seats) + 1, np.int64),
        fixed_cell=fixed_cell,
        fixed_kind=np.array(fixed_kind, np.int64),
    )
    if problem.fixed:
        _close_by_fixed(layout, [seat.member for seat in seats])
    rising, rising_start = _rising(layout)
    return replace(layout, rising=rising, rising_start=rising_start)


def _least_near(problem: Problem, near: NDArray[np.int64]) -> int:
    first = len(problem.wanted)
    meet = share_context(problem)[:first] & ~np.eye(first, problem.size, dtype=np.bool_)
    return int(near[:first][meet].min(initial=1 << 60))


def _rules(
    problem: Problem,
    tables: Tables,
    *,
    strips: _Strips,
    seat_of: NDArray[np.int64],
    near: NDArray[np.int64],
    step_hz: int,
) -> Rules:
    first = len(problem.wanted)
    ours, far = near.copy(), problem.far_hz.copy()
    for limits in (ours, far):  # what is too near to given carriers is no candidate
        limits[:, first:] = 0
        limits[first:, :] = 0
    return Rules(
        ops=tables.ops,
        ops_start=tables.ops_start,
        direct=tables.direct,
        direct_start=tables.direct_start,
        reads=tables.reads,
        reads_start=tables.reads_start,
        twin=tables.twin,
        off_hz=np.array([kind.off_hz for kind in strips.kinds] or [0], np.int64),
        step_hz=step_hz,
        **_contexts(problem),
        near_hz=ours,
        far_hz=far,
        choice=seat_of,
        strip_start=np.array(strips.strip_start, np.int64),
        strip=np.array(strips.strips, np.int64).reshape(-1, 4),
        entry_start=np.array(strips.entry_start, np.int64),
        entry_cell=_joined(strips.cell),
        entry_kind=_joined(strips.kind),
        static=np.where(_joined(strips.hz) < 0, CLOSED, 0).astype(np.int32),
        wish=_joined(strips.wish),
    )


def _rising(layout: Layout) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    parts = []
    start = layout.rules.entry_start
    for low, high in zip(start[:-1].tolist(), start[1:].tolist(), strict=True):
        open_here = low + np.flatnonzero(layout.carrier_hz[low:high] >= 0)
        parts.append(open_here[np.argsort(layout.carrier_hz[open_here], kind="stable")])
    return _joined(parts), np.cumsum([0, *(len(part) for part in parts)]).astype(np.int64)


def _close_by_fixed(layout: Layout, members: list[int]) -> None:
    """Close what breaks something with given carriers alone."""
    state = new_state(layout, seed=1)
    rules = layout.rules
    for seat, member in enumerate(members):
        low, high = int(rules.entry_start[seat]), int(rules.entry_start[seat + 1])
        if low == high:
            continue
        scan_member(member, 0, rules, state.air)
        broken = state.air.cost[: high - low] > 0
        rules.static[low:high][broken] = CLOSED
        layout.carrier_hz[low:high][broken] = -1


def _contexts(problem: Problem) -> dict[str, NDArray[Any]]:
    lists: list[list[int]] = [[] for _ in range(problem.contexts)]
    most = max((len(item.contexts) for item in problem.members), default=0)
    context_of = np.zeros((problem.size, most + 1), np.int64)
    for member, item in enumerate(problem.members):
        own = item.contexts
        context_of[member, 0] = len(own)
        context_of[member, 1 : len(own) + 1] = own
        for context in own:
            lists[context].append(member)
    return {
        "context_of": context_of,
        "context_start": np.cumsum([0, *(len(members) for members in lists)]).astype(np.int64),
        "context_list": np.array([member for members in lists for member in members], np.int64),
    }


def new_state(layout: Layout, *, seed: int) -> State:
    """Return arrays with the given carriers in place."""
    problem, rules = layout.problem, layout.rules
    size = problem.size
    widest = int(np.diff(rules.entry_start).max(initial=1))
    air = Air(
        cell=np.full(size, -1, np.int64),
        kind=np.zeros(size, np.int64),
        entry=np.full(size, -1, np.int64),
        counts=np.zeros((problem.contexts, layout.size), np.int32),
        cost=np.zeros(widest, np.int32),
        sums=np.zeros(widest, np.int32),
        others=np.zeros((layout.kinds, size), np.int64),
        amount=np.zeros(layout.kinds, np.int64),
        starts=np.zeros(16 * size + 16, np.int64),
        random=np.array([(seed * 0x9E3779B97F4A7C15 + 0xD1B54A32D192ED03) % 2**64 or 1], np.uint64),
    )
    for _ in range(8):
        next_random(air.random)
    first = len(problem.wanted)
    for index in range(len(problem.fixed)):
        air.cell[first + index] = layout.fixed_cell[index]
        air.kind[first + index] = layout.fixed_kind[index]
        add_member(first + index, 1, rules, air)
    return State(layout=layout, air=air)

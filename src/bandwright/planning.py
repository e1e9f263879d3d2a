"""Separation problems in plain Python: build one, solve it, hold an answer against it.

What `bandwright plan` stands on, without briefs, sweeps and sheets. A problem is about whole numbers only (Hz, where
they are frequencies): carriers that each member may use, what pairs keep apart, and the offsets that victims ask of
the products of IM families. Frequency assignment is the case without products. `docs/planning.md` is the guide.

Examples
--------
>>> from bandwright.planning import Problem, solve, verify
>>> raster = range(606_600_000, 609_400_001, 25_000)
>>> problem = Problem.alike(5, raster, spacing_hz=350_000, clearance_hz={"2A-B": 100_000, "A+B-C": 50_000})
>>> outcome = solve(problem)
>>> outcome.placed, verify(problem, outcome.carriers_hz).ok
(5, True)
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Unpack

import numpy as np

from bandwright.core.planning.bounds import Bound, upper_bound
from bandwright.core.planning.change import Mobility
from bandwright.core.planning.crowd import Crowd
from bandwright.core.planning.network import Network
from bandwright.core.planning.problem import AVOID, Choice, Fixed, Problem, Sends, Wanted
from bandwright.core.planning.room import Capacity
from bandwright.core.planning.verify import Hit, examine
from bandwright.engines.assignment import Assignment, CarrierAssignment, Limits, SpanStep
from bandwright.engines.assignment import assign as _assign
from bandwright.engines.assignment import assign_carriers as _assign_carriers
from bandwright.engines.assignment import minimum_span as _minimum_span
from bandwright.engines.capacity import capacity as _capacity
from bandwright.engines.exact import Placeable, Proof, most_placed, placeable
from bandwright.engines.keeping import solve_keeping
from bandwright.engines.prepare import prepare_assignment, prepare_kernels, prepare_repair
from bandwright.engines.replan import Repaired
from bandwright.engines.replan import replan as _replan
from bandwright.engines.solve import Outcome, Step
from bandwright.engines.solve import solve as _solve

__all__ = [
    "AVOID",
    "Assignment",
    "Bound",
    "Capacity",
    "CarrierAssignment",
    "Choice",
    "Fixed",
    "Hit",
    "Limits",
    "Network",
    "Outcome",
    "Placeable",
    "Problem",
    "Proof",
    "Repaired",
    "Sends",
    "SpanStep",
    "Step",
    "Verdict",
    "Wanted",
    "assign",
    "assign_carriers",
    "capacity",
    "minimum_span",
    "most_placed",
    "placeable",
    "prepare_kernels",
    "replan",
    "solve",
    "upper_bound",
    "verify",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a list of carriers breaks.

    `strays` are the ids of members whose carrier is none of their candidates, `hits` the broken rules with the worst
    first (their members are indices into `problem.ids`), and `broken` counts also those beyond the listed ones.
    """

    problem: Problem
    carriers_hz: tuple[int, ...]
    strays: tuple[str, ...]
    hits: tuple[Hit, ...]
    broken: int

    @property
    def ok(self) -> bool:
        """Whether every carrier is a candidate and no rule is broken."""
        return not self.strays and not self.broken

    @property
    def placed(self) -> int:
        """How many members have a carrier."""
        return sum(hz >= 0 for hz in self.carriers_hz)

    def sentences(self) -> tuple[str, ...]:
        """Return what is broken in words, the worst first."""
        ids = self.problem.ids
        strays = [f"{name}: its carrier is none of its candidates" for name in self.strays]
        return (*strays, *(_words(ids, hit) for hit in self.hits))


def _words(ids: Sequence[str], hit: Hit) -> str:
    members = ", ".join(ids[member] for member in hit.members)
    what = f"{hit.family} of {members} falls" if hit.family else f"{members} is"
    bound = "at most" if hit.too_far else "at least"
    return f"{ids[hit.victim]}: {what} {hit.offset_hz} away; {bound} {hit.required_hz} is asked"


def solve(
    problem: Problem,
    *,
    seed: int = 1,
    time_limit_s: float = 10.0,
    polish: bool = True,
    keep: Sequence[int] | Mapping[str, int] = (),
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Step], None] = lambda _: None,
) -> Outcome:
    """Return carriers for as many members as can be found, by priority, on the best candidates.

    Parameters
    ----------
    problem
        What is wanted.
    seed
        Starts the random streams; equal seeds give equal outcomes unless time or a hand stops them.
    time_limit_s
        Seconds after which the best so far is returned. The clock starts when the kernels are loaded, which takes
        about half a minute once on each machine.
    polish
        Whether to widen the smallest slack and to move to better candidates once all are placed.
    keep
        Carriers of an earlier plan, in the order of the members (below 0: none) or by id. All who can be placed come
        first, then as many of these carriers as are found to cost no member its place, then slack and quiet.
    cancelled
        Asked between epochs; True ends the search with the best so far.
    progress
        Told how many are placed.

    Returns
    -------
    Outcome
        `carriers_hz` in the order of `problem.wanted` (-1 = not placed; `problem.named` gives them by id), `placed`,
        and `stopped`: proof, settled, effort, time or cancelled. Every outcome has been verified in whole Hz.

    Raises
    ------
    ValueError
        When `keep` is a list not as long as `problem.wanted`, or names an id that is not wanted.
    """
    kept = dict(enumerate(_in_order(problem, keep) if keep else ()))
    prepare_kernels()
    if not kept:
        return _solve(
            problem, seed=seed, time_limit_s=time_limit_s, polish=polish, cancelled=cancelled, progress=progress
        )
    prepare_repair()
    return solve_keeping(
        problem, kept, seed=seed, time_limit_s=time_limit_s, polish=polish, cancelled=cancelled, progress=progress
    ).outcome


def verify(problem: Problem, carriers_hz: Sequence[int] | Mapping[str, int], *, listed: int = 2_000) -> Verdict:
    """Return what carriers break, wherever they are from; exact, and ignorant of the search.

    Parameters
    ----------
    problem
        What must lie between whom.
    carriers_hz
        One carrier for each wanted member in their order (below 0: not placed), or by id (left out: not placed).
    listed
        How many broken rules are listed at most; all are counted.

    Raises
    ------
    ValueError
        When the list is not as long as `problem.wanted`, or names an id that is not wanted.

    Examples
    --------
    >>> problem = Problem.apart({"a": 0, "b": 0}, [Choice.of([100, 110, 120])], apart_hz=20)
    >>> verify(problem, {"a": 100, "b": 120}).ok
    True
    >>> verify(problem, {"a": 100, "b": 115}).sentences()
    ('b: its carrier is none of its candidates', 'a: b is 15 away; at least 20 is asked')
    """
    hz = _in_order(problem, carriers_hz)
    strays = tuple(
        item.id
        for item, carrier in zip(problem.wanted, hz, strict=True)
        if carrier >= 0 and carrier not in problem.choices[item.choice].carriers_hz
    )
    report = examine(problem, np.array(hz, np.int64), listed=listed)
    return Verdict(problem=problem, carriers_hz=hz, strays=strays, hits=report.hits, broken=report.total)


def capacity(
    choice: Choice,
    *,
    spacing_hz: int,
    fixed: Sequence[Fixed] = (),
    fixed_spacing_hz: int | None = None,
    seed: int = 1,
    time_limit_s: float = 10.0,
    cancelled: Callable[[], bool] = lambda: False,
    progress: Callable[[Step], None] = lambda _: None,
) -> Capacity:
    """Return how many carriers of one kind fit: a set that was found and verified, and a proven upper bound.

    Parameters
    ----------
    choice
        What each may use, and the offsets that it asks of products.
    spacing_hz
        What any two keep apart.
    fixed
        Carriers that are given.
    fixed_spacing_hz
        What each keeps from a given carrier; as from each other when left out.
    seed, time_limit_s, cancelled, progress
        As for `solve`.

    Returns
    -------
    Capacity
        `found` and its `carriers_hz`, `upper_bound` and the `method` it stands on; `status` is proven where both meet.

    Examples
    --------
    >>> room = capacity(Choice.of(range(0, 1001, 25), clearance_hz={"2A-B": 100}), spacing_hz=100)
    >>> room.found <= room.upper_bound, len(room.carriers_hz) == room.found
    (True, True)
    """
    prepare_kernels()
    crowd = Crowd(
        choice=choice,
        spacing_hz=spacing_hz,
        fixed=tuple(fixed),
        fixed_spacing_hz=(spacing_hz if fixed_spacing_hz is None else fixed_spacing_hz,) * len(fixed),
    )
    return _capacity(crowd, seed=seed, time_limit_s=time_limit_s, cancelled=cancelled, progress=progress)


def replan(
    problem: Problem,
    before: Sequence[int] | Mapping[str, int],
    *,
    stays: Collection[str] = (),
    later: Collection[str] = (),
    time_limit_s: float = 10.0,
    cancelled: Callable[[], bool] = lambda: False,
) -> Repaired:
    """Return carriers under which every rule is kept with as few changes as possible.

    Parameters
    ----------
    problem
        Candidates and rules as they are now.
    before
        The carrier that each wanted member has, in their order (below 0: none yet) or by id (left out: none yet).
    stays
        Ids of members that never move; one of them that breaks a rule is named as `stuck`.
    later
        Ids of members that would rather not move: of equally few moves, those of others are taken.
    time_limit_s
        Seconds after which the best so far is returned.
    cancelled
        Asked while it searches; True ends it with the best so far.

    Returns
    -------
    Repaired
        `carriers_hz` in the order of `problem.wanted`; `moved`, `new` and `stuck` as indices into `problem.ids`;
        `proven` when no fewer could move.

    Raises
    ------
    ValueError
        When `before` is not as long as `problem.wanted`, or an id is not wanted.

    Examples
    --------
    >>> problem = Problem.apart({"a": 0, "b": 0, "c": 0}, [Choice.of(range(0, 100, 10))], apart_hz=30)
    >>> repaired = replan(problem, {"a": 0, "b": 20, "c": 60}, stays=["c"], later=["b"])
    >>> [problem.ids[member] for member in repaired.moved], repaired.proven
    (['a'], True)
    """
    prepare_kernels()
    prepare_repair()
    _in_order(problem, dict.fromkeys((*stays, *later), 0))  # ids that are not wanted are refused
    kinds = {**dict.fromkeys(later, Mobility.LATER), **dict.fromkeys(stays, Mobility.NEVER)}
    return _replan(
        problem,
        before=_in_order(problem, before),
        mobility=[kinds.get(item.id, Mobility.NOW) for item in problem.wanted],
        time_limit_s=time_limit_s,
        cancelled=cancelled,
    )


def minimum_span(network: Network, **limits: Unpack[Limits]) -> Assignment:
    """Place all calls on as short a row of slots as can be found; with `may_use` the row may begin at any slot.

    See `Limits` for the keywords; the clock starts when the kernels are loaded, as for `solve`.

    Examples
    --------
    >>> stations = Network(demand=np.array([3, 2]), separation=np.array([[4, 2], [2, 3]]))
    >>> found = minimum_span(stations)
    >>> found.span, found.status
    (8, 'proven')
    """
    _prepare_for_assignment()
    return _minimum_span(network, **limits)


def assign(network: Network, *, slots: int | None = None, **limits: Unpack[Limits]) -> Assignment:
    """Place as many calls as can be on slots 0 to `slots` - 1 (those of `may_use` without it), important groups first.

    See `Limits` for the keywords; the clock starts when the kernels are loaded. Not all calls fit where the lower bound
    of the span is `slots` or more.

    Raises
    ------
    ValueError
        When neither `slots` nor `may_use` says how many slots there are.

    Examples
    --------
    >>> stations = Network(demand=np.array([3, 2]), separation=np.array([[4, 2], [2, 3]]))
    >>> assign(stations, slots=9).placed
    5
    """
    _prepare_for_assignment()
    return _assign(network, slots=slots, **limits)


def assign_carriers(problem: Problem, *, narrow: bool = False, **limits: Unpack[Limits]) -> CarrierAssignment:
    """Find carriers for a problem that asks for separations only (`near_hz`), by priority.

    With `narrow`, look also for the least distance between the lowest and the highest. Members that nothing tells
    apart are found and treated as one group, which is far faster than `solve` where there are many. See `Limits` for
    the other keywords; the clock starts when the kernels are loaded.

    Examples
    --------
    >>> problem = Problem.apart({"a": 0, "b": 0, "c": 0}, [Choice.of(range(0, 101, 10))], apart_hz=30)
    >>> assign_carriers(problem, narrow=True).span_hz
    60
    """
    _prepare_for_assignment()
    return _assign_carriers(problem, narrow=narrow, **limits)


def _prepare_for_assignment() -> None:
    prepare_kernels()  # exhaustive search and the verifier too
    prepare_assignment()


def _in_order(problem: Problem, carriers_hz: Sequence[int] | Mapping[str, int]) -> tuple[int, ...]:
    wanted = [item.id for item in problem.wanted]
    if isinstance(carriers_hz, Mapping):
        unknown = sorted(set(carriers_hz) - set(wanted))
        if unknown:
            raise ValueError(f"no wanted member is called {', '.join(unknown)}; there are {', '.join(wanted)}")
        return tuple(int(carriers_hz.get(name, -1)) for name in wanted)
    if len(carriers_hz) != len(wanted):
        raise ValueError(f"one carrier for each of {len(wanted)} wanted members; {len(carriers_hz)} are given")
    return tuple(int(hz) for hz in carriers_hz)

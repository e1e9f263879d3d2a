"""One carrier moved by hand among those of a plan: what it breaks, whom it touches and what comes closest.

Made for dragging: what does not depend on the moved carrier is worked out once (`board_of`), and a preview asks only
about the link in hand, as a victim and as a part of what others hear. Every rule is decided in whole Hz by the same
code that checks a list of carriers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.job import Job
from bandwright.core.kit import Link
from bandwright.core.planning.assess import closest_of
from bandwright.core.planning.breaches import carrier_violations, hit_violation
from bandwright.core.planning.build import rules_alone, seats_problem
from bandwright.core.planning.carriers import examine_carriers, hears, needed_from_other_hz, tunable_carriers
from bandwright.core.planning.plan import Closest, Violation
from bandwright.core.planning.problem import Problem
from bandwright.core.planning.restate import folded
from bandwright.core.planning.verify import Hit, examine, nearest
from bandwright.core.sweep import Sweep

__all__ = ["Affected", "Board", "Preview", "board_of", "preview"]

_LISTED = 400  # in the thick of it nobody reads more, and each costs time under the hand


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Board:
    """The carriers of a plan, ready for previews. `trouble` are the members with a part in something broken there.

    `fine_hz` fills up as links are taken in hand: the carriers that no rule closes by itself, for links under the same
    rules.
    """

    job: Job
    sweeps: tuple[Sweep, ...]
    seats: tuple[Link, ...]
    carriers_hz: tuple[int, ...]
    problem: Problem
    trouble: frozenset[int]
    fine_hz: dict[tuple[object, ...], NDArray[np.int64]] = field(default_factory=dict)

    def index_of(self, link_id: str) -> int:
        """Return the place of a link; raises KeyError where it has no carrier here."""
        return {seat.id: index for index, seat in enumerate(self.seats)}[link_id]


@dataclass(frozen=True, slots=True, kw_only=True)
class Affected:
    """Another link whose verdict differs from that under the plan: `ok` is how it stands with the carrier moved."""

    link: str
    ok: bool
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What moving one link to a carrier would mean."""

    link: str
    carrier_hz: int
    violations: tuple[Violation, ...]
    closest: Closest | None
    affected: tuple[Affected, ...]

    @property
    def ok(self) -> bool:
        """Whether the link breaks nothing there and has no part in what others would break."""
        return not self.violations


def board_of(
    job: Job, carriers_hz: Mapping[str, int], sweeps: Sequence[Sweep] = (), *, more: Sequence[Link] = ()
) -> Board:
    """Return the links that have a carrier, by id, as a board; `more` holds links beside the job's (spare carriers)."""
    seats = tuple(link for link in (*job.links, *more) if link.id in carriers_hz)
    problem = seats_problem(job, seats)
    hz = tuple(carriers_hz[seat.id] for seat in seats)
    hits = examine(problem, np.array(hz, np.int64)).hits
    return Board(
        job=job,
        sweeps=tuple(sweeps),
        seats=seats,
        carriers_hz=hz,
        problem=problem,
        trouble=frozenset(member for hit in hits for member in _in_trouble(hit)),
    )


def preview(board: Board, link_id: str, carrier_hz: int) -> Preview:
    """Return what moving a link of the board to a carrier would mean; raises KeyError for a link that is not on it."""
    index = board.index_of(link_id)
    carriers = list(board.carriers_hz)
    carriers[index] = carrier_hz
    hits = examine(board.problem, np.array(carriers, np.int64), listed=_LISTED).hits
    f = [*carriers, *(item.carrier_hz for item in board.problem.fixed)]
    ours = [hit_violation(board.problem, f, hit) for hit in hits if index in (hit.victim, *hit.members)]
    alone = () if _is_fine(board, index, carrier_hz) else _alone(board, index, carrier_hz)
    return Preview(
        link=link_id,
        carrier_hz=carrier_hz,
        violations=tuple(violation for violation, _ in folded([*alone, *ours])),
        closest=_closest(board, index, carriers),
        affected=tuple(_affected(board, index, f, hits)),
    )


def _alone(board: Board, index: int, carrier_hz: int) -> tuple[Violation, ...]:
    return carrier_violations(board.job, board.seats[index], carrier_hz, board.sweeps)


def _is_fine(board: Board, index: int, carrier_hz: int) -> bool:
    """Whether no rule closes a carrier by itself, as far as the steps of the radio type tell: asked once for all."""
    seat = board.seats[index]
    rules = rules_alone(board.job, seat)
    if rules not in board.fine_hz:
        facts = examine_carriers(board.job, seat, tunable_carriers(seat.radio), board.sweeps)
        board.fine_hz[rules] = facts.carriers_hz[facts.open]
    known = board.fine_hz[rules]
    place = int(np.searchsorted(known, carrier_hz))
    return place < len(known) and int(known[place]) == carrier_hz


def _in_trouble(hit: Hit) -> tuple[int, ...]:
    """Return who is the worse for a hit: the victim of a product, both of a spacing."""
    return (hit.victim, *hit.members) if hit.family is None else (hit.victim,)


def _affected(board: Board, index: int, f: Sequence[int], hits: Sequence[Hit]) -> list[Affected]:
    """Return the others whose verdict changes: first those that are worse off, the worst of them first."""
    worst: dict[int, Hit] = {}
    for hit in hits:  # the worst come first
        for member in _in_trouble(hit):
            worst.setdefault(member, hit)
    others = [m for m in range(len(board.seats)) if m != index]
    worse = [m for m in worst if m in others and m not in board.trouble]
    better = [m for m in others if m in board.trouble and m not in worst]
    ids = board.problem.ids
    told = [Affected(link=ids[m], ok=False, text=hit_violation(board.problem, f, worst[m]).text) for m in worse]
    return [*told, *(Affected(link=ids[m], ok=True, text=f"{ids[m]} breaks nothing any more.") for m in better)]


def _closest(board: Board, index: int, carriers: Sequence[int]) -> Closest | None:
    """Return what leaves the link the smallest slack, as a plan would tell it."""
    found = nearest(_only_victim(board.problem, index), np.array(carriers, np.int64)).get(index)
    candidates = [] if found is None else [closest_of(board.problem, found)]
    seat, hz = board.seats[index], carriers[index]
    candidates += [
        Closest(
            rule="other",
            family=None,
            sources=(other.id,),
            product_hz=None,
            offset_hz=abs(hz - other.carrier_hz),
            required_hz=needed_from_other_hz(seat, other),
        )
        for other in board.job.others
        if hears(board.job, seat, other)
    ]
    return min(candidates, key=lambda item: item.slack_hz, default=None)


def _only_victim(problem: Problem, index: int) -> Problem:
    """Return the problem in which nobody asks for anything but one member."""
    silent = replace(problem.choices[0], clearance_hz=())
    own = problem.choices[problem.wanted[index].choice]
    rows = np.zeros_like(problem.near_hz)
    rows[index, :] = rows[:, index] = 1
    return replace(
        problem,
        choices=(own, silent),
        wanted=tuple(replace(item, choice=int(m != index)) for m, item in enumerate(problem.wanted)),
        fixed=tuple(replace(item, clearance_hz=()) for item in problem.fixed),
        near_hz=problem.near_hz * rows,
    )

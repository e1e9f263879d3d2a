"""Where antennas do best: the spots, out of those that are possible, whose worst point of the area is the best one."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.reach.area import Area, Candidate, Metres
from bandwright.core.reach.area_antenna import facing_towards_deg
from bandwright.core.reach.coverage import Coverage, coverage, least_spacing_m
from bandwright.core.reach.coverage_needs import needed_db, reserves_db
from bandwright.core.reach.facts import LinkFacts
from bandwright.core.reach.link import fading_of
from bandwright.core.reach.tables import ReachTables
from bandwright.core.rig import Run

__all__ = ["APART_M", "Apart", "Hearing", "Kind", "Placing", "Spots", "best_of", "best_spots", "hear", "two_apart"]

Floats = NDArray[np.float64]

MOST_SETS = 4000
"""Up to so many sets of spots every one is looked at."""

APART_M = 2.0
"""How far apart two antennas on one stand are taken to be."""

_SHOWN = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Links alike in everything but their carriers, by the one on the highest carrier, and the points they must reach.

    `points_m` has shape (points, 2); `runs` are those that feed it now, of which the first one's antenna, cables and
    devices are taken to stand at each spot.
    """

    facts: LinkFacts
    runs: tuple[Run, ...]
    points_m: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Spots:
    """One set of spots: what the worst point of some links has over what fading asks for, and where that is."""

    ids: tuple[str, ...]
    reserve_db: float
    link: str
    at_m: Metres


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """The best sets of so many spots for some links, the best one first.

    `every` tells whether all `sets` of them were looked at; otherwise the best was found by adding and exchanging one
    spot at a time, and a better one may exist. `links` are those whose worst point counts: `inward` ones, which
    antennas hear, or those that antennas send to. `zones` holds the zones they are in, None for the whole area.
    `now_db` is what their worst point has with antennas as they stand; None where that is not known.
    """

    antennas: int
    candidates: int
    sets: int
    every: bool
    best: tuple[Spots, ...]
    inward: bool = True
    links: tuple[str, ...] = ()
    zones: tuple[str | None, ...] = (None,)
    now_db: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """What one antenna gives at a spot, and two of them 2 m apart there, at right angles to where they look."""

    spot: str
    one: Spots
    two: Spots


@dataclass(slots=True, kw_only=True)
class Hearing:
    """One kind of link heard from (or hearing) every spot: margins in dB over its points, shape (spots, points)."""

    kind: Kind
    margins_db: Floats
    spots_m: tuple[Metres, ...]
    every_s: float

    def needed_db(self, picked: Sequence[int]) -> tuple[float, ...]:
        """Return the margin asked for with one of the antennas, with two of them, and so on."""
        spacing_m = least_spacing_m([self.spots_m[k] for k in picked])
        fading = fading_of(self.kind.facts, count=len(picked), spacing_m=spacing_m)
        rounded = replace(fading, correlation=math.ceil(fading.correlation * 50) / 50)  # towards more alike
        return needed_db(self.kind.facts, rounded, every_s=self.every_s)

    def worst(self, picked: Sequence[int]) -> tuple[float, int]:
        """Return the least reserve over its points with some of the spots, and at which point it is."""
        reserve = reserves_db(self.margins_db[list(picked)], self.needed_db(picked))
        at = int(np.argmin(reserve))
        return float(reserve[at]), at


def best_spots(
    area: Area,
    kinds: Sequence[Kind],
    *,
    antennas: int,
    tables: ReachTables,
    every_s: float,
    most_sets: int = MOST_SETS,
) -> Placing | None:
    """Return the best sets of candidate spots for so many antennas, for the worst point of all kinds of links.

    None where no kind can be judged, or there are fewer candidates than antennas. A receiver that uses one antenna
    takes the spot that is better for it.

    Parameters
    ----------
    kinds
        Links with the points that they must reach.
    antennas
        How many spots are taken together.
    most_sets
        Up to so many sets all are looked at; with more, spots are added and exchanged one at a time.
    """
    return best_of(area, hear(area, kinds, tables=tables, every_s=every_s), antennas=antennas, most_sets=most_sets)


def hear(area: Area, kinds: Sequence[Kind], *, tables: ReachTables, every_s: float) -> list[Hearing]:
    """Return kinds of links as they are heard from every candidate; those that cannot be judged are left out."""
    return _heard(kinds, area, area.candidates, tables, every_s)


def best_of(area: Area, heard: Sequence[Hearing], *, antennas: int, most_sets: int = MOST_SETS) -> Placing | None:
    """Return the best sets of candidate spots as `best_spots` does, for kinds that were heard from each."""
    count = len(area.candidates)
    if not heard or count < antennas:
        return None
    sets = math.comb(count, antennas)
    judge = _judge(heard, area.candidates)
    every = sets <= most_sets
    found = map(judge, itertools.combinations(range(count), antennas)) if every else _found(judge, count, antennas)
    best = sorted(found, key=lambda one: (-one.reserve_db, one.ids))[:_SHOWN]
    return Placing(antennas=antennas, candidates=count, sets=sets, every=every, best=tuple(best))


def two_apart(
    area: Area, kinds: Sequence[Kind], spot: Candidate, *, tables: ReachTables, every_s: float
) -> Apart | None:
    """Return what a second antenna 2 m beside the one at a spot brings; None where no kind can be judged."""
    facing = spot.facing_deg if spot.facing_deg is not None else facing_towards_deg(spot.at_m, area.middle_m)
    across = math.radians(facing + 90)
    dx, dy = math.sin(across) * APART_M / 2, math.cos(across) * APART_M / 2
    sides = [
        replace(
            spot, id=f"{spot.id} {side}", at_m=(spot.at_m[0] + sign * dx, spot.at_m[1] + sign * dy), facing_deg=facing
        )
        for side, sign in (("left", -1), ("right", 1))
    ]
    spots = [spot, *sides]
    heard = _heard(kinds, area, spots, tables, every_s)
    if not heard:
        return None
    judge = _judge(heard, spots)
    return Apart(spot=spot.id, one=judge((0,)), two=judge((1, 2)))


def _judge(heard: Sequence[Hearing], spots: Sequence[Candidate]) -> Callable[[tuple[int, ...]], Spots]:
    """Return what rates a set of spots by the worst point of all kinds."""

    def judged(picked: tuple[int, ...]) -> Spots:
        (reserve_db, at), item = min(((one.worst(picked), one) for one in heard), key=lambda pair: pair[0])
        x, y = item.kind.points_m[at]
        return Spots(
            ids=tuple(spots[k].id for k in picked),
            reserve_db=reserve_db,
            link=item.kind.facts.link.id,
            at_m=(float(x), float(y)),
        )

    return judged


def _found(judge: Callable[[tuple[int, ...]], Spots], count: int, antennas: int) -> Iterator[Spots]:
    """Yield sets that get better: the best spot is added until there are enough, then single ones are exchanged."""
    picked: tuple[int, ...] = ()
    for _ in range(antennas):
        options = [tuple(sorted((*picked, k))) for k in range(count) if k not in picked]
        picked = max(options, key=lambda option: judge(option).reserve_db)
    best = judge(picked)
    yield best
    while True:
        options = [
            tuple(sorted({*picked} - {out} | {into})) for out in picked for into in range(count) if into not in picked
        ]
        option = max(options, key=lambda one: judge(one).reserve_db, default=picked)
        if (better := judge(option)).reserve_db <= best.reserve_db:
            return
        picked, best = option, better
        yield best


def _heard(
    kinds: Sequence[Kind], area: Area, spots: Sequence[Candidate], tables: ReachTables, every_s: float
) -> list[Hearing]:
    found = []
    for kind in kinds:
        if not kind.runs:
            continue
        runs = [_moved(kind.runs[0], spot) for spot in spots]
        (heard,) = coverage(area, [(kind.facts, runs)], kind.points_m, tables=tables, every_s=every_s)
        margins = _margins(heard, len(spots))
        if margins is not None:
            at_m = tuple(spot.at_m for spot in spots)
            found.append(Hearing(kind=kind, margins_db=margins, spots_m=at_m, every_s=every_s))
    return found


def _margins(heard: Coverage, count: int) -> Floats | None:
    margins = [item.margins_db for item in heard.heard if item.margins_db is not None]
    return np.stack(margins) if margins and len(margins) == count else None


def _moved(run: Run, spot: Candidate) -> Run:
    """Return a run with its antenna at another spot."""
    height_m = spot.height_m if spot.height_m is not None else run.antenna.height_m
    antenna = replace(
        run.antenna, id=spot.id, name=spot.name, at_m=spot.at_m, height_m=height_m, facing_deg=spot.facing_deg
    )
    return replace(run, id=spot.id, antenna=antenna)

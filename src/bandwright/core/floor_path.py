"""How a noise floor most probably runs along a band: the cheapest path through the levels that stretches of it show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["Border", "Stretch", "floor_path"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_GRID_DB = 0.5
_SIGNAL = 1.0
_SIGNAL_PER_MHZ = 0.1
_LONG_PER_MHZ = 1.0
_UNRESOLVED_PER_MHZ = 0.3
_WIDEST_HZ = 9_000_000  # wider than a TV channel
_MOST_RUN = 9
_PARTED = 1.0
_PARTED_DB = 2.0
_STEP = 3.5
_JUMP = 3.5
_SOFT_STEP = 15.0
_IMPOSSIBLE_STEP = 30.0
_MOST_STEP_DB = 15.0  # no instrument steps further from hop to hop; a signal that fills hops may
_DRIFT_DB = 1.5  # a floor may rise or fall this much from one stretch to the next without a step
_DRIFT = 1.0
_END_PER_DB = 0.2
_MOST_END = 3.0
_SMALL_STEP_DB = 4.0
_DIP = 6.0
_DIP_DB = 0.5
_TRUST_DB = 0.75
_LEAST_ERROR_DB = 0.5  # a floor is not flat, and skirts add to it
_HZ_PER_MHZ = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of a band that reads one level where it holds no signal: its own level, or None where none is told.

    `error_db` is the standard error of that level. The noise lies at most at `ceiling_db`, or some part of the
    stretch reads less than noise can. `parted` says that parts of it read much more than its lowest: a signal ends
    there; `resolved` that the gap between two signals side by side would show.
    """

    width_hz: float
    own_db: float | None
    error_db: float
    ceiling_db: float
    parted: bool
    resolved: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Border:
    """What the trace reads right below and right above the border of two stretches, where a floor may step (a hop's).

    Levels are linear; `error` is the relative standard error of each.
    """

    below: float
    above: float
    error: float


def floor_path(stretches: Sequence[Stretch], borders: Sequence[Border | None]) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return the floor of each stretch in dB, and whether its own level is that floor.

    Signals only add: a stretch reads its floor, or more where a signal fills it. Every course of the floor through
    the levels that stretches show has a price, like the logarithm of a chance, and the cheapest is taken (dynamic
    programming; A. J. Viterbi, IEEE Trans. Inf. Theory 13, 1967, 260-269):

    * 1 for a signal that fills stretches and 0.1 for each MHz of it, but 1 for each MHz beyond 9 in a row with no gap
      between (0.3 where none would show); and 1 where a signal ends in sight and yet no floor shows beside it;
    * a level above what the stretch shows is ruled out by how well that is known, and one above what some part of it
      reads costs 6;
    * 1 for a drift by 1.5 dB from one stretch to the next, growing with its square; beyond that a step, 3.5 at the
      border of a hop and 15 elsewhere;
    * 0.2 for each dB beyond 4, up to 3, by which the floor lies above the lowest level at an end of the band, which may
      cut a signal off;
    * up to 3.5 where what the trace does right at the border of a hop is not what that floor makes it do: signals do
      not end there, so above and below differ by what the floor steps.

    The prices are common practice. `borders[i]` lies between stretches i and i + 1.
    """
    known = [one.own_db for one in stretches if one.own_db is not None]
    if not known:
        nothing = np.full(len(stretches), np.nan)
        return nothing, np.isfinite(nothing)
    levels = np.unique(np.round(np.array(known) / _GRID_DB)) * _GRID_DB
    path = _Path.begun(stretches, levels)
    for steps, stretch in zip(_steps(borders, levels), stretches[1:], strict=True):
        path.go(steps, stretch)
    floor_db = levels[path.places()]
    trusted = [_trusted(one, float(level)) for one, level in zip(stretches, floor_db, strict=True)]
    return floor_db, np.array(trusted, dtype=np.bool_)


@dataclass(slots=True, kw_only=True, eq=False)
class _Path:
    """The cheapest way to each state so far: `cost[run, level]`, the run being stretches that a signal has filled."""

    levels: Floats
    cost: Floats
    came: list[tuple[Ints, Ints]]

    @classmethod
    def begun(cls, stretches: Sequence[Stretch], levels: Floats) -> _Path:
        usual_hz = float(np.median([one.width_hz for one in stretches]))
        runs = 2 + min(_MOST_RUN, int(_WIDEST_HZ / usual_hz))
        path = cls(levels=levels, cost=np.full((runs, levels.size), np.inf), came=[])
        path.cost[0] = path.ends()
        path.go(np.where(np.eye(levels.size) > 0, 0.0, np.inf), stretches[0])
        path.came.clear()
        return path

    def go(self, steps: Floats, stretch: Stretch) -> None:
        """Go on by one stretch, with the price of a step from each level to each other."""
        runs = len(self.cost)
        total = self.cost[:, :, None] + steps
        before = np.argmin(total, axis=1)
        arrived = np.take_along_axis(total, before[:, None, :], axis=1)[:, 0, :]
        empty, filled = _held(stretch, self.levels)
        cost, came = np.empty_like(self.cost), np.empty(self.cost.shape, dtype=np.int64)
        came[0] = np.argmin(arrived, axis=0)
        cost[0] = np.min(arrived, axis=0) + empty
        came[1], came[2:] = 0, np.arange(1, runs - 1)[:, None]
        cost[1:] = arrived[:-1] + filled + _SIGNAL_PER_MHZ * stretch.width_hz / _HZ_PER_MHZ
        cost[1] += _SIGNAL
        per_mhz = _LONG_PER_MHZ if stretch.resolved else _UNRESOLVED_PER_MHZ
        longer = arrived[-1] + filled + per_mhz * stretch.width_hz / _HZ_PER_MHZ
        came[-1] = np.where(longer < cost[-1], runs - 1, came[-1])
        cost[-1] = np.minimum(cost[-1], longer)
        if stretch.parted:  # one signal ends, the next begins
            apart = np.min(arrived, axis=0) + filled + _SIGNAL
            came[1] = np.where(apart < cost[1], np.argmin(arrived, axis=0), came[1])
            cost[1] = np.minimum(cost[1], apart)
        self.cost = cost
        self.came.append((came, np.take_along_axis(before, came, axis=0)))

    def ends(self) -> Floats:
        """Return the price of each level where the band ends."""
        return np.asarray(np.clip(_END_PER_DB * (self.levels - self.levels[0] - _SMALL_STEP_DB), 0.0, _MOST_END))

    def places(self) -> list[int]:
        """Return the place of each level on the cheapest way."""
        run, place = divmod(int(np.argmin(self.cost + self.ends())), self.levels.size)
        places = [place]
        for runs, levels in reversed(self.came):
            run, place = int(runs[run, place]), int(levels[run, place])
            places.append(place)
        return places[::-1]


def _steps(borders: Sequence[Border | None], levels: Floats) -> Iterator[Floats]:
    """Yield the price of going from each level to each other, border by border."""
    rise = levels[None, :] - levels[:, None]
    drift = _DRIFT * (rise / _DRIFT_DB) ** 2
    impossible = np.where(np.abs(rise) > _MOST_STEP_DB, _IMPOSSIBLE_STEP, 0.0)
    for border in borders:
        step = (_STEP if border is not None else _SOFT_STEP) + impossible
        price = np.minimum(drift, step)
        yield price if border is None else price + _unexplained(border, levels)


def _held(stretch: Stretch, levels: Floats) -> tuple[Floats, Floats]:
    """Return the price of each floor within one stretch: where nothing fills it, and where a signal does."""
    dips = np.where(levels > stretch.ceiling_db + _DIP_DB, _DIP, 0.0)
    if stretch.own_db is None:
        return dips, dips
    if stretch.parted:
        dips = dips + np.where(levels < min(stretch.own_db, stretch.ceiling_db) - _PARTED_DB, _PARTED, 0.0)
    away = (levels - stretch.own_db) / np.hypot(stretch.error_db, _LEAST_ERROR_DB)
    price = away**2 / 2
    return dips + price, dips + np.where(levels < stretch.own_db, 0.0, price)


def _unexplained(border: Border, levels: Floats) -> Floats:
    """Return the price of each pair of floors below and above the border, given what the trace does there."""
    floors = 10 ** (levels / 10)
    signal = np.maximum(border.below - floors, 0.0)
    expected = floors[None, :] + signal[:, None]
    error = border.error * np.hypot(expected, border.below)
    return np.minimum(((border.above - expected) / error) ** 2 / 2, _JUMP)


def _trusted(stretch: Stretch, floor_db: float) -> bool:
    if stretch.own_db is None:
        return False
    near_db = max(_TRUST_DB, 3 * stretch.error_db)
    return abs(stretch.own_db - floor_db) <= near_db and floor_db <= stretch.ceiling_db + _DIP_DB

"""Make the compiled kernels ready before any clock runs."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from bandwright.core.kit import Companding
from bandwright.core.planning.change import Mobility
from bandwright.core.planning.network import Network, expanded
from bandwright.core.planning.problem import Choice, Fixed, Problem, Wanted
from bandwright.core.planning.verify import nearest
from bandwright.core.reach.levels import LevelModel
from bandwright.core.reach.levels_rows import rows_of, values_in_pictures
from bandwright.core.reach.receiver_front import FrontEnd, FrontStage
from bandwright.core.sound.companding import compander_of
from bandwright.core.sound.fm import FmLink
from bandwright.core.sound.simulate import Chain, RfLevel, passed
from bandwright.engines.ascent import ascend_band
from bandwright.engines.assignment import minimum_span
from bandwright.engines.exact import most_placed, placeable
from bandwright.engines.levels import raise_worst
from bandwright.engines.portfolio import pools_of
from bandwright.engines.replan import replan
from bandwright.engines.run import Run
from bandwright.engines.slots import Row
from bandwright.engines.solve import solve
from bandwright.kernels.jit import kernels_are_prepared, note_prepared

__all__ = [
    "load_assignment",
    "load_levels",
    "load_repair",
    "load_search",
    "load_sound",
    "prepare_assignment",
    "prepare_kernels",
    "prepare_levels",
    "prepare_repair",
    "prepare_sound",
]


def prepare_kernels(tell: Callable[[], None] = lambda: None) -> None:
    """Compile every kernel of search and verifier where this machine has not done so before; `tell` is called first."""
    _once("search", load_search, tell)


def prepare_repair(tell: Callable[[], None] = lambda: None) -> None:
    """Compile the kernels that replanning needs besides, as `prepare_kernels` does."""
    _once("repair", load_repair, tell)


def prepare_assignment(tell: Callable[[], None] = lambda: None) -> None:
    """Compile the kernels that frequency assignment needs besides, as `prepare_kernels` does."""
    _once("assignment", load_assignment, tell)


def prepare_sound(tell: Callable[[], None] = lambda: None) -> None:
    """Compile the kernels that simulating sound needs, as `prepare_kernels` does."""
    _once("sound", load_sound, tell)


def prepare_levels(tell: Callable[[], None] = lambda: None) -> None:
    """Compile the kernels that levels need besides, as `prepare_kernels` does."""
    _once("levels", load_levels, tell)


def _once(part: str, load: Callable[[], None], tell: Callable[[], None]) -> None:
    if kernels_are_prepared(part):
        return
    tell()
    load()
    note_prepared(part)


def load_search() -> None:
    """Use every kernel of search and verifier once, so that it is compiled or loaded."""
    problem = _small_problem()
    outcome = solve(problem, time_limit_s=600.0)
    crowded = _small_problem(wanted=9)  # more than fit: what is only used then
    solve(crowded, time_limit_s=600.0)
    _ascend(crowded)
    nearest(problem, np.array(outcome.carriers_hz, np.int64))
    most_placed(problem)
    ranked = tuple(replace(item, priority=rank) for rank, item in enumerate(problem.wanted))
    most_placed(replace(problem, wanted=ranked), by_priority=True)


def _ascend(problem: Problem) -> None:
    """Use the kernels of ascents, which a search begins only where nothing easier places all."""
    run = Run(
        problem,
        seed=1,
        time_limit_s=600.0,
        seconds=time.monotonic,
        cancelled=lambda: False,
        progress=lambda _: None,
    )
    *_, whole = pools_of(run)
    ascend_band(run, run.layout(whole), np.arange(run.wanted, dtype=np.int64), width=2, tries=2)


def load_repair() -> None:
    """Use every kernel of replanning once."""
    problem = _small_problem()
    count = len(problem.wanted)
    replan(problem, before=[-1] * count, mobility=[Mobility.NOW] * count, time_limit_s=600.0)


def load_assignment() -> None:
    """Use every kernel of frequency assignment once: on short rows, on round ones, and with more than fit."""
    separation = np.array([[2, 1], [1, 2]], np.int64)
    stations = Network(demand=np.array([3, 3], np.int64), separation=separation)
    minimum_span(stations)
    placeable(expanded(stations, slots=4))
    row = Row(separation, slots=4, most=3)
    row.place(np.array([0, 0, 0, 1, 1, 1], np.int64))
    row.mend(moves=10, random=np.array([1], np.uint64), tenure=(5, 9))
    row.easiest_slot()
    row.thin_out(np.ones(2, np.int64))
    row.place(np.array([0], np.int64), only_clean=True)
    row.exchange(moves=10, value=np.ones(2), asked=np.array([3, 3], np.int64), random=np.array([1], np.uint64))


def load_sound() -> None:
    """Use every kernel of sound once."""
    link = FmLink(deviation_hz=50e3, bandwidth_hz=200e3, rate_hz=48_000)
    sent, _ = compander_of(Companding(ratio=2.0))
    passed(np.zeros(16), Chain(id="any", sent=sent, link=link), RfLevel(name="any", cn_db=None), seed=1)


def load_levels() -> None:
    """Use every kernel of levels once: at the receivers, in pictures, and in the search."""
    problem = _small_problem()
    size = problem.size
    receiver = FrontStage(name="any", iip3_dbm=0.0, clips_dbm=None, clips_stated=False, filters=())
    front = FrontEnd(
        carrier_hz=100_000,
        iip3_dbm=0.0,
        p1db_dbm=None,
        passband_hz=None,
        selectivity=(),
        clips_first=None,
        stages=(receiver,),
    )
    model = LevelModel(
        level_dbm=np.full((size, size), -40.0),
        fronts=(front,) * size,
        iip5_dbm=np.zeros(size),
        made_db=np.full((size, size), 50.0),
        rms_hz=np.full(size, 20_000.0),
        bandwidth_hz=np.full(size, 25_000.0),
        victim=np.arange(size) < len(problem.wanted),
        makes=np.ones(size, np.bool_),
    )
    outcome = solve(problem, time_limit_s=600.0, polish=False)
    raise_worst(problem, model, outcome, time_limit_s=0.05)
    rows = rows_of(model, [*outcome.carriers_hz, *(item.carrier_hz for item in problem.fixed)])
    site, drawn = np.zeros(size, np.int64), (np.ones((1, 1, size)), np.ones((1, size * size)))
    values_in_pictures(rows, rows.weights, site, *drawn)


def _small_problem(wanted: int = 4) -> Problem:
    carriers = np.arange(0, 400_000, 25_000, dtype=np.int64)
    choice = Choice(
        name="any",
        carriers_hz=carriers,
        wish=np.zeros(len(carriers), np.int64),
        clearance_hz=(("2A-B", 25_000), ("A+B-C", 25_000), ("2A+B-2C", 1)),
    )
    near = np.full((wanted + 1, wanted + 1), 25_000, np.int64)
    np.fill_diagonal(near, 0)
    near[wanted, :] = near[:, wanted] = 0
    return Problem(
        choices=(choice,),
        wanted=tuple(Wanted(id=str(i), choice=0) for i in range(wanted)),
        fixed=(Fixed(id="given", carrier_hz=900_000),),
        near_hz=near,
    )

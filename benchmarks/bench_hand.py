"""A carrier in hand: how soon the page has the verdict on where it is held, beside 100 others and a long sweep."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import numpy as np

from bandwright.core.bands import Span
from bandwright.core.fold import SweepAccumulator
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Emission, Link, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.preview import Board, board_of, preview
from bandwright.core.sweep import Sweep, SweepBlock
from bandwright.engines.prepare import prepare_kernels
from bandwright.engines.solve import solve
from benchmarks.measure import Benchmark

__all__ = ["benchmarks"]

_LINKS = 100
_LOW_HZ, _HIGH_HZ, _STEP_HZ = 470_000_000, 694_000_000, 25_000
_POINTS = 50_000


def benchmarks() -> Sequence[Benchmark]:
    """Return what is measured."""
    return (
        Benchmark(
            name=f"hand: verdict on a carrier beside {_LINKS} links, {_POINTS} points",
            prepare=_holding,
            limit_s=0.03,
            rounds=101,
        ),
    )


def _holding() -> Callable[[], object]:
    prepare_kernels()
    board, numbers = _board(), itertools.count()

    def work() -> None:
        number = next(numbers)
        preview(board, f"L{number % _LINKS}", board.carriers_hz[number % _LINKS] + _STEP_HZ * (number % 40 - 20))

    return work


def _board() -> Board:
    radio = RadioType(
        id="heron",
        name="Heron",
        direction=Direction.FROM_PERSON,
        emission=Emission.FM,
        bandwidth_hz=200_000,
        spacing_hz=350_000,
        clearance_hz=(("2A-B", 100_000), ("3A-2B", 50_000)),
        tuning=(TuningRange(low_hz=_LOW_HZ, high_hz=_HIGH_HZ, step_hz=_STEP_HZ),),
    )
    job = Job(
        title="Bench",
        places=(Place(id="place", name="place", timezone="UTC"),),
        permits=(Permit(id="p", reference="p", state=PermitState.GRANTED, windows=(Span(_LOW_HZ, _HIGH_HZ),)),),
        radios=(radio,),
        links=tuple(Link(id=f"L{n}", name=f"L{n}", radio=radio, worn=Worn.BODY) for n in range(_LINKS)),
    )
    sweeps = [_sweep()]
    compiled = compile_job(job, sweeps)
    carriers = solve(compiled.problem, polish=False, time_limit_s=60.0).carriers_hz
    return board_of(job, dict(zip(compiled.problem.ids, carriers, strict=True)), sweeps)


def _sweep() -> Sweep:
    bin_hz = (_HIGH_HZ - _LOW_HZ) / _POINTS
    levels = -100 + np.random.default_rng(2).normal(0, 0.5, _POINTS)
    accumulator = SweepAccumulator(bandwidths_hz=(200_000,))
    accumulator.take(SweepBlock(first_hz=_LOW_HZ + bin_hz / 2, bin_hz=bin_hz, levels_db=levels, unit="dBm"))
    found = accumulator.finish(name="base.csv")
    assert found is not None
    return found

"""Analysis of sweeps: how long it takes, and what it finds in drawn scenes of known truth."""

from __future__ import annotations

import functools
import time
from collections.abc import Callable, Sequence

import numpy as np

from bandwright.core.air import describe_air
from bandwright.core.fold import fold
from bandwright.core.sweep import SweepBlock
from bandwright.reference.tables import rasters
from benchmarks.air_noise import NOISE, false_alarms
from benchmarks.air_scores import REPORTED, Scores, score
from benchmarks.measure import Figure

__all__ = ["benchmarks"]

_POINTS = 160_000


def benchmarks() -> Sequence[Figure]:
    """Return what is measured: CPU time, and shares of 500 scenes that no tuning saw (`air_scores` prints it all)."""
    return (
        Figure(name="air: 160,000 points analysed (CPU)", measure=_analysis_s, unit="s", limit=0.5),
        _share("air: multiplexes 8 dB above the floor taken", "multiplex taken, even floor", 8, 99),
        _share("air: the same where the floor steps", "multiplex taken, floor steps", 8, 99),
        _share("air: the same where the receiver clips", "multiplex taken, overloaded", 8, None),
        _share("air: empty TV channels taken", "empty taken, even floor", -10, 1, at_least=False),
        _share("air: the same where the floor steps", "empty taken, floor steps", -10, 1, at_least=False),
        _share("air: the same where the receiver clips", "empty taken, overloaded", -10, 1, at_least=False),
        _share("air: carriers 9 dB above found, 16 looks or more", "carrier found, 16 looks or more", 9, 95),
        _share("air: carriers found that are well centred", "carrier centred, 16 looks or more", 9, 95),
        _share("air: carriers 9 dB above found, 4 looks", "carrier found, 4 looks", 9, 95),
        _share("air: carriers 9 dB above found, single shot", "carrier found, single shot", 9, None),
        _of_theory("air: of what theory allows at 9 to 15 dB, 4 looks", "carrier found, 4 looks"),
        _of_theory("air: the same, single shot", "carrier found, single shot"),
        _share("air: scenes without a false carrier", "no false narrow carrier, even floor", -10, None),
        _share("air: the same where the floor steps", "no false narrow carrier, floor steps", -10, None),
        _share("air: overload told where it shows", "overload told, where it shows", -10, None),
        _share("air: scenes of honest receivers it is not told in", "no overload claimed where there is none", -10, 99),
        *(_false_alarms(rate) for rate in (1e-2, 1e-3, 1e-4)),
    )


def _share(name: str, what: str, least_db: float, limit: float | None, *, at_least: bool = True) -> Figure:
    measure: Callable[[], float] = functools.partial(_share_of, what, least_db)
    return Figure(name=name, measure=measure, unit="%", limit=limit, at_least=at_least)


def _share_of(what: str, least_db: float) -> float:
    return _scores().share(what, least_db=least_db)


def _of_theory(name: str, what: str) -> Figure:
    measure: Callable[[], float] = functools.partial(_part_of_theory, what)
    return Figure(name=name, measure=measure, unit="%")


def _part_of_theory(what: str) -> float:
    return _scores().of_theory(what, least_db=9, most_db=15)


def _false_alarms(rate: float) -> Figure:
    measure: Callable[[], float] = functools.partial(_farthest_factor, rate)
    name = f"air: false signals at {rate:g} a bin, farthest factor"
    return Figure(name=name, measure=measure, unit="x", limit=2)


def _farthest_factor(rate: float) -> float:
    factors = [count / (bins * rate) for count, bins in false_alarms(NOISE, rate).values()]
    return max(max(factor, 1 / factor) for factor in factors)


@functools.cache
def _scores() -> Scores:
    return score(REPORTED)


def _analysis_s() -> float:
    """Return the CPU time of describing a sweep of noise, carriers and multiplexes, the median of five."""
    rng = np.random.default_rng(1)
    power = rng.gamma(8, 1 / 8, size=_POINTS)
    for start in range(2_000, _POINTS, 23_000):
        power[start : start + 5_400] *= 300
    power[rng.integers(_POINTS, size=200)] *= 1000
    width_hz = 224e6 / _POINTS
    block = SweepBlock(first_hz=470e6 + width_hz / 2, bin_hz=width_hz, levels_db=10 * np.log10(power) - 110)
    sweep = fold([block], name="large")
    if sweep is None:
        raise ValueError("there is no sweep")
    raster = next(raster for raster in rasters() if raster.id == "region1")
    times = []
    for _ in range(5):
        start_s = time.process_time()
        describe_air(sweep, raster=raster)
        times.append(time.process_time() - start_s)
    return sorted(times)[2]

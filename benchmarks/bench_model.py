"""From a job to a problem, and the explanation of one carrier: 512 links in 16 earshots, with and without times."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from bandwright.core.bands import Span
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Emission, Link, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.explain import explain
from bandwright.core.when import TimeSpan
from benchmarks.measure import Benchmark

__all__ = ["benchmarks"]

_EARSHOTS, _LINKS, _TIMES = 16, 32, 20
_NOON = datetime(2027, 5, 14, 12, tzinfo=UTC)
_RADIO = RadioType(
    id="heron",
    name="Heron",
    direction=Direction.FROM_PERSON,
    emission=Emission.FM,
    bandwidth_hz=200_000,
    spacing_hz=350_000,
    clearance_hz=(("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000)),
    tuning=(TuningRange(low_hz=470_100_000, high_hz=607_900_000, step_hz=25_000),),
)


def _job(*, timed: bool) -> Job:
    links = tuple(
        Link(
            id=f"{earshot}.{number}",
            name="link",
            radio=_RADIO,
            worn=Worn.BODY,
            earshots=frozenset({f"e{earshot}"}),
            on_air=(_hours(number % _TIMES),) if timed else (),
        )
        for earshot in range(_EARSHOTS)
        for number in range(_LINKS)
    )
    window = Span(470_000_000, 608_000_000)
    permit = Permit(id="p", reference="p", state=PermitState.GRANTED, windows=(window,))
    place = Place(id="quay", name="quay", timezone="UTC")
    return Job(title="many", places=(place,), permits=(permit,), radios=(_RADIO,), links=links)


def _hours(start: int) -> TimeSpan:
    return TimeSpan(start=_NOON + timedelta(hours=start), end=_NOON + timedelta(hours=start + 6))


def _compiling(*, timed: bool) -> Callable[[], Callable[[], object]]:
    def prepare() -> Callable[[], object]:
        job = _job(timed=timed)
        return lambda: compile_job(job)

    return prepare


def _explaining() -> Callable[[], object]:
    job = _job(timed=False)
    placed = {link.id: 470_100_000 + 25_000 * index for index, link in enumerate(job.links)}
    return lambda: explain(job, job.links[0], 500_000_000, placed=placed)


def benchmarks() -> list[Benchmark]:
    """Return what is timed here."""
    return [
        Benchmark(name="model: 512 links in 16 earshots", prepare=_compiling(timed=False), limit_s=0.1),
        Benchmark(name="model: 512 links in 16 earshots, 20 times", prepare=_compiling(timed=True), limit_s=1.0),
        Benchmark(name="model: why, beside 511 links in 16 earshots", prepare=_explaining, rounds=3),
    ]

"""Links all over a plan: how long the map of a whole job takes, and how the drawing of it adds to that."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial

import numpy as np

from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Diversity, Emission, Link, PowerKind, RadioType, TuningRange, Worn
from bandwright.core.picture_area import area_pictures
from bandwright.core.reach.area import Area, AreaWall, Candidate
from bandwright.core.reach.area_reach import AreaReach, area_reach, bearers_of, with_distance
from bandwright.core.reach.coverage import Grid, coverage
from bandwright.core.reach.link import link_reach
from bandwright.core.reach.placing import Kind, best_spots
from bandwright.core.rig import Antenna, AntennaPattern, Run, Wall
from bandwright.reference import reach_tables
from bandwright.sheets.svg import svg
from benchmarks.measure import Benchmark, Figure

__all__ = ["benchmarks"]

LINKS, ANTENNAS, CELLS, EVERY_S = 30, 4, 200, 600.0
MANY = 300
SIDE_M = 40.0


@cache
def _job(diversity: Diversity) -> Job:
    """Return 30 links with four directional antennas on a square with ten walls; the numbers are invented."""
    rng = np.random.default_rng(5)
    walls = tuple(
        AreaWall(start_m=(float(x), float(y)), end_m=(float(x + dx), float(y + dy)), wall=Wall(loss_db=5.0))
        for x, y, dx, dy in rng.uniform((2, 2, -8, -8), (38, 38, 8, 8), (10, 4))
    )
    spots = [(1.0, 1.0), (39.0, 1.0), (1.0, 39.0), (39.0, 39.0)]
    pattern = AntennaPattern(name="directional")
    runs = tuple(
        Run(
            id=f"run-{k}",
            name=f"Run {k}",
            antenna=Antenna(id=f"a{k}", name=f"A{k}", gain_dbi=6, at_m=at, pattern=pattern),
        )
        for k, at in enumerate(spots)
    )
    candidates = tuple(
        Candidate(id=f"c{k}", name=f"C{k}", at_m=(float(x), float(y)))
        for k, (x, y) in enumerate(rng.uniform(0, 40, (24, 2)))
    )
    area = Area(
        outline_m=((0.0, 0.0), (SIDE_M, 0.0), (SIDE_M, SIDE_M), (0.0, SIDE_M)), walls=walls, candidates=candidates
    )
    radio = RadioType(
        id="pack",
        name="Pack",
        direction=Direction.FROM_PERSON,
        emission=Emission.FM,
        bandwidth_hz=200_000,
        spacing_hz=350_000,
        clearance_hz=(),
        tuning=(TuningRange(low_hz=606_000_000, high_hz=622_000_000, step_hz=25_000),),
        power_mw=(50.0,),
        power_kind=PowerKind.ERP,
        noise_figure_db=8.0,
        needs_cn_db=20.0,
        diversity=diversity,
    )
    links = tuple(
        Link(id=f"L{k}", name=f"L{k}", radio=radio, worn=Worn.BODY, hold_hz=606_500_000 + k * 350_000)
        for k in range(LINKS)
    )
    place = Place(id="square", name="Square", timezone="UTC")
    return Job(title="Square", places=(place,), permits=(), radios=(radio,), links=links, runs=runs, area=area)


def _map(diversity: Diversity) -> Callable[[], object]:
    job, area = _job(diversity), _area(diversity)
    tables = reach_tables()
    bearers = bearers_of(job, job.links, carriers={}, tables=tables)
    points = Grid.over(area, cells=CELLS).points_m()
    return lambda: [
        float(outage.max())
        for one in coverage(area, bearers, points, tables=tables, every_s=EVERY_S)
        if (outage := one.outage()) is not None
    ]


def _area(diversity: Diversity) -> Area:
    area = _job(diversity).area
    assert area is not None
    return area


def _whole(diversity: Diversity) -> AreaReach:
    job = _job(diversity)
    found = area_reach(job, job.links, carriers={}, tables=reach_tables(), every_s=EVERY_S, cells=CELLS)
    assert found is not None
    return found


def _cpu_s(diversity: Diversity) -> float:
    """Return the processor time of the map alone, after one that fills caches."""
    work = _map(diversity)
    work()
    start = time.process_time()
    work()
    return time.process_time() - start


def _many_s() -> float:
    """Return the processor time of a plan judged with 300 links on carriers over 230 MHz, their chains besides."""
    job, tables = _job(Diversity.SELECTION), reach_tables()
    hz = np.random.default_rng(1).choice(np.arange(470_000_000, 700_000_000, 25_000), MANY, replace=False)
    links = tuple(
        replace(job.links[0], id=f"L{k}", name=f"L{k}", hold_hz=carrier_hz) for k, carrier_hz in enumerate(hz.tolist())
    )
    area = _area(Diversity.SELECTION)
    many = replace(job, links=links, area=replace(area, candidates=area.candidates[:6]))

    def work() -> None:
        area_reach(many, links, carriers={}, tables=tables, every_s=EVERY_S, cells=CELLS)
        for link in links:
            link_reach(many, with_distance(many, link), carriers={}, tables=tables, every_s=EVERY_S)

    work()
    start = time.process_time()
    work()
    return time.process_time() - start


def _spots(antennas: int) -> Callable[[], object]:
    job, area = _job(Diversity.SELECTION), _area(Diversity.SELECTION)
    tables = reach_tables()
    (facts, runs), *_ = bearers_of(job, job.links, carriers={}, tables=tables)
    kind = Kind(facts=facts, runs=tuple(runs), points_m=Grid.over(area, cells=40).points_m())
    return partial(best_spots, area, [kind], antennas=antennas, tables=tables, every_s=EVERY_S)


def _drawing() -> Callable[[], object]:
    reach = _whole(Diversity.SELECTION)
    names = {one.facts.link.id: one.facts.link.name for one in reach.judged}
    return lambda: [svg(picture) for picture in area_pictures(reach, title="Plan", names=names)]


def benchmarks() -> list[Benchmark | Figure]:
    """Return the benchmarks of plans."""
    size = f"{CELLS} x {CELLS} points x {ANTENNAS} antennas x {LINKS} links"
    return [
        *(
            Figure(
                name=f"map of {size}, {kind.value}: processor time",
                measure=partial(_cpu_s, kind),
                unit="s",
                limit=2.0,
            )
            for kind in (Diversity.SELECTION, Diversity.COMBINING)
        ),
        Figure(name=f"plan and chains of {MANY} links on the Reach page: processor time", measure=_many_s, unit="s"),
        Benchmark(name=f"plan judged: {size}", prepare=lambda: partial(_whole, Diversity.SELECTION), rounds=3),
        Benchmark(name="best pair of 24 antenna positions", prepare=lambda: _spots(2), rounds=3),
        Benchmark(name="best four of 24 antenna positions", prepare=lambda: _spots(4), rounds=3),
        Benchmark(name="map drawn as SVG", prepare=_drawing, rounds=3),
    ]

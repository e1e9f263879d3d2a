"""Generated stages for the level benchmarks: packs in small zones before one shared antenna, and legal plans by lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bandwright.core.bands import Span
from bandwright.core.job import Job, Place
from bandwright.core.kit import Direction, Emission, Link, PowerKind, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.problem import Problem
from bandwright.core.reach.levels import LevelModel
from bandwright.core.reach.stage import Stage, stage_of
from bandwright.core.reach.stage_pictures import picture_model
from bandwright.core.reach.stage_spots import Spot
from bandwright.core.rig import Antenna, Run
from bandwright.reference import tables as reference

__all__ = ["RULES_HZ", "Case", "case_of", "random_plan", "stage_with"]

RULES_HZ = (("2A-B", 100_000), ("A+B-C", 50_000), ("3A-2B", 50_000))
_BASE_HZ = 606_000_000
_TV_HZ = 8_000_000
_EDGE_HZ = 500_000
_STAGE_M = (20.0, 14.0)
_BEFORE_M = 3.0
_ZONE_M = 1.5
_SCATTER_DB = 6.0  # as scenery and people scatter levels; near what is published for rooms with obstacles


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """One stage as it was drawn, the problem without product rules, and with them as strict as still places all."""

    model: LevelModel
    free: Problem
    by_scale: dict[float, Problem]


def stage_with(links: int, *, tv: int, seed: int, rules_hz: Sequence[tuple[str, int]] = RULES_HZ) -> tuple[Job, Stage]:
    """Return a job of so many links in so many TV channels, and a stage with each link's pack in a zone of its own.

    24 kHz rms deviation, an intercept point of 0 dBm, 10 dB conversion loss in transmitters, one antenna, a stage of 20
    by 14 m from 3 m before it on, and levels that scatter by 6 dB.
    """
    radio = RadioType(
        id="heron",
        name="Heron (invented)",
        direction=Direction.FROM_PERSON,
        emission=Emission.FM,
        bandwidth_hz=200_000,
        spacing_hz=350_000,
        clearance_hz=tuple(rules_hz),
        tuning=(TuningRange(low_hz=470_100_000, high_hz=1_000_000_000, step_hz=25_000),),
        power_mw=(50.0,),
        power_kind=PowerKind.ERP,
        peak_deviation_hz=48_000,
        needs_cn_db=30.0,
        iip3_dbm=0.0,
        transmit_im_loss_db=10.0,
    )
    antenna = Antenna(id="a", name="a", gain_dbi=6.0, at_m=(0.0, 0.0))
    window = Span(_BASE_HZ + _EDGE_HZ, _BASE_HZ + tv * _TV_HZ - _EDGE_HZ)
    job = Job(
        title="generated",
        places=(Place(id="p", name="p", timezone="UTC", shadowing_db=_SCATTER_DB),),
        permits=(Permit(id="all", reference="all", state=PermitState.GRANTED, windows=(window,)),),
        radios=(radio,),
        links=tuple(Link(id=f"L{i}", name=f"L{i}", radio=radio, worn=Worn.BODY, distance_m=20.0) for i in range(links)),
        runs=(Run(id="r", name="r", antenna=antenna),),
    )
    stage = stage_of(job, job.links, tables=reference.reach_tables())
    random = np.random.default_rng(seed)
    at = np.stack([_BEFORE_M + _STAGE_M[0] * random.random(links), _STAGE_M[1] * (random.random(links) - 0.5)], axis=1)
    actors = tuple(
        replace(actor, sends_from=Spot(middle_m=(float(x), float(y)), radius_m=_ZONE_M))
        for actor, (x, y) in zip(stage.actors, at, strict=True)
    )
    return job, replace(stage, actors=actors)


def case_of(links: int, *, tv: int, seed: int) -> Case:
    """Return one case; clearances come whole, halved, and so on, for the plan by kHz rules alone."""
    job, stage = stage_with(links, tv=tv, seed=seed, rules_hz=())
    scales = (1.0, 0.5, 0.25, 0.0)
    problems = {}
    for scale in scales:
        rules = tuple((family, int(hz * scale)) for family, hz in RULES_HZ if hz * scale >= 1)
        eased = tuple(replace(link, radio=replace(link.radio, clearance_hz=rules)) for link in job.links)
        problems[scale] = compile_job(replace(job, links=eased, radios=(eased[0].radio,))).problem
    model = picture_model(stage, np.random.default_rng(seed))
    return Case(model=model, free=problems[0.0], by_scale=problems)


def random_plan(problem: Problem, random: np.random.Generator) -> NDArray[np.int64]:
    """Return carriers by lot that keep the spacing: one after another, begun again where somebody finds none."""
    count = len(problem.wanted)
    every = problem.choices[problem.wanted[0].choice].carriers_hz
    while True:
        found = np.full(count, -1, np.int64)
        free = np.ones(len(every), np.bool_)
        for member in range(count):
            if not free.any():
                break
            found[member] = random.choice(every[free])
            free &= np.abs(every - found[member]) >= problem.near_hz[0, 1]
        if np.all(found >= 0):
            return found

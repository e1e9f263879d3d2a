"""Walls and patterns in stage pictures. Authority: the coverage of each drawn position by itself, and walls by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from area_examples import HALL, job_of_hall

from bandwright.core.reach.area_geometry import walls_crossed
from bandwright.core.reach.area_reach import bearers_of
from bandwright.core.reach.budget import branch_of
from bandwright.core.reach.coverage import coverage
from bandwright.core.reach.stage import stage_of
from bandwright.core.reach.stage_pictures import picture_model
from bandwright.core.reach.stage_spots import Spot
from bandwright.core.reach.stage_ways import walls_on_ways_db
from bandwright.reference import reach_tables

TABLES = reach_tables()
FLAT = (
    HALL.replace("height_m = 2\n", "")
    .replace("height_m = 2.5\n", "")
    .replace("shadowing_db = 4\n", "")
    .replace('[{ what = "cable", type = "rg-213", length_m = 25 }, { what = "splitter", ways = 4 }]', "[]")
    .replace('[{ what = "cable", type = "rg-213", length_m = 40 }, { what = "splitter", ways = 4 }]', "[]")
)
"""No heights and no scatter: a stage is flat. Runs without parts: its levels are those at the antenna."""


def hall(text=FLAT):
    """Return the hall with bodies that take nothing, and with E01's antenna looking somewhere too."""
    text = text.replace("at_m = [18, 0.5]\n", 'at_m = [18, 0.5]\npattern = "directional"\nfacing_deg = -60\n')
    job = job_of_hall(text)
    return replace(job, links=tuple(replace(link, body_loss_db=0.0) for link in job.links))


@pytest.mark.parametrize("seed", range(6))
def test_each_drawn_position_has_the_level_that_the_map_has_there(seed):
    job = hall()
    stage = stage_of(job, job.links, tables=TABLES)
    found = picture_model(stage, np.random.default_rng(seed))
    random = np.random.default_rng(seed)
    at = [(a.sends_from if a.inward else a.hears_at).draw(random, 1) for a in stage.actors]
    bearers = bearers_of(job, job.links, carriers={}, tables=TABLES)
    for j, (facts, runs) in enumerate(bearers):
        for v, (_, others) in enumerate(bearers):
            inward = stage.actors[v].inward
            if inward is not facts.inward:
                continue
            # A pack at the antenna of each receiver; an in-ear antenna at the body of its own wearer.
            run = (
                next(one for one in others if one.antenna.at_m == stage.actors[v].hears_at.middle_m)
                if inward
                else runs[0]
            )
            where = at[j] if inward else at[v]
            (one,) = coverage(job.area, [(facts, [run])], where, tables=TABLES, every_s=600)
            assert found.level_dbm[v, j] == pytest.approx(float(one.heard[0].levels_dbm[0]), abs=1e-6)
    assert any(actor.look is not None for actor in stage.actors)


def test_an_in_ear_wearer_hears_packs_through_the_walls_between_them():
    job = hall()
    stage = stage_of(job, job.links, tables=TABLES)
    bare = replace(stage, walls=())
    ears = next(i for i, actor in enumerate(stage.actors) if not actor.inward)
    walls = [(wall.start_m, wall.end_m) for wall in job.area.walls]
    for seed in range(20):
        random = np.random.default_rng(seed)
        at = [(a.sends_from if a.inward else a.hears_at).draw(random, 1)[0] for a in stage.actors]
        one, two = (picture_model(which, np.random.default_rng(seed)).level_dbm[ears] for which in (stage, bare))
        for j, actor in enumerate(stage.actors[: stage.wanted]):
            begin, end = (tuple(at[j]), at[ears]) if actor.inward else (actor.sends_from.middle_m, at[ears])
            hit = walls_crossed(begin, end[None], walls)[:, 0]
            costs = sum(cost for cost, through in zip(actor.walls_db, hit, strict=True) if through)
            assert two[j] - one[j] == pytest.approx(costs, abs=1e-9)


def test_at_worst_a_wanted_carrier_is_as_weak_as_at_the_weakest_point_of_a_fine_grid(authority):
    job = hall()
    stage = stage_of(job, job.links, tables=TABLES)
    model = stage.worst()
    points = np.stack(np.meshgrid(np.linspace(0, 24, 241), np.linspace(0, 20, 201)), axis=-1).reshape(-1, 2)
    for v, (facts, runs) in enumerate(bearers_of(job, job.links, carriers={}, tables=TABLES)):
        actor = stage.actors[v]
        run = next(one for one in runs if one.antenna.at_m in (actor.hears_at.middle_m, actor.sends_from.middle_m))
        worn = actor.sends_from if actor.inward else actor.hears_at
        here = points[worn.holds(points)]
        (one,) = coverage(job.area, [(facts, [run])], here, tables=TABLES, every_s=600)
        authority(
            f"Level of {facts.link.id} at its weakest point",
            source="coverage of a plain grid of points 0.1 m apart",
            kind="arithmetic",
            ours=model.level_dbm[v, v],
            theirs=float(one.heard[0].levels_dbm.min()),
            tolerance=0.6,  # the weakest point lies at an edge, between two points of the grid
            unit="dB",
        )


def test_an_antenna_without_a_position_counts_neither_walls_nor_pattern():
    job = hall(FLAT.replace("at_m = [3, 0.5]\n", "").replace("at_m = [21, 0.5]\n", ""))
    stage = stage_of(job, job.links, tables=TABLES)
    (facts, runs), *_ = bearers_of(job, job.links, carriers={}, tables=TABLES)
    assert (stage.actors[0].look, stage.actors[0].walls_db) == (None, None)
    random = np.random.default_rng(1)
    at = stage.actors[0].sends_from.draw(random, 1)[0]
    metres = float(np.hypot(*(at - np.array(job.area.middle_m))))
    alone = branch_of(replace(facts, link=replace(facts.link, distance_m=metres)), runs[0], TABLES)
    found = picture_model(stage, np.random.default_rng(1)).level_dbm[0, 0]
    assert found == pytest.approx(alone.level_dbm, abs=1e-6)


def test_walls_on_many_ways_are_counted_one_by_one(authority):
    """Authority: sides told by cross products, in plain Python."""
    rng = np.random.default_rng(3)
    walls = [tuple(map(tuple, ends)) for ends in rng.uniform(0, 20, (7, 2, 2))]
    costs = rng.uniform(1, 9, 7)
    begin, end = rng.uniform(0, 20, (2, 400, 2))

    def side(one, two, point):
        return (two[0] - one[0]) * (point[1] - one[1]) - (two[1] - one[1]) * (point[0] - one[0])

    def through(a, b, wall):
        one, two = wall
        return side(one, two, a) * side(one, two, b) < 0 and side(a, b, one) * side(a, b, two) < 0

    by_hand = [
        sum(cost for cost, wall in zip(costs, walls, strict=True) if through(a, b, wall))
        for a, b in zip(begin, end, strict=True)
    ]
    found = walls_on_ways_db(walls, costs.tolist(), begin, end)
    assert found == pytest.approx(by_hand)
    authority("Loss of walls on 400 ways", source="cross products in plain Python", kind="arithmetic",
              ours=float(found.sum()), theirs=float(sum(by_hand)), tolerance=1e-6, unit="dB")  # fmt: skip


def test_points_spread_over_a_spot_hold_its_corners_and_lie_in_it():
    spot = Spot(corners_m=((0.0, 0.0), (4.0, 0.0), (4.0, 3.0)))
    points = spot.spread()
    assert {(0.0, 0.0), (4.0, 0.0), (4.0, 3.0)} <= set(map(tuple, points.tolist()))
    assert len(points) > 300
    assert (points[:, 1] <= points[:, 0] * 0.75 + 1e-9).all()
    assert Spot(middle_m=(1.0, 2.0)).spread().tolist() == [[1.0, 2.0]]

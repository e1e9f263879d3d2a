"""Links all over a plan. Authorities: Rec. ITU-R P.525 by hand, plain sums, and the budget of one link alone."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from area_examples import HALL, area_of, job_of_hall
from brief_examples import changed

from bandwright.core.reach.area_antenna import bearing_deg, pattern_db
from bandwright.core.reach.area_points import PlanPoints, judged_link
from bandwright.core.reach.area_reach import area_reach, bearers_of, with_distance
from bandwright.core.reach.area_steps import MOST_DB, STEP, Steps, stepped_hz
from bandwright.core.reach.budget import branch_of
from bandwright.core.reach.coverage import Grid, coverage
from bandwright.core.reach.coverage_fading import outages
from bandwright.core.reach.coverage_needs import reserves_db
from bandwright.core.reach.fading import Fading
from bandwright.core.reach.link import link_reach
from bandwright.core.rig import AntennaPattern
from bandwright.reference import reach_tables

TABLES = reach_tables()
EVERY_S = 600
BARE = HALL.replace('path = "log-distance"\npath_exponent = 2.6\n', "")


def covered(text, link_id, points):
    job = job_of_hall(text)
    (bearer,) = (one for one in bearers_of(job, job.links, carriers={}, tables=TABLES) if one[0].link.id == link_id)
    (found,) = coverage(job.area, [bearer], np.array(points, dtype=float), tables=TABLES, every_s=EVERY_S)
    return found


def level_of(found, antenna="left"):
    (one,) = (item for item in found.heard if item.antenna.id == antenna)
    return one.levels_dbm


def test_levels_on_a_plan_are_free_space_by_hand(authority):
    """Left at [3, 0.5], omni here, on the ground; 50 mW ERP, 12 dB of body, 6 dBi, 4.1 dB of cable, 4-way splitter."""
    text = changed('pattern = "directional"\nfacing_deg = 20\n', "", text=BARE.replace("height_m = 2\n", ""))
    text = changed('type = "rg-213", length_m = 25', "loss_db = 4.1", text=text)
    found = covered(text, "L01", [[13, 0.5], [3, 5.5]])
    before_path = 10 * math.log10(50) + 2.15 - 12 + 6 - 4.1 - 10 * math.log10(4)
    for number, metres in enumerate((10.0, 5.0)):
        loss = 32.4478 + 20 * math.log10(606.7) + 20 * math.log10(metres / 1000)
        authority(
            "Level of a link at a point of a plan",
            source="Rec. ITU-R P.525 by hand in the test",
            kind="arithmetic",
            ours=float(level_of(found)[number]),
            theirs=before_path - loss,
            tolerance=0.005,
            unit="dB",
        )


@pytest.mark.parametrize("path", ["free-space", "two-ray", "log-distance", "industrial-los", "office-nlos"])
def test_each_point_of_a_plan_has_the_budget_of_its_distance(path):
    """Two roads to one number: the map, and the budget of one link as far away, behind the same walls."""
    text = changed('path = "log-distance"', f'path = "{path}"', text=HALL)
    points = [[4, 3], [18, 9], [6, 14], [12, 17.5], [20, 14]]
    found = covered(text, "L01", points)
    job = job_of_hall(text)
    (facts, runs), *_ = bearers_of(job, job.links, carriers={}, tables=TABLES)
    for run, heard in zip(runs, found.heard, strict=True):
        antenna = run.antenna
        towards = bearing_deg(antenna.at_m, np.array(points)) - antenna.facing_deg
        off_axis = pattern_db(antenna.pattern, towards)
        for number, point in enumerate(points):
            ground = math.dist(antenna.at_m, point)
            metres = ground if path == "two-ray" else math.hypot(ground, antenna.height_m - 1.2)
            walls = tuple(wall.wall for wall in job.area.walls if goes_through(antenna.at_m, point, wall))
            link = replace(facts.link, distance_m=metres, walls=walls)
            alone = branch_of(replace(facts, link=link), run, TABLES)
            assert heard.levels_dbm[number] == pytest.approx(alone.level_dbm + off_axis[number], abs=1e-9)
            assert heard.margins_db[number] == pytest.approx(alone.margin_db + off_axis[number], abs=1e-9)
            assert heard.lower_db == pytest.approx(alone.level_dbm - alone.lowest_dbm)


def goes_through(start, end, wall):
    def side(one, two, point):
        return (two[0] - one[0]) * (point[1] - one[1]) - (two[1] - one[1]) * (point[0] - one[0])

    one, two = wall.start_m, wall.end_m
    apart = side(one, two, start) * side(one, two, end) < 0
    return apart and side(start, end, one) * side(start, end, two) <= 0


def test_equal_antennas_need_on_the_plan_what_one_link_needs_by_itself():
    """At a point as far from both antennas, the reserve of the map is margin less need of the one link."""
    text = HALL.replace("facing_deg = 20\n", "facing_deg = 0\n").replace("facing_deg = -20\n", "facing_deg = 0\n")
    text = text.replace("length_m = 40", "length_m = 25")
    found = covered(text, "L01", [[12, 8]])
    job = job_of_hall(text)
    reach = link_reach(job, replace(job.links[0], distance_m=10.0), carriers={}, tables=TABLES, every_s=EVERY_S)
    margins = [one.margins_db[0] for one in found.heard]
    assert margins[0] == pytest.approx(margins[1])
    assert found.needed_db == pytest.approx((reach.walk.needed_alone_db, reach.walk.needed_db))
    assert found.reserve_db[0] == pytest.approx(margins[0] - reach.walk.needed_db)


def test_a_wall_costs_what_is_stated_on_every_way_through_it():
    there, bare = (
        covered(text, "L01", [[10, 14], [10, 8]]) for text in (HALL, HALL.replace("loss_db = 4", "loss_db = 0"))
    )
    for one, two in zip(there.heard, bare.heard, strict=True):
        assert (two.levels_dbm - one.levels_dbm).tolist() == pytest.approx([4.0, 0.0])


def test_an_in_ear_is_counted_from_its_antenna_to_the_person():
    found = covered(BARE, "E01", [[18, 10.5]])
    metres = math.hypot(10.0, 2.5 - 1.2)
    cable_db = TABLES.cable("rg-213").loss_db(length_m=20, frequency_hz=824.2e6)
    loss = 32.4478 + 20 * math.log10(824.2) + 20 * math.log10(metres / 1000)
    expected = 10 * math.log10(20) - cable_db + 2 - loss - 12
    assert level_of(found, "ear-antenna")[0] == pytest.approx(expected, abs=0.01)
    assert found.fading.alone
    assert len(found.needed_db) == 1


def test_the_antennas_that_are_best_together_count():
    margins = np.array([[60.0, 60.0, 10.0], [60.0, -40.0, 10.0], [0.0, -40.0, 10.0]])
    needed = (45.0, 20.0, 15.0)
    by_hand = [
        max(np.mean(part) - needed[len(part) - 1] for n in (1, 2, 3) for part in itertools.combinations(column, n))
        for column in margins.T
    ]
    assert reserves_db(margins, needed).tolist() == pytest.approx(by_hand)


def test_a_receiver_without_diversity_uses_its_first_antenna():
    found = covered(changed('diversity = "selection"\n', "", text=HALL), "L01", [[12, 8], [20, 3]])
    first = found.heard[0]
    assert found.reserve_db.tolist() == pytest.approx((first.margins_db - found.needed_db[0]).tolist())
    alone = outages(first.margins_db[None], Fading(rice_k=10**0.9))  # the 9 dB of the hall
    assert found.outage().tolist() == pytest.approx(alone.tolist())


def test_missing_facts_leave_a_part_of_the_map_and_say_what_is_lacking():
    no_need = covered(
        HALL.replace("needs_cn_db = 20\n", "").replace('defaults = "analogue-fm-wide"\n', OWN), "L01", [[5, 5]]
    )
    assert no_need.heard[0].margins_db is None
    assert no_need.reserve_db is None
    assert np.isfinite(no_need.heard[0].levels_dbm).all()
    assert "sensitivity_dbm with needs_cn_db" in {gap.key for gap in no_need.gaps}
    no_spot = covered(changed("at_m = [21, 0.5]\n", "", text=HALL), "L01", [[5, 5]])
    assert [item.antenna.id for item in no_spot.heard] == ["left"]
    assert ("right", "at_m") in {(gap.id, gap.key) for gap in no_spot.gaps}
    unfed = covered(changed('feeds = ["E01"]', 'feeds = ["M"]', text=HALL), "E01", [[5, 5]])
    assert unfed.heard == ()
    assert ("E01", "feeds", "it is left out of the map") in {(gap.id, gap.key, gap.meanwhile) for gap in unfed.gaps}
    unfaced = covered(changed("facing_deg = 20\n", "", text=HALL), "L01", [[12, 10]])
    assert ("left", "facing_deg") in {(gap.id, gap.key) for gap in unfaced.gaps}


OWN = "spacing_khz = 350\n"


def test_patterns_have_their_figures_at_half_the_beam_and_behind():
    degrees = np.array([0.0, 45.0, -45.0, 90.0, 180.0, 315.0, 405.0])
    stated = AntennaPattern(name="directional", beamwidth_deg=90, front_to_back_db=18)
    assert pattern_db(stated, degrees).tolist() == pytest.approx([0, -3, -3, -12, -18, -3, -3])
    assert pattern_db(AntennaPattern(name="omni"), degrees).tolist() == [0] * 7
    table = AntennaPattern(name="table", points=((0, 0), (90, -4), (180, -10)))
    assert pattern_db(table, degrees).tolist() == pytest.approx([0, -2, -2, -4, -10, -2, -2])
    around = AntennaPattern(name="table", points=((0, 0), (90, -6), (270, 0)))
    assert pattern_db(around, np.array([45.0, 180.0, -90.0, -45.0])).tolist() == pytest.approx([-3, -3, 0, 0])


def test_a_grid_covers_the_box_of_an_area_with_square_cells():
    grid = Grid.over(area_of(HALL), cells=48)
    assert (grid.columns, grid.rows, grid.step_m) == (48, 40, 0.5)
    points = grid.points_m()
    assert points[0].tolist() == [0.25, 0.25]
    assert points[-1].tolist() == [23.75, 19.75]


# ------------------------------------------------------------------------------------------------- the whole plan


@pytest.fixture(scope="module")
def hall():
    job = job_of_hall(HALL)
    return area_reach(job, job.links, carriers={}, tables=TABLES, every_s=EVERY_S, cells=60)


def test_the_worst_point_of_a_zone_is_the_least_of_all_its_points(hall):
    (theo,) = (one for one in hall.judged if one.facts.link.id == "L02")
    job = job_of_hall(HALL)
    rng = np.random.default_rng(3)
    inside = np.stack([rng.uniform(4, 20, 4000), rng.uniform(4, 11, 4000)], axis=1)
    anywhere = covered(HALL, "L02", inside)
    assert job.area.zone(theo.zone).name == "Stage"
    assert theo.worst.reserve_db <= anywhere.reserve_db.min() + 0.05
    there = covered(HALL, "L02", [theo.worst.at_m])
    assert theo.worst.reserve_db == pytest.approx(float(there.reserve_db[0]), abs=2 * MOST_DB)
    assert math.log10(theo.worst.outage) == pytest.approx(math.log10(there.outage()[0]), abs=0.05)


def test_links_alike_share_a_map_that_holds_the_least_of_them(hall):
    assert [kind.links for kind in hall.kinds] == [("L01", "L02", "M.1", "M.2", "M.3", "M.4"), ("E01",)]
    highest = covered(HALL, "M.1", hall.grid.points_m())
    assert hall.kinds[0].reserve_db.tolist() == pytest.approx(highest.reserve_db.tolist(), abs=0.1)


def test_walks_are_lowest_where_the_map_says_so(hall):
    (mara,) = (one for one in hall.judged if one.facts.link.id == "L01")
    ((walk, low),) = mara.walks
    assert walk.id == "entrance"
    everywhere = covered(HALL, "L01", [[1 + k * 0.05, 18] for k in range(201)])
    assert low.reserve_db <= everywhere.reserve_db.min() + 0.05


def test_points_outside_the_outline_are_masked(hall):
    kind = hall.kinds[0]
    rows = hall.sampled(kind.reserve_db, every=1)
    assert (len(rows), len(rows[0])) == (hall.grid.rows, hall.grid.columns)
    assert rows[-1][-1] is None  # the cut corner
    assert all(value is not None for value in rows[0])
    blocks = hall.sampled(kind.reserve_db, every=10)
    assert blocks[0][0] == min(rows[row][column] for row in range(10) for column in range(10))
    assert hall.sampled(kind.outage, every=10, most=True)[0][0] == pytest.approx(
        float(kind.outage.reshape(hall.grid.rows, -1)[:10, :10].max())
    )


def test_shadowing_tells_in_which_part_enough_is_to_be_expected(hall):
    (mara,) = (one for one in hall.judged if one.facts.link.id == "L01")
    assert mara.enough == 1.0
    assert 0.99 < mara.kept < 1.0
    job = job_of_hall(HALL.replace("shadowing_db = 4\n", ""))
    bare = area_reach(job, job.links[:1], carriers={}, tables=TABLES, every_s=EVERY_S, cells=20)
    assert bare.judged[0].kept is None


def test_a_link_without_a_distance_takes_the_farthest_corner_of_its_zone():
    job = job_of_hall(HALL)
    theo = next(link for link in job.links if link.id == "L02")
    assert with_distance(job, theo).distance_m == round(math.hypot(20 - 3, 11 - 0.5), 1)
    stated = replace(theo, distance_m=12.0)
    assert with_distance(job, stated) is stated
    assert with_distance(replace(job, area=None), theo) is theo


def test_a_job_without_a_plan_has_no_map():
    job = job_of_hall(HALL)
    assert area_reach(replace(job, area=None), job.links, carriers={}, tables=TABLES, every_s=EVERY_S) is None


# ------------------------------------------------------------------------------------------------- shared ways

MANY = changed("count = 4", "count = 40", text=HALL).replace("613.5", "641.9").replace("613.9", "642.1")


def many():
    """Return the hall with 40 packs of one kind on carriers over 35 MHz, and what belongs to them."""
    job = job_of_hall(MANY)
    rng = np.random.default_rng(11)
    carriers = {
        f"M.{k}": int(hz) for k, hz in enumerate(rng.choice(np.arange(606_500_000, 641_500_000, 25_000), 40), 1)
    }
    return job, carriers


def test_links_that_share_a_way_come_out_as_each_does_by_itself():
    """The plain loop: every link all over the plan by itself, on the carrier of its step."""
    job, carriers = many()
    found = area_reach(job, job.links, carriers=carriers, tables=TABLES, every_s=EVERY_S, cells=24)
    spots = PlanPoints.over(job.area, cells=24)
    bearers = bearers_of(job, job.links, carriers=carriers, tables=TABLES)
    least, ways = {}, set()
    for (facts, runs), judged in zip(bearers, found.judged, strict=True):
        reckoned = Steps(job.area, TABLES).reckoned(facts, runs)
        ways.add((facts.link.radio.id, reckoned.carrier_hz))
        (alone,) = coverage(job.area, [(reckoned, runs)], spots.points_m, tables=TABLES, every_s=EVERY_S)
        assert judged == replace(judged_link(job.area, reckoned, alone, spots), facts=facts)
        kept = least.setdefault(facts.link.radio.id, alone.reserve_db)
        least[facts.link.radio.id] = np.minimum(kept, alone.reserve_db)
    assert len(found.judged) == 43
    assert len(ways) < 12
    assert [kind.links[0] for kind in found.kinds] == ["L01", "E01"]
    for kind, radio in zip(found.kinds, ("heron", "siskin"), strict=True):
        assert kind.reserve_db.tolist() == least[radio][spots.on_grid].tolist()


def test_the_carrier_of_a_step_moves_no_figure_by_a_tenth_of_a_db(authority):
    job, carriers = many()
    bearers = bearers_of(job, job.links, carriers=carriers, tables=TABLES)
    points = np.random.default_rng(2).uniform((0.5, 0.5), (23.5, 14.5), (200, 2))
    worst = 0.0
    for facts, runs in bearers:
        reckoned = Steps(job.area, TABLES).reckoned(facts, runs)
        here, there = coverage(job.area, [(facts, runs), (reckoned, runs)], points, tables=TABLES, every_s=EVERY_S)
        worst = max(worst, float(np.abs(here.reserve_db - there.reserve_db).max()))
    assert 0 < worst <= 2 * MOST_DB
    authority(
        "Free-space loss half a step of carriers away",
        source="Rec. ITU-R P.525 by hand in the test",
        kind="arithmetic",
        ours=20 * math.log10(max(stepped_hz(hz) / hz for hz in range(606_000_000, 613_000_000, 25_000))),
        theirs=20 * math.log10(1 + STEP / 2),
        tolerance=0.0005,
        unit="dB",
    )


def test_where_a_filter_makes_more_of_it_a_link_stays_on_its_own_carrier():
    text = changed(
        '{ what = "cable", type = "rg-213", length_m = 25 }',
        '{ what = "filter", loss_db = 1, passband_mhz = [606, 607], stopband_db = 40 }',
        text=HALL,
    )
    job = job_of_hall(text)
    (facts, runs), *_ = bearers_of(job, job.links, carriers={}, tables=TABLES)
    inside, beyond = replace(facts, carrier_hz=606_950_000), replace(facts, carrier_hz=607_600_000)
    assert stepped_hz(606_950_000) == stepped_hz(607_600_000)
    reckoned = [Steps(job.area, TABLES).reckoned(one, runs).carrier_hz for one in (inside, beyond)]
    assert 606_950_000 in reckoned or 607_600_000 in reckoned
    assert len(set(reckoned)) == 2

"""Spots for antennas, and packs that come too near. Authorities: every set by hand, and free space by hand."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from area_examples import HALL, job_of_hall
from brief_examples import changed

from bandwright.core.reach.area import Candidate
from bandwright.core.reach.area_points import PlanPoints
from bandwright.core.reach.area_reach import area_reach, bearers_of
from bandwright.core.reach.coverage import coverage
from bandwright.core.reach.near_far import Sender, near_limits, strong_signals
from bandwright.core.reach.placing import Kind, best_spots, two_apart
from bandwright.reference import reach_tables

TABLES = reach_tables()
EVERY_S = 600


@pytest.fixture(scope="module")
def hall():
    job = job_of_hall(HALL)
    (facts, runs), *_ = bearers_of(job, job.links, carriers={}, tables=TABLES)
    points = np.stack(np.meshgrid(np.linspace(0.5, 23.5, 24), np.linspace(0.5, 14.5, 15)), axis=-1).reshape(-1, 2)
    return job.area, Kind(facts=facts, runs=tuple(runs), points_m=points)


def worst_by_hand(area, kind, names):
    """Return the worst point of a set of spots, from antennas that really stand there."""
    spots = [one for one in area.candidates if one.id in names]
    runs = []
    for spot in spots:
        first = kind.runs[0]
        antenna = replace(first.antenna, id=spot.id, at_m=spot.at_m, height_m=spot.height_m, facing_deg=spot.facing_deg)
        runs.append(replace(first, id=spot.id, antenna=antenna))
    (found,) = coverage(area, [(kind.facts, runs)], kind.points_m, tables=TABLES, every_s=EVERY_S)
    return float(found.reserve_db.min())


@pytest.mark.parametrize("antennas", [1, 2, 3])
def test_of_all_sets_the_best_one_is_named(hall, antennas, authority):
    area, kind = hall
    found = best_spots(area, [kind], antennas=antennas, tables=TABLES, every_s=EVERY_S)
    by_hand = {
        names: worst_by_hand(area, kind, names)
        for names in itertools.combinations([one.id for one in area.candidates], antennas)
    }
    assert (found.every, found.sets, found.candidates) == (True, math.comb(6, antennas), 6)
    authority(
        f"Best positions for {antennas} antennas",
        source="every set of positions judged by itself",
        kind="arithmetic",
        ours=found.best[0].reserve_db,
        theirs=max(by_hand.values()),
        tolerance=0.1,  # how alike two antennas fade is rounded to a fiftieth
        unit="dB",
    )
    assert by_hand[found.best[0].ids] >= max(by_hand.values()) - 0.1
    ranked = [one.reserve_db for one in found.best]
    assert ranked == sorted(ranked, reverse=True)


def test_with_too_many_sets_spots_are_exchanged_and_that_is_told(hall):
    area, kind = hall
    rng = np.random.default_rng(8)
    many = tuple(
        Candidate(id=f"c{k}", name=f"c{k}", at_m=(float(x), float(y)), height_m=3.0)
        for k, (x, y) in enumerate(rng.uniform((0, 0), (24, 15), (14, 2)))
    )
    wide = replace(area, candidates=many)
    every = best_spots(wide, [kind], antennas=3, tables=TABLES, every_s=EVERY_S)
    found = best_spots(wide, [kind], antennas=3, tables=TABLES, every_s=EVERY_S, most_sets=10)
    assert every.every
    assert not found.every
    assert found.sets == math.comb(14, 3)
    assert every.best[-1].reserve_db - 3 <= found.best[0].reserve_db <= every.best[0].reserve_db + 1e-9


def test_without_spots_or_facts_nothing_is_placed(hall):
    area, kind = hall
    bare = replace(area, candidates=())
    assert best_spots(bare, [kind], antennas=1, tables=TABLES, every_s=EVERY_S) is None
    unknown = replace(kind, facts=replace(kind.facts, power_mw=None))
    assert best_spots(area, [unknown], antennas=2, tables=TABLES, every_s=EVERY_S) is None
    assert two_apart(area, [unknown], area.candidates[0], tables=TABLES, every_s=EVERY_S) is None


def test_two_antennas_on_one_stand_bring_what_two_fading_branches_bring(hall):
    area, kind = hall
    spot = area.candidates[0]
    found = two_apart(area, [kind], spot, tables=TABLES, every_s=EVERY_S)
    (alone,) = coverage(area, [(kind.facts, kind.runs)], kind.points_m, tables=TABLES, every_s=EVERY_S)
    saved = alone.needed_db[0] - alone.needed_db[1]
    # The two stand 1 m to either side, so that levels differ a little from those at the spot.
    assert found.two.reserve_db - found.one.reserve_db == pytest.approx(saved, abs=2.0)


# ------------------------------------------------------------------------------------------------------------- near


def near_of(text, antenna="left", zone=None):
    job = job_of_hall(text)
    bearers = bearers_of(job, job.links, carriers={}, tables=TABLES)
    limits, gaps = near_limits(job.area, bearers, tables=TABLES)
    return {(one.antenna.id, one.zone): one for one in limits}.get((antenna, zone)), gaps


FLAT = HALL.replace("height_m = 2\n", "").replace('type = "rg-213", length_m = 25', "loss_db = 4.1")


def test_how_close_a_pack_may_come_is_free_space_by_hand(authority):
    limit, gaps = near_of(FLAT)
    clips_dbm = -18 - 9.6357 + 4.1 + 10 * math.log10(4)  # 1 dB point of a cubic, behind cable and splitter
    level_at_1_m = 10 * math.log10(50) + 2.15 - 5 + 6 - (32.4478 + 20 * math.log10(606.7) - 60)
    authority(
        "Distance at which a pack drives a receiver to its 1 dB point",
        source="Rec. ITU-R P.525 and the 1 dB point of a cubic by hand in the test",
        kind="arithmetic",
        ours=limit.radius_m,
        theirs=10 ** ((level_at_1_m - clips_dbm) / 20),
        tolerance=0.01,
        unit="m",
    )
    assert gaps == ()
    assert limit.enters
    assert not limit.stated
    ahead = max(math.dist(limit.antenna.at_m, corner) for corner in limit.ring_m)
    behind = min(math.dist(limit.antenna.at_m, corner) for corner in limit.ring_m)
    assert 20 * math.log10(ahead / behind) == pytest.approx(14, abs=0.1)  # its front to back


def test_an_antenna_high_up_is_farther_from_a_pack_than_over_the_ground():
    flat, _ = near_of(FLAT)
    high, _ = near_of(changed('id = "left"\n', 'id = "left"\nheight_m = 2.7\n', text=FLAT))
    assert high.radius_m == pytest.approx(math.sqrt(flat.radius_m**2 - 1.5**2), abs=0.01)
    out_of_reach, _ = near_of(changed('id = "left"\n', 'id = "left"\nheight_m = 30\n', text=FLAT))
    assert out_of_reach.radius_m == 0
    assert not out_of_reach.enters


def test_the_receiver_that_is_driven_there_first_counts_not_the_first_one_listed():
    flat, _ = near_of(FLAT, zone="stage")
    picky = "iip3_dbm = -18\nselectivity = [{ offset_khz = 100, db = 30 }]"
    found, _ = near_of(changed("iip3_dbm = -18", picky, text=FLAT), zone="stage")
    # Its own receiver weakens nothing of a pack, however far from it the receiver of the first link is tuned.
    assert found.radius_m == pytest.approx(flat.radius_m, rel=1e-9)


def test_a_zone_that_stays_away_does_not_enter():
    stage, _ = near_of(FLAT, zone="stage")
    assert stage.link in {"M.1", "L02"}
    assert stage.enters is (math.dist((3, 0.5), (4, 4)) < stage.radius_m)


def test_without_an_intercept_point_the_limit_is_asked_for():
    limit, gaps = near_of(FLAT.replace("iip3_dbm = -18\n", ""))
    assert limit is None
    assert {(gap.table, gap.id, gap.key) for gap in gaps} == {("radio", "heron", "iip3_dbm or p1db_dbm")}


def test_a_stated_1_db_point_counts():
    limit, _ = near_of(FLAT.replace("iip3_dbm = -18\n", "iip3_dbm = -18\np1db_dbm = -20\n"))
    assert limit.stated
    assert limit.limit_dbm == pytest.approx(-20 + 4.1 + 10 * math.log10(4))


def test_a_transmitter_that_stays_put_arrives_as_by_hand(authority):
    job = job_of_hall(FLAT)
    bearers = bearers_of(job, job.links, carriers={}, tables=TABLES)
    sender = Sender(name="x", at_m=(3.0, 10.5), eirp_dbm=30.0, carrier_hz=463_400_000)
    found = {one.antenna.id: one for one in strong_signals(job.area, bearers, [sender], tables=TABLES)}
    off = 20 * math.pi / 180
    authority(
        "Level of a fixed transmitter at an antenna",
        source="Rec. ITU-R P.525 by hand in the test",
        kind="arithmetic",
        ours=found["left"].level_dbm,
        theirs=30 + 6 - (32.4478 + 20 * math.log10(463.4) - 40) - 12 * (math.degrees(off) / 100) ** 2,
        tolerance=0.005,
        unit="dB",
    )


def test_the_antenna_of_an_in_ear_counts_as_a_transmitter_that_stays_put():
    job = job_of_hall(HALL)
    found = area_reach(job, job.links, carriers={}, tables=TABLES, every_s=EVERY_S, cells=12)
    names = {one.sender.name for one in found.strong}
    assert names == {"House talkback", "Mara's ears from Ears"}
    nearest = found.strong[0]
    assert nearest.limit_dbm - nearest.level_dbm == min(one.limit_dbm - one.level_dbm for one in found.strong)


# ------------------------------------------------------------------------------------------------- for whom


def test_each_zone_and_in_ears_have_a_ranking_of_their_own(authority):
    """Authority: each candidate judged by itself at a plain grid of points of the zone, link by link."""
    job = job_of_hall(HALL)
    found = area_reach(job, job.links, carriers={}, tables=TABLES, every_s=EVERY_S, cells=40)
    spots = PlanPoints.over(job.area, cells=40)
    bearers = bearers_of(job, job.links, carriers={}, tables=TABLES)
    for placing in (one for one in found.placing if one.antennas == 1):
        worst = {}
        for spot in job.area.candidates:
            least = []
            for facts, runs in bearers:
                if facts.link.id not in placing.links:
                    continue
                first = runs[0]
                antenna = replace(
                    first.antenna, id=spot.id, at_m=spot.at_m, height_m=spot.height_m, facing_deg=spot.facing_deg
                )
                (one,) = coverage(
                    job.area,
                    [(facts, [replace(first, antenna=antenna)])],
                    spots.points_m,
                    tables=TABLES,
                    every_s=EVERY_S,
                )
                counted = spots.in_zone(facts.link.zone)
                counted[spots.walks["entrance"]] = True
                least.append(one.reserve_db[counted].min())
            worst[spot.id] = min(least)
        authority(
            f"Best position for {'microphones' if placing.inward else 'in-ears'} in {len(placing.zones)} zones",
            source="every position judged by itself, link by link",
            kind="arithmetic",
            ours=placing.best[0].reserve_db,
            theirs=max(worst.values()),
            tolerance=0.05,
            unit="dB",
        )
        assert placing.best[0].ids == (max(worst, key=worst.get),)
    assert {one.inward for one in found.placing} == {True, False}


def test_what_they_have_now_is_the_worst_of_the_links_that_count():
    job = job_of_hall(HALL)
    found = area_reach(job, job.links, carriers={}, tables=TABLES, every_s=EVERY_S, cells=40)
    now = {one.facts.link.id: one.worst.reserve_db for one in found.judged}
    for placing in found.placing:
        assert placing.now_db == min(now[link] for link in placing.links)
    assert found.placing[0].now_db == found.now_db

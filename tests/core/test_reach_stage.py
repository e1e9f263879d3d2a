"""Stages: where packs may be, what arrives of whom, and carrier to interference in pictures."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from thorough import cases

from bandwright.core.bands import Span
from bandwright.core.job import Isolation, Job, Place, Wishes
from bandwright.core.kit import Direction, Emission, Link, MakesProducts, Other, PowerKind, RadioType, TuningRange, Worn
from bandwright.core.permits import Permit, PermitState
from bandwright.core.planning.assess import assess_plan
from bandwright.core.planning.build import compile_job
from bandwright.core.planning.khz_rules import eased
from bandwright.core.planning.plan import Status
from bandwright.core.reach.area import Area, Zone
from bandwright.core.reach.levels import Made, interference
from bandwright.core.reach.levels_rows import rows_of
from bandwright.core.reach.path import free_space_loss_db
from bandwright.core.reach.plan_levels import with_levels
from bandwright.core.reach.stage import LEAST_M, SIDE_BY_SIDE_M, stage_of
from bandwright.core.reach.stage_pictures import (
    adverse_model,
    assess_levels,
    picture_model,
    ratios_in_pictures,
)
from bandwright.core.reach.stage_spots import Spot, distances_m
from bandwright.core.rig import Antenna, Part, PartKind, Run
from bandwright.reference import tables as reference

RADIO = RadioType(
    id="heron",
    name="Heron",
    direction=Direction.FROM_PERSON,
    emission=Emission.FM,
    bandwidth_hz=200_000,
    spacing_hz=350_000,
    clearance_hz=(("2A-B", 100_000), ("A+B-C", 51_001)),
    tuning=(TuningRange(low_hz=600_000_000, high_hz=640_000_000, step_hz=25_000),),
    power_mw=(50.0,),
    power_kind=PowerKind.ERP,
    peak_deviation_hz=48_000,
    needs_cn_db=30.0,
    iip3_dbm=0.0,
    transmit_im_loss_db=10.0,
)


def _link(name, *, radio=RADIO, **facts):
    return Link(**{"id": name, "name": name, "radio": radio, "worn": Worn.BODY, "body_loss_db": 0.0, **facts})


def _job(*links, others=(), zones=(), **facts):
    antenna = Antenna(id="a", name="a", gain_dbi=0.0, at_m=(0.0, 0.0))
    window = Span(600_000_000, 640_000_000)
    area = Area(outline_m=((-50, -50), (50, -50), (50, 50), (-50, 50)), zones=tuple(zones)) if zones else None
    return Job(
        title="t",
        places=(Place(id="p", name="p", timezone="UTC", **facts),),
        permits=(Permit(id="e", reference="e", state=PermitState.GRANTED, windows=(window,)),),
        radios=(RADIO,),
        links=links,
        others=tuple(others),
        runs=(Run(id="r", name="r", antenna=antenna),),
        area=area,
    )


def _stage(job, links=None):
    return stage_of(job, job.links if links is None else links, tables=reference.reach_tables())


def _square(name, x, y, half=1.0):
    corners = ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half))
    return Zone(id=name, name=name, corners_m=corners)


def test_spots_know_their_nearest_and_farthest_points():
    square = Spot(corners_m=((9.0, -1.0), (11.0, -1.0), (11.0, 1.0), (9.0, 1.0)))
    near, far = distances_m(Spot(), square)
    assert (near, far) == (pytest.approx(9.0, abs=0.01), pytest.approx(math.hypot(11, 1)))
    assert distances_m(Spot(middle_m=(10.0, 0.0)), square)[0] == 0.0
    assert distances_m(Spot(radius_m=3.0), Spot(middle_m=(10.0, 0.0), radius_m=2.0)) == (5.0, 15.0)


@given(shapes=st.lists(st.lists(st.tuples(st.floats(-30, 30), st.floats(-30, 30)), min_size=3, max_size=3), min_size=2,
       max_size=2), radius=st.floats(0, 20))  # fmt: skip
@settings(max_examples=cases(60), deadline=None)
def test_nearest_and_farthest_points_are_those_of_edges_cut_fine(shapes, radius):
    """Authority: points every few centimetres along both edges, in plain numpy."""
    for corners in shapes:
        (ax, ay), (bx, by), (cx, cy) = corners
        assume(abs((bx - ax) * (cy - ay) - (by - ay) * (cx - ax)) > 5)
    one, two = (Spot(corners_m=tuple(map(tuple, corners))) for corners in shapes)
    fine = [np.concatenate([np.linspace(a, b, 1500) for a, b in zip(c, [*c[1:], c[0]], strict=True)]) for c in shapes]
    gaps = np.concatenate([np.hypot(*(fine[0] - point).T) for point in fine[1]])
    overlap = one.holds(fine[1]).any() or two.holds(fine[0]).any()
    near, far = distances_m(one, two)
    assert near == pytest.approx(0.0 if overlap else gaps.min(), abs=0.15)
    assert far == pytest.approx(gaps.max(), abs=1e-9)
    disc = Spot(middle_m=(40.0, 40.0), radius_m=radius)
    away = np.hypot(*(fine[0] - np.array(disc.middle_m)).T)
    near, far = distances_m(disc, one)
    assert (near, far) == (
        pytest.approx(max(0.0, away.min() - radius), abs=0.1),
        pytest.approx(away.max() + radius, abs=1e-9),
    )


def test_a_long_thin_way_is_a_zone_like_any_other():
    way = Spot(corners_m=((0.0, 0.0), (5000.0, 5000.0), (5000.0, 5002.0), (0.0, 2.0)))
    points = way.draw(np.random.default_rng(1), 4000)
    assert np.abs(points[:, 1] - points[:, 0] - 1.0).max() <= 1.0 + 1e-9
    assert points.mean(axis=0) == pytest.approx([2500, 2501], rel=0.05)
    assert distances_m(way, Spot(middle_m=(2500.0, 2498.0)))[0] == pytest.approx(math.sqrt(2))


def test_one_link_that_is_asked_for_comes_out_as_among_all():
    job = _job(*(_link(f"L{i}", distance_m=20.0) for i in range(6)))
    carriers = [600_400_000 + 400_000 * i for i in range(6)]
    stage = _stage(job)

    def found(which):
        links = assess_levels(which, carriers, np.random.default_rng(4), pictures=400).links
        return {item.member: item for item in links}

    every, one = found(stage), found(replace(stage, asked=frozenset({3})))
    assert set(every) == set(range(6))
    assert set(one) == {3}
    assert (one[3].worst_db, one[3].quantile_db) == pytest.approx((every[3].worst_db, every[3].quantile_db))
    assert one[3].strongest == every[3].strongest


def test_of_two_runs_the_one_with_the_lower_intercept_point_counts(authority):
    radio = replace(RADIO, transmit_im_loss_db=None, iip3_dbm=30.0)  # strong, so that nothing limits
    job = _job(*(_link(f"L{i}", radio=radio, distance_m=20.0) for i in range(3)))
    (plain,) = job.runs
    boosted = Run(
        id="b",
        name="b",
        antenna=replace(plain.antenna, id="b", name="b"),
        parts=(Part(what=PartKind.AMPLIFIER, gain_db=15.0, noise_figure_db=3.0, iip3_dbm=70.0),),
    )
    both = replace(job, runs=(plain, boosted))
    carriers = [600_400_000, 600_800_000, 601_200_000]
    one, two = (
        interference(stage_of(item, job.links, tables=reference.reach_tables()).worst(), carriers, fifth=False)[0]
        for item in (job, both)
    )
    authority(
        "Carrier to interference behind an amplifier of 15 dB against none",
        source="2 dB for each dB of intercept point, which a strong amplifier moves by its gain, by hand in the test",
        kind="arithmetic",
        ours=one.ratio_db - two.ratio_db,
        theirs=30.0,
        tolerance=0.02,
        unit="dB",
    )
    assert two.strongest.made is Made.RECEIVER


def test_points_drawn_in_a_polygon_lie_inside_and_spread_evenly(authority):
    triangle = Spot(corners_m=((0.0, 0.0), (6.0, 0.0), (0.0, 3.0)))
    points = triangle.draw(np.random.default_rng(2), 40_000)
    assert triangle.holds(points).all()
    authority(
        "Mean of points drawn in a triangle, x in m",
        source="its centroid, the mean of its corners",
        ours=float(points[:, 0].mean()),
        theirs=2.0,
        tolerance=0.03,
        kind="arithmetic",
    )


def test_points_drawn_in_a_disc_lie_at_two_thirds_of_its_radius_in_the_mean():
    away = np.hypot(*Spot(radius_m=3.0).draw(np.random.default_rng(2), 40_000).T)
    assert away.max() <= 3.0
    assert away.mean() == pytest.approx(2.0, abs=0.02)


def test_the_worst_picture_has_culprits_near_and_the_wanted_far():
    job = _job(
        _link("one", zone="y"), _link("two", zone="z"), zones=[_square("y", 0.0, 15.0, 15.0), _square("z", 10.0, 0.0)]
    )
    stage = _stage(job)
    eirp = 10 * math.log10(50) + 2.15
    model, hz = stage.worst(), stage.actors[0].frequency_hz
    assert model.level_dbm[0, 0] == pytest.approx(
        eirp - free_space_loss_db(distance_m=math.hypot(30, 15), frequency_hz=hz), abs=0.01
    )
    assert model.level_dbm[0, 1] == pytest.approx(eirp - free_space_loss_db(distance_m=9.0, frequency_hz=hz), abs=0.01)
    # One zone reaches over the antenna: nobody comes nearer than a metre.
    assert model.level_dbm[1, 0] == pytest.approx(
        eirp - free_space_loss_db(distance_m=LEAST_M, frequency_hz=hz), abs=0.01
    )
    beside = free_space_loss_db(distance_m=SIDE_BY_SIDE_M, frequency_hz=hz) + 10.0
    assert model.made_db[0, 1] == pytest.approx(beside, abs=0.01)


def test_earshots_take_their_isolation_from_levels_and_silence_what_is_not_heard():
    links = [_link(name, distance_m=10.0, earshots=frozenset({shot})) for name, shot in zip("abc", "xyz", strict=True)]
    job = replace(_job(*links), isolations=(Isolation(one="x", two="y", isolation_db=17.0),))
    stage, alone = _stage(job), _stage(_job(*(replace(link, earshots=frozenset()) for link in links)))
    assert alone.worst().level_dbm[0, 1] - stage.worst().level_dbm[0, 1] == pytest.approx(17.0)
    assert stage.worst().level_dbm[0, 2] == -math.inf
    drawn = picture_model(stage, np.random.default_rng(1)).level_dbm
    assert drawn[0, 2] == -math.inf
    assert np.isfinite(drawn[0, 1])


def test_other_users_take_part_by_their_level_unless_they_make_no_products():
    others = [
        Other(id="loud", name="loud", carrier_hz=610_000_000, bandwidth_hz=100_000, level_dbm=-20.0),
        Other(id="silent", name="silent", carrier_hz=611_000_000, bandwidth_hz=100_000, level_dbm=-20.0,
              makes_products=MakesProducts.NO),
        Other(id="unknown", name="unknown", carrier_hz=612_000_000, bandwidth_hz=100_000),
    ]  # fmt: skip
    stage = _stage(_job(_link("a", distance_m=10.0), others=others))
    model = stage.worst()
    assert model.level_dbm[0, 1:].tolist() == [-20.0, -20.0, -45.0]
    assert model.makes.tolist() == [True, True, False, True]
    assert [(gap.id, gap.key) for gap in stage.gaps if gap.table == "other"] == [("unknown", "level_dbm")]
    found = interference(model, [609_000_000, 610_000_000, 611_000_000, 612_000_000])
    assert len(found) == 1  # others are no victims


def test_missing_facts_are_told_and_their_links_are_unknown():
    bare = replace(RADIO, iip3_dbm=None, transmit_im_loss_db=None, needs_cn_db=None, power_mw=())
    stage = _stage(_job(_link("a", radio=bare), _link("b", distance_m=5.0)))
    keys = {(gap.table, gap.key) for gap in stage.gaps}
    assert {("link", "zone or distance_m"), ("radio", "iip3_dbm"), ("radio", "transmit_im_loss_db"),
            ("radio", "needs_cn_db"), ("radio", "power_mw")} <= keys  # fmt: skip
    assert [stage.known(member) for member in range(2)] == [False, True]
    assert stage.worst().victim.tolist() == [False, True]


def test_pictures_agree_with_levels_worked_out_one_by_one(authority):
    # A stage where nothing is left to chance: every picture is the same, and the whole sum can be held against it.
    zones = [_square(str(i), 5.0 + 3 * i, 2.0 * i, half=1e-6) for i in range(6)]
    links = [_link(f"L{i}", zone=str(i)) for i in range(6)]
    stage = _stage(_job(*links, zones=zones))
    f = [607_000_000, 607_450_000, 608_000_000, 608_650_000, 609_400_000, 610_250_000]
    model = picture_model(stage, np.random.default_rng(1))
    expected = {item.victim: item.ratio_db for item in interference(model, f)}
    drawn = ratios_in_pictures(stage, rows_of(stage.worst(), f), np.random.default_rng(3), pictures=7)
    assert np.allclose(drawn, drawn[0])
    authority(
        "Carrier to interference in pictures, largest difference from one worked out by itself, in dB",
        source="the sum over products for the same positions",
        ours=float(max(abs(drawn[0, v] - db) for v, db in expected.items() if db < 80)),
        theirs=0.0,
        tolerance=0.05,
        kind="arithmetic",
    )


def test_equal_seeds_draw_equal_pictures_and_95_of_100_keep_the_quantile():
    stage = _stage(_job(*(_link(f"L{i}", distance_m=12.0 + i) for i in range(5)), shadowing_db=4.0))
    f = [607_000_000, 607_450_000, 608_000_000, 608_650_000, 609_100_000]
    one, two = (assess_levels(stage, f, np.random.default_rng(5), pictures=400) for _ in range(2))
    assert one.links == two.links
    ratios = ratios_in_pictures(stage, one.rows, np.random.default_rng(5), pictures=400)
    for item in one.links:
        assert np.mean(ratios[:, item.member] >= item.quantile_db) >= 0.95
        assert item.worst_db <= item.quantile_db <= item.median_db


def test_adverse_levels_lie_between_the_worst_and_the_middle():
    stage = _stage(_job(*(_link(f"L{i}", distance_m=12.0 + i) for i in range(3))))
    worst, adverse = stage.worst(), adverse_model(stage, np.random.default_rng(1))
    drawn = [picture_model(stage, np.random.default_rng(seed)) for seed in range(60)]
    middle = np.median([model.level_dbm for model in drawn], axis=0)
    assert np.all(np.diag(worst.level_dbm) <= np.diag(adverse.level_dbm) + 1e-9)
    assert np.all(np.diag(adverse.level_dbm) < np.diag(middle))
    assert middle[0, 1] < adverse.level_dbm[0, 1] <= worst.level_dbm[0, 1]


def test_two_packs_that_only_interfere_side_by_side_are_named():
    names = ("Mara", "Theo", "Lena")
    links = [_link(name, distance_m=25.0) for name in names]
    job = _job(*links)
    f = [610_000_000, 612_000_000, 608_000_000]  # 2 x Mara - Theo falls on Lena
    compiled = compile_job(job)
    plan = assess_plan(compiled, f)
    told = with_levels(job, plan, _stage(job), f, np.random.default_rng(1), pictures=500)
    beside = told.levels.side_by_side[0]
    assert (beside.one, beside.two, beside.victim) == ("Mara", "Theo", "Lena")
    sentence = next(warn.text for warn in told.warnings if warn.code == "side-by-side")
    assert sentence.startswith("Mara next to Theo: only while they are side by side, Lena has as little as ")
    lena = next(link for link in told.links if link.id == "Lena")
    assert lena.carrier_to_interference.culprit.made in {Made.RECEIVER.value, Made.TRANSMITTER.value}


def test_a_thin_level_margin_is_a_caution_and_an_unknown_level_is_none_but_is_told():
    quiet = replace(RADIO, iip3_dbm=None)
    job = _job(_link("near", zone="n"), _link("far", zone="f"), _link("deaf", radio=quiet, distance_m=5.0),
               zones=[_square("n", 2.0, 0.0), _square("f", 40.0, 0.0)])  # fmt: skip
    f = [610_000_000, 610_200_000, 620_000_000]  # so close that the near pack reaches into the far one's band
    plain = assess_plan(compile_job(job), f)
    told = with_levels(job, plain, _stage(job), f, np.random.default_rng(1), pictures=200)
    by_id = {link.id: link for link in told.links}
    assert "level-margin" in by_id["far"].cautions
    before = next(link for link in plain.links if link.id == "deaf")
    assert (by_id["deaf"].cautions, by_id["deaf"].status) == (before.cautions, before.status)
    assert by_id["deaf"].carrier_to_interference is None
    assert by_id["far"].status is not Status.CLEAR
    assert told.levels.unknown == ("deaf",)
    (note,) = (warn.text for warn in told.warnings if warn.code == "levels-partial")
    none = "1 of 3 links has none (product levels not known): deaf."
    assert note.startswith(f"Predicted levels are partial; {none} Fill in iip3_dbm of radio heron")


def test_khz_rules_are_eased_only_where_levels_are_predicted():
    deaf = replace(RADIO, id="wren", iip3_dbm=None)
    job = _job(_link("a", distance_m=5.0), _link("b", radio=deaf))
    relaxed, off = (eased(replace(job, wishes=Wishes(khz_rules=word))) for word in ("relaxed", "off"))
    assert relaxed.links[0].radio.clearance_hz == (("2A-B", 50_000), ("A+B-C", 25_501))
    assert off.links[0].radio.clearance_hz == off.radios[0].clearance_hz == ()
    assert relaxed.links[1].radio.clearance_hz == off.links[1].radio.clearance_hz == deaf.clearance_hz
    assert eased(job) is job


def test_a_link_without_zone_may_be_anywhere_on_the_plan_and_an_antenna_without_place_is_told():
    job = _job(_link("a"), zones=[_square("z", 10.0, 0.0)])
    bare = replace(job.runs[0], antenna=replace(job.runs[0].antenna, at_m=None))
    stage = _stage(replace(job, runs=(bare,)))
    assert stage.actors[0].sends_from.corners_m == job.area.outline_m
    assert stage.actors[0].hears_at.middle_m == job.area.middle_m
    assert [(gap.table, gap.key) for gap in stage.gaps] == [("antenna", "at_m")]

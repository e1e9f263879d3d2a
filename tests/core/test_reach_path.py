"""Loss through the air, walls and cables. Authorities: Recommendations, textbooks, and sums by another road."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bandwright.core.reach.cable import Cable, fitted
from bandwright.core.reach.models import PathFacts, path_models
from bandwright.core.reach.path import chance_above, free_space_loss_db, two_ray_loss_db
from bandwright.core.reach.walls import slab_loss_db
from bandwright.reference import reach_tables

TABLES = reach_tables()
MODELS = path_models(TABLES)


def test_free_space_loss_is_that_of_the_recommendation(authority, authority_table):
    table = authority_table("reach")["free_space_db"]
    for mhz, metres, db in table["rows_mhz_m_db"]:
        ours = free_space_loss_db(distance_m=metres, frequency_hz=mhz * 1e6)
        # The table has two decimals.
        authority("Free-space loss", source=table["source"], ours=ours, theirs=db, tolerance=0.005, unit="dB")


def test_fifty_watts_arrive_as_in_the_textbook(authority, authority_table):
    table = authority_table("reach")["received_dbm"]
    for metres, dbm in table["rows_m_dbm"]:
        ours = table["power_dbm"] - free_space_loss_db(distance_m=metres, frequency_hz=table["mhz"] * 1e6)
        # One decimal is printed.
        authority("Received power", source=table["source"], ours=ours, theirs=dbm, tolerance=0.06, kind="memory")


def test_the_field_over_flat_ground_is_that_of_the_textbook(authority, authority_table):
    table = authority_table("reach")["two_ray"]
    hz, metres = table["mhz"] * 1e6, table["distance_m"]
    over_ground = two_ray_loss_db(distance_m=metres, frequency_hz=hz, low_m=table["low_m"], high_m=table["high_m"])
    gain = free_space_loss_db(distance_m=metres, frequency_hz=hz) - over_ground
    ours = table["field_v_per_m_at_1_km"] * 1000 / metres * 10 ** (gain / 20) * 1e6
    # The book puts the angle (0.283) for its sine (0.279), which is 1.3 % or 0.11 dB.
    authority(
        "Field over flat ground, two rays",
        source=table["source"],
        ours=ours,
        theirs=table["field_v_per_m"] * 1e6,
        tolerance=1.5,
        kind="memory",
        unit="uV/m",
    )


def test_far_out_twice_the_distance_costs_twelve_db_over_ground():
    near, far = (two_ray_loss_db(distance_m=metres, frequency_hz=606e6, low_m=1.2, high_m=3) for metres in (2000, 4000))
    assert far - near == pytest.approx(12.04, abs=0.1)


@given(st.floats(1e-9, 1e-3), st.floats(1e-9, 1e-3), st.floats(1, 1e5))
def test_heights_of_next_to_nothing_still_give_a_number(low_m, high_m, distance_m):
    assert math.isfinite(two_ray_loss_db(distance_m=distance_m, frequency_hz=606e6, low_m=low_m, high_m=high_m))


def test_indoor_losses_are_those_of_the_recommendation(authority, authority_table):
    table = dict(authority_table("reach")["indoor_600_mhz_10_m_db"])
    source = table.pop("source")
    for name, db in table.items():
        ours = MODELS[name].loss_db(PathFacts(distance_m=10, frequency_hz=0.6e9))
        authority("Indoor loss, site-general", source=source, ours=ours, theirs=db, tolerance=0.005, unit="dB")


def test_leaving_the_published_ranges_is_told():
    inside = PathFacts(distance_m=20, frequency_hz=0.7e9)
    outside = PathFacts(distance_m=200, frequency_hz=0.6e9)
    assert MODELS["industrial-los"].outside(inside) == ()
    assert MODELS["industrial-los"].outside(outside) == (
        "600 MHz, and industrial-los is published for 0.625 to 70.28 GHz",
        "200 m, and industrial-los is published for 2 to 101 m",
    )
    assert MODELS["free-space"].outside(outside) == ()
    (near,) = MODELS["free-space"].outside(PathFacts(distance_m=0.2, frequency_hz=0.6e9))
    assert "closer than a wavelength" in near


def test_an_exponent_of_two_is_free_space():
    facts = PathFacts(distance_m=35, frequency_hz=606e6, exponent=2)
    ours = MODELS["log-distance"].loss_db(facts)
    assert ours == pytest.approx(free_space_loss_db(distance_m=35, frequency_hz=606e6))


def test_a_model_without_what_it_needs_is_our_mistake():
    with pytest.raises(ValueError, match="without a fact that it needs"):
        MODELS["two-ray"].loss_db(PathFacts(distance_m=35, frequency_hz=606e6))


def test_shadowing_leaves_the_share_of_the_textbook(authority, authority_table):
    table = authority_table("reach")["shadowing"]
    ours = chance_above(margin_db=table["mean_dbm"] - table["threshold_dbm"], sigma_db=table["sigma_db"])
    # The book reads Q from a table of two decimals.
    authority(
        "Share above a level under shadowing",
        source=table["source"],
        ours=ours,
        theirs=table["chance"],
        tolerance=0.002,
        kind="memory",
    )
    assert (chance_above(margin_db=1, sigma_db=0), chance_above(margin_db=-1, sigma_db=0)) == (1.0, 0.0)


def through_a_line(permittivity, thickness_m, frequency_hz):
    """The same wall as a piece of line of another impedance between two of free space: ABCD matrix, then S21."""
    k = 2 * math.pi * frequency_hz / 299_792_458 * np.sqrt(complex(permittivity))
    z = 376.730313668 / np.sqrt(complex(permittivity))
    gamma = 1j * k
    a, b = np.cosh(gamma * thickness_m), z * np.sinh(gamma * thickness_m)
    c = np.sinh(gamma * thickness_m) / z
    z0 = 376.730313668
    return -20 * math.log10(abs(2 / (2 * a + b / z0 + c * z0)))


@pytest.mark.parametrize("material", TABLES.materials, ids=lambda item: item.name)
def test_a_wall_is_a_piece_of_line(material, authority):
    if material.name == "metal":
        assert slab_loss_db(permittivity=material.permittivity(606e6), thickness_m=0.01, frequency_hz=606e6) > 100
        return
    for thickness_m in (0.012, 0.1, 0.24):
        eta = material.permittivity(606e6)
        authority(
            "Loss through one layer of a building material",
            source="transmission-line (ABCD) matrix of the same layer, computed in the test",
            kind="arithmetic",
            ours=slab_loss_db(permittivity=eta, thickness_m=thickness_m, frequency_hz=606e6),
            theirs=through_a_line(eta, thickness_m, 606e6),
            tolerance=1e-6,
            unit="dB",
        )


def test_materials_say_where_their_figures_hold():
    assert not TABLES.material("brick").covers(606e6)
    assert TABLES.material("wood").covers(606e6)


def test_cables_meet_the_limits_of_their_specification(authority, authority_table):
    table = dict(authority_table("reach")["cable_limits_db_per_100m"])
    source = table.pop("source")
    for name, points in table.items():
        for mhz, db in points:
            ours = TABLES.cable(name).loss_db(length_m=100, frequency_hz=mhz * 1e6)
            authority("Cable attenuation, limit", source=source, ours=ours, theirs=db, tolerance=0.01, unit="dB/100 m")


def test_the_two_term_law_meets_every_table_within_its_tolerance():
    for cable in TABLES.cables:
        for hz, db in cable.points:
            assert cable.loss_db(length_m=100, frequency_hz=hz) == pytest.approx(db, rel=max(cable.tolerance, 1e-6))


@given(st.lists(st.tuples(st.floats(1e6, 3e9), st.floats(0.1, 200)), min_size=1, max_size=5))
def test_no_cable_ever_amplifies(points):
    k1, k2 = fitted(points)
    assert k1 >= 0
    assert k2 >= 0
    assert k1 + k2 > 0


@pytest.mark.parametrize(("nominal", "limit"), [("rg-58", "m17-28"), ("rg-213", "m17-74")])
def test_nominal_cables_lose_less_than_the_limit_of_their_specification(nominal, limit):
    """Nominal figures are from memory; a limit that was read (at 1 GHz) is above what a new piece of the type takes."""
    usual, most = (TABLES.cable(name).loss_db(length_m=100, frequency_hz=1e9) for name in (nominal, limit))
    assert usual < most
    assert (TABLES.cable(nominal).tolerance, TABLES.cable(limit).tolerance) == (0.15, 0)


def test_a_cable_says_whether_its_figures_were_read_or_remembered():
    read = {cable.name for cable in TABLES.cables if cable.source.endswith("(read)")}
    remembered = {cable.name for cable in TABLES.cables if cable.source.endswith("(memory)")}
    assert read == {"m17-28", "m17-74", "rg-8x"}
    assert len(read | remembered) == len(TABLES.cables) == 10


def test_a_cable_says_where_its_table_ends():
    cable = Cable(name="x", about="", points=((100e6, 12.0), (400e6, 28.0)), tolerance=0.1, source="")
    assert cable.covers(200e6)
    assert not cable.covers(606e6)


@pytest.mark.parametrize("name", [*MODELS])
def test_many_distances_have_the_losses_that_each_has_by_itself(name):
    model = MODELS[name]
    known = {"frequency_hz": 606e6, "exponent": 3.2, "high_m": 4.0}
    distances = np.array([0.6, 1.0, 2.0, 7.5, 33.0, 140.0])
    many = model.loss_db(PathFacts(distance_m=distances, **known))
    assert many.tolist() == pytest.approx([model.loss_db(PathFacts(distance_m=float(d), **known)) for d in distances])


def test_losses_of_many_distances_are_the_recommendation_s(authority):
    distances = np.array([1.0, 10.0, 100.0])
    authority(
        "Free-space loss over many distances, 606 MHz",
        source="Rec. ITU-R P.525 by hand: 32.4478 + 20 log f + 20 log d",
        ours=free_space_loss_db(distance_m=distances, frequency_hz=606e6),
        theirs=[28.10, 48.10, 68.10],
        tolerance=0.005,
        unit="dB",
    )

"""The bundled demonstration says the same in its brief, its scene and the generated air."""

from __future__ import annotations

import tomllib

import numpy as np

from bandwright.reference.demo import DEMO_TITLE, demo_air, demo_brief_text


def brief() -> dict:
    return tomllib.loads(demo_brief_text())


def test_the_demonstration_is_labelled_invented():
    assert "INVENTED" in demo_brief_text()
    assert "invented" in DEMO_TITLE
    assert "invented" in demo_air().scene.name
    for kind in ("permit", "radio"):
        names = [item.get("name", item.get("reference")) for item in brief()[kind]]
        assert all("(invented)" in name for name in names)


def test_it_has_fourteen_microphones_of_two_types_three_in_ears_and_talkback():
    radios = [link["radio"] for link in brief()["link"]]
    assert radios.count("heron") + radios.count("dunlin") == 14
    assert radios.count("siskin") == 3
    assert radios.count("wren") == 2


def test_other_users_of_the_brief_are_on_the_air_at_their_stated_level():
    on_air = {carrier.label: carrier for carrier in demo_air().scene.carriers}
    for other in brief()["other"]:
        carrier = on_air[other["id"]]
        assert carrier.carrier_hz == round(other["carrier_mhz"] * 1_000_000)
        assert carrier.level_dbm == other["level_dbm"]
        assert carrier.width_hz <= other["bandwidth_khz"] * 1_000


def test_multiplexes_sit_on_the_raster_and_one_of_them_is_news_to_the_brief():
    closed = set(brief()["place"][0]["tv_closed"])
    for multiplex in demo_air().scene.multiplexes:
        # GE06: TV channel n is centred on 306 + 8 n MHz (from memory).
        assert multiplex.centre_hz == (306 + 8 * int(multiplex.label)) * 1_000_000
    assert {m.label for m in demo_air().scene.multiplexes} - closed == {"45"}
    assert closed <= {m.label for m in demo_air().scene.multiplexes}


def test_the_base_sweep_is_the_same_every_time():
    first = next(iter(demo_air().rows()))
    again = next(iter(demo_air().rows()))
    np.testing.assert_array_equal(first.levels_dbm, again.levels_dbm)

import json

import pytest
from pydantic import TypeAdapter

from bandwright.documents.brief import KINDS, Brief, Rename, keys_of_table, renamed, renames_of
from bandwright.documents.brief.models import fields_of, table_in


def test_a_new_id_is_one_new_name():
    assert list(renames_of("unit", {"id": "R1"}, {"id": "R2"})) == [Rename(kind="unit", old="R1", new="R2")]
    assert list(renames_of("unit", {"id": "R1"}, {"id": "R1", "name": "x"})) == []
    assert list(renames_of("unit", {}, {"id": "R1"})) == []


def test_a_link_with_a_count_takes_the_links_it_makes_along():
    found = [(item.old, item.new) for item in renames_of("link", {"id": "M", "count": 2}, {"id": "N", "count": 2})]
    assert found == [("M", "N"), ("M.1", "N.1"), ("M.2", "N.2")]


def test_a_variant_with_a_new_id_is_a_new_name_under_its_radio_type():
    before = {"id": "heron", "variant": [{"id": "narrow"}, {"id": "wide"}]}
    after = {"id": "heron", "variant": [{"id": "slim"}, {"id": "wide"}]}
    assert list(renames_of("radio", before, after)) == [Rename(kind="radio", old="heron/narrow", new="heron/slim")]
    assert list(renames_of("radio", before, {"id": "heron", "variant": [{"id": "wide"}]})) == []


def test_every_key_that_names_a_table_is_written_anew():
    radio = [Rename(kind="radio", old="heron", new="hawk")]
    assert renamed("link", {"radio": "heron/narrow", "role": "heron"}, radio) == {
        "radio": "hawk/narrow",
        "role": "heron",
    }
    assert renamed("unit", {"radio": "heron"}, radio) == {"radio": "hawk"}
    assert renamed("plan", {"spares": {"heron": 2, "heron-b": 1}}, radio) == {"spares": {"hawk": 2, "heron-b": 1}}
    assert renamed("pair", {"one": "heron", "two": "siskin"}, radio) == {"one": "hawk", "two": "siskin"}
    assert renamed("block", {"for": ["heron/narrow", "x"]}, radio) == {"for": ["hawk/narrow", "x"]}
    earshot = [Rename(kind="earshot", old="main", new="big")]
    assert renamed("link", {"earshot": "main"}, earshot) == {"earshot": "big"}
    assert renamed("isolation", {"between": ["main", "hall"]}, earshot) == {"between": ["big", "hall"]}
    unit = [Rename(kind="unit", old="R1", new="R2")]
    assert renamed("run", {"feeds": ["R1", "A"]}, unit) == {"feeds": ["R2", "A"]}
    assert renamed("feed", {"for": ["R1", "A"]}, unit) == {"for": ["R2", "A"]}
    antenna = [Rename(kind="antenna", old="east", new="left")]
    assert renamed("run", {"antenna": "east", "feeds": "east"}, antenna) == {"antenna": "left", "feeds": "east"}
    place = [Rename(kind="place", old="quay", new="pier")]
    for kind in ("permit", "link", "antenna", "other", "block"):
        assert renamed(kind, {"place": "quay"}, place) == {"place": "pier"}
    link = [Rename(kind="link", old="M", new="N"), Rename(kind="link", old="M.1", new="N.1")]
    assert renamed("link", {"apart_from": ["M.1", "M.10", "M"]}, link) == {"apart_from": ["N.1", "M.10", "N"]}


def test_a_role_of_the_same_name_keeps_it():
    rename = [Rename(kind="link", old="Lead", new="L01")]
    assert renamed("pair", {"one": "Lead", "two": "Lead"}, rename, roles={"Lead"}) == {"one": "Lead", "two": "Lead"}


def test_the_name_of_a_kit_type_is_not_that_of_the_brief():
    rename = [Rename(kind="radio", old="heron", new="hawk")]
    assert renamed("radio", {"id": "hawk", "kit": "heron"}, rename) == {"id": "hawk", "kit": "heron"}


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_that_can_name_a_table_is_known_to_the_renaming(kind):
    # Of the library, or inside the table itself.
    outside = {"id", "kit", "rules", "tv_raster", "defaults", "variant", "zones", "candidates"}
    model = table_in(fields_of(Brief)[kind].annotation)
    naming = {key for key, field in fields_of(model).items() if key not in outside and names_something(field)}
    before = [Rename(kind=other, old="one", new="two") for other in KINDS]
    written = {key for key in keys_of_table(kind) if renamed(kind, {key: ["one"]}, before) != {key: ["one"]}}
    assert naming - {"spares"} == written - {"spares", "one", "two", "for", "feeds"}


def names_something(field):
    patterns = ("^[A-Za-z0-9_][A-Za-z0-9._-]{0,63}$", "^[A-Za-z0-9_][A-Za-z0-9._-]{0,63}(/")
    schema = json.dumps(TypeAdapter(field.rebuild_annotation()).json_schema())
    return any(pattern in schema for pattern in patterns)


def test_a_zone_with_a_new_id_is_written_anew_at_its_links_and_a_link_in_the_walks_of_an_area():
    before = {"zones": [{"id": "stage"}, {"id": "foyer"}]}
    after = {"zones": [{"id": "stage"}, {"id": "hall"}]}
    renames = list(renames_of("area", before, after))
    assert renamed("link", {"zone": "foyer"}, renames) == {"zone": "hall"}
    walks = [{"id": "in", "links": ["L01", "L02"]}]
    found = renamed("area", {"walks": walks, "zones": []}, [Rename(kind="link", old="L01", new="L09")])
    assert found == {"walks": [{"id": "in", "links": ["L09", "L02"]}], "zones": []}

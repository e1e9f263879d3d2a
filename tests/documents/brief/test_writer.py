import json
import tomllib
from decimal import Decimal

import pytest
from brief_examples import SAMPLE, library
from brief_tables import tables
from hypothesis import given, settings
from thorough import cases

from bandwright.documents.brief import (
    KINDS,
    Brief,
    brief_json,
    brief_toml,
    init_text,
    read_brief,
    read_parsed,
    tables_as_toml_gives,
)
from bandwright.exact_json import dumps, loads, plain
from bandwright.reference.demo import demo_brief_text

TEXTS = {"the sample": SAMPLE, "the demonstration": demo_brief_text(), "the first brief": init_text()}


def parsed(text):
    return tomllib.loads(text, parse_float=Decimal)


def exactly(value):
    """Return a value in which 1, 1.0 and 1.00 differ, without the order of keys and without lists that are empty."""
    if isinstance(value, dict):
        found = {key: exactly(item) for key, item in value.items() if item != []}
        return sorted(found.items())
    if isinstance(value, list):
        return [exactly(item) for item in value]
    return dumps(value, other=plain)


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_a_brief_written_as_toml_holds_the_same_tables_and_is_the_same_job(text):
    written = brief_toml(parsed(text))
    assert parsed(written) == parsed(text)
    assert read_brief(written, file="a", library=library()) == read_brief(text, file="a", library=library())


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_a_brief_written_as_json_is_the_same_job(text):
    data = tables_as_toml_gives(loads(brief_json(parsed(text))))
    assert read_parsed(data, file="a", library=library()).job == read_brief(text, file="a", library=library())


@settings(max_examples=cases(60), deadline=None)
@given(tables())
def test_whatever_a_brief_says_comes_back_digit_for_digit(data):
    first = read_parsed(data, file="a", library=library())
    written = brief_toml(data)
    again = tables_as_toml_gives(loads(brief_json(parsed(written))))
    assert read_parsed(again, file="a", library=library()) == first
    assert exactly(parsed(written)) == exactly(data)
    assert exactly(again) == exactly(data)


def test_an_independent_parser_reads_the_same_json(authority):
    data = parsed(SAMPLE)
    authority(
        "A brief as JSON, read by the standard library",
        source="Python json",
        kind="library",
        ours=str(data["radio"][0]["tuning"][0]["low_mhz"]),
        theirs=json.loads(brief_json(data), parse_float=str)["radio"][0]["tuning"][0]["low_mhz"],
    )


def test_numbers_keep_every_digit_in_both_forms():
    table = {"job": {"title": "x"}, "plan": {"close_above_floor_db": Decimal("10.50"), "seed": 9007199254740991}}
    assert "close_above_floor_db = 10.50\nseed = 9007199254740991" in brief_toml(table)
    assert '{"close_above_floor_db":10.50,"seed":9007199254740991}' in brief_json(table)


def test_text_that_toml_would_take_for_something_else_is_quoted_and_escaped():
    title = 'He said "x" \\ tab\t bell\x07 del\x7f ünï 🎤'
    assert parsed(brief_toml({"job": {"title": title}}))["job"]["title"] == title


def test_variants_get_a_heading_of_their_own_and_long_lists_a_line_for_each_entry():
    radio = {"id": "r", "variant": [{"id": "narrow", "name": "N"}], "note": "n"}
    permit = {"id": "p", "windows_mhz": [[Decimal(f"{low}.125"), Decimal(f"{low + 1}.125")] for low in range(600, 612)]}
    text = brief_toml({"job": {"title": "x"}, "permit": [permit], "radio": [radio]})
    assert '[[radio]]\nid = "r"\nnote = "n"\n\n[[radio.variant]]\nid = "narrow"\nname = "N"\n' in text
    assert "windows_mhz = [\n  [600.125, 601.125],\n" in text


def test_keys_stand_in_the_order_of_the_reference():
    text = brief_toml({"job": {"title": "x"}, "link": [{"radio": "r", "name": "n", "id": "L1"}]})
    assert '[[link]]\nid = "L1"\nname = "n"\nradio = "r"\n' in text


def test_every_kind_of_table_is_written():
    assert set(KINDS) == {kind for kind in Brief.model_fields if kind != "bandwright"}

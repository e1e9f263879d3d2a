import json
import re
import tomllib
from decimal import Decimal

import pytest
from brief_examples import SAMPLE, SMALL, faults_of
from pydantic import TypeAdapter
from tools.make_brief_reference import PAGE, holds, page

from bandwright.documents.brief.models import fields_of, table_in
from bandwright.documents.brief.tables import Brief
from bandwright.documents.faults import given_text

ROW = re.compile(r"^\| `(\w+)` \|.*\| `(.+)` \|$", re.MULTILINE)


def tables(model=Brief, seen=()):
    for field in fields_of(model).values():
        inner = table_in(field.annotation)
        if inner is not None and inner not in seen:
            yield inner
            yield from tables(inner, (*seen, inner))


MODELS = sorted(set(tables()), key=lambda model: model.__name__)
KEYS = [(model, key) for model in MODELS for key in fields_of(model)]


def test_the_page_is_up_to_date():
    assert PAGE.read_text(encoding="utf-8") == page()


@pytest.mark.parametrize(("model", "key"), KEYS, ids=lambda value: getattr(value, "__name__", value))
def test_every_key_says_what_it_means_and_its_example_is_accepted(model, key):
    field = fields_of(model)[key]
    assert field.description
    assert field.examples
    for example in field.examples:
        written = f"{key} = {given_text(example)}"
        assert written.removeprefix(f"{key} = ") in page()
        exact = tomllib.loads(written, parse_float=Decimal)[key]
        TypeAdapter(field.rebuild_annotation()).validate_python(exact, strict=True)


def test_every_example_on_the_page_is_toml():
    rows = ROW.findall(page())
    assert len(rows) > 80
    for key, example in rows:
        assert key in tomllib.loads(f"{key} = {example}")


OPTIONAL = (
    "place valid grid_khz grid_anchor_mhz inside closed_mhz presets label mhz defaults count hold_mhz priority earshot "
    "on_air power_mw unit apart_from movable"
)


def test_every_key_of_the_sample_and_every_optional_one_is_on_the_page():
    tree = tomllib.loads(SAMPLE)
    rows = [row for table in tree.values() for row in (table if isinstance(table, list) else [table])]
    used = {key for row in rows if isinstance(row, dict) for key in row}
    assert used | set(OPTIONAL.split()) <= set(re.findall(r"^\| `(\w+)` \|", page(), re.MULTILINE))


def test_the_brief_at_the_end_of_the_page_reads():
    (brief,) = re.findall(r"```toml\n(.*?)```", page(), re.DOTALL)
    assert faults_of(brief) == ()
    assert faults_of(SMALL) == ()


@pytest.mark.parametrize(
    ("key", "schema", "words"),
    [
        ("step_khz", {"type": "number", "exclusiveMinimum": 0}, "kHz above 0"),
        ("windows_mhz", {"type": "array", "items": {"type": "array"}}, "list of [low, high] in MHz"),
        ("protect", {"anyOf": [{"type": "boolean"}, {"type": "null"}]}, "`true` or `false`"),
        ("makes_products", {"enum": [True, False, "auto"]}, "`true`, `false`, `auto`"),
    ],
)
def test_what_a_key_holds_is_said_in_words(key, schema, words):
    assert holds(key, schema) == words


def test_the_schema_names_the_keys_as_a_brief_writes_them():
    text = json.dumps(Brief.model_json_schema())
    assert '"step_khz"' in text
    assert '"step_hz"' not in text

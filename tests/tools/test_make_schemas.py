import json
import tomllib
from datetime import UTC, date, datetime

import jsonschema
import pytest
from sheet_examples import make_job, make_plan
from tools.make_schemas import FOLDER, contents

from bandwright.documents.brief import init_text
from bandwright.documents.outputs import Input, Run, plan_document, rules_document
from bandwright.reference import rule_tables
from bandwright.reference.demo import demo_brief_text

SCHEMAS = contents()


def test_every_schema_is_up_to_date():
    assert {path.name: path.read_text(encoding="utf-8") for path in sorted(FOLDER.glob("*.json"))} == {
        path.name: text for path, text in SCHEMAS.items()
    }


# The meta-schema of JSON Schema draft 2020-12, as the jsonschema library brings it.
@pytest.mark.parametrize("path", SCHEMAS, ids=lambda path: path.stem)
def test_every_schema_is_one_by_the_standard(path):
    schema = json.loads(SCHEMAS[path])
    assert schema["$schema"] == jsonschema.Draft202012Validator.META_SCHEMA["$id"]
    jsonschema.Draft202012Validator.check_schema(schema)


def test_a_plan_fits_its_schema_by_an_independent_library():
    job = make_job(20)
    plan = make_plan(job, unplaced=2)
    document = plan_document(
        job,
        plan,
        inputs=(Input(name="quay.toml", sha256="ab" * 32),),
        made=datetime(2027, 5, 14, 5, 12, tzinfo=UTC),
        run=Run(seed=1, stopped="settled", seconds=2),
    )
    data = json.loads(document.model_dump_json(by_alias=True))
    schema = json.loads((FOLDER / "plan.json").read_text(encoding="utf-8"))
    jsonschema.validate(data, schema)
    del data["links"][0]["carrier_hz"]
    with pytest.raises(jsonschema.ValidationError, match="carrier_hz"):
        jsonschema.validate(data, schema)


def test_the_rules_fit_their_schema_by_an_independent_library():
    data = json.loads(rules_document(rule_tables(), warnings=()).model_dump_json(by_alias=True))
    jsonschema.validate(data, json.loads((FOLDER / "rules.json").read_text(encoding="utf-8")))


@pytest.mark.parametrize("brief", [init_text(), demo_brief_text()], ids=["init", "demo"])
def test_a_brief_fits_its_schema_by_an_independent_library(brief):
    # A schema knows JSON only, and there a date or a time is a string.
    data = json.loads(json.dumps(tomllib.loads(brief), default=date.isoformat))
    schema = json.loads((FOLDER / "brief.json").read_text(encoding="utf-8"))
    jsonschema.validate(data, schema)
    data["link"][0]["hold"] = 606.7
    with pytest.raises(jsonschema.ValidationError, match="'hold' was unexpected"):
        jsonschema.validate(data, schema)

import json
import math
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from sheet_examples import MADE, make_job, make_plan

from bandwright.core.planning.explain import Explanation, Finding, Opening, Unasked
from bandwright.core.planning.plan import Closest, Noise, NoiseState, Reason, Violation, Warn
from bandwright.documents.outputs import (
    Input,
    Run,
    check_document,
    plan_document,
    read_plan,
    rules_document,
    why_document,
)
from bandwright.documents.outputs.common import khz
from bandwright.errors import InputError
from bandwright.reference import rule_tables

INPUTS = (Input(name="quay.toml", sha256="ab" * 32),)
RUN = Run(seed=7, stopped="settled", seconds=1.25)


def plan_text(job, plan, *, made=MADE, run=RUN):
    return plan_document(job, plan, inputs=INPUTS, made=made, run=run).model_dump_json(by_alias=True)


def plan_data(job, plan, **other):
    return json.loads(plan_text(job, plan, **other))


@pytest.fixture
def job():
    return make_job(12)


@pytest.fixture
def plan(job):
    return make_plan(job, unplaced=1, spares=2)


def told(text):
    with pytest.raises(InputError) as caught:
        read_plan(text, file="plan.json")
    return [str(fault) for fault in caught.value.faults]


def test_a_plan_document_has_the_parts_that_scripts_rely_on(job, plan):
    data = plan_data(job, plan)
    assert {
        key: data[key] for key in ("schema", "program", "number", "check_phrase", "inputs", "warnings", "job", "run")
    } == {
        "schema": "bandwright.plan/1",
        "program": "bandwright 0.1.0",
        "number": 3,
        "check_phrase": plan.check_phrase,
        "inputs": [{"name": "quay.toml", "sha256": "ab" * 32}],
        "warnings": [{"code": "level-unknown", "text": "The level of 2 other carriers is not known.", "where": None}],
        "job": {
            "title": "Lantern Quay",
            "places": [{"id": "quay", "name": "Quay stage"}],
            "dates": ["2027-05-14", "2027-05-15"],
        },
        "run": {"seed": 7, "stopped": "settled", "seconds": 1.25, "made": "2027-05-14T05:12+01:00", "sweeps": []},
    }
    assert data["links"][5] == {
        "id": "L06",
        "name": job.links[5].name,
        "radio": "heron",
        "carrier_hz": 486_137_500,
        "carrier_mhz": "486.1375",
        "status": "clear",
        "cautions": [],
        "permit": "shared",
        "tv_channel": "23",
        "preset": None,
        "power_mw": 50,
        "noise": {
            "value": -96.0,
            "unit": "dBm",
            "over_khz": 200,
            "state": "quiet",
            "above_floor_db": None,
            "sweep": None,
            "sweep_started": None,
            "at_antenna": None,
        },
        "closest": {
            "rule": "product",
            "family": "3A-2B",
            "sources": ["L06", "L07"],
            "product_hz": 600_000_000,
            "offset_khz": 187.5,
            "required_khz": 100,
            "slack_khz": 87.5,
            "level": None,
        },
        "notes": [],
        "was_hz": None,
        "was_mhz": None,
        "carrier_to_interference": None,
    }
    assert data["spares"][0] == {
        "id": "S1",
        "radio": "heron",
        "carrier_hz": 686_100_000,
        "carrier_mhz": "686.100",
        "preset": None,
        "tv_channel": "48",
        "permit": None,
        "noise": None,
        "was_hz": None,
        "was_mhz": None,
    }
    assert [item["reasons"][0]["code"] for item in data["unplaced"]] == ["hold"]
    assert data["bound"] == {
        "about": "links placed",
        "status": "proven",
        "found": 11,
        "upper_bound": 11,
        "method": "all placed",
    }


def test_the_minute_of_a_plan_is_read_back_by_the_standard_library(job, plan):
    assert datetime.fromisoformat(plan_data(job, plan)["run"]["made"]) == MADE


def test_two_plans_of_the_same_input_are_equal_but_for_the_run(job, plan):
    one = plan_data(job, plan)
    two = plan_data(job, plan, made=MADE.replace(hour=9), run=Run(seed=7, stopped="time", seconds=9))
    assert one != two
    assert one | {"run": None} == two | {"run": None}


# The decimal module stands in for arithmetic on paper: what is printed is the exact number of kHz.
@given(st.integers(-(10**10), 10**10))
def test_khz_print_exactly(hz):
    assert Decimal(json.dumps(khz(hz))) == Decimal(hz) / 1000


def test_whole_khz_print_without_a_decimal_point(job, plan):
    text = plan_text(job, plan)
    assert '"required_khz":350,' in text
    assert '"offset_khz":187.5,' in text


def test_what_is_not_known_is_null_and_never_nan(job, plan):
    strange = replace(
        plan.links[0],
        noise=Noise(state=NoiseState.UNMEASURED, value=math.nan, above_floor_db=-math.inf),
        closest=Closest(
            rule="other",
            family=None,
            sources=("ferry",),
            product_hz=None,
            offset_hz=1,
            required_hz=2,
            level_dbm=math.nan,
        ),
        power_mw=None,
    )
    text = plan_text(job, replace(plan, links=(strange, *plan.links[1:])))
    link = json.loads(text, parse_constant=pytest.fail)["links"][0]
    assert link["noise"] == {
        "value": None,
        "unit": None,
        "over_khz": None,
        "state": "not measured",
        "above_floor_db": None,
        "sweep": None,
        "sweep_started": None,
        "at_antenna": None,
    }
    assert link["closest"]["level"] is None
    assert link["power_mw"] is None


def test_a_document_cannot_be_changed_nor_hold_what_is_not_described(job, plan):
    document = plan_document(job, plan, inputs=INPUTS, made=MADE, run=RUN)
    with pytest.raises(ValidationError, match="frozen"):
        document.number = 4
    with pytest.raises(ValidationError, match="Extra inputs"):
        Input(name="a", sha256="b", size=3)


def test_a_check_document_is_ok_only_without_violations():
    broken = Violation(
        rule="product",
        victim="L01",
        sources=("L02", "L03"),
        family="2A-B",
        product_hz=606_712_500,
        offset_hz=12_500,
        required_hz=100_000,
        text="L01 on 606.700 MHz: too near.",
    )
    warning = Warn(code="no-sweep", text="No sweep was given.", where="quay")
    assert check_document((), inputs=INPUTS).ok
    data = json.loads(check_document((broken,), inputs=INPUTS, warnings=(warning,)).model_dump_json(by_alias=True))
    assert data == {
        "schema": "bandwright.check/1",
        "program": "bandwright 0.1.0",
        "inputs": [{"name": "quay.toml", "sha256": "ab" * 32}],
        "warnings": [{"code": "no-sweep", "text": "No sweep was given.", "where": "quay"}],
        "links": [],
        "levels": None,
        "ok": False,
        "violations": [
            {
                "rule": "product",
                "victim": "L01",
                "sources": ["L02", "L03"],
                "family": "2A-B",
                "product_hz": 606_712_500,
                "offset_khz": 12.5,
                "required_khz": 100,
                "text": "L01 on 606.700 MHz: too near.",
            }
        ],
    }


def test_a_violation_of_a_rule_that_nobody_described_is_no_output():
    with pytest.raises(ValidationError, match="rule"):
        check_document((Violation(rule="mood", victim="L01"),), inputs=())


def test_a_why_document_says_of_each_rule_whether_it_stops():
    found = Explanation(
        link="L01",
        name="Mara",
        radio="heron",
        carrier_hz=606_700_000,
        findings=(
            Finding(rule="tv", stops=True, text="TV channel 38 is closed.", remedy="TV channel 38 off the air"),
            Finding(
                rule="spacing", stops=False, text="Closest.", sources=("L02",), offset_hz=362_500, required_hz=350_000
            ),
        ),
        unasked=(
            Unasked(
                text="L03 is near",
                reason=Reason(code="place", text="at another place"),
                victim="L01",
                sources=("L03",),
                family="2A-B",
                offset_hz=12_500,
                would_require_hz=100_000,
            ),
        ),
        opening=Opening(links=("L04",), proven=True, stays=("tv",)),
        beside="plan",
    )
    data = json.loads(why_document(found, inputs=INPUTS).model_dump_json(by_alias=True))
    assert data["schema"] == "bandwright.why/1"
    assert (data["carrier_hz"], data["carrier_mhz"], data["link"], data["radio"]) == (
        606_700_000,
        "606.700",
        "L01",
        "heron",
    )
    assert (data["allowed"], data["beside_plan"], data["beside"]) == (False, True, "plan")
    assert data["to_open"] == {"links": ["L04"], "fewest": "proven", "stays": ["tv"], "immovable": []}
    assert data["not_asked"] == [
        {
            "text": "L03 is near",
            "reason": {"code": "place", "text": "at another place"},
            "victim": "L01",
            "sources": ["L03"],
            "family": "2A-B",
            "offset_khz": 12.5,
            "would_require_khz": 100,
        }
    ]
    plain = {"family": None, "product_hz": None, "asked_by": None}
    assert data["findings"] == [
        {
            "rule": "tv",
            "verdict": "stops",
            "text": "TV channel 38 is closed.",
            "sources": [],
            "offset_khz": None,
            "required_khz": None,
            "remedy": "TV channel 38 off the air",
            "restates": False,
            **plain,
        },
        {
            "rule": "spacing",
            "verdict": "allows",
            "text": "Closest.",
            "sources": ["L02"],
            "offset_khz": 362.5,
            "required_khz": 350,
            "remedy": None,
            "restates": False,
            **plain,
        },
    ]


def test_a_rules_document_carries_edition_and_confidence_of_every_table():
    data = json.loads(rules_document(rule_tables(), warnings=()).model_dump_json(by_alias=True))
    assert data["schema"] == "bandwright.rules/1"
    assert all(table["edition"] and table["sources"] for table in data["tables"])
    assert {table["confidence"] for table in data["tables"]} <= {"read", "memory"}
    (shared,) = (table for table in data["tables"] if table["id"] == "uk-shared-606-613")
    # A regulator's text as quoted by a hire company: 606.5-613.5 MHz, 200 kHz, 10 mW hand-held, 50 mW body-worn.
    assert shared["windows"][0] | {"note": None} == {
        "low_hz": 606_500_000,
        "high_hz": 613_500_000,
        "low_mhz": "606.500",
        "high_mhz": "613.500",
        "max_power": {"kind": "erp", "any_mw": None, "bodyworn_mw": 50, "handheld_mw": 10},
        "max_bandwidth_khz": 200,
        "grid_khz": None,
        "confidence": "memory",
        "note": None,
    }


def test_the_carriers_of_a_plan_are_read_back(job, plan):
    stored = read_plan(plan_text(job, plan), file="plan.json")
    assert stored.title == "Lantern Quay"
    assert stored.number == 3
    assert stored.check_phrase == plan.check_phrase
    assert stored.links == {link.id: link.carrier_hz for link in plan.links}
    assert stored.spares == {spare.id: spare.carrier_hz for spare in plan.spares}
    assert stored.carriers == stored.links | stored.spares


def test_a_plan_of_a_later_program_that_says_more_is_still_read(job, plan):
    data = plan_data(job, plan) | {"weather": "rain"}
    data["links"][0]["mood"] = "good"
    assert read_plan(json.dumps(data), file="plan.json").number == 3


HINT = " Name a plan.json that `bandwright plan BRIEF --out DIR` wrote."


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "plan.json:1: this is no plan: it cannot be read as JSON (EOF while parsing a value)."),
        ('{\n"a": x}', "plan.json:2: this is no plan: it cannot be read as JSON (expected value)."),
        ("[" * 100_000, "plan.json:1: this is no plan: it cannot be read as JSON (recursion limit exceeded)."),
        (
            "[]",
            'plan.json: this is no plan that can be read here: it carries no schema, "bandwright.plan/1" is needed.',
        ),
        (
            '{"schema": "bandwright.check/1"}',
            "plan.json: this is no plan that can be read here: "
            'its schema is "bandwright.check/1", "bandwright.plan/1" is needed.',
        ),
    ],
)
def test_what_is_no_plan_is_said_in_words(text, expected):
    assert told(text) == [expected + HINT]


def test_everything_that_is_wrong_with_a_plan_is_told_at_once(job, plan):
    data = plan_data(job, plan)
    del data["number"]
    data["links"][0]["carrier_hz"] = "470500000"
    data["links"][1]["carrier_hz"] = -1
    assert told(json.dumps(data)) == [
        "plan.json: number is missing from this plan." + HINT,
        'plan.json: links[1].carrier_hz is "470500000": input should be a valid integer.' + HINT,
        "plan.json: links[2].carrier_hz is -1: input should be greater than 0." + HINT,
    ]


def test_a_plan_that_contradicts_itself_is_not_read(job, plan):
    data = plan_data(job, plan)
    data["links"][0]["carrier_hz"] += 25_000
    data["spares"][0]["id"] = "L02"
    assert told(json.dumps(data)) == [
        'plan.json: "L02" stands in this plan 2 times; an id stands there once.' + HINT,
        'plan.json: L01 is on 470525000 Hz and on "470.500" MHz; the two must be the same carrier.' + HINT,
    ]


@given(
    st.recursive(st.none() | st.integers() | st.text(), lambda inner: st.dictionaries(st.text(), inner), max_leaves=5)
)
def test_anything_in_the_place_of_a_plan_is_an_error_in_words(thing):
    assert told(json.dumps(thing))
    assert told(json.dumps({"schema": "bandwright.plan/1", "job": thing, "links": [thing]}))

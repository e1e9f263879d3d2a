"""Whatever is sent, the API answers as it describes itself: never with a mistake of ours, always in the one shape."""

from __future__ import annotations

from typing import Any

import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from served_app import App
from thorough import cases

CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]

# They keep the engine busy for as long as was asked; tests of their own try them.
LONG = {("POST", "/api/plan/run"), ("POST", "/api/replan")}


def operations(app: App) -> list[Any]:
    schema = schemathesis.openapi.from_dict(app.description)
    found = [result.ok() for result in schema.get_all_operations()]
    tried = [operation for operation in found if (operation.method.upper(), operation.path) not in LONG]
    return sorted(
        tried, key=lambda operation: operation.method.upper() != "GET"
    )  # those that ask, before the job is torn


def known(client, operation) -> dict[str, list[Any]]:
    """Return values that are really there for what stands in the path."""
    brief = client.get("/api/brief").json()["entries"]
    sweeps = client.get("/api/sweeps").json()["sweeps"]
    devices = client.get("/api/devices").json()["devices"]
    statements = client.get("/api/statements").json()["statements"]
    notes = client.get("/api/notes").json()["notes"]
    noun = operation.path.split("/")[2]
    there = {
        "entries": [entry["uid"] for entry in brief],
        "sweeps": [sweep["uid"] for sweep in sweeps],
        "devices": [device["uid"] for device in devices],
        "notes": [note["uid"] for note in notes],
        "statements": [statement["uid"] for statement in statements],
    }
    return {"uid": there.get(noun, []), "number": [1], "name": ["brief.toml", "carriers.csv", "sheet.html"]}


def trial(app: App, operation, real: dict[str, list[Any]], headers: dict[str, str]):
    """Return a function that sends drawn requests for one operation, some with values that are really there."""

    @settings(
        max_examples=cases(5), deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
    )
    @given(data=st.data())
    def send(data):
        mode = data.draw(st.sampled_from([GenerationMode.POSITIVE, GenerationMode.NEGATIVE]))
        case = data.draw(operation.as_strategy(generation_mode=mode))
        for name in list(case.path_parameters or ()):
            if real.get(name) and data.draw(st.booleans()):
                case.path_parameters[name] = data.draw(st.sampled_from(real[name]))
        answer = case.call(base_url=app.address, headers=headers)
        case.validate_response(answer, checks=CHECKS, headers=headers)
        if answer.status_code >= 400:
            errors = answer.json()["errors"]
            assert errors
            assert all(error["text"] and error["code"] for error in errors)

    return send


def test_no_request_brings_about_a_mistake_or_an_answer_that_is_not_described(planned_app):
    app = planned_app
    laptop = app.client()
    app.pair("look", "tablet")
    laptop.post("/api/statements", json={"what": "powered"})
    laptop.post("/api/notes", json={"text": "spare pack in the drawer"})
    headers = {"Origin": app.address, "Cookie": laptop.headers["Cookie"]}
    found = operations(app)
    for operation in found:
        trial(app, operation, known(laptop, operation), headers)()
    assert len(found) > 35
    assert laptop.get("/api/job").status_code == 200

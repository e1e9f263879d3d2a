"""The types by which pages are checked: up to date, and true to what a schema says."""

import json

from tools.make_api_types import TYPES, contents, types_of


def test_the_types_are_up_to_date():
    assert TYPES.read_text(encoding="utf-8") == contents()


def shapes(**schemas):
    return {"components": {"schemas": schemas}, "paths": {}}


def table(*required, **properties):
    return {"type": "object", "required": list(required), "properties": properties}


def test_a_schema_becomes_the_type_that_holds_the_same_values():
    written = types_of(
        shapes(
            Colour={"enum": ["red", "blue"]},
            Place=table(
                "id",
                id={"type": "string"},
                at={"type": "array", "prefixItems": [{"type": "number"}, {"type": "integer"}]},
                colours={
                    "type": "array",
                    "items": {"anyOf": [{"$ref": "#/components/schemas/Colour"}, {"type": "null"}]},
                },
                rest={"type": "object", "additionalProperties": {"type": "boolean"}},
                **{"what-not": {}},
            ),
        )
    )
    assert 'export type Colour = "red" | "blue";' in written
    assert (
        "export interface Place { id: string; at: [number, number]; colours: (Colour | null)[]; "
        'rest: { [key: string]: boolean }; "what-not": any }'
    ) in written


def test_what_may_be_left_out_of_a_request_is_always_in_an_answer():
    body = {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Wish"}}}}
    answer = {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Done"}}}}
    api = shapes(Wish=table(count={"type": "integer"}), Done=table(count={"type": "integer"}))
    api["paths"] = {"/api/x": {"post": {"requestBody": body, "responses": {"200": answer}}}}
    written = types_of(json.loads(json.dumps(api)))
    assert "export interface Wish { count?: number }" in written
    assert "export interface Done { count: number }" in written
    assert '  "POST /api/x": Done;' in written


def test_a_call_without_an_answer_answers_null_and_one_of_bytes_stands_nowhere():
    api = shapes()
    bytes_only = {"content": {"application/octet-stream": {}}}
    api["paths"] = {
        "/api/x": {
            "delete": {"responses": {"204": {"description": "Done."}}},
            "get": {"responses": {"200": bytes_only}},
        }
    }
    written = types_of(api)
    assert '  "DELETE /api/x": null;' in written
    assert "GET /api/x" not in written

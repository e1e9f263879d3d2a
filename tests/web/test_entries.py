"""Editing over the API, as pages do it."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest


@pytest.fixture
def brief(laptop):
    return laptop.get("/api/brief").json()


def of_kind(brief, kind):
    return [entry for entry in brief["entries"] if entry["kind"] == kind]


def test_a_table_is_added_edited_copied_ordered_and_removed(laptop, brief):
    radio = of_kind(brief, "radio")[0]["id"]
    added = laptop.post("/api/entries", json={"kind": "link", "value": {"name": "Ola", "radio": radio}}).json()
    (link,) = added["entries"]
    assert link["value"]["name"] == "Ola"
    edited = laptop.patch(
        f"/api/entries/{link['uid']}", json={"base": link["revision"], "changes": {"name": "Ola Nord"}}
    ).json()
    assert edited["entries"][0]["value"]["name"] == "Ola Nord"
    assert edited["seq"] > added["seq"]
    copies = laptop.post(f"/api/entries/{link['uid']}/copies", json={"count": 3}).json()["entries"]
    assert len({entry["id"] for entry in copies}) == 3
    uids = [copies[2]["uid"], link["uid"]]
    assert laptop.post("/api/entries/order", json={"kind": "link", "uids": uids}).status_code == 200
    ordered = of_kind(laptop.get("/api/brief").json(), "link")
    assert [entry["uid"] for entry in sorted(ordered, key=lambda entry: entry["position"])][:2] == uids
    removed = laptop.delete(f"/api/entries/{link['uid']}").json()
    assert removed["removed"] == [link["uid"]]
    again = laptop.delete(f"/api/entries/{link['uid']}")
    assert (again.status_code, again.json()["errors"][0]["code"]) == (404, "no-such-entry")


def test_a_carrier_keeps_every_digit_that_was_typed(laptop, brief):
    link = of_kind(brief, "link")[0]
    body = f'{{"base": {link["revision"]}, "changes": {{"hold_mhz": 606.700}}}}'
    answer = laptop.patch(f"/api/entries/{link['uid']}", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 200, answer.text
    (entry,) = json.loads(answer.text, parse_float=Decimal)["entries"]
    assert str(entry["value"]["hold_mhz"]) == "606.700"


def test_a_value_that_its_field_cannot_hold_is_told_at_the_cell(laptop, brief):
    link = of_kind(brief, "link")[0]
    answer = laptop.patch(
        f"/api/entries/{link['uid']}", json={"base": link["revision"], "changes": {"hold_mhz": "loud"}}
    )
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert (error["uid"], error["field"]) == (link["uid"], "hold_mhz")
    assert "loud" in error["text"]


def test_two_clients_edit_one_cell_and_the_second_sees_both_values(app, laptop, brief):
    link = of_kind(brief, "link")[0]
    phone = app.pair("edit", "Ana's phone")
    path, base = f"/api/entries/{link['uid']}", link["revision"]
    assert phone.patch(path, json={"base": base, "changes": {"name": "Hers"}}).status_code == 200
    answer = laptop.patch(path, json={"base": base, "changes": {"name": "Ours"}})
    assert answer.status_code == 409
    body = answer.json()
    assert (body["yours"], body["theirs"], body["by"]) == ({"name": "Ours"}, {"name": "Hers"}, "Ana's phone")
    assert body["entry"]["value"]["name"] == "Hers"
    assert "Ana's phone" in body["errors"][0]["text"]
    now = body["entry"]["revision"]
    assert laptop.patch(path, json={"base": now, "changes": {"name": "Ours"}}).status_code == 200


def test_two_clients_edit_two_cells_of_one_row_and_both_stay(app, laptop, brief):
    link = of_kind(brief, "link")[0]
    path, base = f"/api/entries/{link['uid']}", link["revision"]
    assert app.pair().patch(path, json={"base": base, "changes": {"name": "Hers"}}).status_code == 200
    answer = laptop.patch(path, json={"base": base, "changes": {"priority": 3}})
    value = answer.json()["entries"][0]["value"]
    assert (value["name"], value["priority"]) == ("Hers", 3)


def test_a_request_that_is_sent_twice_is_done_once_and_answered_twice(laptop):
    wish = {"kind": "link", "value": {"name": "Once"}, "client_key": "tap 1"}
    first, second = laptop.post("/api/entries", json=wish), laptop.post("/api/entries", json=wish)
    assert first.status_code == second.status_code == 200
    assert second.json()["entries"] == first.json()["entries"]
    links = of_kind(laptop.get("/api/brief").json(), "link")
    assert [entry["value"].get("name") for entry in links].count("Once") == 1


def test_a_key_that_two_devices_happen_to_share_holds_back_neither(app, laptop):
    phone = app.pair()
    for client, name in ((laptop, "Ours"), (phone, "Theirs")):
        wish = {"kind": "link", "value": {"name": name}, "client_key": "1"}
        assert client.post("/api/entries", json=wish).status_code == 200
    names = [entry["value"].get("name") for entry in of_kind(laptop.get("/api/brief").json(), "link")]
    assert {"Ours", "Theirs"} <= set(names)


def test_rows_are_pasted_from_a_spreadsheet(laptop, brief):
    radio = of_kind(brief, "radio")[0]["id"]
    text = f"id\tname\tradio\nP1\tFirst\t{radio}\nP2\tSecond\t{radio}\n"
    answer = laptop.post("/api/entries/paste", json={"kind": "link", "text": text})
    assert [entry["id"] for entry in answer.json()["entries"]] == ["P1", "P2"]


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        (b"{", 400, "no-json"),
        (b'{"kind": "link", "value": {}, "more": 1}', 422, "shape-extra-forbidden"),
        (b'{"kind": "lnk", "value": {}}', 422, "unknown-kind"),
        (b"[]", 422, None),
        (b'{"kind": "link", "value": {"name": "\\ud800"}}', 400, "no-json"),
        (b'{"kind": "link", "value": {"hold_mhz": 1e999}}', 400, "no-json"),
        (b'{"kind": "link", "value": ' + b'{"a":' * 5000 + b"1" + b"}" * 5001, 400, "no-json"),
    ],
)
def test_a_body_that_cannot_be_taken_is_refused_in_the_one_shape(shared_app, body, status, code):
    answer = shared_app.client().post("/api/entries", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == status, answer.text
    error = answer.json()["errors"][0]
    assert set(error) >= {"code", "file", "line", "key", "given", "allowed", "hint", "text"}
    assert code is None or error["code"] == code


def test_one_link_of_a_count_is_held_and_the_answer_holds_its_rows(laptop):
    added = laptop.post("/api/entries", json={"kind": "link", "value": {"id": "K", "radio": "heron", "count": 2}})
    row = added.json()["entries"][0]
    wish = {"base": row["revision"], "changes": {"hold_mhz": "606,7"}}
    answer = laptop.patch(f"/api/entries/{row['uid']}.2", json=wish)
    assert answer.status_code == 200, answer.text
    told = answer.json()
    assert told["removed"] == [row["uid"]]
    assert [(item["uid"], item["id"], item["value"].get("hold_mhz")) for item in told["entries"]] == [
        (f"{row['uid']}.1", "K.1", None),
        (f"{row['uid']}.2", "K.2", 606.7),
    ]
    assert laptop.post("/api/undo").json()["entries"][0]["value"]["count"] == 2
    again = laptop.post(f"/api/entries/{row['uid']}/singles")
    assert [item["id"] for item in again.json()["entries"]] == ["K.1", "K.2"]

"""Undo, redo and the list of events over the API."""

from __future__ import annotations

import pytest


@pytest.fixture
def link(laptop):
    entries = laptop.get("/api/brief").json()["entries"]
    return next(entry for entry in entries if entry["kind"] == "link")


def name_of(client, link):
    entries = client.get("/api/brief").json()["entries"]
    return next(entry for entry in entries if entry["uid"] == link["uid"])["value"].get("name")


def rename(client, link, name, base=None):
    path = f"/api/entries/{link['uid']}"
    now = next(e for e in client.get("/api/brief").json()["entries"] if e["uid"] == link["uid"])["revision"]
    answer = client.patch(path, json={"base": base or now, "changes": {"name": name}})
    assert answer.status_code == 200
    return answer.json()


def test_undo_takes_back_and_redo_does_again(laptop, link):
    before = name_of(laptop, link)
    rename(laptop, link, "Ola")
    assert "Ola" in laptop.get("/api/job").json()["undo"]
    undone = laptop.post("/api/undo").json()
    assert undone["entries"][0]["value"]["name"] == before
    head = laptop.get("/api/job").json()
    assert "Ola" in head["redo"]
    assert laptop.post("/api/redo").json()["entries"][0]["value"]["name"] == "Ola"


def test_each_takes_back_their_own_change(app, laptop, link):
    phone = app.pair()
    rename(laptop, link, "Ours")
    other = phone.post("/api/entries", json={"kind": "link", "value": {"name": "Theirs"}}).json()["entries"][0]
    assert laptop.post("/api/undo").status_code == 200
    uids = [entry["uid"] for entry in laptop.get("/api/brief").json()["entries"]]
    assert other["uid"] in uids
    assert name_of(laptop, link) != "Ours"


def test_undo_of_what_somebody_changed_since_is_refused_with_both_values(app, laptop, link):
    rename(laptop, link, "Ours")
    rename(app.pair(), link, "Theirs")
    answer = laptop.post("/api/undo")
    assert answer.status_code == 409
    (clash,) = answer.json()["clashes"]
    assert (clash["expected"], clash["found"]) == ("Ours", "Theirs")
    assert name_of(laptop, link) == "Theirs"


def test_an_undo_that_is_sent_twice_takes_back_one_change(laptop, link):
    before = name_of(laptop, link)
    rename(laptop, link, "One")
    rename(laptop, link, "Two")
    for _ in range(2):
        assert laptop.post("/api/undo", json={"client_key": "undo 1"}).status_code == 200
    assert name_of(laptop, link) == "One"
    assert laptop.post("/api/undo", json={"client_key": "undo 2"}).status_code == 200
    assert name_of(laptop, link) == before


def test_making_the_job_is_not_taken_back(laptop):
    assert laptop.get("/api/job").json()["undo"] is None
    answer = laptop.post("/api/undo")
    assert answer.status_code == 422
    assert laptop.get("/api/brief").json()["entries"]


def test_events_are_told_page_by_page(laptop, link):
    seq = laptop.get("/api/job").json()["seq"]
    rename(laptop, link, "Ola")
    (event,) = laptop.get("/api/events", params={"after": seq}).json()["events"]
    assert (event["who"], event["kind"], event["uid"]) == ("laptop", "link", link["uid"])
    assert "Ola" in event["what"]
    assert len(laptop.get("/api/events", params={"limit": 3}).json()["events"]) == 3
    for wrong in ({"after": -1}, {"limit": 0}, {"limit": 1001}, {"after": "x"}, {"after": 2**60}):
        assert laptop.get("/api/events", params=wrong).status_code == 422


def test_a_device_that_is_called_otherwise_keeps_its_undo_and_nobody_else_gets_it(app, laptop, link):
    phone, before = app.pair(name="phone"), name_of(laptop, link)
    rename(phone, link, "Theirs")
    (device,) = laptop.get("/api/devices").json()["devices"]
    assert laptop.patch(f"/api/devices/{device['uid']}", json={"name": "Ana's phone"}).status_code == 200
    other = app.pair(name="phone")
    assert other.get("/api/job").json()["me"]["name"] == "phone 2"
    assert other.post("/api/undo").status_code == 422
    assert phone.get("/api/job").json()["undo"] is not None
    assert phone.post("/api/undo").status_code == 200
    assert name_of(laptop, link) == before
    assert phone.get("/api/job").json()["redo"] is not None
    assert phone.post("/api/redo").status_code == 200
    assert name_of(laptop, link) == "Theirs"
    assert laptop.patch(f"/api/devices/{device['uid']}", json={"name": "phone"}).json()["name"] == "phone"

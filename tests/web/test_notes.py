"""Notes over the API: written, changed, removed, taken back, and told to others."""

from __future__ import annotations

import pytest
from served_app import heard


@pytest.fixture
def link(laptop):
    entries = laptop.get("/api/brief").json()["entries"]
    return next(entry for entry in entries if entry["kind"] == "link")


def notes(client, **about):
    return client.get("/api/notes", params=about).json()["notes"]


def test_a_note_is_written_changed_and_removed_and_others_hear_of_it(app, laptop, link):
    phone = app.pair()
    with app.socket(phone) as socket:
        heard(socket, "hello")
        answer = laptop.post("/api/notes", json={"text": "belt on the left", "about": link["uid"]})
        assert answer.status_code == 200, answer.text
        assert heard(socket, "changed")["topics"] == ["notes"]
    uid = answer.json()["uid"]
    (note,) = notes(phone, about=link["uid"])
    assert (note["uid"], note["text"], note["about"], note["plan"], note["gone"], note["who"]) == (
        uid,
        "belt on the left",
        link["uid"],
        None,
        False,
        "laptop",
    )
    changed = phone.patch(f"/api/notes/{uid}", json={"text": "belt on the right", "base": note["revision"]})
    assert changed.status_code == 200
    assert [item["text"] for item in notes(laptop)] == ["belt on the right"]
    line = laptop.get("/api/events").json()["events"][-1]
    assert (line["kind"], line["who"]) == ("note", "phone")
    assert "belt on the right" in line["what"]
    assert laptop.request("DELETE", f"/api/notes/{uid}", json={"client_key": "k"}).status_code == 200
    assert notes(laptop) == []
    assert laptop.post("/api/undo").status_code == 200
    assert [item["text"] for item in notes(phone)] == ["belt on the right"]


def test_a_second_writer_sees_both_texts(app, laptop):
    uid = laptop.post("/api/notes", json={"text": "first"}).json()["uid"]
    base = notes(laptop)[0]["revision"]
    assert app.pair().patch(f"/api/notes/{uid}", json={"text": "theirs", "base": base}).status_code == 200
    answer = laptop.patch(f"/api/notes/{uid}", json={"text": "ours", "base": base})
    assert answer.status_code == 409
    told = answer.json()
    assert (told["yours"], told["theirs"], told["by"]) == ({"text": "ours"}, {"text": "theirs"}, "phone")
    assert told["errors"][0]["code"] == "changed-meanwhile"


def test_a_device_that_may_only_look_writes_nothing(app, laptop):
    looker = app.pair("look", "tablet")
    assert looker.post("/api/notes", json={"text": "x"}).status_code == 403
    assert notes(looker) == []


@pytest.mark.parametrize(
    ("method", "path", "body", "status", "code"),
    [
        ("POST", "/api/notes", {"text": " "}, 422, "no-note"),
        ("POST", "/api/notes", {"text": "x", "about": "nobody"}, 404, "no-such-entry"),
        ("POST", "/api/notes", {"text": "x", "plan": 7}, 404, "no-such-plan"),
        ("POST", "/api/notes", {"text": "x", "plan": 7, "about": "y"}, 422, "two-subjects"),
        ("PATCH", "/api/notes/nobody", {"text": "x", "base": 0}, 404, "no-such-note"),
        ("DELETE", "/api/notes/nobody", None, 404, "no-such-note"),
        ("GET", "/api/notes?plan=7", None, 404, "no-such-plan"),
    ],
)
def test_what_cannot_be_is_refused_in_words(laptop, method, path, body, status, code):
    answer = laptop.request(method, path, json=body)
    assert (answer.status_code, answer.json()["errors"][0]["code"]) == (status, code)

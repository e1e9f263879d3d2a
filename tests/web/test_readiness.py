"""Readiness and statements over the API."""

from __future__ import annotations


def test_the_first_page_says_what_is_next_and_where_each_point_stands(laptop):
    found = laptop.get("/api/readiness").json()
    assert found["next"]["text"]
    assert found["next"]["waits_for"]
    assert len(found["points"]) == 8
    assert {point["state"] for point in found["points"]} <= {"fine", "open", "stated", "not known"}
    assert found["plan"] is None
    assert found["links"]["total"] == len(found["links"]["not_set"]) > 0


def test_a_point_is_stated_taken_back_and_shown_with_who_and_when(app, laptop):
    phone = app.pair("edit", "Ana's phone")
    wish = {"what": "powered", "note": "fresh cells in all packs", "client_key": "tick 1"}
    first, again = phone.post("/api/statements", json=wish), phone.post("/api/statements", json=wish)
    assert first.json()["uid"] == again.json()["uid"]
    (statement,) = laptop.get("/api/statements").json()["statements"]
    assert (statement["who"], statement["note"]) == ("Ana's phone", "fresh cells in all packs")
    point = next(p for p in laptop.get("/api/readiness").json()["points"] if p["point"] == "powered")
    assert point["state"] == "stated"
    assert point["statement"]["who"] == "Ana's phone"
    assert laptop.delete(f"/api/statements/{statement['uid']}").status_code == 200
    assert laptop.get("/api/statements").json()["statements"] == []
    assert laptop.delete("/api/statements/nobody").status_code == 404


def test_what_nobody_can_state_is_refused(laptop):
    for wrong in ({"what": "loud"}, {"what": "heard", "about": "nobody"}, {"what": ""}, {"note": "x"}):
        assert laptop.post("/api/statements", json=wrong).status_code in (404, 409, 422), wrong


def test_with_a_plan_the_first_page_names_it_and_each_link_with_its_carrier_and_ticks(planned_app):
    laptop = planned_app.client()
    found = laptop.get("/api/readiness").json()
    plan = laptop.get("/api/plan").json()
    assert (found["plan"]["number"], found["plan"]["check_phrase"]) == (plan["number"], plan["check_phrase"])
    carriers = {link["id"]: link["carrier_hz"] for link in plan["document"]["links"]}
    lines = {link["id"]: link for link in found["links"]["all"]}
    assert {name: line["carrier_hz"] for name, line in lines.items() if line["carrier_hz"]} == carriers
    link = lines[next(iter(carriers))]
    wish = {"what": "set", "about": link["uid"], "plan": plan["number"], "client_time": "2027-05-14T15:40:00+01:00"}
    assert laptop.post("/api/statements", json=wish).status_code == 200
    again = next(x for x in laptop.get("/api/readiness").json()["links"]["all"] if x["uid"] == link["uid"])
    assert again["ticks"]["set"]["who"] == "laptop"
    assert again["ticks"]["heard"] is None

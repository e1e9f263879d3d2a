"""How links reach, as the API tells it."""

from __future__ import annotations

import json

import pytest
from served_app import heard

POINT = "strong"


def entry(client, kind: str, name: str) -> dict:
    return next(one for one in client.get("/api/brief").json()["entries"] if (one["kind"], one["id"]) == (kind, name))


def point(client) -> dict:
    return next(one for one in client.get("/api/readiness").json()["points"] if one["point"] == POINT)


def settled_point(app, client) -> dict:
    """Return the third point once it is worked out: whoever serves tells when that is."""
    with app.socket(client) as socket:
        while "being worked out" in (now := point(client))["text"]:
            while "readiness" not in heard(socket, "changed")["topics"]:
                continue
        return now


def test_it_tells_every_link_and_the_plan_of_the_place(app, laptop):
    found = laptop.get("/api/reach").json()
    assert found["plan"] is None
    assert "no plan" in found["carriers_from"]
    document = found["document"]
    assert document["schema"] == "bandwright.reach/1"
    assert len(document["links"]) == 19
    assert {one["id"] for one in document["area"]["links"]} == {one["id"] for one in document["links"]}


def test_one_link_can_be_asked_for_and_an_unknown_one_is_refused(app, laptop):
    found = laptop.get("/api/reach?link=L04").json()["document"]
    assert [one["id"] for one in found["links"]] == ["L04"]
    refused = laptop.get("/api/reach?link=L99")
    assert refused.status_code == 422
    assert 'there is no link "L99"' in refused.json()["errors"][0]["text"]


def test_carrier_to_interference_is_told_of_one_link_that_is_asked_for(app, laptop):
    for name in ("heron", "dunlin"):
        radio = entry(laptop, "radio", name)
        laptop.patch(f"/api/entries/{radio['uid']}", json={"base": radio["revision"], "changes": {"iip3_dbm": -15}})
    laptop.post("/api/plan/run", json={"time_limit_s": 5})
    with app.socket(laptop) as socket:
        while (laptop.get("/api/plan").json() or {}).get("number") is None:
            heard(socket, "changed")
    planned = {one["id"]: one["carrier_to_interference"] for one in laptop.get("/api/plan").json()["document"]["links"]}
    every = laptop.get("/api/reach").json()["document"]["links"]
    assert {one["carrier_to_interference"] for one in every} == {None}
    (link,) = laptop.get("/api/reach?link=L04").json()["document"]["links"]
    assert link["carrier_to_interference"]["needs_db"] == planned["L04"]["needs_db"]
    assert link["carrier_to_interference"]["culprit"]["level_dbm"] < 0


def test_an_antenna_in_hand_gives_the_map_it_would_give_where_it_is_put_down(app, laptop):
    antenna = entry(laptop, "antenna", "quay-east")
    wish = {"link": "L01", "antenna": "quay-east", "at_m": [4.5, 2.25]}
    before = laptop.get("/api/reach").json()
    found = laptop.post("/api/reach/preview", json=wish)
    assert found.status_code == 200, found.text
    glance = found.json()
    assert laptop.get("/api/reach").json() == before
    with app.socket(laptop) as socket:
        socket.send(json.dumps({"type": "place", "n": 3, **wish}))
        answer = heard(socket, "place")
    assert {key: answer[key] for key in glance} == glance
    moved = laptop.patch(
        f"/api/entries/{antenna['uid']}", json={"base": antenna["revision"], "changes": {"at_m": wish["at_m"]}}
    )
    assert moved.status_code == 200
    area = laptop.get("/api/reach").json()["document"]["area"]
    kept = next(one for one in area["maps"] if "L01" in one["links"])
    worst = next(one["worst"] for one in area["links"] if one["id"] == "L01")
    assert sorted(glance["map"]["links"]) == sorted(kept["links"])
    assert (glance["left_m"], glance["low_m"], glance["step_m"]) == (area["left_m"], area["low_m"], area["step_m"])
    # The map that is kept has the least of 25 points in each place; the one in hand has the point in its middle.
    known = [
        (a, b)
        for one, two in zip(glance["map"]["reserve_db"], kept["reserve_db"], strict=True)
        for a, b in zip(one, two, strict=True)
        if a is not None and b is not None
    ]
    assert len(known) > 500
    assert all(a >= b - 0.15 for a, b in known)
    assert abs(sum(a - b for a, b in known) / len(known)) < 2
    assert abs(glance["worst"]["reserve_db"] - worst["reserve_db"]) < 1


@pytest.mark.parametrize(
    ("wish", "status", "said"),
    [
        ({"link": "L99"}, 422, "there is no link"),
        ({"antenna": "mast"}, 422, "there is no antenna"),
        ({"at_m": [1e9, 0]}, 422, "at_m"),
        ({"at_m": [1]}, 422, "at_m"),
    ],
)
def test_an_antenna_in_hand_that_cannot_be_is_refused_in_words(shared_app, wish, status, said):
    client = shared_app.client()
    asked = {"link": "L01", "antenna": "quay-east", "at_m": [1, 2]} | wish
    answer = client.post("/api/reach/preview", json=asked)
    assert answer.status_code == status
    assert said in answer.text


def test_who_only_looks_may_ask_for_the_map_of_an_antenna_elsewhere(app, laptop):
    phone = app.pair(role="look")
    wish = {"link": "L01", "antenna": "quay-east", "at_m": [4.5, 2.25]}
    assert phone.post("/api/reach/preview", json=wish).status_code == 200


def test_the_standing_of_a_link_is_its_worst_point_or_a_lower_figure_at_a_stated_distance(app, laptop):
    document = laptop.get("/api/reach").json()["document"]
    on_plan = {one["id"]: one["worst"]["reserve_db"] for one in document["area"]["links"]}
    rows = [one for one in laptop.get("/api/brief").json()["entries"] if one["kind"] == "link"]
    stated = {one["id"]: "distance_m" in one["value"] for one in rows}
    assert set(stated.values()) == {True, False}
    for link in document["links"]:
        standing, worst = link["standing"], on_plan[link["id"]]
        far = link["walk"]["margin_db"] - link["walk"]["needed_db"]
        by_distance = stated[link["id"]] and far < worst
        counts, other = (far, worst) if by_distance else (worst, far)
        assert abs(standing["reserve_db"] - counts) < 0.02
        assert abs(standing["besides"]["reserve_db"] - other) < 0.02
        assert standing["state"] == ("short" if counts < 0 else "enough")
        where, besides = (standing["where"], standing["besides"]["where"])[:: 1 if by_distance else -1]
        assert where == f"at {link['distance_m']:g} m"
        assert besides.startswith("at the worst point of ")


def test_a_longer_cable_takes_as_much_from_the_margin_as_it_loses(app, laptop, authority):
    def budget() -> tuple[float, float]:
        link = laptop.get("/api/reach?link=E01").json()["document"]["links"][0]
        cable = next(step for step in link["branches"][0]["steps"] if step["what"] == "cable")
        return cable["gain_db"], link["margin_db"]

    run = entry(laptop, "run", "ears")
    loss, margin = budget()
    parts = [{**run["value"]["parts"][0], "length_m": 30}, *run["value"]["parts"][1:]]
    changed = laptop.patch(f"/api/entries/{run['uid']}", json={"base": run["revision"], "changes": {"parts": parts}})
    assert changed.status_code == 200, changed.text
    longer, lower = budget()
    authority("Loss of three times the cable", source="arithmetic", kind="arithmetic", ours=longer, theirs=3 * loss,
              tolerance=0.02)  # fmt: skip
    assert abs((lower - margin) - (longer - loss)) < 0.02
    laptop.post("/api/undo")
    assert budget() == (loss, margin)


def test_ready_names_what_falls_short_and_takes_a_statement_besides(app, laptop):
    now = settled_point(app, laptop)
    assert (now["state"], now["href"]) == ("open", "#/reach")
    standing = next(
        one["standing"] for one in laptop.get("/api/reach").json()["document"]["links"] if one["id"] == "E03"
    )
    assert standing["where"] == "at the worst point of the whole area"
    short = f"E03 In-ear mix C, barge falls short of what fading asks for by {-standing['reserve_db']:.1f} dB at the"
    assert now["text"] == f"{short} worst point of the whole area."
    stated = laptop.post("/api/statements", json={"what": POINT, "note": "walked it all"})
    assert stated.status_code == 200
    now = point(laptop)
    assert now["state"] == "stated"
    assert now["text"].endswith(f"walked it all. By reckoning: {short} worst point of the whole area.")


def test_ready_is_fine_where_every_margin_holds_and_does_not_know_without_facts(app, laptop):
    short = entry(laptop, "link", "E03")
    laptop.patch(
        f"/api/entries/{short['uid']}", json={"base": short["revision"], "changes": {"zone": "stage", "distance_m": 30}}
    )
    now = settled_point(app, laptop)
    assert now["state"] == "fine", now
    assert now["text"].startswith("All 19 links have the margin that fading asks for, E01 the least: ")
    radio = entry(laptop, "radio", "siskin")
    laptop.patch(f"/api/entries/{radio['uid']}", json={"base": radio["revision"], "changes": {"sensitivity_dbm": None}})
    now = settled_point(app, laptop)
    assert now["state"] == "not known"
    assert "E01 In-ear mix A" in now["text"]
    assert "facts are missing" in now["text"]

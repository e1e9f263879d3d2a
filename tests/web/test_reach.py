"""How links reach, as the API tells it."""

from __future__ import annotations

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


def test_the_standing_of_a_link_is_the_lowest_of_its_distance_and_its_worst_point(app, laptop):
    document = laptop.get("/api/reach").json()["document"]
    on_plan = {one["id"]: one["worst"] for one in document["area"]["links"]}
    for link in document["links"]:
        far = link["walk"]["margin_db"] - link["walk"]["needed_db"]
        lowest = min(far, on_plan[link["id"]]["reserve_db"])
        assert abs(link["standing"]["reserve_db"] - lowest) < 0.02
        assert link["standing"]["state"] == ("short" if lowest < 0 else "enough")


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
    assert now["text"] == "E03 In-ear mix C, barge falls short of what fading asks for."
    stated = laptop.post("/api/statements", json={"what": POINT, "note": "walked it all"})
    assert stated.status_code == 200
    now = point(laptop)
    assert now["state"] == "stated"
    assert now["text"].endswith(
        "walked it all. By reckoning: E03 In-ear mix C, barge falls short of what fading asks for."
    )


def test_ready_is_fine_where_every_margin_holds_and_does_not_know_without_facts(app, laptop):
    short = entry(laptop, "link", "E03")
    laptop.patch(
        f"/api/entries/{short['uid']}", json={"base": short["revision"], "changes": {"zone": "stage", "distance_m": 30}}
    )
    now = settled_point(app, laptop)
    assert now["state"] == "fine", now
    assert now["text"].startswith(
        "All 19 links have the margin that fading asks for at the worst point, E01 the least: "
    )
    radio = entry(laptop, "radio", "siskin")
    laptop.patch(f"/api/entries/{radio['uid']}", json={"base": radio["revision"], "changes": {"sensitivity_dbm": None}})
    now = settled_point(app, laptop)
    assert now["state"] == "not known"
    assert "E01 In-ear mix A" in now["text"]
    assert "facts are missing" in now["text"]

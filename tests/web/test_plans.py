"""Plans over the API: run, watched, stopped, previewed, moved, replanned."""

from __future__ import annotations

import json
import os
import signal

import pytest
from plan_runs import run
from served_app import heard


@pytest.fixture
def planned(planned_app):
    """The plan in force of a job that has one."""
    return planned_app.client().get("/api/plan").json()


def test_without_a_plan_there_is_none_and_nothing_to_move(laptop):
    assert laptop.get("/api/plan").json() is None
    assert laptop.get("/api/plans").json() == {"plans": []}
    assert laptop.get("/api/plan/run").json() is None
    assert laptop.post("/api/plan/run/cancel").json() is None
    assert laptop.get("/api/replan").json() is None
    link = next(e for e in laptop.get("/api/brief").json()["entries"] if e["kind"] == "link")
    for path, wish in (
        ("/api/plan/preview", {"link": link["uid"], "carrier_hz": 606_700_000}),
        ("/api/plan/move", {"link": link["uid"], "carrier_hz": 606_700_000, "base": 1}),
        ("/api/replan", {"lost": []}),
        ("/api/replan/accept", {}),
    ):
        assert laptop.post(path, json=wish).status_code == 422, path
    assert laptop.get("/api/plans/1").status_code == 404
    assert laptop.get("/api/sheets/sheet.html").status_code == 422


def test_a_run_ends_in_a_numbered_plan_that_is_in_force(planned_app, planned):
    laptop = planned_app.client()
    assert planned["number"] == 1
    assert planned["stale"] is None
    assert planned["document"]["schema"] == "bandwright.plan/1"
    assert planned["document"]["links"]
    (line,) = laptop.get("/api/plans").json()["plans"]
    assert (line["number"], line["current"], line["check_phrase"]) == (1, True, planned["check_phrase"])
    assert laptop.get("/api/plans/1").json() == planned


def test_a_plan_that_keeps_to_the_one_in_force_says_how_many_stay(planned_app, planned):
    laptop = planned_app.client()
    assert planned["kept_text"] is None
    state = run(planned_app, laptop, keep=True, time_limit_s=5)
    now = laptop.get("/api/plan").json()
    assert now["kept_text"].startswith(f"All {now['document']['kept']['had']} carriers of Plan 1 (")
    assert now["kept_text"] in state["text"]


def test_a_second_run_beside_one_that_goes_is_refused_and_a_cancelled_one_keeps_its_best(app, laptop):
    with app.socket(laptop) as socket:
        heard(socket, "hello")
        assert laptop.post("/api/plan/run", json={"time_limit_s": 600}).status_code == 200
        answer = laptop.post("/api/plan/run", json={})
        assert (answer.status_code, answer.json()["errors"][0]["code"]) == (409, "run-going")
        state = heard(socket, "run")
        while not state["placed"] and state["state"] == "running":
            state = heard(socket, "run")
        laptop.post("/api/plan/run/cancel")
        while state["state"] == "running":
            state = heard(socket, "run")
    assert state["state"] in ("cancelled", "done")
    assert laptop.get("/api/plan").json()["number"] == state["plan"]


def test_a_late_result_for_an_older_brief_is_dropped(app, laptop):
    link = next(e for e in laptop.get("/api/brief").json()["entries"] if e["kind"] == "link")
    with app.socket(laptop) as socket:
        heard(socket, "hello")
        laptop.post("/api/plan/run", json={"time_limit_s": 1})
        assert laptop.delete(f"/api/entries/{link['uid']}").status_code == 200
        while (state := heard(socket, "run"))["state"] == "running":
            pass
    assert (state["state"], state["plan"]) == ("dropped", None)
    assert laptop.get("/api/plan").json() is None


def test_a_carrier_in_the_hand_is_judged_by_the_socket_and_by_a_request_alike(planned_app, planned):
    app, laptop = planned_app, planned_app.client()
    spectrum = laptop.get("/api/spectrum").json()
    link = spectrum["links"][0]
    other = planned["document"]["links"][1]["carrier_hz"]
    asked = laptop.post("/api/plan/preview", json={"link": link["uid"], "carrier_hz": other}).json()
    assert asked["ok"] is False
    assert any(item["rule"] == "spacing" for item in asked["violations"])
    tablet = app.pair("look")
    with app.socket(tablet) as socket:
        heard(socket, "hello")
        for n in range(30):
            wish = {"type": "preview", "n": n, "link": link["uid"], "carrier_hz": other + 25_000 * (29 - n)}
            socket.send(json.dumps(wish))
        answer = heard(socket, "preview")
        while answer["n"] < 29:  # some in between are passed over: the newest wins
            newer = heard(socket, "preview")
            assert newer["n"] > answer["n"]
            answer = newer
        socket.send(json.dumps({"type": "preview", "n": 99, "link": "nobody", "carrier_hz": other}))
        refused = heard(socket, "preview")
    assert {key: value for key, value in answer.items() if key not in ("type", "n")} == asked
    assert (refused["n"], refused["errors"][0]["code"]) == (99, "no-such-link")


def test_a_move_makes_a_new_plan_and_one_from_an_older_plan_is_refused(planned_app, planned):
    laptop = planned_app.client()
    link = laptop.get("/api/spectrum").json()["links"][0]
    wish = {"link": link["uid"], "carrier_hz": 606_725_000, "base": 1, "client_key": "drop 1"}
    moved = laptop.post("/api/plan/move", json=wish)
    assert moved.status_code == 200, moved.text
    assert (moved.json()["number"], moved.json()["in_force"]) == (2, True)
    assert laptop.post("/api/plan/move", json=wish).json()["number"] == 2
    late = laptop.post("/api/plan/move", json=wish | {"client_key": "drop 2"})
    assert late.status_code == 409
    assert laptop.post("/api/plans/1/current").status_code == 200
    assert laptop.get("/api/plan").json()["number"] == 1
    assert laptop.post("/api/undo").status_code == 200
    assert laptop.get("/api/plan").json()["number"] == 2


def test_a_lost_link_is_replanned_and_the_proposal_accepted(planned_app, planned):
    app, laptop = planned_app, planned_app.client()
    lost = planned["document"]["links"][0]
    state = run(app, laptop, "/api/replan", lost=[lost["id"]], time_limit_s=2)
    assert state["state"] == "done", state
    found = laptop.get("/api/replan").json()
    assert (found["lost"], found["base"]) == ([lost["id"]], 1)
    assert found["document"]["schema"] == "bandwright.replan/1"
    accepted = laptop.post("/api/replan/accept", json={"keep_off": True}).json()
    assert (accepted["number"], accepted["in_force"]) == (2, True)
    (heard,) = [item for item in laptop.get("/api/spectrum").json()["others"] if item["id"] == f"lost-{lost['id']}"]
    assert heard["carrier_hz"] == lost["carrier_hz"]
    assert laptop.get("/api/plan").json()["stale"] is None
    assert laptop.get("/api/replan").json() is None
    now = {item["id"]: item["carrier_hz"] for item in laptop.get("/api/plan").json()["document"]["links"]}
    assert now.get(lost["id"]) != lost["carrier_hz"]


def test_why_and_how_many_more_are_answered_with_the_documents_of_the_commands(planned_app, planned):
    laptop = planned_app.client()
    link = planned["document"]["links"][0]
    why = laptop.get("/api/why", params={"link": link["id"], "mhz": link["carrier_mhz"]}).json()
    assert why["schema"] == "bandwright.why/1"
    radio = laptop.get("/api/spectrum").json()["radios"][0]["id"]
    assert laptop.get("/api/capacity", params={"radio": radio}).json()["schema"] == "bandwright.capacity/1"
    for path, wrong in (
        ("/api/why", {"link": "nobody", "mhz": "606.7"}),
        ("/api/why", {"link": link["id"], "mhz": "loud"}),
        ("/api/why", {"link": link["id"], "mhz": "1e9999"}),
        ("/api/capacity", {"radio": "nobody"}),
        ("/api/capacity", {}),
    ):
        assert laptop.get(path, params=wrong).status_code in (404, 422), wrong


def test_the_worker_that_dies_fails_the_run_in_a_sentence_and_the_next_one_works(app, laptop):
    with app.socket(laptop) as socket:
        heard(socket, "hello")
        laptop.post("/api/plan/run", json={"time_limit_s": 600})
        heard(socket, "run")
        process = app.serving.desk.worker.process_id
        os.kill(process, signal.SIGKILL)
        while (state := heard(socket, "run"))["state"] == "running":
            pass
    assert state["state"] == "failed"
    assert "ended unexpectedly" in state["text"]
    assert run(app, laptop, time_limit_s=2)["state"] == "done"
    assert laptop.get("/api/plan/run").json()["state"] == "done"

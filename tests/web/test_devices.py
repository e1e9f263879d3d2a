"""Pairing and devices over the API: what a guest can and cannot do, and how long."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fastapi.routing import APIRoute, APIWebSocketRoute
from served_app import OWN_KEY, heard

from bandwright.service.devices import KEPT
from bandwright.web.guard import OPEN, READING
from bandwright.web.routes import ROUTERS


def code_of(answer):
    return answer.json()["errors"][0]["code"]


def test_a_code_is_shown_on_the_laptop_only_with_its_picture_and_an_honest_sentence(app, laptop):
    assert laptop.get("/api/pairing").json() is None
    offer = laptop.post("/api/pairing", json={"role": "look"}).json()
    assert laptop.get("/api/pairing").json() == offer
    assert offer["url"].endswith(f"/#/pair/{offer['code']}")
    assert offer["qr_svg"].startswith("<svg")
    assert "style=" not in offer["qr_svg"]
    assert "anybody on the same network can read it" in offer["notice"]
    phone = app.pair("edit")
    for answer in (phone.get("/api/pairing"), phone.post("/api/pairing", json={"role": "edit"})):
        assert (answer.status_code, code_of(answer)) == (403, "laptop-only")
    laptop.post("/api/pairing", json={"role": "look"})
    assert laptop.delete("/api/pairing").status_code == 204
    assert laptop.get("/api/pairing").json() is None


def test_a_code_works_once_and_a_wrong_or_late_one_not_at_all(app, laptop):
    stranger = app.client(None)
    code = laptop.post("/api/pairing", json={"role": "edit"}).json()["code"]
    answer = stranger.post("/api/pair", json={"code": "AAAAAA" if code != "AAAAAA" else "BBBBBB", "name": "x"})
    assert (answer.status_code, code_of(answer)) == (403, "wrong-code")
    paired = stranger.post("/api/pair", json={"code": code, "name": "Ana's phone"})
    assert paired.json() == {"name": "Ana's phone", "role": "edit", "local": False}
    assert code_of(stranger.post("/api/pair", json={"code": code, "name": "y"})) == "wrong-code"
    late = laptop.post("/api/pairing", json={"role": "edit"}).json()["code"]
    app.clock.passed += 601
    assert code_of(stranger.post("/api/pair", json={"code": late, "name": "z"})) == "wrong-code"


def test_a_name_that_cannot_be_taken_costs_no_code(app, laptop):
    code = laptop.post("/api/pairing", json={"role": "edit"}).json()["code"]
    stranger = app.client(None)
    answer = stranger.post("/api/pair", json={"code": code, "name": "   "})
    assert (answer.status_code, code_of(answer)) == (422, "device-name")
    assert stranger.post("/api/pair", json={"code": code, "name": "Ana's phone"}).status_code == 200


def test_who_guesses_codes_is_held_back_and_told_how_long(app, laptop):
    stranger = app.client(None)
    laptop.post("/api/pairing", json={"role": "edit"})
    for _ in range(5):
        assert stranger.post("/api/pair", json={"code": "no", "name": "x"}).status_code == 403
    answer = stranger.post("/api/pair", json={"code": "no", "name": "x"})
    assert (answer.status_code, code_of(answer)) == (429, "too-many-tries")
    assert 1 <= int(answer.headers["Retry-After"]) <= 61


def test_the_cookie_is_for_this_site_only_and_no_script_reads_it(app, laptop):
    code = laptop.post("/api/pairing", json={"role": "edit"}).json()["code"]
    cookie = app.client(None).post("/api/pair", json={"code": code, "name": "x"}).headers["Set-Cookie"]
    assert cookie.startswith(f"bandwright-{app.port}=")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))


def test_the_job_file_holds_no_token(app, job_file):
    phone = app.pair()
    token = phone.headers["Cookie"].partition("=")[2]
    app.serving.desk.file.checkpoint()
    for path in job_file.parent.glob("job.bwjob*"):
        data = path.read_bytes()
        assert token.encode() not in data
        assert OWN_KEY.encode() not in data


def test_a_device_is_let_in_for_a_month_and_not_longer(app):
    phone = app.pair()
    assert phone.get("/api/job").status_code == 200
    app.clock.passed += (KEPT - timedelta(minutes=5)).total_seconds()
    assert phone.get("/api/job").status_code == 200
    app.clock.passed += 600
    assert code_of(phone.get("/api/job")) == "not-paired"


def test_the_laptop_renames_devices_changes_roles_and_shuts_out(app, laptop):
    phone = app.pair("look", "phone")
    (device,) = laptop.get("/api/devices").json()["devices"]
    assert (device["name"], device["role"], device["me"]) == ("phone", "look", False)
    assert phone.get("/api/devices").json()["devices"][0]["me"] is True
    path = f"/api/devices/{device['uid']}"
    changed = laptop.patch(path, json={"name": "Ana's phone", "role": "edit"}).json()
    assert (changed["name"], changed["role"]) == ("Ana's phone", "edit")
    assert phone.get("/api/job").json()["me"]["role"] == "edit"
    for answer in (phone.patch(path, json={"role": "edit"}), phone.delete(path)):
        assert (answer.status_code, code_of(answer)) == (403, "laptop-only")
    assert laptop.delete(path).json()["revoked"] is not None
    assert phone.get("/api/job").status_code == 401
    assert laptop.delete("/api/devices/nobody").status_code == 404


def test_when_a_device_was_last_here_is_told(app, laptop):
    phone = app.pair()
    assert laptop.get("/api/devices").json()["devices"][0]["last_seen"] is None
    with app.socket(phone) as socket:
        heard(socket, "hello")
        (device,) = laptop.get("/api/devices").json()["devices"]
        assert device["here"] is True
    assert device["last_seen"] is not None


@pytest.mark.parametrize("name", ["", "   ", "x" * 61, "a\u202eb", "a\x00b"])
def test_a_name_by_which_nobody_can_be_told_is_refused(app, laptop, name):
    code = laptop.post("/api/pairing", json={"role": "edit"}).json()["code"]
    answer = app.client(None).post("/api/pair", json={"code": code, "name": name})
    assert (answer.status_code, code_of(answer)) == (422, "device-name")


def test_two_devices_of_one_name_are_told_apart_and_nobody_is_called_as_the_laptop(app, laptop):
    for name in ("phone", "phone", "laptop"):
        app.pair("edit", name)
    names = [device["name"] for device in laptop.get("/api/devices").json()["devices"]]
    assert names == ["phone", "phone 2", "laptop 2"]


def test_a_looking_device_is_refused_by_every_route_that_changes_something(app):
    tablet = app.pair("look")
    tried = 0
    for router in ROUTERS:
        for route in router.routes:
            assert isinstance(route, APIRoute | APIWebSocketRoute)
            for method in getattr(route, "methods", set()) - {"GET", "HEAD"}:
                if route.path in OPEN | READING:
                    continue
                path = route.path.replace("{", "").replace("}", "")
                answer = tablet.request(method, path, json={})
                assert (answer.status_code, code_of(answer)) == (403, "may-only-look"), (method, path)
                tried += 1
    assert tried > 8


def test_no_route_but_pairing_answers_a_stranger(app):
    stranger = app.client(None)
    for router in ROUTERS:
        for route in router.routes:
            for method in getattr(route, "methods", ()):
                if route.path not in OPEN:
                    assert stranger.request(method, route.path).status_code == 401, (method, route.path)
    assert stranger.get("/api/openapi.json").status_code == 401

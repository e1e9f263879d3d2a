"""The socket: hello, what changed, and who is kept out."""

from __future__ import annotations

import json

import pytest
from served_app import heard, served
from websockets.exceptions import ConnectionClosed, InvalidStatus


def test_a_page_is_greeted_with_the_boot_word_the_last_event_and_who_it_is(app, laptop):
    with app.socket(laptop) as socket:
        hello = heard(socket, "hello")
    assert hello["boot"] == app.serving.boot == laptop.get("/api/job").json()["boot"]
    assert hello["seq"] == laptop.get("/api/job").json()["seq"]
    assert hello["me"] == {"name": "laptop", "role": "edit", "local": True}


def test_every_page_hears_what_somebody_changed(app, laptop):
    phone = app.pair("look")
    with app.socket(laptop) as one, app.socket(phone) as two:
        heard(one, "hello")
        heard(two, "hello")
        added = laptop.post("/api/entries", json={"kind": "link", "value": {"name": "Ola"}}).json()
        for socket in (one, two):
            told = heard(socket, "changed")
            assert (told["seq"], told["who"]) == (added["seq"], "laptop")
            assert told["uids"] == [added["entries"][0]["uid"]]
            assert "brief" in told["topics"]


@pytest.mark.parametrize("origin", ["http://evil.example", "null", None])
def test_a_foreign_page_gets_no_socket_even_with_the_cookie(shared_app, origin):
    app, laptop = shared_app, shared_app.client()
    with pytest.raises(InvalidStatus) as caught:
        app.socket(laptop, Origin=origin)
    assert caught.value.response.status_code == 403


def test_a_stranger_gets_no_socket(shared_app):
    with pytest.raises(InvalidStatus):
        shared_app.socket(shared_app.client(None))


def test_who_is_shut_out_loses_the_socket_at_once_and_gets_no_other(app, laptop):
    phone = app.pair()
    (device,) = laptop.get("/api/devices").json()["devices"]
    with app.socket(phone) as socket:
        heard(socket, "hello")
        assert laptop.delete(f"/api/devices/{device['uid']}").status_code == 200
        with pytest.raises(ConnectionClosed) as caught:
            heard(socket, "never")
    assert caught.value.rcvd.code == 4401
    assert phone.get("/api/brief").status_code == 401
    with pytest.raises(InvalidStatus):
        app.socket(phone)


def test_what_is_no_message_is_refused_and_the_socket_stays(app, laptop):
    with app.socket(laptop) as socket:
        for text in ("{", "[]", '{"type": "edit"}', '{"type": "preview", "n": -1, "link": "x", "carrier_hz": 1}'):
            socket.send(text)
            assert heard(socket, "error")["errors"][0]["code"] == "no-such-message"


def test_a_message_that_is_too_long_ends_the_socket_and_nothing_else(app, laptop):
    with app.socket(laptop) as socket:
        heard(socket, "hello")
        socket.send("x" * 100_000)
        with pytest.raises(ConnectionClosed):
            socket.recv(timeout=60)
    assert laptop.get("/api/job").status_code == 200


def test_a_restart_is_seen_by_its_boot_word_and_the_cookie_still_counts(job_file):
    with served(job_file) as first:
        phone = first.pair()
        cookie, boot, port = phone.headers["Cookie"], first.serving.boot, first.port
        with first.socket(phone) as socket:
            heard(socket, "hello")
    with served(job_file, port=port) as second:
        phone = second.client(cookie.partition("=")[2])
        with second.socket(phone) as socket:
            hello = heard(socket, "hello")
    assert hello["boot"] != boot
    assert hello["me"]["name"] == "phone"


def test_a_mistake_in_a_preview_is_told_and_the_socket_stays(app, laptop, monkeypatch, caplog):
    def broken(*_given):
        raise ZeroDivisionError("Mara")

    monkeypatch.setattr("bandwright.web.app.preview_link", broken)
    with app.socket(laptop) as socket:
        for n in (1, 2):
            socket.send(json.dumps({"type": "preview", "n": n, "link": "x", "carrier_hz": 606_700_000}))
            answer = heard(socket, "preview")
            assert (answer["n"], answer["errors"][0]["code"]) == (n, "our-bug")
            assert "Mara" not in str(answer)
    assert "a preview made a mistake" in caplog.text

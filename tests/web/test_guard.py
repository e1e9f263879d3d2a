"""The guard: what a foreign page, a foreign name, a stranger and too large a body meet, before anything is done."""

from __future__ import annotations

import asyncio
import json
from datetime import UTC, datetime, timedelta

import httpx
import pytest

from bandwright.service.devices import Device, token_hash
from bandwright.web.guard import MOST_BYTES, MOST_SWEEP_BYTES, OPEN, Guard
from bandwright.web.names import Names
from bandwright.web.sessions import Sessions

PORT = 8377
HOST = f"127.0.0.1:{PORT}"
ORIGIN = f"http://{HOST}"
OWN_KEY = "k" * 43
NOW = datetime(2027, 5, 14, 15, 40, tzinfo=UTC)


async def inner(scope, receive, send):
    """Read the whole body and say who asked."""
    size = 0
    if scope["type"] == "http":
        while True:
            message = await receive()
            size += len(message.get("body", b""))
            if not message.get("more_body"):
                break
    me = scope["state"]["me"]
    body = json.dumps({"me": me and me.name, "size": size}).encode()
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": body})


def device(name: str, role: str = "edit", **more) -> Device:
    facts = {"expires": NOW + timedelta(days=1), "revoked": None} | more
    return Device(
        uid=name, name=name, role=role, token_sha256=token_hash(name), paired=NOW, last_seen=None, **facts
    )  # the token is the name


@pytest.fixture
def guard():
    sessions = Sessions(own_key=OWN_KEY, own_name="laptop", port=PORT, now=lambda: NOW)
    sessions.know(
        [
            device("phone"),
            device("tablet", "look"),
            device("old", expires=NOW),
            device("lost", revoked=NOW - timedelta(hours=1)),
        ]
    )
    return Guard(app=inner, names=Names(port=PORT, names=frozenset({"stage.test"})), sessions=sessions)


def ask(guard, method, path, *, peer="127.0.0.1", cookie=OWN_KEY, host=HOST, origin=ORIGIN, content=None, **headers):
    sent = {"Host": host} | {name.replace("_", "-"): value for name, value in headers.items()}
    if origin is not None:
        sent["Origin"] = origin
    if cookie is not None:
        sent["Cookie"] = f"bandwright-{PORT}={cookie}"

    async def go():
        transport = httpx.ASGITransport(guard, client=(peer, 50000))
        async with httpx.AsyncClient(transport=transport, base_url=f"http://{HOST}") as client:
            return await client.request(method, path, headers=sent, content=content)

    return asyncio.run(go())


def code(answer) -> str:
    return answer.json()["errors"][0]["code"]


@pytest.mark.parametrize(
    "host", ["evil.example:8377", "127.0.0.1:8378", "127.0.0.1", "localhost.:8377", "127.0.0.1.evil.example:8377", ""]
)
def test_a_foreign_name_is_refused_even_for_reading_and_even_with_the_key(guard, host):
    answer = ask(guard, "GET", "/api/brief", host=host, origin=f"http://{host}")
    assert (answer.status_code, code(answer)) == (403, "foreign-host")


@pytest.mark.parametrize("host", [HOST, "localhost:8377", "LOCALHOST:8377", "stage.test:8377"])
def test_our_own_names_are_let_through(guard, host):
    assert ask(guard, "GET", "/api/brief", host=host).status_code == 200


def test_two_host_headers_are_none(guard):
    async def go():
        messages = []
        scope = {"type": "http", "method": "GET", "path": "/", "server": ("127.0.0.1", PORT), "client": None}
        scope["headers"] = [(b"host", HOST.encode()), (b"host", b"evil.example")]

        async def send(message):
            messages.append(message)

        await guard(scope, None, send)
        return messages[0]["status"]

    assert asyncio.run(go()) == 403


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", None, "https://127.0.0.1:8377", "http://127.0.0.1", "http://localhost:8377"],
)
def test_what_changes_something_must_come_from_a_page_of_ours(guard, method, origin):
    answer = ask(guard, method, "/api/entries", origin=origin)
    assert (answer.status_code, code(answer)) == (403, "foreign-origin")


def test_reading_needs_no_origin(guard):
    assert ask(guard, "GET", "/api/brief", origin=None).status_code == 200


@pytest.mark.parametrize(
    ("said", "status"), [("same-origin", 200), ("none", 200), ("same-site", 403), ("cross-site", 403)]
)
def test_where_a_browser_says_from_where_it_asks_a_page_on_another_port_reads_nothing(guard, said, status):
    assert ask(guard, "GET", "/api/brief", origin=None, Sec_Fetch_Site=said).status_code == status
    assert ask(guard, "GET", "/", origin=None, Sec_Fetch_Site=said).status_code == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", None])
def test_a_socket_from_elsewhere_is_never_accepted(guard, origin):
    headers = [(b"host", HOST.encode()), (b"cookie", f"bandwright-{PORT}={OWN_KEY}".encode())]
    headers += [(b"origin", origin.encode())] if origin else []
    assert refused_socket(guard, headers)


def test_a_socket_of_a_stranger_is_never_accepted(guard):
    assert refused_socket(guard, [(b"host", HOST.encode()), (b"origin", ORIGIN.encode())])


def refused_socket(guard, headers) -> bool:
    async def go():
        messages = []
        scope = {"type": "websocket", "path": "/api/socket", "headers": headers, "server": ("127.0.0.1", PORT)}
        scope["client"] = ("127.0.0.1", 50000)

        async def send(message):
            messages.append(message)

        await guard(scope, None, send)
        return messages

    return asyncio.run(go()) == [{"type": "websocket.close", "code": 1008}]


@pytest.mark.parametrize("cookie", [None, "", "x", "lost", "old", "phonE", '"', "a=b; c"])
def test_a_stranger_and_who_was_shut_out_or_expired_are_refused(guard, cookie):
    answer = ask(guard, "GET", "/api/brief", cookie=cookie)
    assert (answer.status_code, code(answer)) == (401, "not-paired")


def test_a_stranger_may_see_the_page_and_bring_a_code(guard):
    assert ask(guard, "GET", "/", cookie=None).json()["me"] is None
    assert {"/api/pair"} == OPEN
    assert ask(guard, "POST", "/api/pair", cookie=None).status_code == 200


def test_the_laptops_own_key_counts_on_the_laptop_only(guard):
    assert ask(guard, "GET", "/api/brief").json()["me"] == "laptop"
    assert ask(guard, "GET", "/api/brief", peer="192.168.1.77").status_code == 401


def test_a_paired_device_is_known_by_its_token(guard):
    assert ask(guard, "GET", "/api/brief", cookie="phone", peer="192.168.1.77").json()["me"] == "phone"


def test_cookies_that_others_on_this_computer_set_do_not_shut_us_out(guard):
    cookie = f'{OWN_KEY}x; theme={{"dark":true}}; a=1=2; ="; bandwright-9999=other; bandwright-{PORT}-x=1'
    assert ask(guard, "GET", "/api/brief", cookie=cookie).status_code == 401
    beside = f'theme={{"dark":true, "q":"\\"}}; a=1=2; bandwright-9999=other; bandwright-{PORT}={OWN_KEY}; z'
    assert ask(guard, "GET", "/api/brief", cookie=None, Cookie=beside).status_code == 200


def test_a_looking_device_changes_nothing_but_may_ask_for_a_preview(guard):
    assert ask(guard, "GET", "/api/brief", cookie="tablet").status_code == 200
    answer = ask(guard, "POST", "/api/entries", cookie="tablet")
    assert (answer.status_code, code(answer)) == (403, "may-only-look")
    assert ask(guard, "POST", "/api/plan/preview", cookie="tablet").status_code == 200


@pytest.mark.parametrize(("path", "most"), [("/api/entries", MOST_BYTES), ("/api/sweeps", MOST_SWEEP_BYTES)])
def test_a_body_may_be_as_large_as_belongs_there(guard, path, most):
    assert ask(guard, "POST", path, content=bytes(most)).json()["size"] == most
    answer = ask(guard, "POST", path, content=bytes(most + 1))
    assert (answer.status_code, code(answer)) == (413, "too-large")


def test_a_body_that_says_too_little_of_its_length_is_cut_off_all_the_same(guard):
    async def pieces():
        for _ in range(3):
            yield bytes(MOST_BYTES // 2)

    from starlette.exceptions import HTTPException

    with pytest.raises(HTTPException, match="more than the 1 MiB") as caught:
        ask(guard, "POST", "/api/entries", content=pieces())
    assert caught.value.status_code == 413


def test_every_answer_keeps_a_page_to_its_own_files(guard):
    for answer in (ask(guard, "GET", "/"), ask(guard, "GET", "/api/brief", cookie=None)):
        policy = answer.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'self';")
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert f"connect-src 'self' ws://{HOST}" in policy
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["X-Frame-Options"] == "DENY"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert ask(guard, "GET", "/api/brief").headers["Cache-Control"] == "no-store"


def test_a_foreign_name_is_not_written_into_the_policy(guard):
    answer = ask(guard, "GET", "/", host="x;script-src")
    assert "script-src" not in answer.headers["Content-Security-Policy"]

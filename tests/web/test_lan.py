"""From the network: only paired devices, only by our own names; and not at all unless it is asked for."""

from __future__ import annotations

import socket

import httpx
import pytest
from served_app import OWN_KEY, served

from bandwright.web.names import lan_addresses

NEAR = next(iter(lan_addresses()), None)
needs_address = pytest.mark.skipif(NEAR is None, reason="this computer is on no network by which others reach it")


@needs_address
def test_without_lan_the_network_does_not_reach_the_pages(job_file):
    with served(job_file) as app, socket.socket() as other:
        other.settimeout(10)
        with pytest.raises(OSError, match=r"refused|timed out|unreachable"):
            other.connect((NEAR, app.port))


@needs_address
def test_from_the_network_the_laptops_own_key_does_not_count_and_a_paired_device_gets_in(job_file):
    with served(job_file, lan=True) as app:
        address = f"http://{NEAR}:{app.port}"
        own = {"Cookie": f"bandwright-{app.port}={OWN_KEY}"}
        assert httpx.get(f"{address}/api/job", headers=own).status_code == 401
        offer = app.client().post("/api/pairing", json={"role": "look"}).json()
        assert offer["url"].startswith("http://")
        assert not offer["url"].startswith("http://127.")
        answer = httpx.post(
            f"{address}/api/pair", json={"code": offer["code"], "name": "phone"}, headers={"Origin": address}
        )
        assert answer.status_code == 200
        me = httpx.get(f"{address}/api/job", cookies=dict(answer.cookies)).json()["me"]
        assert me == {"name": "phone", "role": "look", "local": False}


@needs_address
def test_a_launch_key_is_of_no_use_from_the_network(job_file):
    with served(job_file, lan=True) as app:
        key = app.serving.sessions.launch_key(once=True)
        near = httpx.get(f"http://{NEAR}:{app.port}/", params={"key": key})
        assert (near.status_code, near.headers.get("Set-Cookie")) == (303, None)
        here = httpx.get(f"{app.address}/", params={"key": key})
        assert "bandwright-" in here.headers["Set-Cookie"]
        again = httpx.get(f"{app.address}/", params={"key": key})
        assert again.headers.get("Set-Cookie") is None


def test_a_name_that_was_stated_reaches_the_pages_and_no_other_does(job_file):
    with served(job_file, lan=True) as app:
        for host, status in ((f"stage.test:{app.port}", 200), (f"evil.example:{app.port}", 403)):
            assert httpx.get(f"{app.address}/", headers={"Host": host}).status_code == status

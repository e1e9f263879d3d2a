"""Sweeps over the API: brought, told, drawn, put aside; and what must not get in."""

from __future__ import annotations

import gzip
import struct

import pytest

from bandwright.web import guard

CSV = "".join(f"{470 + i * 0.025:.3f}, {-100 + (i % 7)}.5\n" for i in range(400)).encode()


def bring(client, data=CSV, **given):
    return client.post("/api/sweeps", params={"name": "base.csv", **given}, content=data)


@pytest.fixture
def sweep(laptop):
    answer = bring(laptop, place="quay", own_transmitters="off")
    assert answer.status_code == 200, answer.text
    return answer.json()["uid"]


def line(client, uid):
    return next(item for item in client.get("/api/sweeps").json()["sweeps"] if item["uid"] == uid)


def test_a_sweep_is_brought_told_and_put_aside(laptop, sweep):
    found = line(laptop, sweep)
    assert (found["name"], found["by"], found["in_use"], found["removed"]) == ("base.csv", "laptop", True, None)
    assert found["points"] == 400
    assert found["facts"]["own_transmitters"] == "off"
    path = f"/api/sweeps/{sweep}"
    assert laptop.patch(path, json={"name": "morning.csv", "antenna": "paddle"}).status_code == 200
    found = line(laptop, sweep)
    assert (found["name"], found["facts"]["antenna"]) == ("morning.csv", "paddle")
    assert laptop.delete(path).status_code == 200
    assert line(laptop, sweep)["removed"] is not None
    assert laptop.post("/api/undo").status_code == 200
    assert line(laptop, sweep)["removed"] is None


def test_levels_are_numbers_of_two_bytes_in_the_order_that_the_trace_tells(laptop, sweep):
    trace = laptop.get(f"/api/sweeps/{sweep}/trace").json()
    assert (trace["unit"], trace["count"], trace["series"]) == ("dB", 400, ["highest", "typical", "floor"])
    assert sum(segment["count"] for segment in trace["segments"]) == 400
    data = laptop.get(f"/api/sweeps/{sweep}/levels").content
    levels = struct.unpack(f"<{400 * 3}h", data)
    assert [level / 100 for level in levels[:400]] == [float(row.split(",")[1]) for row in CSV.decode().splitlines()]


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "..\\..\\boot.ini", "/etc/passwd", "C:\\x\\y.csv", "a/../b.csv", ".hidden.csv"]
)
def test_a_name_that_is_a_path_becomes_its_last_part_and_leads_nowhere(laptop, name):
    answer = laptop.post("/api/sweeps", params={"name": name}, content=CSV)
    assert answer.status_code == 200, answer.text
    kept = line(laptop, answer.json()["uid"])["name"]
    assert "/" not in kept
    assert "\\" not in kept
    assert not kept.startswith(".")


@pytest.mark.parametrize("data", [b"", b"\0" * 100, b"hello", b"PK\x03\x04" + bytes(100), b"\x1f\x8b" + bytes(50)])
def test_what_is_no_sweep_is_refused_in_words_and_not_kept(shared_app, data):
    laptop = shared_app.client()
    before = laptop.get("/api/sweeps").json()
    answer = bring(laptop, data)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["text"]
    assert laptop.get("/api/sweeps").json() == before


def test_a_gzip_bomb_is_stopped_long_before_it_fills_the_machine(laptop):
    bomb = gzip.compress(CSV + (b"#" * 999 + b"\n") * 60_000, 9)
    assert len(bomb) < 300_000
    answer = bring(laptop, bomb)
    assert answer.status_code == 422
    assert "unpacks to more than 400 times its size" in answer.json()["errors"][0]["text"]


def test_a_packed_sweep_is_read(laptop):
    answer = laptop.post("/api/sweeps", params={"name": "base.csv.gz"}, content=gzip.compress(CSV))
    assert line(laptop, answer.json()["uid"])["points"] == 400


def test_an_upload_that_is_too_large_is_refused(app, laptop, monkeypatch):
    monkeypatch.setitem(guard._MOST_AT, "/api/sweeps", 10_000)

    def pieces():
        for _ in range(20):
            yield CSV[:1000]

    for data in (bytes(10_001), pieces()):
        answer = bring(laptop, data)
        assert (answer.status_code, answer.json()["errors"][0]["code"]) == (413, "too-large")
    assert laptop.get("/api/job").status_code == 200


def test_a_sweep_that_is_sent_twice_is_kept_once(laptop):
    first, second = (bring(laptop, client_key="drop 1") for _ in range(2))
    assert first.json()["uid"] == second.json()["uid"]
    names = [item["name"] for item in laptop.get("/api/sweeps").json()["sweeps"]]
    assert names.count("base.csv") == 1


def test_what_makes_no_sense_of_a_sweep_is_refused(laptop, sweep):
    path = f"/api/sweeps/{sweep}"
    for wrong in ({"place": "nowhere"}, {"gain_ahead_db": "loud"}, {"removed": True}, {"colour": "red"}):
        assert laptop.patch(path, json=wrong).status_code == 422, wrong
    for method, address in (("PATCH", "/api/sweeps/nobody"), ("DELETE", "/api/sweeps/nobody")):
        assert laptop.request(method, address, json={}).status_code == 404
    assert laptop.get("/api/sweeps/nobody/levels").status_code == 404

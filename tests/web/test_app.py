"""The application around its routes: the shell, its assets, and mistakes of ours."""

from __future__ import annotations

import gzip
import json
import logging
from pathlib import Path

from bandwright.errors import MachineError


def test_the_page_is_asked_for_each_time_and_its_files_are_kept_for_ever(app):
    stranger = app.client(None)
    page = stranger.get("/")
    assert page.headers["Cache-Control"] == "no-cache"
    assert page.headers["Content-Type"].startswith("text/html")
    script = stranger.get(f"/a/{app.serving.assets.digest}/app.js")
    assert "immutable" in script.headers["Cache-Control"]
    assert script.headers["Content-Type"].startswith("text/javascript")
    assert stranger.get("/a/0123456789abcdef/app.js").status_code == 404


def test_all_that_a_page_needs_is_small(app):
    files = app.serving.assets.files
    code = b"".join(asset.data for path, asset in files.items() if path.endswith((".js", ".css")))
    assert len(gzip.compress(code)) < 400_000


def test_a_mistake_of_ours_is_one_sentence_with_a_report_and_the_next_request_is_answered(
    app, laptop, monkeypatch, tmp_path, capfd
):
    def broken(*_given, **_more):
        raise ZeroDivisionError("Mara")

    monkeypatch.setattr("bandwright.web.routes.job.head_of", broken)
    answer = laptop.get("/api/job")
    (error,) = answer.json()["errors"]
    assert (answer.status_code, error["code"]) == (500, "our-bug")
    assert "Mara" not in answer.text
    (report,) = (tmp_path / "state" / "bandwright").glob("bandwright-report-*.txt")
    assert str(report) in error["hint"]
    assert "ZeroDivisionError: Mara" in report.read_text()
    phone = app.pair("edit")
    (error,) = phone.get("/api/job").json()["errors"]
    assert "/" not in error["hint"]  # what a path holds is nobody else's business
    monkeypatch.undo()
    assert laptop.get("/api/job").status_code == 200
    assert "Traceback" not in capfd.readouterr().err


def test_the_log_tells_addresses_of_ours_and_nothing_that_somebody_typed(app, laptop, caplog):
    caplog.set_level(logging.INFO, "bandwright")
    stranger = app.client(None)
    stranger.get("/api/job%0a2027-05-14 12:00:00,000 ERROR the job was wiped%1b[2J")
    laptop.get("/Teodor-Vance/606.700")
    laptop.get("/api/sweeps/Teodor-Vance")
    laptop.get("/")  # the note of a request is written behind its answer
    lines = [record.getMessage() for record in caplog.records if record.name == "bandwright.web.app"]
    assert [line.rpartition(" ")[0].rpartition(" ")[0] for line in lines] == [
        "GET (elsewhere) 401",
        "GET (elsewhere) 404",
        "GET /api/sweeps/{uid} 404",
    ]


def test_a_disk_that_fails_is_told_as_such(laptop, monkeypatch):
    def full(*_given, **_more):
        raise MachineError("The disk is full: nothing of this was kept.")

    monkeypatch.setattr("bandwright.web.routes.job.head_of", full)
    answer = laptop.get("/api/job")
    assert (answer.status_code, answer.json()["errors"][0]["text"]) == (
        503,
        "The disk is full: nothing of this was kept.",
    )


def test_errors_have_one_shape_also_where_no_route_is(app, laptop):
    for method, path, status in (
        ("GET", "/api/nothing", 404),
        ("GET", "/nothing", 404),
        ("PUT", "/api/job", 405),
        ("GET", "/api/entries", 405),
        ("POST", "/api/entries", 422),
    ):
        answer = laptop.request(method, path)
        assert answer.status_code == status, path
        (error,) = answer.json()["errors"]
        assert set(error) >= {"code", "file", "line", "key", "given", "allowed", "hint", "text"}


def test_the_description_of_the_api_is_whole(app, laptop):
    described = laptop.get("/api/openapi.json").json()
    assert described == json.loads(json.dumps(app.description))
    for path, methods in described["paths"].items():
        for method, operation in methods.items():
            assert operation.get("description") or operation.get("summary"), (method, path)
            answer = operation["responses"].get("200") or operation["responses"].get("204")
            assert answer, (method, path)
            schema = next(iter(answer.get("content", {"": {"schema": True}}).values())).get("schema")
            assert schema != {}, f"{method} {path} does not say what it answers"


def test_nothing_that_is_served_asks_for_anything_from_outside():
    static = Path(__file__).parents[2] / "src" / "bandwright" / "web" / "static"
    for file in static.rglob("*"):
        if file.suffix in (".js", ".css", ".html", ".svg") and "vendor" not in file.parts:
            text = file.read_text(encoding="utf-8").replace("http://www.w3.org/", "")
            for word in ("https://", "http://", "//cdn"):
                assert word not in text, f"{file.name}: {word}"

"""The job over the API: its head and its brief."""

from __future__ import annotations

import json
from decimal import Decimal


def test_the_head_says_which_job_this_is_and_who_asks(app, laptop):
    head = laptop.get("/api/job").json()
    assert head["title"] == "Lantern Quay"
    assert (head["file"], head["invented"], head["first_run"]) == ("job.bwjob", True, True)
    assert head["me"] == {"name": "laptop", "role": "edit", "local": True}
    assert head["boot"] == app.serving.boot
    assert app.pair("look").get("/api/job").json()["me"] == {"name": "phone", "role": "look", "local": False}


def test_the_brief_comes_whole_and_its_numbers_exact(laptop):
    answer = laptop.get("/api/brief")
    brief = json.loads(answer.text, parse_float=Decimal)
    kinds = {entry["kind"] for entry in brief["entries"]}
    assert {"job", "place", "permit", "radio", "link"} <= kinds
    assert brief["faults"] == []
    windows = next(entry for entry in brief["entries"] if entry["kind"] == "permit")["value"]["windows_mhz"]
    assert all(isinstance(mhz, int | Decimal) for window in windows for mhz in window)

"""`bandwright report`: an archive on this computer, and the list of what is inside."""

from __future__ import annotations

import json
import logging
import zipfile
from importlib import resources

import pytest
from jsonschema import Draft202012Validator

from bandwright.cli import run
from bandwright.service.bug_report import write_bug_report
from bandwright.service.context import Context
from bandwright.service.job import new_job
from bandwright.service.log import start_log


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "state"))
    monkeypatch.setattr("sys.platform", "linux")
    (tmp_path / "Mara on tour").mkdir()
    monkeypatch.chdir(tmp_path / "Mara on tour")
    return tmp_path / "Mara on tour"


@pytest.fixture
def noted(folder):
    """Note a mistake, and a refusal, as the program does."""
    ours = logging.getLogger("bandwright")
    before, level = list(ours.handlers), ours.level
    start_log()
    logging.getLogger("bandwright.web.app").info("PATCH /api/entries/{uid} 409 0.004 s")
    said = "Mara on 606.700 MHz"
    try:
        raise ValueError(said)
    except ValueError as error:
        write_bug_report(error, arguments=["plan", "Mara.toml"])
    yield
    for handler in set(ours.handlers) - set(before):
        ours.removeHandler(handler)
        handler.close()
    ours.setLevel(level)


def test_the_archive_holds_what_is_listed_and_no_name_and_no_frequency(folder, noted, capsys):
    new_job(Context(), folder / "mara.bwjob", who="Mara", title="Mara Lind live")
    assert run(["report", "--out", "r.zip", "--job", "mara.bwjob", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    shipped = resources.files("bandwright.documents") / "schemas" / "report.json"
    Draft202012Validator(json.loads(shipped.read_text(encoding="utf-8"))).validate(told)
    with zipfile.ZipFile(folder / "r.zip") as archive:
        assert [item["name"] for item in told["contents"]] == archive.namelist()
        everything = {name: archive.read(name).decode() for name in archive.namelist()}
    assert {"contents.txt", "versions.txt", "doctor.txt", "log/bandwright.log", "job.json"} <= set(everything)
    assert any(name.startswith("mistakes/") for name in everything)
    for name, text in everything.items():
        assert "606.700" not in text, name
        assert "Mara" not in text, name
    log = everything["log/bandwright.log"]
    assert "PATCH /api/entries/{uid} 409" in log
    assert json.loads(everything["job.json"])["tables"]
    assert "names" in told["withheld"]
    assert "frequencies" in told["withheld"]


def test_the_list_is_shown_and_that_nothing_was_sent(folder, noted, capsys):
    assert run(["report"]) == 0
    text = capsys.readouterr().out
    assert "Nothing was sent" in text
    assert "log/bandwright.log" in text
    assert len(list(folder.glob("bandwright-report-*.zip"))) == 1


def test_messages_stay_where_names_and_frequencies_are_asked_for(folder, noted, capsys):
    assert run(["report", "--out", "r.zip", "--names", "--frequencies"]) == 0
    with zipfile.ZipFile(folder / "r.zip") as archive:
        texts = [archive.read(name).decode() for name in archive.namelist() if name.startswith("mistakes/")]
    assert "ValueError: Mara on 606.700 MHz" in texts[0]


def test_an_archive_never_goes_over_another_file(folder, capsys):
    (folder / "r.zip").write_text("mine")
    assert run(["report", "--out", "r.zip"]) == 2
    assert "not overwritten" in capsys.readouterr().err
    assert (folder / "r.zip").read_text() == "mine"


def test_a_brief_is_no_job_file(folder, capsys):
    (folder / "quay.toml").write_text("bandwright = 1\n")
    assert run(["report", "--out", "r.zip", "--job", "quay.toml"]) == 2
    assert "no job file" in capsys.readouterr().err
    assert not (folder / "r.zip").exists()

import json
import sqlite3
from contextlib import closing
from importlib import resources

import pytest
from brief_examples import SAMPLE
from jsonschema import Draft202012Validator

from bandwright import cli


@pytest.fixture(autouse=True)
def _there(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def run(capsys, *arguments):
    code = cli.run(arguments)
    out, err = capsys.readouterr()
    return code, out, err


def test_a_job_is_made_checked_exported_and_imported_by_the_command_line(capsys, tmp_path):
    (tmp_path / "quay.toml").write_text(SAMPLE)
    assert run(capsys, "job", "import", "quay.toml", "quay.bwjob") == (
        0,
        "Written: quay.bwjob. Open it with: bandwright serve quay.bwjob\n",
        "",
    )
    code, out, _ = run(capsys, "job", "check", "quay.bwjob")
    assert code == 0
    assert out.splitlines()[1:] == [
        "It holds: entries 7, sweeps 0, plans 0, versions 0, notes 0, events 7.",
        "The file is whole.",
        "The brief can be planned.",
    ]
    code, out, _ = run(capsys, "job", "export", "quay.bwjob", "files", "--json")
    assert json.loads(out)["files"] == ["brief.json", "brief.toml", "events.jsonl", "job.json"]
    assert run(capsys, "job", "import", "files", "again.bwjob")[0] == 0
    code, out, _ = run(capsys, "job", "check", "again.bwjob", "--json")
    assert (json.loads(out)["ok"], json.loads(out)["faults"]) == (True, [])


def test_a_command_that_takes_a_brief_takes_a_job_and_names_what_it_stands_on(capsys, tmp_path):
    run(capsys, "job", "new", "demo.bwjob", "--demo")
    code, out, _ = run(capsys, "why", "demo.bwjob", "606.7", "--link", "L01", "--json")
    assert code in (0, 1)
    assert [item["name"] for item in json.loads(out)["inputs"]] == ["demo.bwjob", "lantern-quay-base-sweep.csv"]


def test_a_new_job_says_what_it_lacks_and_is_made_small(capsys):
    assert run(capsys, "job", "new", "quay.bwjob", "--title", "Lantern Quay")[0] == 0
    code, out, _ = run(capsys, "job", "check", "quay.bwjob", "--json")
    found = json.loads(out)
    assert (code, found["title"], found["ok"], len(found["faults"])) == (0, "Lantern Quay", True, 2)
    code, out, _ = run(capsys, "job", "compact", "quay.bwjob", "--drop-removed", "--json")
    assert (code, json.loads(out)["sweeps_dropped"]) == (0, 0)


@pytest.mark.parametrize(
    ("arguments", "schema", "holds"),
    [
        (("new", "other.bwjob"), "job", {"written"}),
        (("import", "quay.toml", "other.bwjob"), "job", {"written"}),
        (("export", "quay.bwjob", "files"), "job", {"written", "files", "left_out"}),
        (("compact", "quay.bwjob"), "job", {"written", "sweeps_dropped", "before_bytes", "after_bytes"}),
        (
            ("check", "quay.bwjob"),
            "job-check",
            {"file", "title", "ok", "problems", "faults", "counts"},
        ),
    ],
    ids=lambda value: value[0] if isinstance(value, tuple) else None,
)
def test_what_each_prints_fits_its_schema_by_an_independent_library(capsys, tmp_path, arguments, schema, holds):
    (tmp_path / "quay.toml").write_text(SAMPLE)
    run(capsys, "job", "import", "quay.toml", "quay.bwjob")
    code, out, _ = run(capsys, "job", *arguments, "--json")
    found = json.loads(out)
    shipped = resources.files("bandwright.documents") / "schemas" / f"{schema}.json"
    Draft202012Validator(json.loads(shipped.read_text(encoding="utf-8"))).validate(found)
    assert (code, found["schema"], set(found)) == (0, f"bandwright.{schema}/1", {"schema", "program"} | holds)


def test_a_job_of_a_newer_program_is_refused_in_words_and_can_still_be_exported(capsys, tmp_path):
    (tmp_path / "quay.toml").write_text(SAMPLE)
    run(capsys, "job", "import", "quay.toml", "quay.bwjob")
    with closing(sqlite3.connect(tmp_path / "quay.bwjob")) as connection:
        connection.execute("ALTER TABLE note RENAME COLUMN text TO words")
        connection.execute("PRAGMA user_version = 7")
        connection.commit()
    before = (tmp_path / "quay.bwjob").read_bytes()
    for arguments in (("job", "compact", "quay.bwjob"), ("serve", "quay.bwjob", "--no-open")):
        code, _, err = run(capsys, *arguments)
        assert code == 2
        assert "was written by a newer Bandwright (layout 7; this one knows up to 1)" in err
        assert "bandwright job export" in err
    code, out, _ = run(capsys, "job", "export", "quay.bwjob", "files", "--json")
    assert (code, json.loads(out)["left_out"]) == (0, ["notes"])
    assert "Mara" in (tmp_path / "files" / "brief.toml").read_text()
    assert (tmp_path / "quay.bwjob").read_bytes() == before


def test_a_damaged_job_is_told_in_a_sentence(capsys, tmp_path):
    run(capsys, "job", "new", "quay.bwjob")
    data = bytearray((tmp_path / "quay.bwjob").read_bytes())
    data[4096:8192] = b"\xff" * 4096
    (tmp_path / "quay.bwjob").write_bytes(data)
    code, out, err = run(capsys, "job", "check", "quay.bwjob")
    assert code in (1, 2)
    assert "damaged" in (out + err).casefold()


def test_job_without_a_command_shows_them_and_an_unknown_one_names_the_nearest(capsys):
    code, out, _ = run(capsys, "job")
    assert code == 0
    assert all(f"\n  {name} " in out for name in ("new", "check", "export", "import", "compact"))
    code, _, err = run(capsys, "job", "exprt", "x")
    assert (code, err) == (2, 'There is no command "exprt". Did you mean "export"?\n')


def test_what_cannot_be_is_refused_with_exit_code_two(capsys, tmp_path):
    assert run(capsys, "job", "check", "none.bwjob")[2] == (
        "none.bwjob: There is no such file. Give the name of a job file.\n"
    )
    run(capsys, "job", "new", "quay.bwjob")
    assert run(capsys, "job", "new", "quay.bwjob")[0] == 2
    (tmp_path / "file").write_text("x")
    code, out, _ = run(capsys, "job", "export", "quay.bwjob", "file", "--json")
    assert (code, json.loads(out)["errors"][0]["code"]) == (2, "out-not-a-folder")
    run(capsys, "job", "export", "quay.bwjob", "files")
    code, _, err = run(capsys, "job", "import", "files", "x.bwjob", "--sweep", "a.csv")
    assert (code, "brings its own sweeps" in err) == (2, True)

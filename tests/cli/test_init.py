import json

import pytest

from bandwright.cli import run
from bandwright.documents.brief import init_text


@pytest.fixture
def empty_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_in_an_empty_folder_it_writes_a_brief_and_says_what_to_do_next(empty_folder, capsys):
    assert run(["init"]) == 0
    assert (empty_folder / "brief.toml").read_text(encoding="utf-8") == init_text()
    assert capsys.readouterr().out == (
        "Written: brief.toml. Change it to what is yours, then: bandwright plan brief.toml\n"
    )


def test_the_file_may_have_another_name(empty_folder):
    assert run(["init", "quay.toml"]) == 0
    assert [path.name for path in empty_folder.iterdir()] == ["quay.toml"]


def test_what_it_writes_can_be_planned_at_once(empty_folder, capsys):
    run(["init"])
    assert run(["plan", "brief.toml", "--json", "--time-limit", "60"]) == 0
    out = capsys.readouterr().out
    plan = json.loads(out[out.index("{") :])
    assert (len(plan["links"]), plan["unplaced"]) == (6, [])


def test_a_file_that_is_there_is_refused_with_exit_code_two(empty_folder, capsys):
    (empty_folder / "brief.toml").write_text("mine")
    assert run(["init"]) == 2
    written = capsys.readouterr()
    assert written.out == ""
    assert written.err == (
        "brief.toml: This is there already and is not overwritten. Name another file: bandwright init other.toml\n"
    )
    assert (empty_folder / "brief.toml").read_text() == "mine"


def test_with_json_the_answer_is_one_object(empty_folder, capsys):
    assert run(["init", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["schema"], answer["written"]) == ("bandwright.init/1", "brief.toml")
    assert run(["init", "--json"]) == 2
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert (error["code"], error["file"]) == ("exists", "brief.toml")

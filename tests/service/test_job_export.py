import json
import shutil
import sqlite3
from contextlib import closing

import pytest
from brief_examples import SAMPLE, job_of, library
from desks import context, entry_named, planned_desk, sweep_csv

from bandwright.documents.brief import read_brief
from bandwright.errors import InputError
from bandwright.service.desk import Desk
from bandwright.service.entries import edit_entry
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.job import check_job, import_brief
from bandwright.service.job_export import export_job, import_folder
from bandwright.service.job_plans import plan_in_force, plan_lines
from bandwright.service.job_runs import run_plan
from bandwright.service.job_sweeps import add_sweep, remove_sweep, sweep_lines
from bandwright.service.notes import add_note, notes_of
from bandwright.service.readiness import readiness_of
from bandwright.service.statements import state_something
from bandwright.service.versions import keep_version, version_difference

STATED = {"own_transmitters": "off", "place": "quay", "gain_ahead_db": -3, "started": "2027-05-14T08:10:00"}


@pytest.fixture(scope="module")
def exported(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    with planned_desk(folder) as desk:
        add_sweep(desk, who="Ines", name="base.csv", data=sweep_csv(), stated=STATED)
        _, gone = add_sweep(desk, who="Ines", name="old.csv", data=sweep_csv(loud_mhz=612))
        remove_sweep(desk, gone, who="Ines")
        run_plan(desk, who="Ines")
        state_something(desk, who="Tom", what="set", about=entry_named(desk, "L01").uid)
        add_note(desk, who="Tom", text="belt on the left", about=entry_named(desk, "L01").uid)
        add_note(desk, who="Ines", text="two\nlines", plan=2)
        keep_version(desk, who="Ines", name="as rehearsed")
        entry = entry_named(desk, "L01")
        edit_entry(desk, entry.uid, who="Ines", base=entry.revision, changes={"id": "A1", "worn": "hand"})
    export_job(context(), desk.path, folder / "files")
    return folder


def test_an_export_is_plain_files_that_commands_take(exported):
    folder = exported / "files"
    assert {path.name for path in folder.iterdir()} == {
        "brief.json",
        "brief.toml",
        "events.jsonl",
        "job.json",
        "plan-1.json",
        "plan.json",
        "sweep-1-base.csv",
        "sweep-1-base.csv.toml",
        "sweep-2-old.csv",
        "version-1.json",
    }
    job = load_brief(context(), exported / "quay.bwjob").job
    assert read_brief((folder / "brief.toml").read_text(), file="b", library=library()) == job
    assert (folder / "sweep-1-base.csv").read_bytes() == sweep_csv()
    (sweep,), _ = load_sweeps(context(), [folder / "sweep-1-base.csv"], job)
    assert (sweep.own_transmitters, sweep.place, sweep.gain_ahead_db) == ("off", "quay", -3)
    events = [json.loads(line) for line in (folder / "events.jsonl").read_text().splitlines()]
    assert [event["seq"] for event in events] == sorted(event["seq"] for event in events)
    assert events[0]["who"] == "Ines"


def test_a_job_made_of_an_export_holds_the_same(exported, tmp_path):
    path = tmp_path / "again.bwjob"
    import_folder(context(), exported / "files", path, who="Tom")
    assert check_job(context(), path).problems == ()
    with Desk.open(exported / "quay.bwjob") as old, Desk.open(path) as new:
        assert new.job() == old.job()
        assert sweep_lines(new) == sweep_lines(old)
        one, two = plan_in_force(old), plan_in_force(new)
        assert (two.number, two.stale, two.document, two.carriers()) == (2, one.stale, one.document, one.carriers())
        assert two.stale == "The brief changed since (A1)."
        assert len(plan_lines(new)) == 2
        assert readiness_of(new).links.all == readiness_of(old).links.all
        assert version_difference(new, 1) == version_difference(old, 1)


def test_an_export_of_the_import_says_the_same(exported, tmp_path):
    import_folder(context(), exported / "files", tmp_path / "again.bwjob", who="Tom")
    export_job(context(), tmp_path / "again.bwjob", tmp_path / "files")
    for path in (exported / "files").iterdir():
        if path.name != "events.jsonl":
            assert (tmp_path / "files" / path.name).read_bytes() == path.read_bytes(), path.name


def test_an_export_from_before_there_were_notes_is_read(exported, tmp_path):
    shutil.copytree(exported / "files", tmp_path / "files")
    written_anew(tmp_path / "files" / "job.json", lambda data: data.pop("notes"))
    import_folder(context(), tmp_path / "files", tmp_path / "again.bwjob", who="Tom")
    with Desk.open(tmp_path / "again.bwjob", context=context()) as desk:
        assert notes_of(desk) == ()


def test_files_of_an_earlier_export_go_and_others_stay(exported, tmp_path):
    (tmp_path / "version-9.json").write_text("old")
    (tmp_path / "mine.txt").write_text("mine")
    export_job(context(), exported / "quay.bwjob", tmp_path)
    assert not (tmp_path / "version-9.json").exists()
    assert (tmp_path / "mine.txt").read_text() == "mine"


def changed(exported, tmp_path, change):
    folder = tmp_path / "files"
    folder.mkdir()
    for path in (exported / "files").iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    data = json.loads((folder / "job.json").read_text())
    change(data, folder)
    (folder / "job.json").write_text(json.dumps(data))
    with pytest.raises(InputError) as caught:
        import_folder(context(), folder, tmp_path / "x.bwjob", who="Tom")
    assert not (tmp_path / "x.bwjob").exists()
    return caught.value.faults[0].text


def written_anew(path, change):
    data = json.loads(path.read_text())
    change(data)
    path.write_text(json.dumps(data))


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (
            lambda data, _: data.update(schema="other/1"),
            'this is no list of an exported job that can be read here; its schema is "other/1".',
        ),
        (
            lambda data, _: data["entries"][0].update(kind="songs"),
            "kind: songs is no kind of table.",
        ),
        (lambda data, _: data.update(current_plan=7), "the list: a plan is named that is not there."),
        (lambda data, _: data["plans"].pop(), "the list: a plan is named that is not there."),
        (
            lambda data, _: data["sweeps"][0].update(file="../x"),
            "job.json names ../x, and there is no such file",
        ),
        (lambda data, folder: (folder / "plan.json").unlink(), "job.json names plan.json, and there is no such file"),
        (lambda data, folder: (folder / "plan.json").write_text("{}"), "this is no whole plan document: "),
        (lambda data, _: data["entries"].append({**data["entries"][-2], "uid": "u"}), "the id "),
        (lambda data, _: data["entries"].append(data["entries"][-2]), "the list: two tables have the uid "),
        (lambda data, _: data.update(entries=[]), "the list: a brief has one [job], and there are 0."),
        (
            lambda data, _: data["statements"][0].update(at="Friday"),
            "at: must be a moment with a time zone, such as 2027-05-14T15:40:00Z; it is Friday.",
        ),
        (
            lambda data, _: data["sweeps"][0].update(added_at="2027-05-14"),
            "added_at: must be a moment with a time zone",
        ),
        (
            lambda data, _: data["sweeps"][0]["facts"].update(own_transmitters="maybe"),
            'own_transmitters is "maybe", but must be one of',
        ),
        (lambda data, folder: (folder / "sweep-1-base.csv").write_bytes(b"rubbish"), "No known kind of sweep file"),
        (lambda data, folder: (folder / "version-1.json").write_text("{"), "this is no version of a job: "),
        (lambda data, folder: (folder / "version-1.json").write_text("{}"), "entries: field required."),
        (
            lambda data, folder: (folder / "version-1.json").write_text(
                (folder / "version-1.json")
                .read_text()
                .replace('"plan":2', '"plan":9')
                .replace('"plan": 2', '"plan": 9')
            ),
            "it names plan 9, which is not there.",
        ),
    ],
)
def test_an_export_that_was_changed_by_hand_is_refused_in_words(exported, tmp_path, change, text):
    found = changed(exported, tmp_path, change)
    assert text in found


def test_what_a_list_says_of_a_sweep_that_its_file_tells_better_is_read_anew(exported, tmp_path):
    folder = tmp_path / "files"
    shutil.copytree(exported / "files", folder)
    data = json.loads((folder / "job.json").read_text())
    data["sweeps"][0]["facts"].update(read={}, strange=1)
    data["sweeps"][0].update(name="../../base.csv")
    (folder / "job.json").write_text(json.dumps(data))
    import_folder(context(), folder, tmp_path / "again.bwjob", who="Tom")
    with Desk.open(exported / "quay.bwjob") as old, Desk.open(tmp_path / "again.bwjob") as new:
        assert sweep_lines(new) == sweep_lines(old)


def test_a_folder_that_is_no_export_is_refused(tmp_path):
    with pytest.raises(InputError, match="there is no list of an export here"):
        import_folder(context(), tmp_path, tmp_path / "x.bwjob", who="Tom")
    (tmp_path / "job.json").write_text("{")
    with pytest.raises(InputError, match="this is no list of an exported job"):
        import_folder(context(), tmp_path, tmp_path / "x.bwjob", who="Tom")


# --------------------------------------------------------------------------------------------------------- briefs


def test_a_brief_with_sweeps_and_their_notes_becomes_a_job(tmp_path):
    (tmp_path / "quay.toml").write_text(SAMPLE)
    (tmp_path / "base.csv").write_bytes(sweep_csv())
    (tmp_path / "base.csv.toml").write_text('own_transmitters = "off"\nstarted = 2027-05-14T08:10:00\nrbw_khz = 30\n')
    path = tmp_path / "quay.bwjob"
    import_brief(context(), tmp_path / "quay.toml", path, who="Ines", sweeps=[tmp_path / "base.csv"])
    with Desk.open(path) as desk:
        assert desk.job() == job_of(SAMPLE)
        facts = sweep_lines(desk)[0].facts
        assert (facts["own_transmitters"], facts["started"], facts["rbw_khz"]) == ("off", "2027-05-14T08:10:00", 30)


def test_a_brief_with_faults_makes_no_job_and_tells_their_lines(tmp_path):
    (tmp_path / "quay.toml").write_text(SAMPLE.replace('radio = "heron" ', 'radio = "hawk" '))
    with pytest.raises(InputError, match=r"quay\.toml:\d+: link \"L01\": there is no radio type"):
        import_brief(context(), tmp_path / "quay.toml", tmp_path / "x.bwjob", who="Ines")
    assert not (tmp_path / "x.bwjob").exists()


@pytest.mark.parametrize(
    ("text", "words"),
    [("{", "this is no JSON"), ("[]", "a brief in JSON is one object"), ('{"job":{}}', "title is missing")],
)
def test_a_brief_in_json_that_is_none_is_refused(tmp_path, text, words):
    (tmp_path / "b.json").write_text(text)
    with pytest.raises(InputError, match=words):
        import_brief(context(), tmp_path / "b.json", tmp_path / "x.bwjob", who="Ines")


def test_of_a_newer_file_everything_is_written_that_can_be_read(exported, tmp_path):
    path = tmp_path / "newer.bwjob"
    path.write_bytes((exported / "quay.bwjob").read_bytes())
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("ALTER TABLE version RENAME COLUMN name TO called")
        connection.execute("PRAGMA user_version = 7")
        connection.commit()
    found = export_job(context(), path, tmp_path / "files")
    assert found.left_out == ("versions",)
    assert found.text().splitlines()[-1] == "Left out, since a newer program wrote this file: versions."
    text = (tmp_path / "files" / "brief.toml").read_text()
    assert text == (exported / "files" / "brief.toml").read_text()

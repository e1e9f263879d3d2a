"""What somebody writes down beside a sweep file, and the trace that is read."""

from __future__ import annotations

import hashlib
import json
import os
import threading

import pytest

from bandwright.cli import run
from bandwright.errors import InputError
from bandwright.service.context import Context
from bandwright.service.inputs import load_brief, load_sweeps
from bandwright.service.start import start_brief

NOTE = """
place = "quay"
antenna = "whip on the grid, 6 m"
gain_ahead_db = -3.5
rbw_khz = 30
own_transmitters = "off"
started = 2027-05-14T09:30:00
trace = "average"
"""
ROWS = "".join(f"{606 + 0.025 * index:.3f};{-80 - index % 3};{-100 - index % 3}\n" for index in range(200))


@pytest.fixture
def sweep(tmp_path):
    file = tmp_path / "base.csv"
    file.write_text("Frequency MHz;Max hold dBm;Average dBm\n" + ROWS)
    return file


@pytest.fixture
def note(sweep):
    def written(text=NOTE):
        beside = sweep.with_name("base.csv.toml")
        beside.write_text(text)
        return beside

    return written


def answer(capsys, *words):
    code = run([*map(str, words), "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_note_beside_a_sweep_says_what_the_file_cannot_know(sweep, note, capsys):
    beside = note()
    code, document = answer(capsys, "sweep", sweep)
    assert code == 0
    expected = {
        "place": "quay",
        "antenna": "whip on the grid, 6 m",
        "gain_ahead_db": -3.5,
        "rbw_khz": 30,
        "rbw_from": "stated beside the file",
        "own_transmitters": "off",
        "started": "2027-05-14T09:30:00",
        "trace": "Average dBm",
        "unit": "dBm",
    }
    assert document["files"][0].items() >= (expected | {"traces": ["Max hold dBm", "Average dBm"]}).items()
    assert document["inputs"][0]["sweep"].items() >= expected.items()
    assert [item["name"] for item in document["inputs"]] == ["base.csv", "base.csv.toml"]
    assert document["inputs"][1]["sha256"] == hashlib.sha256(beside.read_bytes()).hexdigest()
    assert document["floor"][0]["level"] < -95


def test_the_text_tells_it_too(sweep, note, capsys):
    note()
    assert run(["sweep", str(sweep)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "RBW 30 kHz (stated beside the file); levels in dBm" in text
    assert "place quay; antenna whip on the grid, 6 m; loss 3.5 dB ahead; own transmitters off;" in text
    assert "trace Average dBm; other traces Max hold dBm" in text


def test_without_a_note_nothing_is_known_and_the_held_trace_is_read(sweep, capsys):
    _, document = answer(capsys, "sweep", sweep)
    found = document["files"][0]
    assert {key: found[key] for key in ("place", "antenna", "gain_ahead_db", "rbw_khz", "rbw_from", "started")} == (
        dict.fromkeys(("place", "antenna", "gain_ahead_db", "rbw_khz", "rbw_from", "started"))
    )
    assert (found["own_transmitters"], found["trace"]) == ("unknown", "Max hold dBm")


def test_the_command_line_counts_before_the_note(sweep, note, capsys):
    note()
    _, document = answer(capsys, "sweep", sweep, "--trace", "max")
    assert document["files"][0]["trace"] == "Max hold dBm"


@pytest.mark.parametrize("command", [("sweep",), ("plan", "BRIEF", "--sweep"), ("why", "BRIEF", "606.7", "--sweep")])
def test_an_unknown_trace_is_refused_in_words_by_every_command_that_reads_sweeps(sweep, tmp_path, capsys, command):
    brief = tmp_path / "brief.toml"
    start_brief(brief)
    words = [str(brief) if word == "BRIEF" else word for word in command]
    code, document = answer(capsys, *words, sweep, "--trace", "third")
    assert code == 2
    assert document["errors"][0]["key"] == "--trace"
    assert "'Max hold dBm', 'Average dBm'" in document["errors"][0]["text"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('antena = "whip"', "antenna"),
        ('own_transmitters = "maybe"', '"off", "on", "unknown"'),
        ("rbw_khz = 0", "rbw_khz"),
        ("rbw_khz = nan", "rbw_khz"),
        ('gain_ahead_db = "much"', "gain_ahead_db"),
        ("started = 2027-05-14", "2027-05-14T09:30:00"),
        ("place = ", "no TOML"),
    ],
)
def test_a_note_that_cannot_be_understood_names_itself_and_what_is_allowed(sweep, note, capsys, text, words):
    beside = note(text)
    code, document = answer(capsys, "sweep", sweep)
    assert code == 2
    assert document["errors"][0]["file"] == str(beside)
    assert words in json.dumps(document, ensure_ascii=False).replace(chr(92), "")


def test_a_plan_keeps_what_was_known_of_its_sweeps(sweep, note, tmp_path, capsys):
    note(NOTE.replace("quay", place_of_start(tmp_path)))
    code, document = answer(capsys, "plan", tmp_path / "brief.toml", "--sweep", sweep, "--time-limit", "1")
    assert code in (0, 1)
    known = {item["name"]: item.get("sweep") for item in document["inputs"]}
    assert known["brief.toml"] is None
    assert known["base.csv"]["antenna"] == "whip on the grid, 6 m"
    assert known["base.csv"]["own_transmitters"] == "off"


def place_of_start(folder):
    brief = folder / "brief.toml"
    start_brief(brief)
    return load_brief(Context(), brief).job.places[0].id


def test_a_place_that_the_brief_does_not_know_is_refused_in_words(sweep, note, tmp_path):
    note('place = "elsewhere"')
    place = place_of_start(tmp_path)
    brought = load_brief(Context(), tmp_path / "brief.toml")
    with pytest.raises(InputError, match='there is no place "elsewhere" in this brief') as caught:
        load_sweeps(Context(), [sweep], brought.job)
    assert place in caught.value.faults[0].allowed


def test_the_state_on_the_command_line_counts_before_the_note(sweep, note, tmp_path):
    note(NOTE.replace("quay", place_of_start(tmp_path)))
    brought = load_brief(Context(), tmp_path / "brief.toml")
    for given, state in (("unknown", "off"), ("on", "on")):
        (found,), inputs = load_sweeps(Context(), [sweep], brought.job, own_transmitters=given)
        assert found.own_transmitters == inputs[0].sweep.own_transmitters == state


def test_both_files_of_a_recording_are_inputs(tmp_path, capsys):
    (tmp_path / "quay.sigmf-data").write_bytes(bytes(range(256)) * 512)
    meta = {
        "global": {"core:datatype": "ci8", "core:sample_rate": 2e6, "core:version": "1.2.0"},
        "captures": [{"core:sample_start": 0, "core:frequency": 606e6}],
        "annotations": [],
    }
    (tmp_path / "quay.sigmf-meta").write_text(json.dumps(meta))
    code, document = answer(capsys, "sweep", tmp_path / "quay.sigmf-meta")
    assert code == 0
    assert [item["name"] for item in document["inputs"]] == ["quay.sigmf-meta", "quay.sigmf-data"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_the_hash_of_a_pipe_is_that_of_what_came_through_it(sweep, tmp_path, capsys):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    content = sweep.read_bytes() * 30
    writer = threading.Thread(target=lambda: pipe.write_bytes(content))
    writer.start()
    _, document = answer(capsys, "sweep", pipe)
    writer.join()
    assert document["files"][0]["sweeps"] == 30
    assert document["inputs"][0]["sha256"] == hashlib.sha256(content).hexdigest()


def test_many_traces_are_not_all_named(tmp_path, capsys):
    names = ";".join(f"Clear write {number} dBm" for number in range(20))
    rows = "".join(f"{606 + index / 40:.3f}" + ";-90" * 20 + "\n" for index in range(50))
    (tmp_path / "many.csv").write_text(f"Frequency MHz;{names}\n{rows}")
    assert run(["sweep", str(tmp_path / "many.csv")]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Clear write 11 dBm and 8 more" in text


def test_a_note_that_is_a_link_to_nowhere_is_told(sweep, capsys):
    sweep.with_name("base.csv.toml").symlink_to("nowhere")
    code, document = answer(capsys, "sweep", sweep)
    assert code == 2
    assert document["errors"][0]["text"] == "There is no note on a sweep here; check the path."


def test_the_folder_one_is_in_is_no_sweep(capsys):
    code, document = answer(capsys, "sweep", ".")
    assert (code, document["errors"][0]["code"]) == (2, "folder")

"""Devices one at a time: what is asked in which order, the logs, the table, and how it ends."""

from __future__ import annotations

import json
import subprocess
import sys
from contextlib import contextmanager

import jsonschema
import pytest
from fake_receivers import Replay, install, on_path, rtl_sweep
from tools.make_schemas import FOLDER

from bandwright.cli import run
from bandwright.errors import Cancelled, InputError
from bandwright.service.context import Context
from bandwright.service.live import Rig, wish_of
from bandwright.service.rises import Measuring, record_rises

WISH = wish_of(low_hz=606_000_000, high_hz=614_000_000, bin_hz=25_000)
QUIET, LOUD = rtl_sweep(), rtl_sweep(carrier=-20.0)


@contextmanager
def working():
    yield Context()


class Room:
    """A room with a receiver: what is on sends, and `asked` is all that its user was told to do."""

    def __init__(self, *, stop_at: str | None = None) -> None:
        self.asked: list[str] = []
        self._stop_at = stop_at
        self._now = Replay([]).clock

    def ready(self, what: str) -> bool:
        self.asked.append(what)
        return self._stop_at is None or self._stop_at not in what

    def clock(self) -> float:
        return self._now()

    def rig(self) -> Rig:
        return Rig(start=lambda _program, _wish: self._receiver(), clock=self.clock)

    def _receiver(self) -> Replay:
        sweep = LOUD if "the screen" in self.asked[-1] else QUIET
        receiver = Replay(sweep * 20, step_s=0.25)
        self._now = receiver.clock
        return receiver


def routine(room, log, devices=("the screen", "the lamp")):
    measuring = Measuring(source="rtl_power", wish=WISH, seconds=3, own_transmitters="off", rig=room.rig())
    return record_rises(working, measuring, log=log, devices=devices, ready=room.ready)


def test_each_device_is_measured_alone_and_told_with_its_rise(tmp_path):
    room = Room()
    found = routine(room, tmp_path / "quay.csv")
    assert room.asked == [
        "Switch everything off that is to be tried.",
        "Switch on the screen, and it alone.",
        "Switch on the lamp, and it alone.",
    ]
    names = ["quay.csv", "quay-again.csv", "quay-01-the-screen.csv", "quay-02-the-lamp.csv"]
    assert [path.name for path in found.logs] == names
    assert [item.name for item in found.inputs] == [part for name in names for part in (name, f"{name}.toml")]
    screen, lamp = found.rises.devices
    assert (found.rises.seen(screen), found.rises.seen(lamp)) == (True, False)
    assert lamp.mean.rise_db == pytest.approx(0, abs=1e-6)
    text = found.text(columns=110)
    assert "the screen" in text
    assert "quay-02-the-lamp.csv" in text
    assert max(map(len, text.splitlines())) <= 110


def test_the_document_fits_its_schema_by_an_independent_library(tmp_path):
    data = json.loads(routine(Room(), tmp_path / "a.csv").document().model_dump_json(by_alias=True))
    jsonschema.validate(data, json.loads((FOLDER / "rises.json").read_text(encoding="utf-8")))
    assert (data["schema"], data["over_khz"], data["unit"]) == ("bandwright.rises/1", 200, "dB")
    assert [(item["name"], item["seen"]) for item in data["devices"]] == [("the screen", True), ("the lamp", False)]


def test_stopped_after_a_device_the_table_holds_what_there_is_and_says_so(tmp_path):
    found = routine(Room(stop_at="lamp"), tmp_path / "a.csv")
    assert [item.name for item in found.rises.devices] == ["the screen"]
    assert found.cut_short
    assert "devices after the last one here were not measured" in found.text(columns=100)


@pytest.mark.parametrize(("at", "written"), [("everything", []), ("screen", ["a.csv", "a-again.csv"])])
def test_stopped_before_the_first_device_there_is_no_table_and_it_is_told_what_stays(tmp_path, at, written):
    with pytest.raises(Cancelled, match="stopped before the first device") as told:
        routine(Room(stop_at=at), tmp_path / "a.csv")
    assert told.value.written == tuple(str(tmp_path / name) for name in written)


def test_a_log_of_before_is_not_overwritten(tmp_path):
    (tmp_path / "a-again.csv").write_text("mine")
    room = Room()
    with pytest.raises(InputError, match="is there already"):
        routine(room, tmp_path / "a.csv")
    assert not room.asked


def command(folder, *more, typed):
    install(folder / "programs", "rtl_power", f"import sys, time\nsweep = {QUIET!r}\n" + PROGRAM)
    given = ["--low-mhz", "606", "--high-mhz", "614", "--seconds", "0.2", "--log", str(folder / "a.csv")]
    return subprocess.run(
        [sys.executable, "-m", "bandwright", "sweep", "--live", "rtl_power", *given, "--one-at-a-time", *more],
        input=typed,
        capture_output=True,
        encoding="utf-8",
        env={"PATH": on_path(folder / "programs"), "HOME": str(folder)},
        timeout=120,
        check=False,
    )


PROGRAM = "while True:\n    sys.stdout.writelines(sweep)\n    sys.stdout.flush()\n    time.sleep(0.1)\n"


def test_the_command_asks_for_names_and_prints_one_object(tmp_path):
    done = command(tmp_path, "--json", typed="\nscreen left\n\n\n")
    assert done.returncode == 0, done.stderr
    assert [item["name"] for item in json.loads(done.stdout)["devices"]] == ["screen left"]
    assert "Switch everything off that is to be tried. Then press Enter" in done.stderr


def test_the_command_takes_names_from_a_list_and_ends_with_130_where_input_ends(tmp_path):
    done = command(tmp_path, "--device", "one", "--device", "two", typed="\n\n")
    assert done.returncode == 130, done.stderr
    assert "one" in done.stdout
    assert "not measured" in done.stdout


def test_the_command_says_which_logs_stay_where_it_is_stopped_before_the_first_device(tmp_path):
    done = command(tmp_path, "--device", "one", typed="\n")
    assert done.returncode == 130, done.stderr
    assert (
        f"Stopped, as asked. What was written stays: {tmp_path / 'a.csv'}, {tmp_path / 'a-again.csv'}." in done.stderr
    )


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (["--one-at-a-time", "--once"], "it takes none of FILE, --once"),
        (["--device", "x"], "Add --one-at-a-time."),
        (["--one-at-a-time"], "needs --low-mhz and --high-mhz and --log"),
    ],
)
def test_what_does_not_go_together_is_told(given, sentence, capsys):
    assert run(["sweep", "--live", "rtl_power", *given]) == 2
    assert sentence in capsys.readouterr().err

"""A running sweep as a whole: the log, the note beside it, the live view, and how it ends."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys

import pytest
from fake_receivers import HOPS, LOW_HZ, Replay, install, on_path, rtl_row, rtl_sweep
from small_analyser import IDENTITY, Bench, served

from bandwright import readers
from bandwright.cli import run
from bandwright.documents.brief import init_text
from bandwright.errors import Cancelled, InputError, MachineError
from bandwright.reference import analyser_files
from bandwright.service.context import Context
from bandwright.service.inputs import load_sweep
from bandwright.service.live import Rig, Stopped, record_sweeps, wish_of

WISH = wish_of(low_hz=606_000_000, high_hz=614_000_000, bin_hz=25_000)
ARGUMENTS = ["--low-mhz", "606", "--high-mhz", "614"]


def record(replay, log, *, name="rtl_power", context=None, **given):
    rig = Rig(start=lambda _program, _wish: replay, clock=replay.clock, patience_s=5)
    return record_sweeps(context or Context(), name, WISH, log=log, rig=rig, **given)


def test_the_log_is_read_back_as_what_was_measured_with_the_state_stated_beside_it(tmp_path):
    log = tmp_path / "logs" / "base.csv"
    said = [*rtl_sweep(second=0), None, *rtl_sweep(second=1, carrier=-20.0), None, 0]
    done = record(Replay(said), log, own_transmitters="off")
    assert (done.stopped, done.view.sweeps) == (Stopped.ONCE, 2)
    sweep, inputs = load_sweep(Context(), log, bandwidths_hz=[200_000])
    assert (sweep.sweeps, sweep.own_transmitters, sweep.problems) == (2, "off", ())
    assert [item.name for item in inputs] == ["base.csv", "base.csv.toml"]
    assert log.read_text() == "".join(line for line in said if isinstance(line, str))


def test_the_view_tells_sweeps_strongest_and_floor_of_the_newest_whole_sweep(tmp_path):
    told = []
    said = [*rtl_sweep(carrier=-20.0), None, None, None, *rtl_sweep(second=1)[:2], None, None, 0]
    record(Replay(said, step_s=0.6), tmp_path / "a.csv", watch=told.append)
    # bin 40 of the first hop; rtl_power centres its first bin on the low frequency
    assert "1 sweep, strongest -20.0 dB at 607.000 MHz, floor -" in told[0]
    # eleven levels in steps of 0.37 dB around -60 dB, equally often: their mean power is -59.84 dB
    assert float(told[0].rpartition("floor ")[2].removesuffix(" dB")) == pytest.approx(-59.84, abs=0.15)


def test_it_stops_when_the_time_is_over_and_keeps_what_was_measured(tmp_path):
    replay = Replay([rtl_row(index % HOPS, second=index) for index in range(50)], step_s=0.5)
    done = record(replay, tmp_path / "a.csv", seconds=4)
    assert done.stopped is Stopped.TIME
    assert replay.stopped
    assert 1 <= done.view.sweeps <= 4


def test_it_stops_when_told_and_keeps_what_was_measured(tmp_path):
    log = tmp_path / "a.csv"
    context = Context(cancelled=log.exists)
    done = record(Replay([*rtl_sweep(), None, None]), log, context=context)
    assert done.stopped is Stopped.TOLD
    assert readers.read(log).sweeps == 1


def test_stopped_before_anything_was_measured_nothing_is_written(tmp_path):
    with pytest.raises(Cancelled):
        record(Replay([None]), tmp_path / "a.csv", context=Context(cancelled=lambda: True), own_transmitters="off")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ([b"Error: dropped samples.\n"], "lost its receiver"),
        ([None] * 40, "has sent no levels for 5 s"),
        (["what\n"] * 3, "no row of levels"),
        ([1], "ended by itself with code 1"),
    ],
)
def test_after_a_failure_the_error_names_what_stays(tmp_path, said, sentence):
    log = tmp_path / "a.csv"
    with pytest.raises(MachineError, match=rf"(?s){sentence}.*What was measured before stays in .*a\.csv: 1 sweep"):
        record(Replay([*rtl_sweep(), None, *said]), log)
    assert readers.read(log).sweeps == 1


def test_a_failure_before_the_first_level_leaves_no_file(tmp_path):
    with pytest.raises(MachineError, match="finds no receiver") as told:
        record(Replay([b"No supported devices found.\n", 1]), tmp_path / "a.csv", own_transmitters="off")
    assert "stays" not in str(told.value)
    assert not list(tmp_path.iterdir())


def test_a_log_that_is_there_is_never_overwritten(tmp_path):
    log = tmp_path / "a.csv"
    log.write_text("mine")
    with pytest.raises(InputError, match="is there already and is not overwritten"):
        record(Replay([0]), log)
    assert log.read_text() == "mine"


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a disk that is always full")  # noqa: PTH110
def test_a_full_disk_is_told(tmp_path, monkeypatch):
    from bandwright.service import live_log

    monkeypatch.setattr(live_log, "FileIO", lambda _path, _mode: open("/dev/full", "wb", buffering=0))  # noqa: PTH123, SIM115
    with pytest.raises(MachineError, match="cannot be written: No space left on device"):
        record(Replay([*rtl_sweep(), None]), tmp_path / "a.csv")


def test_an_unknown_source_names_the_known_ones(tmp_path):
    with pytest.raises(InputError, match=r"known are hackrf_sweep, rtl_power, scpi:HOST.*Did you mean .rtl_power"):
        record(Replay([]), tmp_path / "a.csv", name="rtl-power")


def test_a_bin_that_the_program_does_not_take_is_refused_with_those_it_does(tmp_path):
    for name, allowed in (("rtl_power", "0.001 to 2800 kHz"), ("hackrf_sweep", "2.445 to 5000 kHz")):
        wish = wish_of(low_hz=606_000_000, high_hz=614_000_000, bin_hz=6_000_000)
        with pytest.raises(InputError, match=f"{name} takes bins of {allowed}, not of 6000 kHz"):
            record_sweeps(Context(), name, wish, log=tmp_path / "a.csv")


def test_a_range_that_makes_no_sense_is_refused_with_an_example():
    with pytest.raises(InputError, match=r"given 9 to 5.*--low-mhz 470"):
        wish_of(low_hz=9, high_hz=5, bin_hz=1)


ROWS = f"""
import sys, time
sweep = {rtl_sweep(carrier=-20.0)!r}
def rows():
    sys.stdout.writelines(sweep)
    sys.stdout.flush()
"""


@pytest.fixture
def programs(tmp_path, monkeypatch):
    folder = tmp_path / "programs"
    folder.mkdir()
    monkeypatch.setenv("PATH", on_path(folder))
    return folder


def test_the_command_sweeps_once_and_describes_the_log(tmp_path, programs, capsys):
    install(programs, "rtl_power", ROWS + "assert '-1' in sys.argv\nrows()\n")
    log = tmp_path / "base.csv"
    given = ["sweep", "--live", "rtl_power", *ARGUMENTS, "--once", "--log", str(log), "--own-transmitters", "off"]
    assert run([*given, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["sweeps"], answer["inputs"][0]["name"]) == (1, "base.csv")
    assert run([*given, "--json"]) == 2
    assert "not overwritten" in json.loads(capsys.readouterr().out)["errors"][0]["text"]


def test_what_is_said_of_place_antenna_and_gain_stands_in_the_note(tmp_path, programs, capsys):
    log = tmp_path / "a.csv"
    said = ["--place", "quay", "--antenna", 'whip "A"', "--gain-ahead-db", "-3.5", "--own-transmitters", "off"]
    with served(Bench()) as where:
        given = ["sweep", "--live", f"scpi:{where}", *ARGUMENTS, "--once", "--log", str(log), *said, "--json"]
        assert run(given) == 0
    sweep, _ = load_sweep(Context(), log, bandwidths_hz=[200_000])
    assert (sweep.place, sweep.antenna, sweep.gain_ahead_db) == ("quay", 'whip "A"', -3.5)
    assert sweep.calibrated
    assert sweep.own_transmitters == "off"


@pytest.mark.parametrize(
    ("more", "code"),
    [
        (("--draw", "base.bmp"), "unknown-picture"),
        (("--draw", "old.svg"), "exists"),
        (("--others", "old.svg"), "exists"),
        (("--others", "base.csv"), "same-file"),
        (("--draw", "a.svg", "--others", "a.svg"), "same-file"),
        (("--raster", "moon"), "unknown-raster"),
        (("--brief", "missing.toml"), "no-file"),
        (("--brief", "programs/two.toml", "--place", "moon"), "unknown-place"),
        (("--place", "no id"), "bad-id"),
        (("--antenna", ""), "not-one-line"),
        (("--gain-ahead-db", "much"), "bad-value"),
        (("--gain-ahead-db", "nan"), "not-finite"),
        (("--gain-ahead-db", "-501"), "too-large"),
        (("--log", "."), "exists"),
        (("--one-at-a-time", "--device", "screen"), "no-terminal"),
        (("--one-at-a-time", "--device", " "), "empty-name"),
        (("--one-at-a-time", "--draw", "a.svg"), "too-much"),
        (("--high-mhz", "1000001"), "bad-range"),
        (("--high-mhz", "1e40"), "bad-value"),
        (("--bin-khz", "1e999999999"), "bad-value"),
    ],
)
def test_what_cannot_be_done_is_refused_before_anything_is_measured(
    tmp_path, programs, monkeypatch, capsys, more, code
):
    install(programs, "rtl_power", ROWS + "rows()\n")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "old.svg").write_text("old")
    (programs / "two.toml").write_text(init_text())
    before = sorted(path.name for path in tmp_path.iterdir())
    once = () if "--one-at-a-time" in more else ("--once",)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    assert run(["sweep", "--live", "rtl_power", *ARGUMENTS, "--log", "base.csv", *once, *more, "--json"]) == 2
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert error["code"] == code
    assert sorted(path.name for path in tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        ("sys.stderr.write('No supported devices found.\\n'); sys.exit(1)", "finds no receiver"),
        ("rows(); time.sleep(1); sys.stderr.write('Error: dropped samples.\\n'); rows()", "lost its receiver"),
        ("rows(); sys.exit(9)", "ended by itself with code 9"),
        ("sys.stdout.buffer.write(b'\\xff\\x00\\n' * 9)", "no row of levels"),
    ],
)
def test_a_program_that_fails_is_one_sentence_and_exit_code_three(tmp_path, programs, capsys, body, sentence):
    install(programs, "rtl_power", ROWS + body)
    log = str(tmp_path / "a.csv")
    assert run(["sweep", "--live", "rtl_power", *ARGUMENTS, "--log", log, "--json"]) == 3
    errors = json.loads(capsys.readouterr().out)["errors"]
    assert len(errors) == 1
    assert sentence in errors[0]["text"]


def test_a_program_that_is_not_installed_is_told_with_its_package(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("PATH", str(tmp_path))
    log = str(tmp_path / "a.csv")
    for name, package in (("rtl_power", "rtl-sdr"), ("hackrf_sweep", "hackrf")):
        assert run(["sweep", "--live", name, *ARGUMENTS, "--log", log]) == 3
        assert f"{name} is not installed here; on Debian and Ubuntu: apt install {package}." in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="signals differ")
def test_ctrl_c_ends_a_sweep_politely_and_the_log_is_described(tmp_path, programs):
    install(programs, "rtl_power", ROWS + "while True:\n    rows()\n    time.sleep(0.1)\n")
    log = tmp_path / "a.csv"
    command = [sys.executable, "-m", "bandwright", "sweep", "--live", "rtl_power", *ARGUMENTS, "--log", str(log)]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, encoding="utf-8"
    )
    assert process.stderr is not None
    first = process.stderr.readline()  # the first line of the live view
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=60)
    assert "strongest -20.0 dB at 607.000 MHz" in first
    assert process.returncode == 0
    assert out.startswith("Measured ")
    assert f"{LOW_HZ / 1e6:.3f}"[:3] in out
    assert log.read_text().endswith("\n")


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ([], "needs FILE... to read, or --live SOURCE"),
        (["x.csv", "--once"], "--once says how to sweep now, but no source is named"),
        (["--live", "rtl_power"], "needs --low-mhz and --high-mhz and --log"),
        (["--live", "rtl_power", "--low-mhz", "x"], "'x' is not a number; a number of MHz is needed"),
        (["--live", "rtl_power", "--low-mhz", "-1"], "-1 MHz is not above 0"),
    ],
)
def test_what_was_asked_badly_is_told_with_exit_code_two(given, sentence, capsys):
    assert run(["sweep", *given]) == 2
    assert sentence in capsys.readouterr().err


def test_on_a_terminal_the_state_of_own_transmitters_is_asked(monkeypatch):
    from bandwright.cli import live

    monkeypatch.setattr(live.sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(live.sys.stderr, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(live.click, "prompt", lambda text, **_: "off" if "now" in text else "")
    assert live.asked_own_transmitters() == "off"
    monkeypatch.setattr(live.sys.stdin, "isatty", lambda: False, raising=False)
    assert live.asked_own_transmitters() == "unknown"


def test_an_analyser_on_the_network_is_swept_and_says_who_it_is(tmp_path, capsys):
    log = tmp_path / "a.csv"
    with served(Bench()) as where:
        assert run(["sweep", "--live", f"scpi:{where}", *ARGUMENTS, "--once", "--log", str(log), "--json"]) == 0
    told = capsys.readouterr()
    assert f"The analyser says it is {IDENTITY}; spoken to with standard SCPI commands." in told.err
    answer = json.loads(told.out)
    assert (answer["files"][0]["unit"], answer["sweeps"], answer["points"]) == ("dBm", 1, 320)


def test_an_analyser_is_spoken_to_by_the_file_of_the_user_that_fits_best(tmp_path):
    ((_, shipped),) = analyser_files()
    folder = tmp_path / "analysers"
    folder.mkdir()
    own = shipped.replace("most_points = 1001", "most_points = 100").replace("scpi-1999", "quay")
    (folder / "quay.toml").write_text(own + '\nanswers_to = ["Lantern Works", "Quay 7"]\n')
    (folder / "other.toml").write_text(own.replace("100\n", "50\n") + '\nanswers_to = ["Lantern Works"]\n')
    bench = Bench(most_points=100)
    once = wish_of(low_hz=606_000_000, high_hz=614_000_000, bin_hz=25_000, once=True)
    context = Context(kit_folder=tmp_path / "kit")
    with served(bench) as where:
        done = record_sweeps(context, f"scpi:{where}", once, log=tmp_path / "a.csv")
    assert done.view.sweeps == 1
    assert [line for line in bench.heard if "POINts " in line] == ["SENSe:SWEep:POINts 80"] * 4
    (folder / "quay.toml").write_text("nonsense")
    with served(bench) as where, pytest.raises(InputError, match=r"quay\.toml: this is no TOML"):
        record_sweeps(context, f"scpi:{where}", once, log=tmp_path / "b.csv")


def test_an_analyser_that_falls_silent_leaves_what_it_measured(tmp_path):
    log = tmp_path / "a.csv"
    bench = Bench(fault=lambda bench, line: "what?" if line.startswith("TRACe") and bench.sweeps == 3 else None)
    with served(bench) as where, pytest.raises(MachineError, match=r"with 'what\?'.*stays in .*a\.csv: 2 sweeps"):
        record_sweeps(Context(), f"scpi:{where}", WISH, log=log)
    assert readers.read(log).sweeps == 2

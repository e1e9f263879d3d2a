"""Sweep files described: as text, as JSON, and through the command."""

from __future__ import annotations

import json

import numpy as np
import pytest

from bandwright.cli import run
from bandwright.errors import InputError
from bandwright.service.air import describe_sweeps, read_sweeps
from bandwright.service.context import Context, Progress

LOW_HZ, HOP_HZ, BIN_HZ = 574_000_000, 2_000_000, 10_000


@pytest.fixture
def log(tmp_path):
    """A log of noise at -110 dB with a carrier at 577.3 MHz, a broken row, and no hop from 582 to 584 MHz."""
    rng = np.random.default_rng(1)
    rows = []
    for sweep in range(3):
        for hop in (0, 1, 2, 3, 5, 6):
            levels = 10 * np.log10(rng.gamma(20, 1 / 20, size=HOP_HZ // BIN_HZ)) - 110
            if hop == 1:
                levels[125:135] += 40
            low = LOW_HZ + hop * HOP_HZ
            words = ", ".join(f"{level:.2f}" for level in levels)
            rows.append(f"2027-05-14, 09:0{sweep}:00, {low}, {low + HOP_HZ}, {BIN_HZ}.00, 1, {words}")
    rows.insert(3, "2027-05-14, 09:00:00, oops")
    file = tmp_path / "harbour.csv"
    file.write_text("\n".join(rows) + "\n")
    return file


def test_the_text_tells_range_floor_tv_carriers_quiet_parts_gaps_and_faults(log):
    lines = describe_sweeps(Context(), [log], raster_id="region1").text(columns=100).splitlines()
    text = " ".join(" ".join(lines).split())
    for part in (
        "harbour.csv",
        "574.000-588.000 MHz, 1200 points, 3 sweeps, 2027-05-14 09:00:00 to 09:02:00",
        "levels in uncalibrated dB",
        "-110.0 dB in 10 kHz",
        "not measured",
        " 577.",
        "Quiet: every 200 kHz within 10 dB of the floor",
        "1 gap, 14.3% of the range",
        "582.000-584.000 MHz",
        "line 4: A row needs six fields",
    ):
        assert part in text
    assert max(map(len, lines)) <= 100


def test_a_half_heard_tv_channel_is_never_called_empty(log):
    tv = describe_sweeps(Context(), [log], raster_id="region1").document().tv
    assert {item.channel: item.verdict.value for item in tv} == {"34": "shared", "35": "not measured"}


def test_the_document_is_the_one_of_the_design_and_holds_no_nan(log):
    document = json.loads(
        describe_sweeps(Context(), [log], raster_id="region1").document().model_dump_json(by_alias=True)
    )
    assert document["schema"] == "bandwright.sweep/1"
    assert document.keys() >= {
        *("program", "inputs", "warnings", "points", "low_mhz", "high_mhz", "gaps", "sweeps"),
        *("floor", "tv", "carriers", "problems"),
    }
    assert (document["points"], document["sweeps"]) == (1200, 3)
    assert (document["low_mhz"], document["high_mhz"]) == (574, 588)
    assert [(gap["low_mhz"], gap["high_mhz"]) for gap in document["gaps"]] == [(582, 584)]
    assert document["floor"][0]["level"] == pytest.approx(-110, abs=0.3)
    assert document["carriers"][0]["centre_mhz"] == pytest.approx(577.3, abs=0.01)
    assert document["problems"][0]["line"] == 4
    assert len(document["inputs"][0]["sha256"]) == 64


def test_several_files_stay_apart_in_one_document(log, tmp_path):
    other = tmp_path / "quay.csv"
    other.write_text("MHz,dBm\n" + "".join(f"{606 + 0.025 * index:.3f},-100\n" for index in range(400)))
    document = describe_sweeps(Context(), [log, other]).document()
    assert (document.points, document.low_mhz, document.high_mhz) == (1600, 574, 615.9875)
    assert [file.unit for file in document.files] == ["dB", "dBm"]
    assert {part.file for part in document.floor} == {"harbour.csv", "quay.csv"}
    assert document.warnings[0].code == "no-raster"


def test_an_unknown_raster_names_the_known_ones(log):
    with pytest.raises(InputError, match=r"americas, australia, japan, region1.*Did you mean .region1"):
        describe_sweeps(Context(), [log], raster_id="region9")


def test_reading_tells_how_far_it_is(log):
    told: list[Progress] = []
    sweeps, inputs = read_sweeps(Context(progress=told.append), [log])
    assert (len(sweeps), inputs[0].name) == (1, "harbour.csv")
    assert told[-1] == Progress(text="reading harbour.csv", done=1.0)


def test_the_command_prints_text_or_one_object(log, capsys):
    assert run(["sweep", str(log), "--raster", "region1"]) == 0
    assert "harbour.csv" in capsys.readouterr().out
    assert run(["sweep", str(log), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["points"] == 1200


@pytest.mark.parametrize("text", ["", "no sweep\n", "606,nan\n607,nan\n608,nan\n"])
def test_the_command_refuses_what_is_no_sweep_with_exit_code_two(tmp_path, capsys, text):
    file = tmp_path / "x.csv"
    file.write_text(text)
    assert run(["sweep", str(file), "--json"]) == 2
    answer = json.loads(capsys.readouterr().out)
    assert answer["schema"] == "bandwright.errors/1"
    assert answer["errors"][0]["file"] == str(file)


@pytest.mark.filterwarnings("error")
def test_bins_wider_than_a_megahertz_are_told_in_whole_khz(tmp_path, capsys):
    level = np.full(461, -103.0)
    level += np.random.default_rng(2).normal(0, 0.7, level.size)
    level[20:100] += 40
    file = tmp_path / "wide.csv"
    lines = [f"{mhz:.3f},{db:.2f}" for mhz, db in zip(1 + 2.1717 * np.arange(level.size), level, strict=True)]
    file.write_text("MHz,dBm\n" + "\n".join(lines) + "\n")
    assert run(["sweep", str(file)]) == 0
    told = capsys.readouterr().out.split("Carriers")[1].split("Quiet")[0]
    widths = [line.split()[1] for line in told.splitlines()[2:] if line.strip()]
    assert any(abs(int(width) - 80 * 2172) < 5 * 2172 for width in widths if width.isdigit())
    assert not any("e+" in width for width in widths)

"""`bandwright sweep --draw`: pictures of what is in the air, as people ask for them."""

from __future__ import annotations

import json
from io import BytesIO
from xml.etree import ElementTree

import pytest
from PIL import Image

from bandwright.cli import run

TEXT = "{http://www.w3.org/2000/svg}text"
BRIEF = """\
[job]
title = "Drawn"
[[place]]
id = "quay"
timezone = "Europe/Lisbon"
tv_raster = "region1"
[[permit]]
id = "p"
reference = "shared licence"
state = "granted"
windows_mhz = [[607, 613]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 606, high_mhz = 614, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
defaults = "analogue-fm-wide"
[[other]]
id = "house"
name = "House talkback"
carrier_mhz = 611.3
bandwidth_khz = 12.5
"""


@pytest.fixture
def log(tmp_path):
    """Twelve sweeps, a minute apart, from 606 to 614 MHz; 609.5 MHz is loud from the sixth on."""
    rows = []
    for minute in range(12):
        levels = [
            -100 - (k * 7 + minute * 3) % 5 / 4 + (45 if minute > 5 and abs(k - 140) < 3 else 0) for k in range(320)
        ]
        text = ", ".join(f"{level:.2f}" for level in levels)
        rows.append(f"2027-05-14, 13:{40 + minute}:00, 606000000, 614000000, 25000.00, 20, {text}\n")
    file = tmp_path / "base.csv"
    file.write_text("".join(rows))
    return file


def words_of(file):
    return [text.text for text in ElementTree.parse(file).getroot().iter(TEXT)]


def test_a_picture_shows_sweep_carriers_tv_channels_and_the_waterfall(log, tmp_path, capsys):
    out = tmp_path / "air.svg"
    assert run(["sweep", str(log), "--raster", "region1", "--draw", str(out), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["drawn"] == [str(out)]
    words = words_of(out)
    wanted = {"base.csv", "609.513", "found by the sweep", "noise floor", "base.csv over time", "13:40", "38", "MHz"}
    assert wanted <= set(words)
    assert words.count("not measured") == 2
    assert "12 sweeps in 12 rows, the first on top" in words


def test_a_brief_brings_permits_others_and_the_time_zone(log, tmp_path):
    (tmp_path / "brief.toml").write_text(BRIEF)
    out = tmp_path / "air.svg"
    assert run(["sweep", str(log), "--brief", str(tmp_path / "brief.toml"), "--draw", str(out)]) == 0
    words = words_of(out)
    assert {"shared licence", "House talkback", "other user", "outside the permits"} <= set(words)
    assert any("times of Europe/Lisbon" in text for text in words)
    assert "2027-05-14 13:40 (Europe/Lisbon), state of own transmitters unknown" in words


def test_png_in_light_and_dark_and_one_file_for_each_sweep(log, tmp_path, capsys):
    dark, light = tmp_path / "dark.png", tmp_path / "light.PNG"
    assert run(["sweep", str(log), str(log), "--draw", str(dark), "--theme", "dark"]) == 0
    told = capsys.readouterr().out
    assert f"Drawn: {dark}" in told
    assert f"Drawn: {tmp_path / 'dark-2.png'}" in told
    assert dark.read_bytes() == (tmp_path / "dark-2.png").read_bytes()
    assert run(["sweep", str(log), "--draw", str(light)]) == 0
    corners = []
    for file in (dark, light):
        with Image.open(BytesIO(file.read_bytes())) as image:
            assert (image.format, image.width) == ("PNG", 2400)
            corners.append(sum(image.getpixel((2, 2))))
    assert corners[0] < 150
    assert corners[1] > 600


def test_a_single_sweep_has_no_waterfall(log, tmp_path):
    one = tmp_path / "one.csv"
    one.write_text(log.read_text().splitlines(keepends=True)[0])
    out = tmp_path / "one.svg"
    assert run(["sweep", str(one), "--draw", str(out)]) == 0
    assert "Over time" not in words_of(out)


@pytest.mark.parametrize(
    ("name", "part"), [("air.jpg", "it ends with .svg"), ("air", "it ends with .svg"), ("base.svg", "not overwritten")]
)
def test_a_picture_that_cannot_be_written_is_told_before_anything_is_read(log, tmp_path, capsys, name, part):
    (tmp_path / "base.svg").write_text("mine")
    before = sorted(tmp_path.iterdir())
    assert run(["sweep", str(log), "--draw", str(tmp_path / name)]) == 2
    assert part in " ".join(capsys.readouterr().err.split())
    assert sorted(tmp_path.iterdir()) == before
    assert (tmp_path / "base.svg").read_text() == "mine"

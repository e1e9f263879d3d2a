"""The pictures of a plan. Authority: what the invented job and its sweeps hold, counted by hand."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import numpy as np
import pymupdf
import pytest

from bandwright.cli import run

BRIEF = """
[job]
title = "Two shores"
invented = true
[[place]]
id = "quay"
name = "Quay stage"
tv_raster = "region1"
timezone = "Europe/Lisbon"
[[place]]
id = "yard"
name = "Boat yard"
timezone = "Europe/Lisbon"
[[permit]]
id = "p"
reference = "shared licence"
state = "granted"
windows_mhz = [[602, 613]]
[[radio]]
id = "heron"
name = "Heron"
tuning = [{ low_mhz = 602.1, high_mhz = 612.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
power_mw = 10
spacing_khz = 350
noise_figure_db = 8
[[link]]
id = "Q"
radio = "heron"
count = 3
place = "quay"
[[link]]
id = "Y1"
radio = "heron"
place = "yard"
[[other]]
id = "house"
name = "House"
carrier_mhz = 609.3
bandwidth_khz = 12.5
place = "quay"
"""


def levels(rng, *, loud=(), floor_db=-121.0):
    """Return noise on bins of 25 kHz from 600 to 622 MHz, with (MHz, kHz wide, dB) on top."""
    centres = 600e6 + (np.arange(880) + 0.5) * 25e3
    found = floor_db + 10 * np.log10(rng.gamma(60, 1 / 60, centres.size))
    for mhz, khz, db in loud:
        found[np.abs(centres - mhz * 1e6) < max(khz * 500, 13e3)] = db
    return centres, found


def log(path: Path, *, sweeps: int, loud=()):
    """Write an rtl_power log, a sweep a minute."""
    rng = np.random.default_rng(2)
    rows = []
    for minute in range(sweeps):
        for hop, part in enumerate(np.split(levels(rng, loud=loud)[1], 11)):
            low = 600_000_000 + hop * 2_000_000
            head = f"2027-05-14, 09:{minute:02}:00, {low}, {low + 2_000_000}, 25000, 20"
            rows.append(f"{head}, {', '.join(f'{db:.2f}' for db in part)}")
    path.write_text("\n".join(rows) + "\n")


def table(path: Path, *, gain_db: float, loud=()):
    """Write a calibrated trace with its note."""
    centres, found = levels(np.random.default_rng(3), loud=loud)
    rows = [f"{hz / 1e6:.4f},{db:.2f}" for hz, db in zip(centres, found, strict=True)]
    path.write_text("\n".join(["MHz,dBm", *rows]) + "\n")
    note = f'antenna = "whip"\ngain_ahead_db = {gain_db}\nrbw_khz = 25\nown_transmitters = "off"\n'
    path.with_name(f"{path.name}.toml").write_text(note)


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    """Plan with three sweeps of the quay, one of them over time, and one of the yard."""
    folder = tmp_path_factory.mktemp("shores")
    (folder / "two.toml").write_text(BRIEF)
    multiplex = (618, 7600, -85)
    log(folder / "base.csv", sweeps=6, loud=[multiplex, (609.3, 12, -95), (606.9, 100, -95)])
    log(folder / "once.csv", sweeps=1, loud=[multiplex])
    table(folder / "deep.csv", gain_db=8.0, loud=[multiplex])
    table(folder / "yard.csv", gain_db=-4.0)
    given = [f"--sweep=quay={folder / name}" for name in ("base.csv", "once.csv", "deep.csv")]
    code = run(["plan", str(folder / "two.toml"), *given, f"--sweep=yard={folder / 'yard.csv'}", f"--out={folder}"])
    assert code == 0
    return folder


def words(picture: Path) -> str:
    return " ".join(picture.read_text().split())


def test_every_sweep_that_counted_is_drawn_place_by_place(out):
    names = ["sweep.svg", "sweep-2.svg", "sweep-3.svg", "sweep-4.svg"]
    assert sorted(path.name for path in out.glob("*.svg")) == sorted(names)
    wanted = [("base.csv", "Quay stage"), ("once.csv", "Quay stage"), ("deep.csv", "Quay stage"), ("yard.csv", "Boat")]
    for name, (sweep, place) in zip(names, wanted, strict=True):
        assert f"{sweep}, at {place}" in words(out / name)
    assert (out / "sheet.html").read_text().count("<figure>") == 4


def test_a_sweep_with_time_has_its_waterfall_and_a_single_one_has_none(out):
    shown = ["over time" in words(out / name) for name in ("sweep.svg", "sweep-2.svg", "sweep-3.svg", "sweep-4.svg")]
    assert shown == [True, False, False, False]
    assert "6 sweeps in 6 rows" in words(out / "sweep.svg")
    assert "times of Europe/Lisbon" in words(out / "sweep.svg")


def test_on_paper_each_picture_and_each_waterfall_has_a_page_of_its_own(out):
    _, *pages = (" ".join(page.get_text().split()) for page in pymupdf.open(out / "sheet.pdf"))
    named = [
        "Quay stage base.csv",
        "base.csv over time",
        "Quay stage once.csv",
        "Quay stage deep.csv",
        "Boat yard yard",
    ]
    assert [name in page for name, page in zip(named, pages, strict=True)] == [True] * 5


def test_a_picture_holds_the_plan_of_its_place_the_permits_and_what_is_on_the_air(out):
    with (out / "carriers.csv").open() as file:
        carriers = {row["id"]: row["mhz"] for row in csv.DictReader(file)}
    quay, yard = words(out / "sweep.svg"), words(out / "sweep-4.svg")
    for link, mhz in carriers.items():
        here, elsewhere = (quay, yard) if link.startswith("Q") else (yard, quay)
        assert f">{link}<" in here
        assert f">{mhz}<" in here
        assert f">{link}<" not in elsewhere
    assert "shared licence" in quay
    assert "other user: House, 609.300 MHz" in quay
    assert "39 (taken)" in quay
    assert "House" not in yard


def test_carriers_that_a_sweep_shows_and_nobody_listed_stand_in_its_picture_only(out):
    # 606.9 MHz is in no list; 609.3 MHz is the house's; four bins of -95 dB are -89 dB together.
    assert "found by the sweep, -89 dB, 606.900 MHz" in words(out / "sweep.svg")
    assert words(out / "sweep.svg").count("found by the sweep, -") == 1
    for name in ("sweep-2.svg", "sweep-3.svg", "sweep-4.svg"):
        assert "found by the sweep" not in words(out / name)


def test_depth_is_drawn_where_levels_at_the_antenna_are_known(out):
    limit = "what Heron can bear, spread over 200 kHz"
    assert [limit in words(out / name) for name in ("sweep-2.svg", "sweep-3.svg", "sweep-4.svg")] == [
        False,
        True,
        True,
    ]
    # -112 dBm of noise in 200 kHz less 8 dB of gain is -120 at the antenna, under -113; with 4 dB of loss it is over.
    assert "not deep enough" not in words(out / "sweep-3.svg")
    assert "not deep enough" in words(out / "sweep-4.svg")
    assert "antenna: whip, 4 dB of loss ahead" in words(out / "sweep-4.svg")
    plan = json.loads((out / "plan.json").read_text())
    states = {link["id"]: link["noise"]["state"] for link in plan["links"]}
    assert states == {"Q.1": "quiet", "Q.2": "quiet", "Q.3": "quiet", "Y1": "not deep enough"}


def test_on_paper_a_sweep_takes_the_whole_width(tmp_path):
    """Authority: A4 across is 297 x 210 mm (ISO 216); for the screen the same picture is 1200 wide and too tall."""
    other = '[[other]]\nid = "o{0}"\nname = "Visitor {0}"\ncarrier_mhz = {1}\nbandwidth_khz = 12.5\nplace = "quay"\n'
    others = "".join(other.format(number, 607 + number / 40) for number in range(11))
    (tmp_path / "two.toml").write_text(BRIEF.replace("count = 3", "count = 16") + others)
    table(tmp_path / "deep.csv", gain_db=8.0, loud=[(618, 7600, -85)])
    given = [f"--sweep=quay={tmp_path / 'deep.csv'}", f"--out={tmp_path}"]
    assert run(["plan", str(tmp_path / "two.toml"), *given]) == 0
    on_screen = re.search(r'viewBox="0 0 1200 ([\d.]+)"', words(tmp_path / "sweep.svg"))
    assert on_screen is not None
    assert float(on_screen[1]) * 1.6 > 1200
    page = pymupdf.open(tmp_path / "sheet.pdf")[-1]
    plots = [path["rect"] for path in page.get_drawings() if path["rect"].height > 40]
    across = max(rect.x1 for rect in plots) - min(rect.x0 for rect in plots)
    assert across * 25.4 / 72 > 250

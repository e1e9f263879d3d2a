"""Strong signals that a sweep shows, against what a run bears. Authority: sums of power by hand."""

from __future__ import annotations

import json
import math

import pytest
from brief_examples import changed
from reach_examples import REACH

from bandwright.cli import run

OLD = '{ what = "cable", length_m = 8, loss_db = 4.1 }, { what = "splitter", ways = 4 }'
AMPLIFIER = '{ what = "amplifier", name = "booster", gain_db = 12, noise_figure_db = 4, p1db_dbm = -20 }'
NOTE = 'place = "quay"\nantenna = "whip"\ngain_ahead_db = -3\nrbw_khz = 30\nown_transmitters = "off"\n'
MULTIPLEX = (662.2, 669.8)  # the signal of TV channel 45, 7.6 of 8 MHz, DVB-T


def asked(tmp_path, capsys, *, parts=AMPLIFIER, level_dbm=-50.0, note=NOTE, carrier=None):
    text = changed(OLD, parts, text=changed('id = "quay"\n', 'id = "quay"\ntv_raster = "region1"\n', text=REACH))
    (tmp_path / "brief.toml").write_text(changed("iip3_dbm = -5", "p1db_dbm = 0", text=text))
    rows = []
    for index in range(4000):
        mhz = 600 + 0.025 * index
        dbm = level_dbm if MULTIPLEX[0] <= mhz <= MULTIPLEX[1] else -105 + 1.5 * math.sin(index * 12.9)
        if carrier is not None and abs(mhz - carrier[0]) < 0.03:
            dbm = carrier[1]
        rows.append(f"{mhz:.3f};{dbm:.1f}\n")
    (tmp_path / "air.csv").write_text("Frequency MHz;Average dBm\n" + "".join(rows))
    (tmp_path / "air.csv.toml").write_text(note)
    options = ("--link", "L01", "--sweep", str(tmp_path / "air.csv"), "--json")
    assert run(["reach", str(tmp_path / "brief.toml"), *options]) in (0, 1)
    return json.loads(capsys.readouterr().out)


def blockers(document):
    return {one["name"]: one for one in document["links"][0]["strong"][0]["blockers"]}


def test_a_multiplex_comes_with_its_whole_power_at_the_antenna(tmp_path, capsys, authority):
    found = blockers(asked(tmp_path, capsys))["the multiplex on TV 45"]
    density_dbm = -50 + 3 - 10 * math.log10(0.03 * 1.0)
    authority(
        "Power of a multiplex from a flat trace",
        source="bins of 25 kHz read through 30 kHz, summed by hand over 7.6 MHz, with the 3 dB ahead taken out",
        kind="arithmetic",
        ours=found["level_dbm"],
        theirs=density_dbm + 10 * math.log10(7.61),
        tolerance=0.6,  # the noise bandwidth of a filter is not its resolution bandwidth to the tenth
        unit="dBm",
    )
    assert found["stage"] == "booster"
    assert found["below_db"] == pytest.approx(-20 - found["level_dbm"])


def test_a_filter_ahead_keeps_it_out(tmp_path, capsys):
    parts = f'{{ what = "filter", loss_db = 1, passband_mhz = [600, 614], stopband_db = 30 }}, {AMPLIFIER}'
    assert blockers(asked(tmp_path, capsys, parts=parts)) == {}


def test_signals_that_are_harmless_alone_may_not_be_together(tmp_path, capsys):
    alone = asked(tmp_path, capsys, level_dbm=-58.5)
    assert blockers(alone) == {}
    both = blockers(asked(tmp_path, capsys, level_dbm=-58.5, carrier=(630.0, -40.0)))
    (name,) = both
    assert name == "2 signals together"
    assert both[name]["below_db"] < 10


def test_a_sweep_without_levels_at_its_antenna_says_nothing_and_that_is_told(tmp_path, capsys):
    document = asked(tmp_path, capsys, note=NOTE.replace("gain_ahead_db = -3\n", ""))
    assert blockers(document) == {}
    (warning,) = (one for one in document["warnings"] if one["code"] == "sweep-not-calibrated")
    assert "gain_ahead_db in the note beside it" in warning["text"]
    assert [item["name"] for item in document["inputs"]] == ["brief.toml", "air.csv", "air.csv.toml"]

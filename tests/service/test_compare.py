"""Comparing two sweep files beside a brief and its plan, and through the command."""

from __future__ import annotations

import json

import numpy as np
import pytest

from bandwright.cli import run
from bandwright.errors import InputError
from bandwright.service.compare import compare_sweeps
from bandwright.service.context import Context

BRIEF = """
bandwright = 1
[job]
title = "Lantern Quay"
[[place]]
id = "quay"
name = "Quay stage"
timezone = "Europe/Lisbon"
tv_raster = "region1"
[[permit]]
id = "shared"
reference = "shared licence"
state = "granted"
windows_mhz = [[606, 614]]
[[radio]]
id = "heron"
name = "Heron (invented)"
direction = "from-person"
tuning = [{ low_mhz = 606.0, high_mhz = 614.0, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
power_mw = [10]
power_kind = "erp"
defaults = "analogue-fm-wide"
[[link]]
id = "L01"
name = "Mara"
radio = "heron"
hold_mhz = 607.000
[[link]]
id = "L02"
name = "Ines"
radio = "heron"
hold_mhz = 608.000
"""


def write(path, signals, seed):
    """Columns of noise at -110 dBm in 10 kHz from 604 to 616 MHz, with signals of 100 kHz at (MHz, dBm)."""
    rng = np.random.default_rng(seed)
    mhz = 604.005 + 0.01 * np.arange(1200)
    power = 1e-11 * rng.gamma(64, 1 / 64, size=1200)
    for centre, dbm in signals:
        power[np.abs(mhz - centre) < 0.05] += 10 ** (dbm / 10)
    path.write_text("MHz,dBm\n" + "".join(f"{f:.3f},{10 * np.log10(p):.2f}\n" for f, p in zip(mhz, power, strict=True)))
    return path


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "brief.toml").write_text(BRIEF)
    write(tmp_path / "old.csv", [], 1)
    return tmp_path


def compared(folder, signals, *, own_transmitters):
    new = write(folder / "new.csv", signals, 2)
    return compare_sweeps(
        Context(), folder / "old.csv", new, brief=folder / "brief.toml", own_transmitters=own_transmitters
    )


def test_with_own_transmitters_on_own_carriers_and_products_are_named(folder):
    # 2 x 607 - 608 = 606 and 2 x 608 - 607 = 609.
    answer = compared(folder, [(607.0, -60), (608.0, -60), (609.0, -85), (611.5, -70)], own_transmitters="on")
    words = [owner.words if owner else None for owner in answer.owners]
    assert words == ["own carrier of L01", "own carrier of L02", "own IM product 2 x L02 - L01", None]
    assert answer.touched == ()
    assert answer.exit_code == 0


def test_with_own_transmitters_on_the_nearest_of_ours_counts_and_a_product_before_a_carrier_beside_it(folder):
    # 2 x 608 - 607 = 609.0; a signal of 600 kHz around it reaches a third link on 609.225, beside which it is centred.
    third = '[[link]]\nid = "L03"\nradio = "heron"\nhold_mhz = 609.225\n'
    (folder / "brief.toml").write_text(f"{BRIEF}{third}")
    wide = [(609.0 + step / 100, -85) for step in range(-25, 26, 5)]
    answer = compared(folder, [(607.0, -60), (608.0, -60), *wide], own_transmitters="on")
    assert [owner.words for owner in answer.owners if owner][2:] == ["own IM product 2 x L02 - L01"]
    answer = compared(folder, [(607.0, -60), (608.0, -60), (609.225, -60)], own_transmitters="on")
    assert [owner.words for owner in answer.owners if owner][2:] == ["own carrier of L03"]


@pytest.mark.parametrize("state", ["on", "off", "unknown"])
def test_energy_on_a_spare_carrier_is_an_intruder_whatever_is_on_for_nobody_of_ours_sends_there(folder, state, capsys):
    (folder / "brief.toml").write_text(f"{BRIEF}[plan]\nspares = {{ heron = 1 }}\n")
    assert run(["plan", str(folder / "brief.toml"), "--out", str(folder / "out"), "--json"]) == 0
    [spare] = json.loads(capsys.readouterr().out)["spares"]
    new = write(folder / "new.csv", [(607.0, -60), (608.0, -60), (spare["carrier_hz"] / 1e6, -80)], 2)
    names = {"brief": folder / "brief.toml", "plan": folder / "out"}
    answer = compare_sweeps(Context(), folder / "old.csv", new, **names, own_transmitters=state)
    touched = {item.link: item.intruder for item in answer.touched}
    assert touched == {spare["id"]: True, **({} if state == "on" else {"L01": True, "L02": True})}
    changes = zip(answer.comparison.changes, answer.owners, strict=True)
    [whose] = [owner for change, owner in changes if abs(change.centre_hz - spare["carrier_hz"]) < 50_000]
    assert whose is None


@pytest.mark.parametrize("state", ["off", "unknown"])
def test_otherwise_energy_on_a_planned_carrier_is_an_intruder(folder, state):
    answer = compared(folder, [(607.0, -60)], own_transmitters=state)
    assert [owner for owner in answer.owners if owner] == []
    [touched] = answer.touched
    assert (touched.link, touched.intruder) == ("L01", True)
    assert "dB above the floor" in touched.text
    assert answer.exit_code == 1
    assert [warn.code for warn in answer.warnings] == (["own-transmitters-unknown"] if state == "unknown" else [])


def test_text_and_document_say_the_same(folder, capsys):
    write(folder / "new.csv", [(608.05, -70), (611.5, -75)], 2)
    given = ["compare", *(str(folder / name) for name in ("old.csv", "new.csv", "brief.toml"))]
    assert run([*given, "--own-transmitters", "off"]) == 1
    text = capsys.readouterr().out
    for part in (
        "Levels aligned by noise floors",
        "L02 608.000 MHz  INTRUDER",
        "nothing touches the other 1 link",
        "New",
    ):
        assert part in text
    assert run([*given, "--own-transmitters", "off", "--json"]) == 1
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "bandwright.compare/1"
    assert (document["ok"], document["own_transmitters"]) == (False, "off")
    assert [change["kind"] for change in document["changes"]] == ["new", "new"]
    assert [change["centre_mhz"] for change in document["changes"]] == pytest.approx([608.05, 611.5], abs=0.01)
    assert [item["link"] for item in document["touched"]] == ["L02"]
    assert len(document["inputs"]) == 3


def test_two_sweeps_alone_are_compared_without_links(folder, capsys):
    write(folder / "new.csv", [], 2)
    assert run(["compare", str(folder / "old.csv"), str(folder / "new.csv")]) == 0
    assert "Nothing is new, nothing went, and nothing got noisier." in capsys.readouterr().out


def test_a_plan_without_its_brief_is_refused_in_words(folder):
    with pytest.raises(InputError, match="name the brief behind the two sweeps"):
        compare_sweeps(Context(), folder / "old.csv", folder / "old.csv", plan=folder / "plan.json")


def test_sweeps_of_two_places_are_refused_in_words(folder):
    write(folder / "new.csv", [], 2)
    (folder / "old.csv.toml").write_text('place = "quay"\n')
    (folder / "new.csv.toml").write_text('place = "hall"\n')
    with pytest.raises(InputError, match='at "quay" and this one at "hall"'):
        compare_sweeps(Context(), folder / "old.csv", folder / "new.csv")


def test_the_carriers_of_a_plan_are_looked_at(folder, capsys):
    assert run(["plan", str(folder / "brief.toml"), "--out", str(folder / "out"), "--json"]) == 0
    capsys.readouterr()
    new = write(folder / "new.csv", [(607.0, -60)], 2)
    answer = compare_sweeps(
        Context(),
        folder / "old.csv",
        new,
        brief=folder / "brief.toml",
        plan=folder / "out",
        own_transmitters="off",
    )
    assert [item.link for item in answer.touched] == ["L01"]
    assert answer.links == 2

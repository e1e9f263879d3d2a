"""Write `layout-1.bwjob` as the program itself does; for the time before the first release only (see README.md)."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from bandwright.documents.brief import parse_toml
from bandwright.service.context import Context
from bandwright.service.desk import Desk
from bandwright.service.devices import pair_device
from bandwright.service.entries import remove_entry
from bandwright.service.history import undo
from bandwright.service.job import create_job, fill
from bandwright.service.job_runs import run_plan
from bandwright.service.job_sweeps import add_sweep
from bandwright.service.statements import state_something, take_back
from bandwright.service.versions import keep_version

FILE = Path(__file__).with_name("layout-1.bwjob")

BRIEF = """
[job]
title = "Lantern Quay"
dates = [2027-05-14]
invented = true

[[permit]]
id = "shared"
state = "granted"
windows_mhz = [[606.5, 613.5]]
max_power = { any_mw = 50, kind = "erp" }

[[radio]]
id = "heron"
tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]
defaults = "analogue-fm-wide"

[[link]]
id = "L01"
name = "Mara"
radio = "heron"
hold_mhz = 606.700

[[link]]
id = "L02"
name = "Łukasz"
radio = "heron"

[[link]]
id = "L03"
name = "Ines"
radio = "heron"
"""


def base_sweep() -> bytes:
    """Noise from 606 to 614 MHz in steps of 25 kHz."""
    mhz = np.arange(606_000, 614_000, 25) / 1000
    level = -100 + np.random.default_rng(7).normal(0, 0.4, mhz.size)
    rows = "".join(f"{hz:.3f},{db:.2f}\n" for hz, db in zip(mhz, level, strict=True))
    return f"Frequency (MHz),Level (dBm)\n{rows}".encode()


def work(desk: Desk) -> None:
    links = {entry.id: entry.uid for entry in desk.file.entries("link")}
    add_sweep(desk, who="Mara", name="base.csv", data=base_sweep(), stated={"own_transmitters": "off"})
    run_plan(desk, who="Mara")
    state_something(desk, who="Jonas", what="set", about=links["L01"], client_key="first of the phone")
    state_something(desk, who="Jonas", what="set", about=links["L02"], note="crackles")
    take_back(desk, next(it.uid for it in desk.file.statements() if it.note == "crackles"), who="Jonas")
    desk.change(
        lambda draft: draft.add_note("breaks up at the east gate", about=links["L02"]), who="Jonas", what="Wrote a note"
    )
    keep_version(desk, who="Mara", name="as rehearsed")
    pair_device(desk, name="Ines' phone", role="look", who="Mara")
    remove_entry(desk, links["L03"], who="Mara")
    undo(desk, who="Mara")


if __name__ == "__main__":
    FILE.unlink(missing_ok=True)
    context = Context(now=lambda: datetime(2027, 5, 14, 15, 40, tzinfo=UTC))
    tables, _ = parse_toml(BRIEF, file="brief.toml")
    create_job(context, FILE, who="Mara", what="Made this job", make=lambda draft: fill(draft, tables))
    with Desk.open(FILE, context=context) as open_desk:
        work(open_desk)

"""The bundled demonstration: its inputs as files, as if somebody had brought them along."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from bandwright.reference.demo import DemoAir, demo_air, demo_brief_text
from bandwright.service.context import Context, Progress
from bandwright.service.output import check_folder, write_folder
from bandwright.service.planned import Planned
from bandwright.service.sheets import plan_into_folder

__all__ = ["BRIEF_NAME", "SWEEP_NAME", "run_demo", "sweep_lines", "write_demo_inputs"]

BRIEF_NAME = "lantern-quay.toml"
SWEEP_NAME = "lantern-quay-base-sweep.csv"


def write_demo_inputs(folder: Path) -> tuple[Path, Path]:
    """Write the invented brief and its generated base sweep into a folder; return both paths."""
    check_folder(folder)
    files = {BRIEF_NAME: demo_brief_text().encode(), SWEEP_NAME: "".join(sweep_lines(demo_air())).encode()}
    write_folder(folder, files, last=SWEEP_NAME)
    return folder / BRIEF_NAME, folder / SWEEP_NAME


def sweep_lines(air: DemoAir) -> Iterator[str]:
    """Yield the lines of the sweep as rtl_power writes them: date, time, low, high, step in Hz, samples, levels."""
    for row in air.rows():
        when = air.started + timedelta(seconds=row.seconds)
        levels = ", ".join([f"{level:.2f}" for level in row.levels_dbm.tolist()])
        yield f"{when:%Y-%m-%d, %H:%M:%S}, {row.low_hz}, {row.high_hz}, {row.bin_hz}.00, {row.samples}, {levels}\n"


def run_demo(context: Context, out: Path) -> Planned:
    """Do the whole main job on the bundled, invented scenario: inputs, plan and sheets go into `out`."""
    context.progress(Progress(text="making the air of the demonstration"))
    brief, sweep = write_demo_inputs(out)
    return plan_into_folder(context, brief, [sweep], out=out / "sheets", own_transmitters="off")

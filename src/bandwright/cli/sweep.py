"""`bandwright sweep`: what is in the air."""

from __future__ import annotations

import shutil
from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright sweep base.csv --raster region1")
@click.argument("files", metavar="FILE...", type=options.FILE, nargs=-1, required=True)
@click.option("--raster", metavar="ID", help="Judge TV channels of this raster: region1, americas, australia, japan.")
def command(*, files: tuple[Path, ...], raster: str | None) -> shared.Answer:
    """Say what is in the air: floor, multiplexes, carriers, quiet parts, and what nobody measured.

    Reads rtl_power and hackrf_sweep logs, plain columns of frequency and level, and exports of analysers.
    """
    from bandwright.service.air import describe_sweeps

    with shared.working() as context:
        described = describe_sweeps(context, files, raster_id=raster)
    columns = min(shutil.get_terminal_size((100, 40)).columns, 120)
    return shared.Answer(
        text=lambda: described.text(columns=columns),
        document=lambda: described.document().model_dump_json(by_alias=True),
    )

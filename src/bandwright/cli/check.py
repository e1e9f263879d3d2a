"""`bandwright check`: a verdict on any list of carriers."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright check quay.toml carriers.csv --sweep base.csv --own-transmitters off")
@options.brief_argument
@click.argument("carriers", metavar="CARRIERS.csv", type=options.FILE)
@options.sweep_option
@options.trace_option
@options.own_transmitters_option
def command(
    *, brief: Path, carriers: Path, sweeps: tuple[Path, ...], trace: str | None, own_transmitters: str
) -> shared.Answer:
    """Check the carriers in CARRIERS.csv (columns link or id, and mhz) against BRIEF and sweeps.

    Where BRIEF states iip3_dbm of radio types, predicted carrier to interference is told too.
    Exit code 1 when a rule is broken.
    """
    from bandwright.service.check import check_list

    with shared.working(trace=trace) as context:
        checked = check_list(context, brief, carriers, sweeps, own_transmitters=own_transmitters)
    columns = shared.columns()
    return shared.Answer(
        text=lambda: checked.text(columns=columns),
        document=lambda: checked.document().model_dump_json(by_alias=True),
        exit_code=0 if checked.ok else 1,
    )

"""`bandwright check`: a verdict on any list of carriers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bandwright.cli import options, shared

if TYPE_CHECKING:
    from bandwright.service.check import Checked

__all__ = ["command"]


@shared.command(example="bandwright check quay.toml carriers.csv --sweep base.csv --own-transmitters off")
@options.brief_argument
@click.argument("carriers", metavar="CARRIERS.csv", type=options.FILE)
@options.sweep_option
@options.own_transmitters_option
def command(*, brief: Path, carriers: Path, sweeps: tuple[Path, ...], own_transmitters: str) -> shared.Answer:
    """Check the carriers in CARRIERS.csv (columns link or id, and mhz) against BRIEF and sweeps.

    Exit code 1 when a rule is broken.
    """
    from bandwright.service.check import check_list

    with shared.working() as context:
        checked = check_list(context, brief, carriers, sweeps, own_transmitters=own_transmitters)
    return shared.Answer(
        text=lambda: _text(checked),
        document=lambda: checked.document().model_dump_json(by_alias=True),
        exit_code=0 if checked.ok else 1,
    )


def _text(checked: Checked) -> str:
    count = len(checked.violations)
    verdict = (
        f"{checked.carriers} carriers checked: no rule is broken."
        if checked.ok
        else f"{checked.carriers} carriers checked: {count} {'rule is' if count == 1 else 'rules are'} broken."
    )
    lines = [verdict, *(f"  {v.rule:<10} {v.text}" for v in checked.violations)]
    lines.extend(f"Note: {warning.text}" for warning in checked.warnings)
    return "\n".join(lines)

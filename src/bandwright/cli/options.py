"""Arguments and options that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

__all__ = ["brief_argument", "own_transmitters_option", "sweep_option"]

FILE = click.Path(path_type=Path)

brief_argument = click.argument("brief", metavar="BRIEF", type=FILE)
sweep_option = click.option(
    "--sweep", "sweeps", metavar="FILE", type=FILE, multiple=True, help="A sweep of the place; may be given again."
)
own_transmitters_option = click.option(
    "--own-transmitters",
    type=click.Choice(["off", "on", "unknown"]),
    default="unknown",
    show_default=True,
    help="Whether your own transmitters were off during the sweeps.",
)

"""Arguments and options that several commands share."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import click

__all__ = ["Seconds", "brief_argument", "own_transmitters_option", "sweep_option"]


class Seconds(click.FloatRange):
    """A time in seconds; what is no number is outside every range."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number, or refuse it in words."""
        number = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"{value} is no number of seconds.", param, ctx)
        return number


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

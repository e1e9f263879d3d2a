"""Arguments and options that several commands share."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import click

__all__ = [
    "FILE",
    "Duration",
    "brief_argument",
    "names_option",
    "out_option",
    "own_transmitters_option",
    "paper_option",
    "pdf_option",
    "seed_option",
    "sweep_option",
    "time_limit_option",
    "trace_option",
]


class Duration(click.FloatRange):
    """A time, in seconds or minutes as its option says; what is no number is outside every range."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number, or refuse it in words."""
        number = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"{value} is no number.", param, ctx)
        return number


class _File(click.Path):
    """A path; no name at all is refused and does not mean the folder one is in."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path, or refuse it in words."""
        if value == "":
            self.fail("it is empty; name a file or folder (. is the one you are in).", param, ctx)
        return super().convert(value, param, ctx)


FILE = _File(path_type=Path)

brief_argument = click.argument("brief", metavar="BRIEF", type=FILE)
sweep_option = click.option(
    "--sweep",
    "sweeps",
    metavar="[PLACE=]FILE",
    type=FILE,
    multiple=True,
    help="A sweep, with the id of the place where it was made if the brief has several; once for each sweep. "
    "Without it, the sweeps in a job file count.",
)
trace_option = click.option(
    "--trace", metavar="NAME", help="Read this trace where a sweep file holds several; part of its name will do."
)
own_transmitters_option = click.option(
    "--own-transmitters",
    type=click.Choice(["off", "on", "unknown"]),
    default="unknown",
    show_default=True,
    help="Whether your own transmitters were off during the sweeps.",
)
out_option = click.option("--out", metavar="DIR", type=FILE, help="Write plan.json, carriers.csv and the sheets here.")
names_option = click.option(
    "--names",
    type=click.Choice(["full", "initials", "roles"]),
    default="full",
    show_default=True,
    help="How people stand on the sheets. A wall sheet with names lets anyone listen.",
)
paper_option = click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper size."
)
pdf_option = click.option("--pdf", metavar="NEW.pdf", type=FILE, help="Write it as a sheet, a new file.")
seed_option = click.option(
    "--seed", type=click.IntRange(min=0, max=2**53 - 1), help="Start the search elsewhere; overrides the brief."
)
time_limit_option = click.option(
    "--time-limit", "time_limit_s", type=Duration(min=0, max=86_400), metavar="SECONDS", help="Overrides the brief."
)

"""`bandwright plan`: carriers for all links of a brief, with evidence and sheets."""

from __future__ import annotations

import shutil
from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright plan quay.toml --sweep base.csv --own-transmitters off --out sheets")
@options.brief_argument
@options.sweep_option
@options.own_transmitters_option
@click.option("--out", metavar="DIR", type=options.FILE, help="Write plan.json, carriers.csv and the sheets here.")
@click.option(
    "--names",
    type=click.Choice(["full", "initials", "roles"]),
    default="full",
    show_default=True,
    help="How people stand on the sheets. A wall sheet with names lets anyone listen.",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper size.")
@click.option(
    "--seed", type=click.IntRange(min=0, max=2**53 - 1), help="Start the search elsewhere; overrides the brief."
)
@click.option(
    "--time-limit",
    "time_limit_s",
    type=options.Seconds(min=0, max=86_400),
    metavar="SECONDS",
    help="Overrides the brief.",
)
def command(
    *,
    brief: Path,
    sweeps: tuple[Path, ...],
    own_transmitters: str,
    out: Path | None,
    names: str,
    paper: str,
    seed: int | None,
    time_limit_s: float | None,
) -> shared.Answer:
    """Plan carriers for all links of BRIEF, clean beside each other and inside the permits.

    Exit code 1 when a link or a wished spare carrier found no place. Ctrl-C keeps the best plan found so far and ends
    with 130.
    """
    with shared.working() as context:
        if out is None:
            from bandwright.service.plan import plan_brief

            planned = plan_brief(
                context,
                brief,
                sweeps,
                own_transmitters=own_transmitters,
                time_limit_s=time_limit_s,
                seed=seed,
            )
        else:
            from bandwright.service.sheets import plan_into_folder

            planned = plan_into_folder(
                context,
                brief,
                sweeps,
                out=out,
                names=names,
                paper=paper,
                own_transmitters=own_transmitters,
                time_limit_s=time_limit_s,
                seed=seed,
            )
    columns = min(shutil.get_terminal_size((100, 40)).columns, 140)
    return shared.Answer(
        text=lambda: planned.text(columns=columns, names=names) + (f"\nWritten to {out}\n" if out else ""),
        document=lambda: planned.document().model_dump_json(by_alias=True),
        exit_code=planned.exit_code,
    )

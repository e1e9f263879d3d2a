"""`bandwright replan`: check a plan as things are now, and move as few links as possible."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright replan quay.toml sheets --sweep 1540.csv --lost L07 --out sheets")
@options.brief_argument
@click.argument("plan", metavar="PLAN", type=options.FILE)
@options.sweep_option
@options.trace_option
@click.option(
    "--lost",
    metavar="LINK",
    multiple=True,
    help="Interference was heard on this link: its carrier is of no use where it stands. May be given again.",
)
@options.own_transmitters_option
@click.option("--off-air", is_flag=True, help="Nobody is on the air yet: in-ears may move like other links.")
@options.out_option
@options.names_option
@options.paper_option
@options.time_limit_option
def command(
    *,
    brief: Path,
    plan: Path,
    sweeps: tuple[Path, ...],
    trace: str | None,
    lost: tuple[str, ...],
    own_transmitters: str,
    off_air: bool,
    out: Path | None,
    names: str,
    paper: str,
    time_limit_s: float | None,
) -> shared.Answer:
    """Check PLAN (a plan.json, its folder, or a carriers.csv) as things are now, and move as few links as possible.

    Held links and those the brief says never move stay. In-ears in use are left alone unless nothing else helps. Nobody
    moves for a link that PLAN had no carrier for: it is placed where there is room beside the others. The
    steps stand in the order in which to make them. Exit code 1 when a link is left without a carrier, or breaks a rule
    and may not move.
    """
    from bandwright.service.replan import replan_brief

    with shared.working(trace=trace) as context:
        replanned = replan_brief(
            context,
            brief,
            plan,
            sweeps,
            lost=lost,
            own_transmitters=own_transmitters,
            off_air=off_air,
            time_limit_s=time_limit_s,
            out=out,
            names=names,
            paper=paper,
        )
    columns = shared.columns()
    return shared.Answer(
        text=lambda: replanned.text(columns=columns) + (f"Written to {out}\n" if out else ""),
        document=lambda: replanned.document().model_dump_json(by_alias=True),
        exit_code=replanned.exit_code,
    )

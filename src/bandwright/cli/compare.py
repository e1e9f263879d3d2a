"""`bandwright compare`: what changed between two sweeps of one place."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright compare base.csv 1540.csv quay.toml --plan sheets --own-transmitters on")
@click.argument("old", metavar="OLD", type=options.FILE)
@click.argument("new", metavar="NEW", type=options.FILE)
@click.argument("brief", metavar="[BRIEF]", type=options.FILE, required=False)
@click.option("--plan", metavar="PLAN", type=options.FILE, help="A plan.json or its folder, for its carriers.")
@options.trace_option
@click.option("--raster", metavar="ID", help="Judge TV channels of this raster: region1, americas, australia, japan.")
@options.own_transmitters_option
def command(
    *,
    old: Path,
    new: Path,
    brief: Path | None,
    plan: Path | None,
    trace: str | None,
    raster: str | None,
    own_transmitters: str,
) -> shared.Answer:
    """Say what is new, what went and what got noisier from OLD to NEW, and which links of BRIEF and PLAN it touches.

    Levels are aligned by the signals that both sweeps show, or by their floors. With own transmitters on in NEW, own
    carriers and own IM products are named; with them off or nobody knows how, energy on a planned carrier is an
    intruder. Exit code 1 when something touches a link.
    """
    from bandwright.service.compare import compare_sweeps

    with shared.working(trace=trace) as context:
        compared = compare_sweeps(
            context, old, new, brief=brief, plan=plan, raster_id=raster, own_transmitters=own_transmitters
        )
    columns = shared.columns(120)
    return shared.Answer(
        text=lambda: compared.text(columns=columns),
        document=lambda: compared.document().model_dump_json(by_alias=True),
        exit_code=compared.exit_code,
    )

"""`bandwright plan`: carriers for all links of a brief, with evidence and sheets."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(
    example="bandwright plan quay.toml --sweep base.csv --own-transmitters off --out sheets\n"
    "  bandwright plan quay.toml --keep sheets --out sheets"
)
@options.brief_argument
@options.sweep_option
@options.trace_option
@options.own_transmitters_option
@click.option(
    "--keep",
    metavar="PLAN",
    type=options.FILE,
    help="An earlier plan (a plan.json, its folder, or a carriers.csv): once everything that can be is placed, as many "
    "links as can be keep the carriers they have there.",
)
@options.out_option
@options.names_option
@options.paper_option
@options.seed_option
@options.time_limit_option
def command(
    *,
    brief: Path,
    sweeps: tuple[Path, ...],
    trace: str | None,
    own_transmitters: str,
    keep: Path | None,
    out: Path | None,
    names: str,
    paper: str,
    seed: int | None,
    time_limit_s: float | None,
) -> shared.Answer:
    """Plan carriers for all links of BRIEF, clean beside each other and inside the permits.

    With --keep the answer says how many carriers of the earlier plan are kept, whether it is proven that no more can
    be, and which moved from where to where. Links that are not in it are placed anew; to have links already on the air
    moved as little as possible, and in order, use replan.

    Exit code 1 when a link or a wished spare carrier found no place. Ctrl-C keeps the best plan found so far and ends
    with 130.
    """
    with shared.working(trace=trace) as context:
        if out is None:
            from bandwright.service.plan import plan_brief

            planned = plan_brief(
                context,
                brief,
                sweeps,
                own_transmitters=own_transmitters,
                time_limit_s=time_limit_s,
                seed=seed,
                keep=keep,
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
                keep=keep,
            )
    columns = shared.columns()
    closing = f"Written to {out}" if out else "Nothing is written yet: --out DIR writes plan, carriers and sheets."
    return shared.Answer(
        text=lambda: planned.text(columns=columns, names=names) + f"\n{closing}\n",
        document=lambda: planned.document().model_dump_json(by_alias=True),
        exit_code=planned.exit_code,
    )

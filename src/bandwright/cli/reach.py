"""`bandwright reach`: whether the signal will be there."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright reach quay.toml --plan sheets --map quay-map.pdf")
@options.brief_argument
@click.option("--link", "link_ids", metavar="ID", multiple=True, help="Only this link; once for each.")
@click.option(
    "--plan",
    "plan_path",
    metavar="PLAN",
    type=options.FILE,
    help="A plan.json of this job or its folder, for its carriers. "
    "Without it held ones count, or the middle of what is permitted.",
)
@click.option(
    "--minutes",
    type=options.Duration(min=0.1, max=1440),
    default=10.0,
    show_default=True,
    metavar="MINUTES",
    help="Ask for no more than one audible dropout in so many minutes of walking at the farthest point.",
)
@click.option(
    "--map",
    "map_path",
    metavar="OUT",
    type=options.FILE,
    help="Draw the plan of the place with margins all over it: OUT.svg, OUT.png or OUT.pdf, a new file.",
)
@options.pdf_option
@options.sweep_option
@options.names_option
@options.paper_option
def command(
    *,
    brief: Path,
    link_ids: tuple[str, ...],
    plan_path: Path | None,
    minutes: float,
    map_path: Path | None,
    pdf: Path | None,
    sweeps: tuple[Path, ...],
    names: str,
    paper: str,
) -> shared.Answer:
    """Say how strong each link of BRIEF arrives at the farthest point of its area, and what to do about it.

    The brief states antennas as [[antenna]], what lies behind each as [[run]], and the distance_m of each link; what it
    leaves out is listed, and the rest is told. With an [area], the plan of the place, it also tells the worst point for
    each link, the best positions for antennas, and where a pack comes too near; --map draws it. Exit code 1 when a
    margin is short or cannot be told.
    """
    from bandwright.service.draw import check_map, write_map
    from bandwright.service.reach import reach_links

    if map_path is not None:
        check_map(map_path)
    with shared.working() as context:
        if pdf is not None:
            from bandwright.service.headed_sheet import check_sheet
            from bandwright.service.reach_sheet import write_reach_sheet

            check_sheet(pdf, about="reach")
        reached = reach_links(
            context, brief, link_ids=link_ids, plan_path=plan_path, sweep_paths=sweeps, every_s=minutes * 60
        )
        if map_path is not None:
            write_map(reached.maps(names=names), map_path, brief=brief)
        if pdf is not None:
            write_reach_sheet(context, reached, pdf, names=names, paper=paper, maps=reached.maps(names=names))
    columns = shared.columns()
    return shared.Answer(
        text=lambda: reached.text(columns=columns),
        document=lambda: reached.document().model_dump_json(by_alias=True),
        exit_code=reached.exit_code,
    )

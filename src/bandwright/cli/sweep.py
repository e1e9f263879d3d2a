"""`bandwright sweep`: what is in the air."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from bandwright.cli import live, options, shared

__all__ = ["command"]


@shared.command(example="bandwright sweep base.csv --raster region1")
@click.argument("files", metavar="[FILE...]", type=options.FILE, nargs=-1)
@options.trace_option
@click.option("--raster", metavar="ID", help="Judge TV channels of this raster: region1, americas, australia, japan.")
@click.option("--brief", metavar="BRIEF", type=options.FILE, help="Name what this brief does not list.")
@click.option(
    "--others",
    metavar="NEW.toml",
    type=options.FILE,
    help="Write the carriers (with --brief those that it does not list) as [[other]] entries, to edit and copy.",
)
@click.option(
    "--draw",
    metavar="OUT",
    type=options.FILE,
    help="Draw each sweep and its waterfall: OUT.svg or OUT.png, the second as OUT-2, and so on.",
)
@click.option(
    "--theme",
    type=click.Choice(["auto", "light", "dark", "print"]),
    default="auto",
    show_default=True,
    help="Colours of the drawing; auto follows the reader (an SVG) or is light (a PNG).",
)
@live.live_options
def command(
    *,
    files: tuple[Path, ...],
    trace: str | None,
    raster: str | None,
    brief: Path | None,
    others: Path | None,
    draw: Path | None,
    theme: str,
    **running: Any,
) -> shared.Answer:
    """Say what is in the air: floor, multiplexes, carriers, quiet parts, and what nobody measured.

    Reads rtl_power, hackrf_sweep and soapy_power logs, plain columns of frequency and level, exports of analysers, and
    SigMF recordings; also packed with gzip. A file FILE.toml beside FILE may state what FILE cannot know: place,
    antenna, gain_ahead_db, rbw_khz, own_transmitters ("off", "on"), started, trace.

    With --live the air is swept now, and written to a log that is then described like any file. Ctrl-C ends it, and
    what was measured stays.
    """
    from bandwright.service.air import check_asked, describe_sweeps, raster_named
    from bandwright.service.inputs import load_brief
    from bandwright.service.names import named

    asked = live.LiveOptions(**running)
    first, code = "", 0
    if asked.source is None:
        live.refuse_without_live(asked, files=bool(files))
    elif asked.one_at_a_time:
        return live.rises(asked, more=any((files, trace, raster, brief, others, draw)))
    else:
        check_asked(len(files) + 1, others=others, draw=draw, log=asked.log)
        if raster is not None:
            raster_named(raster)
        if brief is not None:
            with shared.working() as context:
                places = {place.id: place for place in load_brief(context, brief).job.places}
            if asked.place is not None:
                named(asked.place, places, what="place", file=str(brief))
        log, first, code = live.recorded(asked)
        files = (log, *files)
    with shared.working(trace=trace) as context:
        described = describe_sweeps(
            context, files, raster_id=raster, brief=brief, others=others, draw=draw, theme=theme
        )
    columns = shared.columns(120)
    return shared.Answer(
        text=lambda: f"{first}{described.text(columns=columns)}",
        document=lambda: described.document().model_dump_json(by_alias=True),
        exit_code=code,
    )

"""`bandwright report`: an archive about this program on this computer, for a report of a mistake."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright report --job quay.bwjob")
@click.option(
    "--out", metavar="NEW.zip", type=options.FILE, help="Write it here; without it a new name in this folder."
)
@click.option("--job", metavar="JOB", type=options.FILE, help="Add an outline of this job file: its tables, no names.")
@click.option("--names", is_flag=True, help="Keep names, times of the job, and messages that may hold them.")
@click.option("--frequencies", is_flag=True, help="Keep frequencies and TV channels.")
def command(*, out: Path | None, job: Path | None, names: bool, frequencies: bool) -> shared.Answer:
    """Write an archive that helps to find a mistake of ours, and list what is inside. Nothing is ever sent.

    It holds versions, what works on this computer, the program's log, and its notes about mistakes; with --job also the
    tables of a job. Names and frequencies are left out unless they are asked for.
    """
    from bandwright.service.doctor import Terminal
    from bandwright.service.redaction import Keep
    from bandwright.service.report import write_archive

    terminal = Terminal(
        encoding=getattr(sys.stdout, "encoding", None) or "utf-8",
        is_terminal=sys.stdout.isatty(),
        colour_refused=bool(os.environ.get("NO_COLOR")),
    )
    with shared.working() as context:
        path = out or Path(f"bandwright-report-{context.now():%Y%m%dT%H%M%SZ}.zip")
        written = write_archive(
            context, path, terminal=terminal, job=job, keep=Keep(names=names, frequencies=frequencies)
        )
    return shared.Answer(
        text=written.text,
        document=lambda: written.document().model_dump_json(by_alias=True),
    )

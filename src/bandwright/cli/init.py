"""`bandwright init`: a commented brief to start from."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright init quay.toml")
@click.argument("brief", metavar="BRIEF", type=options.FILE, default=Path("brief.toml"))
def command(*, brief: Path) -> shared.Answer:
    """Write a commented brief to start from; a file that is there already stays as it is."""
    from bandwright.service.start import start_brief

    start_brief(brief)
    return shared.Answer(
        text=lambda: f"Written: {brief}. Change it to what is yours, then: bandwright plan {brief}",
        document=lambda: {"schema": "bandwright.init/1", "program": shared.PROGRAM, "written": str(brief)},
    )

"""`bandwright suspect`: what makes a product that is heard, with the fewest packs touched."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright suspect quay.toml L03 --plan sheets")
@options.brief_argument
@click.argument("heard", metavar="LINK|MHZ")
@click.option(
    "--plan",
    "plan_path",
    metavar="PLAN",
    type=options.FILE,
    required=True,
    help="A plan.json or its folder: what is on the air.",
)
def command(*, brief: Path, heard: str, plan_path: Path) -> shared.Answer:
    """Say which products may be heard on a link of BRIEF or at MHZ, and which packs to lower to find out.

    Lowering one pack by a setting moves a product 2 dB for each dB where it is doubled and 1 dB where it stands once;
    what somebody else sends stays. What is in ears is lowered last. Exit code 1 when a product is suspected.
    """
    from bandwright.service.suspect import suspect

    with shared.working() as context:
        found = suspect(context, brief, heard, plan_path=plan_path)
    columns = shared.columns()
    return shared.Answer(
        text=lambda: found.text(columns=columns),
        document=lambda: found.document().model_dump_json(by_alias=True),
        exit_code=found.exit_code,
    )

"""`bandwright demo`: the whole main job on the bundled, invented production."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright demo --out demo-out")
@click.option(
    "--out", metavar="DIR", type=options.FILE, default=Path("demo-out"), show_default=True, help="Where it all goes."
)
def command(*, out: Path) -> shared.Answer:
    """Plan an invented harbour production from its brief and a base sweep, and write the sheets."""
    from bandwright.service.demo import BRIEF_NAME, SWEEP_NAME, run_demo

    with shared.working() as context:
        planned = run_demo(context, out)
    columns = shared.columns()
    brief, sweep, sheets = out / BRIEF_NAME, out / SWEEP_NAME, out / "sheets"
    closing = (
        f"\nEverything here is invented. The brief is {brief}, its sweep {sweep}.\n"
        f"Sheets: {sheets / 'sheet.pdf'}, {sheets / 'sheet.html'}, {sheets / 'sweep.svg'}\n"
        f"Next:   bandwright why {brief} 606.700 --link L01 --plan {sheets / 'plan.json'}\n"
        f"        bandwright check {brief} {sheets / 'carriers.csv'} --sweep {sweep} --own-transmitters off\n"
    )
    return shared.Answer(
        text=lambda: planned.text(columns=columns) + closing,
        document=lambda: planned.document().model_dump_json(by_alias=True),
        exit_code=planned.exit_code,
    )

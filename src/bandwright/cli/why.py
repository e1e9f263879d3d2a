"""`bandwright why`: what stops or allows a carrier, rule by rule."""

from __future__ import annotations

from pathlib import Path

import click

from bandwright.cli import options, shared

__all__ = ["command"]


@shared.command(example="bandwright why quay.toml 606.700 --link L03 --plan sheets")
@options.brief_argument
@click.argument("mhz", metavar="MHZ")
@click.option("--link", "link_id", metavar="ID", help="The link that would use it.")
@click.option("--radio", "radio_id", metavar="ID", help="Any link of this radio type.")
@click.option(
    "--plan",
    metavar="PLAN",
    type=options.FILE,
    help="A plan.json or its folder: the other links keep its carriers.",
)
@options.sweep_option
@options.trace_option
def command(
    *,
    brief: Path,
    mhz: str,
    link_id: str | None,
    radio_id: str | None,
    plan: Path | None,
    sweeps: tuple[Path, ...],
    trace: str | None,
) -> shared.Answer:
    """Say what stops or allows MHZ for a link of BRIEF, and what would have to move to open it.

    Without PLAN only the links that BRIEF holds count. Where BRIEF states iip3_dbm of radio types, the carrier to
    interference that the link would have there is told too. Exit code 1 when something stops it.
    """
    from bandwright.service.why import explain_carrier

    with shared.working(trace=trace) as context:
        explained = explain_carrier(
            context, brief, mhz, link_id=link_id, radio_id=radio_id, plan=plan, sweep_paths=sweeps
        )
    columns = shared.columns()
    return shared.Answer(
        text=lambda: explained.text(columns=columns),
        document=lambda: explained.document().model_dump_json(by_alias=True),
        exit_code=0 if explained.explanation.allowed else 1,
    )

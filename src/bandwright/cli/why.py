"""`bandwright why`: what stops or allows a carrier, rule by rule."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bandwright.cli import options, shared

if TYPE_CHECKING:
    from bandwright.core.planning.explain import Explanation

__all__ = ["command"]


@shared.command(example="bandwright why quay.toml 606.700 --link L03 --plan sheets/plan.json")
@options.brief_argument
@click.argument("mhz", metavar="MHZ")
@click.option("--link", "link_id", metavar="ID", help="The link that would use it.")
@click.option("--radio", "radio_id", metavar="ID", help="Any link of this radio type.")
@click.option("--plan", metavar="PLAN", type=options.FILE, help="A plan.json: the other links keep its carriers.")
@options.sweep_option
def command(
    *, brief: Path, mhz: str, link_id: str | None, radio_id: str | None, plan: Path | None, sweeps: tuple[Path, ...]
) -> shared.Answer:
    """Say what stops or allows MHZ for a link of BRIEF.

    Exit code 1 when something stops it.
    """
    from bandwright.service.why import explain_carrier

    with shared.working() as context:
        explained = explain_carrier(
            context, brief, mhz, link_id=link_id, radio_id=radio_id, plan=plan, sweep_paths=sweeps
        )
    found = explained.explanation
    return shared.Answer(
        text=lambda: _text(found),
        document=lambda: explained.document().model_dump_json(by_alias=True),
        exit_code=0 if found.allowed else 1,
    )


def _text(found: Explanation) -> str:
    from bandwright.units import mhz_text

    beside = "beside the plan" if found.beside_plan else "by itself (no plan was given)"
    verdict = "may be used" if found.allowed else "is stopped"
    lines = [f"{mhz_text(found.carrier_hz)} MHz for {found.link} {verdict} {beside}."]
    lines.extend(f"  {'stops' if f.stops else 'allows':<7}{f.rule:<11}{f.text}" for f in found.findings)
    return "\n".join(lines)

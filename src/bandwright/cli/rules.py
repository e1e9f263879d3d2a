"""`bandwright rules`: the shipped rule tables."""

from __future__ import annotations

import click

from bandwright.cli import shared

__all__ = ["command"]


@shared.command(example="bandwright rules uk-shared-606-613")
@click.argument("rules_id", metavar="[ID]", required=False)
def command(*, rules_id: str | None) -> shared.Answer:
    """List the shipped rule tables, or show the one called ID in full.

    A brief takes one over with rules = "ID" in a permit.
    """
    from bandwright.service.rules import shipped_rules

    found = shipped_rules(rules_id)
    columns = shared.columns(100)
    return shared.Answer(
        text=lambda: found.text(in_full=rules_id is not None, columns=columns),
        document=lambda: found.document().model_dump_json(by_alias=True),
    )

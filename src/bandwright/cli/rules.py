"""`bandwright rules`: the shipped rule tables."""

from __future__ import annotations

import itertools
import textwrap
from typing import TYPE_CHECKING

import click

from bandwright.cli import shared

if TYPE_CHECKING:
    from bandwright.core.library import RuleTable
    from bandwright.service.rules import ShippedRules

__all__ = ["command"]


@shared.command(example="bandwright rules uk-shared-606-613")
@click.argument("rules_id", metavar="[ID]", required=False)
def command(*, rules_id: str | None) -> shared.Answer:
    """List the shipped rule tables, or show the one called ID in full.

    A brief takes one over with rules = "ID" in a permit.
    """
    from bandwright.service.rules import shipped_rules

    found = shipped_rules(rules_id)
    return shared.Answer(
        text=lambda: _text(found, in_full=rules_id is not None),
        document=lambda: found.document().model_dump_json(by_alias=True),
    )


def _text(found: ShippedRules, *, in_full: bool) -> str:
    show = _in_full if in_full else _in_short
    lines = [line for table in found.tables for line in (*show(table), "")]
    return "\n".join([*lines, _wrapped("", found.caution)])


def _in_short(table: RuleTable) -> list[str]:
    from bandwright.core.words import CONFIDENCE_WORDS

    windows = f"{len(table.windows)} window{'' if len(table.windows) == 1 else 's'}"
    return [
        table.id,
        _wrapped("  ", f"{table.name} ({table.where})"),
        _wrapped("  ", f"edition: {table.edition}"),
        _wrapped("  ", f"{table.licence}; {windows}; {CONFIDENCE_WORDS[table.confidence]}"),
    ]


def _in_full(table: RuleTable) -> list[str]:
    from bandwright.core.words import terms_words

    lines = [*_in_short(table), ""]
    for terms, windows in itertools.groupby(table.windows, key=terms_words):
        lines.append(_wrapped("  ", ", ".join(str(window.span) for window in windows)))
        lines.append(_wrapped("    ", terms))
    return [*lines, "", *(_wrapped("  - ", text) for text in (*table.sources, *table.notes))]


def _wrapped(start: str, text: str) -> str:
    return textwrap.fill(
        text,
        width=100,
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_long_words=False,
        break_on_hyphens=False,
    )
